"""What the scale read after each thing went in, where weights were asked for: told apart by which they are."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from rationlp.actual.slips import SWAPPED, TAKEN_FOR, UNLIKE, Entry, in_units

LEAST_READINGS = 3
"""Of fewer figures nobody can tell whether they are readings."""
SMALLEST = 0.4
"""Of the size on its sheet: a smaller batch, and its readings are asked about as if in another unit."""
SAME = 1e-6


@dataclass(frozen=True, slots=True)
class Place:
    """Where an entry was weighed, what that scale should read once it is in (None where nobody knows), and its step."""

    in_bucket: bool
    reads: float | None
    step: float = 0.0


@dataclass(frozen=True, slots=True)
class Readings:
    """Entries as weights; the last entry of each place whose figures were `read` off a scale; and of which entries such
    readings tell little, as a step of that scale is a good part of what was asked."""

    weights: list[Entry]
    read: list[Entry]
    hardly_told: list[Entry]


def as_weights(entries: Sequence[Entry], places: Sequence[Place]) -> Readings:
    """The entries as weights, where those of the bucket or of the mixer are what its scale read.

    A reading less the one before it is what went in; what went in between without a figure of its own (the bucket) is
    taken as it was printed, for a batch of the size that was made. Of readings in whole steps a thing within a step of
    what was asked counts as asked.
    """
    made, told, hardly = list(entries), list[Entry](), list[Entry]()
    for mine, reads in _scales(places):
        typed, asked = [entries[i].mass for i in mine], [entries[i].asked for i in mine]
        size = size_read(typed, asked, reads)
        if size is None:
            continue
        for i, now, last, after, before in zip(mine, typed, [0.0, *typed], reads, [0.0, *reads], strict=False):
            meant = size * entries[i].asked
            beside = size * (after - before) - meant
            mass = now - last - beside
            step = places[i].step if _in_steps(places[i].step, now, last) else 0.0
            as_asked = abs(mass - meant) <= step * (1 + SAME)
            made[i] = replace(entries[i], mass=meant if as_asked else max(mass, 0.0), sure=True)
            if as_asked and step > UNLIKE * meant:
                hardly.append(entries[i])
        told.append(entries[mine[-1]])
    return Readings(made, told, hardly)


def _in_steps(step: float, *readings: float) -> bool:
    """Whether readings are what a scale of such steps shows, and nothing finer."""
    return step > 0 and all(abs(each / step - round(each / step)) < SAME for each in readings)


def readings_in(entries: Sequence[Entry], places: Sequence[Place], unit: str) -> list[tuple[Entry, str]]:
    """The last entry of each place whose figures are readings in another unit than the sheet's, and that unit.

    Where most of them are what was asked, they are weights, however they rise.
    """
    found = []
    for mine, reads in _scales(places):
        as_asked = sum(abs(entries[i].mass - entries[i].asked) <= SWAPPED * entries[i].asked for i in mine)
        if any(entries[i].sure for i in mine) or as_asked > len(mine) / 2:
            continue
        asked = [entries[i].asked for i in mine]
        in_own = size_read([entries[i].mass for i in mine], asked, reads)
        for other in TAKEN_FOR[unit]:
            size = size_read([entries[i].mass / in_units(unit, other) for i in mine], asked, reads)
            if size == 1 or (size and not in_own):
                found.append((entries[mine[-1]], other))
    return found


def _scales(places: Sequence[Place]) -> Iterator[tuple[list[int], list[float]]]:
    """For the bucket and the mixer, where it is known of every row: which rows, and what should be read after each."""
    for in_bucket in (True, False):
        mine = [i for i, place in enumerate(places) if place.in_bucket == in_bucket]
        reads = [reads for i in mine if (reads := places[i].reads) is not None]
        if mine and len(reads) == len(mine):
            yield mine, reads


def size_read(typed: Sequence[float], asked: Sequence[float], reads: Sequence[float]) -> float | None:
    """The size of the batch, against its sheet, where what was typed is what the scale read after each thing went in;
    None where it is what each weighed.

    Readings never fall. They end near the last one printed, and most are nearer to what the scale should read than to
    what was asked; or they are all those of one smaller batch.
    """
    if len(typed) < LEAST_READINGS or not reads[-1] or any(after < before for before, after in pairwise(typed)):
        return None
    size = typed[-1] / reads[-1]
    if abs(size - 1) < SWAPPED:
        told_apart = [(abs(t - r), abs(t - a)) for t, a, r in zip(typed, asked, reads, strict=True) if r > a]
        return 1.0 if sum(to_read < to_ask for to_read, to_ask in told_apart) > len(told_apart) / 2 else None
    unlike = [(t, r) for t, a, r in zip(typed, asked, reads, strict=True) if r > (1 + UNLIKE) * a]
    if (
        SMALLEST <= size < 1
        and len(unlike) >= LEAST_READINGS
        and all(abs(t / (size * r) - 1) < SWAPPED for t, r in unlike)
    ):
        return size
    return None
