"""What went wrong at the scale, in words, and how much each thing weighs by itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from rationlp.actual.slips import AMONG_OTHERS, Crossed, other_unit, point_slip, swapped
from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.ledger.made_mix import MadeMix
from rationlp.reasons import HARMFUL, Kind, Reason, Severity, Verdict, in_order
from rationlp.sheets.practice import WEIGHING_TOLERANCE

ORDINARY_STEPS = 2.01
"""Steps of its scale a weight is off as a matter of course: one of filling, one of reading (common practice)."""
SLIP = 0.15
"""A weight further off than this is no inexact weighing but a slip (common practice)."""
IN_PLACE = 0.15
"""What stands in for another feed weighs as much, within this."""
SIZE_AMISS = 0.02
MOST_IN_MIXER = 1.05
"""Times its capacity that a mixer is filled (common practice); more is two batches written as one."""
JUDGED_AS_WRITTEN = "It is judged as written: if it was only written so, correct it and read it again."


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that went wrong, and what it alone does to the verdict; `names` are the ingredients it is of."""

    words: str
    severity: Severity
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Weight:
    """An ingredient: what a batch of this size asks for and what went in, in kg."""

    name: str
    label: str
    asked: float
    weighed: float


def faults_of(
    weights: Sequence[Weight], made: MadeMix, size: float, book: Book, crossed: Sequence[Crossed] = ()
) -> list[Fault]:
    """Every fault of a batch, each weight in one of them: what was confused (`crossed`: by the rows of the sheet), then
    the one furthest off first. Of more than the mixer holds no weight can be told apart."""
    units = units_of(book.farm)
    confused = [*_in_place(weights, units), *_crossed(crossed, units), *_swapped(weights, units)]
    found = [*_too_much(weights, made, book, units)] or confused
    said = {name for fault in found for name in fault.names}
    for weight in sorted(weights, key=_far, reverse=True):
        if weight.name not in said and (fault := _off(weight, book, units)):
            found.append(fault)
    found += _whole(made, size, book, units)
    return found


def blamed(verdict: Verdict, faults: Sequence[Fault], alone: Callable[[Sequence[str]], Severity]) -> Verdict:
    """The verdict with the faults in front of what came of them: a slip weighs as much as the worst that it did, and
    is a matter of safety where that is one.

    Of several slips each weighs what it does `alone` (given the ingredients it is of), and all as much as the worst
    where none alone does that.
    """
    worst = verdict.severity
    kind = Kind.SAFETY if any(reason.kind in HARMFUL for reason in verdict.weighing(worst)) else Kind.EVIDENCE
    slips = [fault for fault in faults if fault.names]
    did = {fault.names: worst for fault in slips}
    if len(slips) > 1 and worst is not Severity.FEED:
        found = {fault.names: alone(fault.names) for fault in slips}
        did = found if worst in found.values() else did
    reasons = (
        Reason(kind, max(fault.severity, did[fault.names], key=lambda each: each.rank), fault.words)
        if fault.names
        else Reason(Kind.EVIDENCE, fault.severity, fault.words)
        for fault in faults
    )
    return Verdict(in_order((*reasons, *verdict.reasons)), verdict.probability_all, verdict.without_grain)


def _far(weight: Weight) -> float:
    return abs(weight.weighed / weight.asked - 1) if weight.asked else 0.0


def _in_place(weights: Sequence[Weight], units: BookUnits) -> Iterator[Fault]:
    """A feed that was left out and another that is not on the sheet, of the same weight."""
    strangers = [weight for weight in weights if not weight.asked and weight.weighed]
    for missing in (weight for weight in weights if weight.asked and not weight.weighed):
        near = [other for other in strangers if abs(other.weighed / missing.asked - 1) <= IN_PLACE]
        if len(near) == 1:
            words = f"{near[0].label} ({units.weight(near[0].weighed)}) went in instead of {missing.label}."
            yield Fault(words, Severity.ASK, (missing.name, near[0].name))


