"""Slips of the pen: pounds where kilograms belong, a decimal point out of place, what the scale read for what went in,
two ingredients written in each other's row, a column that is not where it belongs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import log
from statistics import median_high, median_low

from rationlp.numbers import as_typed, plain
from rationlp.units import MASS_KG

WHOLE_SHEET, ONE_ROW = 0.03, 0.015
"""How near the ratio of weighed to asked must be to that of the units, for a sheet and for a single row."""
AMONG_OTHERS = 0.08
"""How near, for a row where others are in that unit, or where nothing else comes near, as to a thousand or to ten times
what was asked: a small weight is ordinarily off by a division or two."""
FAR = 4.0
"""Times what was asked; the unit behind so much is no thing that went in twice."""
SWAPPED, UNLIKE = 0.1, 0.2
"""Two weights are each other's within a tenth, and neither is its own within a fifth; or, where they are each other's
within ONE_ROW, neither is its own within JUST_UNLIKE."""
JUST_UNLIKE = 0.05
CROSSED = ((SWAPPED, UNLIKE), (ONE_ROW, JUST_UNLIKE))
TAKEN_FOR = {"kg": ("lb", "g"), "lb": ("kg", "oz", "g")}
"""Units that people write weights in where the sheet has another."""
LEAST_MOVED = 3
"""Weights that must be in the wrong place in the same way before a whole column is asked about."""
POINT_SLIPS = (10.0, 0.1, 100.0, 0.01, 1000.0, 0.001)


@dataclass(frozen=True, slots=True)
class Entry:
    """What was typed for one ingredient, and what the sheet asked for, in the sheet's unit. `sure`: with its unit."""

    cell: str
    label: str
    mass: float
    asked: float
    sure: bool
    offer: str = ""
    in_bucket: bool = False


@dataclass(frozen=True, slots=True)
class Crossed:
    """Two rows of a sheet that have each other's weight: what they are of, by offer and as printed, and kg in each."""

    offers: tuple[str, str]
    labels: tuple[str, str]
    kg: tuple[float, float]


Doubt = tuple[str, str, str, str]
"""Cell, found, expected, what to do."""


def doubtful(entries: Sequence[Entry], reads: Sequence[float | None], unit: str) -> list[Doubt]:
    """Every weight that looks like another unit, like a slip of the decimal point, or like what the scale `reads` once
    the thing is in."""
    typed = [
        (entry, read)
        for entry, read in zip(entries, reads, strict=True)
        if not entry.sure and entry.asked > 0 and entry.mass > 0
    ]
    if not typed:
        return []
    size = _size_written([(entry.mass / entry.asked, entry.asked) for entry, _ in typed], unit)
    if other := other_unit(size, unit, WHOLE_SHEET):
        first = max((entry for entry, _ in typed), key=lambda entry: entry.asked)
        return [
            (
                first.cell,
                f"{as_typed(first.mass)} for {first.label}, and the others in the same proportion",
                f"about {as_typed(first.asked)} {unit}; this looks like {other}",
                f"Type the weights in {unit}, or each with its unit ({as_typed(first.mass)} {other}).",
            )
        ]
    size = 1.0 if abs(size - 1) < SWAPPED else size
    crossed = swapped({e.cell: e.mass for e in entries}, {e.cell: size * e.asked for e in entries})
    confused = {cell for pair in crossed for cell in pair}  # judged as written
    alone = [(entry, read) for entry, read in typed if entry.cell not in confused]
    looks = {entry.cell: other_unit(entry.mass / entry.asked / size, unit) for entry, _ in alone}
    often = {other for other, count in Counter(looks.values()).items() if other and count > 1}
    found = []
    for entry, read in alone:
        beside = Counter(looks[each.cell] for each, _ in alone if each.in_bucket == entry.in_bucket)
        doubt = _doubt(entry, read, size, unit, often) or _as_those_beside(entry, beside, unit)
        found += [doubt] if doubt else []
    return found


def a_row_off(typed: Sequence[Entry | None], asked: Sequence[float], unit: str) -> list[Doubt]:
    """The first of weights that stand in the row below or above their own; `typed` is None where nothing is written,
    as where the first of them belongs."""
    empty = None in typed
    for by, where, do in ((1, "above", "higher"), (-1, "below", "lower")):
        neighbours = [asked[i - by] if 0 <= i - by < len(asked) else 0.0 for i in range(len(asked))]
        off = [(e, n) for e, n in zip(typed, neighbours, strict=True) if e and not e.sure and _unlike_own(e)]
        moved = [entry for entry, neighbour in off if neighbour and _off(entry.mass, neighbour) < AMONG_OTHERS]
        if len(moved) + empty >= LEAST_MOVED and len(moved) >= len(off) - 1:
            found = f"{len(moved)} weights, each what the row {where} asks for"
            return [_whole_column(moved, found, "each in its own row", f"Write each a row {do}", unit)]
    return []


