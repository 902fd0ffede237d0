"""How large a batch is and how many there are: by mass, by what the mixer holds, or by what animals eat."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from rationlp.book.records import Book, Group, Settings
from rationlp.book_units import units_of
from rationlp.errors import Problem, RequestError
from rationlp.library.read import Library
from rationlp.rations.answer.model import Ration
from rationlp.rations.formulate import SolvedRation
from rationlp.sheets.practice import GROUND_OTHERWISE, GROUND_OVER_WHOLE, LEAST_FILL, MOST_FILL, WHOLE_SEED_GROUPS
from rationlp.sheets.request import SheetRequest
from rationlp.sheets.weights.even import MOST_EXTRA, even_mass
from rationlp.sheets.weights.scale import Scale, common_multiple, down_to, exact, shown, up_to

PARTS_OF_A_BATCH = 20
"""A batch of the feed year is a whole number of these parts of a full one: 1,400 lb and not 1,348, so that doses come
out even."""


@dataclass(frozen=True, slots=True)
class Run:
    """So many equal batches of one size, in the book's unit."""

    size: Fraction
    count: int


@dataclass(frozen=True, slots=True)
class BatchPlan:
    """The batches of one ration: equal ones, then perhaps a smaller last one; why; and the room a batch takes."""

    runs: tuple[Run, ...]
    notes: tuple[str, ...]
    room: tuple[str, ...]
    volume_m3: float | None  # of the largest batch


def wanted_stages(book: Book, request: SheetRequest, stages: Iterable[str] = ()) -> list[str]:
    """The stages asked for and those of the groups asked for; where a day or days are, those of the groups fed then.

    Empty where nothing narrows them down. Raises RequestError for a group that is not fed that day, and where none is.
    """
    asked = [group for group in book.groups if group.group in request.groups]
    problems = [
        _not_fed(group, request.on, book.farm) for group in asked if request.on and not fed_on(group, request.on)
    ]
    if problems:
        raise RequestError(problems)
    named = [*stages, *(group.stage for group in asked)]
    if named or not (request.on or request.days) or not book.groups:
        return list(dict.fromkeys(named))
    fed = list(dict.fromkeys(group.stage for group in book.groups if fed_on(group, request.on)))
    if not fed:
        day = book.farm.day(request.on)
        do = "Take another day, or fill in from and to on the sheet groups."
        raise RequestError([Problem("error", "on", "", day, "a day on which a group of the book is fed", do)])
    return fed


def _not_fed(group: Group, day: date, farm: Settings) -> Problem:
    """What is wrong with asking for a group on a day it is not there."""
    ends = (("from", group.from_date), ("to", group.to_date))
    there = " ".join(f"{word} {farm.day(end)}" for word, end in ends if end)
    expected, do = f"a day when it is fed: {there}", "Take such a day, or another group."
    return Problem("error", "group", "", f"{group.group} on {farm.day(day)}", expected, do)


def plan(recipe: SolvedRation, scale: Scale, request: SheetRequest) -> BatchPlan:
    """The batches of one ration. Raises RequestError if the mass or the volume cannot be had."""
    farm, notes = recipe.farm, list[str]()
    parts = [(share, c.feeds) for share, c in zip(recipe.column_shares, recipe.formula.candidates, strict=True)]
    density, unknown = mix_density(parts, farm.library)
    largest = _largest(scale, farm.book, request, density, unknown, notes)
    runs: tuple[Run, ...] = (Run(largest, request.count),)
    total, step = request.feed_kg or 0.0, scale.step
    if request.feed_kg:
        step = up_to(largest / PARTS_OF_A_BATCH, scale.step)
    elif request.days:
        total = _daily_kg(recipe.ration, farm.book, request, notes) * request.days
    if total:
        runs = _even_batches(up_to(exact(total, scale.unit), step), largest, step, recipe, scale, notes)
    volume = float(runs[0].size) * scale.kg / density if density else None
    room: tuple[str, ...] = ()
    if volume:
        units = units_of(farm.settings)
        room = (f"A batch takes about {units.room(volume)}, at {units.loose(density or 0.0)} with the grain ground.",)
    _note_fill(volume, request, notes)
    return BatchPlan(runs, tuple(notes), room, volume)


def _even_batches(
    total: Fraction, largest: Fraction, step: Fraction, recipe: SolvedRation, scale: Scale, notes: list[str]
) -> tuple[Run, ...]:
    """`total` in equal batches, larger where that makes the doses of premix come out even, with a note."""
    even = common_multiple(step, even_mass(recipe, scale))
    if even > largest or up_to(total, even) > MOST_EXTRA * total:
        return equal_batches(total, largest, step)
    more = up_to(total, even)
    if more != total:
        amounts = f"{shown(more, scale.step, scale.unit)} instead of {shown(total, scale.step, scale.unit)}"
        notes.append(f"{amounts}: the premix is then a whole number of divisions of the hand scale.")
    return equal_batches(more, down_to(largest, even), even)