def _off(weight: Weight, book: Book, units: BookUnits) -> Fault | None:
    """What is wrong with one weight, or nothing."""
    label, asked, mass = weight.label, weight.asked, weight.weighed
    if not asked:
        return None
    if mass == 0:
        words = f"{label} was left out: {units.weight(asked)} are missing."
        return Fault(words, Severity.ASK, (weight.name,))
    small = asked < book.farm.hand_weigh_below_kg
    step = book.farm.hand_scale_step_kg if small else book.farm.scale_step_kg
    if abs(mass - asked) <= max(WEIGHING_TOLERANCE.value * asked, ORDINARY_STEPS * step):
        return None
    ratio, size = mass / asked, f"{units.weight(mass)} instead of {units.weight(asked)}"
    words = f"{label}: {size} ({100 * (ratio - 1):+.0f} %)."
    if 1.8 <= ratio <= 2.2:
        words = f"{label} went in twice: {size}."
        if other := other_unit(ratio, units.mass, AMONG_OTHERS):
            words = f"{label} went in twice, or {other} were written for {units.mass}: {size}. {JUDGED_AS_WRITTEN}"
    elif 0.45 <= ratio <= 0.55:
        words = f"Only half of {label}: {size}."
    if other := other_unit(ratio, units.mass):
        words = f"{label}: {size}, as if {other} were written for {units.mass}. {JUDGED_AS_WRITTEN}"
    elif point_slip(ratio):
        words = f"{label}: {size}, as if the decimal point were in the wrong place. {JUDGED_AS_WRITTEN}"
    severity = Severity.ASK if abs(ratio - 1) > SLIP else Severity.FEED
    return Fault(words, severity, (weight.name,))


def _crossed(crossed: Sequence[Crossed], units: BookUnits) -> Iterator[Fault]:
    for pair in crossed:
        one, other = (f"{label} ({units.weight(kg)})" for label, kg in zip(pair.labels, pair.kg, strict=True))
        told = f"{one} and {other} have each other's weight on the sheet. {JUDGED_AS_WRITTEN}"
        yield Fault(told, Severity.ASK, pair.offers)


def _swapped(weights: Sequence[Weight], units: BookUnits) -> Iterator[Fault]:
    words = {weight.name: f"{weight.label} ({units.weight(weight.weighed)})" for weight in weights}
    weighed = {weight.name: weight.weighed for weight in weights if weight.weighed}
    asked: Mapping[str, float] = {weight.name: weight.asked for weight in weights}
    said: set[str] = set()
    for one, other in swapped(weighed, asked):
        if said.isdisjoint((one, other)):
            said |= {one, other}
            told = f"{words[one]} and {words[other]} have each other's weight. {JUDGED_AS_WRITTEN}"
            yield Fault(told, Severity.ASK, (one, other))


def _too_much(weights: Sequence[Weight], made: MadeMix, book: Book, units: BookUnits) -> Iterator[Fault]:
    capacity = book.farm.mixer_capacity_kg
    if capacity and made.total_kg > MOST_IN_MIXER * capacity:
        words = (
            f"{units.weight(made.total_kg)} is more than the mixer holds ({units.weight(capacity)}): two batches "
            "written as one (write each under its number), or what the scale read (write it under scale_reads)?"
        )
        yield Fault(words, Severity.ASK, tuple(weight.name for weight in weights))


def _whole(made: MadeMix, size: float, book: Book, units: BookUnits) -> Iterator[Fault]:
    """What is odd about the batch as a whole: its size, its day."""
    if made.target_kg is None and (other := other_unit(size, units.mass)):
        words = (
            f"{units.weight(made.total_kg)} in all, as if {other} were written for {units.mass}: if so, write each "
            f"with its unit ({units.weight(made.total_kg).removesuffix(units.mass)}{other})."
        )
        yield Fault(words, Severity.FEED)
    elif abs(size - 1) > SIZE_AMISS and made.target_kg is not None:
        yield Fault(f"A batch {size:.2f} times the size on its sheet.", Severity.FEED)
    for row in book.bins:
        if row.bin in made.weighed_kg and row.filled_on and made.made_on and made.made_on < row.filled_on:
            words = (
                f"Made on {book.farm.day(made.made_on)}, before bin {row.bin} was filled "
                f"({book.farm.day(row.filled_on)}): correct the day, or say which grain it was."
            )
            yield Fault(words, Severity.ASK)