def on_the_wrong_sheet(
    entries: Sequence[Entry], bins: Collection[str], others: Mapping[str, Mapping[str, float]], unit: str
) -> list[Doubt]:
    """Weights that are those of another sheet: `others` are what each asks for by offer, in `unit`, the grain of its
    bins under "". `bins` are those of this sheet."""
    written: dict[str, float] = {}
    own: dict[str, float] = {}
    for entry in entries:
        name = "" if entry.offer in bins else entry.offer
        written[name] = written.get(name, 0.0) + entry.mass
        own[name] = own.get(name, 0.0) + entry.asked
    if any(entry.sure for entry in entries) or _unlike(written, own) < 2:
        return []
    for tab, asked in others.items():
        if sum(name in asked for name in written) > LEAST_MOVED and not _unlike(written, asked, AMONG_OTHERS):
            do = f"Write them on {tab!r}: it is feed for the animals of that sheet"
            return [_whole_column(entries, f"the weights that {tab!r} asks for", "those of this sheet", do, unit)]
    return []


def with_their_vessel(entries: Sequence[Entry], unit: str) -> list[Doubt]:
    """Weights of the bucket that are all too large by the same mass: that of what they were weighed in."""
    size = size_factor({e.cell: e.mass for e in entries}, {e.cell: e.asked for e in entries})
    mine = [entry for entry in entries if entry.in_bucket and entry.asked > 0]
    over = [entry.mass - size * entry.asked for entry in mine]
    if len(mine) < LEAST_MOVED or any(entry.sure for entry in mine):
        return []
    vessel = median_low(over)
    if (
        max(vessel / entry.asked for entry in mine) < UNLIKE
        or max(abs(each - vessel) for each in over) > SWAPPED * vessel
    ):
        return []
    found = f"{len(mine)} weights of the bucket, each some {plain(vessel, 2)} {unit} more than asked for"
    do = "Take off what the vessel weighs that they were weighed in"
    return [_whole_column(mine, found, "what each weighed alone", do, unit)]


def _whole_column(entries: Sequence[Entry], found: str, expected: str, do: str, unit: str) -> Doubt:
    first = entries[0]
    return (
        first.cell,
        found,
        expected,
        f"{do}; if it was really weighed so, write each with its unit ({as_typed(first.mass)} {unit}).",
    )


def _unlike_own(entry: Entry) -> bool:
    return entry.asked > 0 and _off(entry.mass, entry.asked) >= UNLIKE


def _unlike(weighed: Mapping[str, float], asked: Mapping[str, float], far: float = UNLIKE) -> int:
    """How many weights are further than `far` from what a batch of their size asks for, or asked for by none."""
    size = size_factor(weighed, asked)
    return sum(
        bool(mass) if not asked.get(name) else _off(mass, size * asked[name]) > far for name, mass in weighed.items()
    )


def crossed_rows(entries: Sequence[Entry], unit_kg: float) -> Iterator[Crossed]:
    """The rows that have each other's weight, where the sheet has one of the two ingredients on several rows: what went
    in of that one alone does not show it."""
    rows, by_cell = Counter(entry.offer for entry in entries), {entry.cell: entry for entry in entries}
    size = size_factor({e.cell: e.mass for e in entries}, {e.cell: e.asked for e in entries})
    for pair in swapped({e.cell: e.mass for e in entries}, {e.cell: size * e.asked for e in entries}):
        one, other = (by_cell[cell] for cell in pair)
        if one.offer != other.offer and max(rows[one.offer], rows[other.offer]) > 1:
            yield Crossed(
                (one.offer, other.offer), (one.label, other.label), (one.mass * unit_kg, other.mass * unit_kg)
            )


def other_unit(ratio: float, unit: str, within: float = ONE_ROW) -> str:
    """The unit that a weight of `ratio` times what was asked in `unit` seems to be written in; empty for none."""
    for other in TAKEN_FOR[unit]:
        times = in_units(unit, other)
        if abs(ratio / times - 1) < (AMONG_OTHERS if times > FAR else within):
            return other
    return ""


def in_units(unit: str, other: str) -> float:
    """How many of the `other` unit one `unit` is."""
    return MASS_KG[unit] / MASS_KG[other]