def equal_batches(total: Fraction, largest: Fraction, step: Fraction) -> tuple[Run, ...]:
    """`total` in the fewest batches, all of one size but the last, which takes what is left; whole steps each."""
    count = int(-(-total // largest))
    size = min(up_to(total / count, step), largest)
    full = int(total // size)
    rest = total - full * size
    return (Run(size, full), Run(rest, 1)) if rest else (Run(size, full),)


def _largest(
    scale: Scale, book: Book, request: SheetRequest, density: float | None, unknown: list[str], notes: list[str]
) -> Fraction:
    """The size of a full batch: what is asked for, but never more than the mixer holds; whole steps of the scale."""
    asked, units = book.farm.batch_kg if request.batch_kg is None else request.batch_kg, units_of(book.farm)
    room = [book.farm.mixer_capacity_kg] if book.farm.mixer_capacity_kg else []
    if request.mixer_m3:
        if density is None:
            raise _no_density(unknown)
        room.append(request.mixer_m3 * MOST_FILL.value * density)
        take = shown(exact(room[-1], scale.unit), scale.step, scale.unit)
        notes.append(
            f"The mixer's {units.room(request.mixer_m3)} filled to {100 * MOST_FILL.value:.0f} % take {take} at "
            f"{units.loose(density)} (grain ground)."
        )
    if request.full_mixer:
        if not room:
            raise RequestError(
                [
                    Problem(
                        "error",
                        "farm",
                        "",
                        "no mixer_capacity",
                        "what the mixer holds, for a batch of that size",
                        "Fill in mixer_capacity on the sheet farm, give the mixer's volume, or a mass for the batch.",
                    )
                ]
            )
        asked = min(room)
    elif room and asked > min(room) * (1 + 1e-9):
        notes.append(
            f"The batch is what the mixer holds, not the {shown(exact(asked, scale.unit), scale.step, scale.unit)} "
            "asked for."
        )
        asked = min(room)
    size = down_to(exact(asked, scale.unit), scale.step)
    if size <= 0:
        raise RequestError(
            [
                Problem(
                    "error",
                    "batch",
                    "",
                    units.weight(asked),
                    f"at least one division of the mixer scale, {float(scale.step):g} {scale.unit}",
                    "Give a larger batch, or a finer scale_step on the sheet farm.",
                )
            ]
        )
    if exact(asked, scale.unit) != size:
        notes.append(f"Batch rounded down to a division of the mixer scale: {shown(size, scale.step, scale.unit)}.")
    return size


def _no_density(unknown: Iterable[str]) -> RequestError:
    return RequestError(
        [
            Problem(
                "error",
                "mixer_volume",
                "",
                f"no bulk density for {', '.join(unknown)}",
                "a bulk density for all that goes in",
                "Give the batch by mass instead, or add bulk_density_kg_m3 to your feed library.",
            )
        ]
    )


def fed_on(group: Group, day: date | None) -> bool:
    """Whether the group is fed on `day`; without a day every group is."""
    return day is None or group.fed_between(day, day)


def _daily_kg(ration: Ration, book: Book, request: SheetRequest, notes: list[str]) -> float:
    """Kilograms a day of the groups that get this ration; 0, with a note, where nobody eats it."""
    eaters = [
        group
        for group in book.groups
        if group.stage == ration.stage
        and (not request.groups or group.group in request.groups)
        and fed_on(group, request.on)
    ]
    total = 0.0
    for group in eaters:
        per_head = group.feed_kg_per_head_per_day or ration.feed_kg_per_head_per_day
        if per_head is None:
            notes.append(
                f"No figure for what {group.group} eat per day: fill in feed_per_head_per_day on the sheet groups."
            )
        else:
            total += group.head * per_head
            eaten = units_of(book.farm).weight(per_head, 3)
            notes.append(f"{group.group}: {group.head} head x {eaten} per day x {request.days} days.")
    if not eaters:
        when = f" on {book.farm.day(request.on)}" if request.on else ""
        notes.append(f"No group of the book eats this{when}: one batch is shown.")
    return total


def _note_fill(volume: float | None, request: SheetRequest, notes: list[str]) -> None:
    if volume is None or not request.mixer_m3:
        return
    if volume < LEAST_FILL.value * request.mixer_m3:
        notes.append(
            f"This batch fills only {100 * volume / request.mixer_m3:.0f} % of the mixer; a horizontal mixer needs "
            f"about {100 * LEAST_FILL.value:.0f} % to mix."
        )


def mix_density(feeds: Sequence[tuple[float, Mapping[str, float]]], library: Library) -> tuple[float | None, list[str]]:
    """Bulk density of a mix in kg/m3, and the feeds whose density nobody knows.

    `feeds` gives for each ingredient its share (0 to 1) and the share of each library feed in it. Volumes add up, which
    is on the safe side: small particles fill the room between large ones. None if more than a twentieth is unknown.
    """
    volume, known, unknown = 0.0, 0.0, []
    for share, parts in feeds:
        for feed, part in parts.items():
            density = ground_density(feed, library)
            if density is None:
                unknown.append(feed)
            else:
                volume += share * part / density
                known += share * part
    if known < 0.95:
        return None, unknown
    return known / volume, unknown


def ground_density(feed: str, library: Library) -> float | None:
    """Bulk density of a feed as it goes into the mixer, kg/m3: seeds ground, the rest as delivered."""
    row = library.feeds.get(feed)
    if row is None or not row.bulk_density_kg_m3:
        return None
    if row.group not in WHOLE_SEED_GROUPS:
        return row.bulk_density_kg_m3
    return row.bulk_density_kg_m3 * GROUND_OVER_WHOLE.get(feed, GROUND_OTHERWISE).value