def point_slip(ratio: float) -> bool:
    """Whether a weight of `ratio` times what was asked has its decimal point out of place."""
    return any(abs(ratio / slip - 1) < AMONG_OTHERS for slip in POINT_SLIPS)


def _doubt(entry: Entry, read: float | None, size: float, unit: str, often: Collection[str]) -> Doubt | None:
    """What a weight looks like; as one in a unit that others are in `often`, though it was weighed less exactly."""
    asked = size * entry.asked
    like_others = other_unit(entry.mass / asked, unit, AMONG_OTHERS)
    if other := other_unit(entry.mass / asked, unit) or (like_others if like_others in often else ""):
        why, do = f"this looks like {other}", f"Type it in {unit}"
    elif point_slip(entry.mass / asked):
        why, do = "the decimal point seems to be in the wrong place", "Type what the scale showed"
    elif read and read > (1 + UNLIKE) * entry.asked and abs(entry.mass / (size * read) - 1) < ONE_ROW:
        why, do = "this looks like what the scale read with all before it", "Type what went in of it alone"
    else:
        return None
    expected, do = (
        f"about {as_typed(asked)} {unit}; {why}",
        f"{do}; if it was really that much, write {as_typed(entry.mass)} {unit}.",
    )
    return entry.cell, f"{as_typed(entry.mass)} for {entry.label}", expected, do


def _as_those_beside(entry: Entry, beside: Counter[str], unit: str) -> Doubt | None:
    """A weight that is right as it stands, among more that look like another unit: in that one it is wrong."""
    other, count = max(
        ((each, count) for each, count in beside.items() if each), default=("", 0), key=lambda each: each[1]
    )
    if count < 2 or count <= beside[""]:
        return None
    expected = f"its unit; most weights beside it look like {other}"
    return (
        entry.cell,
        f"{as_typed(entry.mass)} for {entry.label}",
        expected,
        f"Write {as_typed(entry.mass)} {other} or {as_typed(entry.mass)} {unit}.",
    )


def swapped(weighed: Mapping[str, float], target: Mapping[str, float]) -> Iterator[tuple[str, str]]:
    """Pairs of ingredients that seem to have each other's weight."""
    names = [name for name in target if target[name] > 0 and weighed.get(name, 0.0) > 0]
    for i, one in enumerate(names):
        for other in names[i + 1 :]:
            crossed = (_off(weighed[one], target[other]), _off(weighed[other], target[one]))
            own = (_off(weighed[one], target[one]), _off(weighed[other], target[other]))
            if any(max(crossed) < near and min(own) >= far for near, far in CROSSED):
                yield one, other


def size_factor(weighed: Mapping[str, float], target: Mapping[str, float]) -> float:
    """How large the batch was against its target: one slip does not move it, nor do all weights of the bucket."""
    ratios = [(weighed[name] / mass, mass) for name, mass in target.items() if mass > 0 and weighed.get(name, 0.0) > 0]
    return _size(ratios) if ratios else 1.0


def _off(mass: float, asked: float) -> float:
    return abs(mass / asked - 1)


def _size(ratios: Sequence[tuple[float, float]]) -> float:
    """The ratio in the middle, of the mass and of the ingredients; where these differ, the one nearer to the size that
    was asked for. `ratios` are of weighed to asked, with the mass asked."""
    return min(_middles(ratios), key=_far_from_asked)


def _size_written(ratios: Sequence[tuple[float, float]], unit: str) -> float:
    """The one of these of which most of the weights are, some of them perhaps in another unit than `unit`."""

    def unlike(size: float) -> int:
        return sum(_off(ratio, size) >= SWAPPED and not other_unit(ratio / size, unit) for ratio, _ in ratios)

    return min(_middles(ratios), key=lambda size: (unlike(size), _far_from_asked(size)))


def _middles(ratios: Sequence[tuple[float, float]]) -> tuple[float, float, float]:
    alone = [ratio for ratio, _ in ratios]
    return _middle_of_mass(ratios), median_low(alone), median_high(alone)


def _far_from_asked(ratio: float) -> float:
    return round(abs(log(ratio)), 9)


def _middle_of_mass(ratios: Sequence[tuple[float, float]]) -> float:
    """The ratio at half of the mass."""
    ordered = sorted(ratios)
    half, passed = sum(mass for _, mass in ordered) / 2, 0.0
    for ratio, mass in ordered:
        passed += mass
        if passed >= half:
            return ratio
    return ordered[-1][0]
