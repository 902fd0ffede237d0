"""What the scale read after each thing went in, where weights were asked for: told apart by which they are."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from rationlp.actual.slips import SWAPPED, TAKEN_FOR, Entry, in_units

LEAST_READINGS = 3
"""Of fewer figures nobody can tell whether they are readings."""
SAME = 1e-6


@dataclass(frozen=True, slots=True)
class Place:
    """Where an entry was weighed, what that scale should read once it is in (None where nobody knows), and its step."""

    in_bucket: bool
    reads: float | None
    step: float = 0.0


def as_weights(entries: Sequence[Entry], places: Sequence[Place]) -> tuple[list[Entry], list[Entry]]:
    """The entries as weights, and the last entry of each place (the bucket, the mixer) whose figures were readings.

    A reading less the one before it is what went in; what went in between without a figure of its own (the bucket) is
    taken as it was printed. Where a reading tells no more than a step, a thing weighed as asked counts as asked.
    """
    made, told = list(entries), []
    for mine, reads in _scales(places):
        typed, asked = [entries[i].mass for i in mine], [entries[i].asked for i in mine]
        if not are_readings(typed, asked, reads):
            continue
        for i, now, last, after, before in zip(mine, typed, [0.0, *typed], reads, [0.0, *reads], strict=False):
            beside = after - entries[i].asked - before
            mass = now - last - beside
            as_asked = abs(mass - entries[i].asked) <= places[i].step * (1 + SAME)
            made[i] = replace(entries[i], mass=entries[i].asked if as_asked else max(mass, 0.0), sure=True)
        told.append(entries[mine[-1]])
    return made, told


def readings_in(entries: Sequence[Entry], places: Sequence[Place], unit: str) -> list[tuple[Entry, str]]:
    """The last entry of each place whose figures are readings in another unit than the sheet's, and that unit."""
    found = []
    for mine, reads in _scales(places):
        if any(entries[i].sure for i in mine):
            continue
        for other in TAKEN_FOR[unit]:
            typed = [entries[i].mass / in_units(unit, other) for i in mine]
            if are_readings(typed, [entries[i].asked for i in mine], reads):
                found.append((entries[mine[-1]], other))
    return found


def _scales(places: Sequence[Place]) -> Iterator[tuple[list[int], list[float]]]:
    """For the bucket and the mixer, where it is known of every row: which rows, and what should be read after each."""
    for in_bucket in (True, False):
        mine = [i for i, place in enumerate(places) if place.in_bucket == in_bucket]
        reads = [reads for i in mine if (reads := places[i].reads) is not None]
        if mine and len(reads) == len(mine):
            yield mine, reads


def are_readings(typed: Sequence[float], asked: Sequence[float], reads: Sequence[float]) -> bool:
    """Whether what was typed is what the scale read after each thing went in, and not what each weighed.

    Readings never fall, end near the last one printed, and most are nearer to what the scale should read than to what
    was asked.
    """
    if len(typed) < LEAST_READINGS or not reads[-1] or any(after < before for before, after in pairwise(typed)):
        return False
    if abs(typed[-1] / reads[-1] - 1) >= SWAPPED:
        return False
    told_apart = [(abs(t - r), abs(t - a)) for t, a, r in zip(typed, asked, reads, strict=True) if r > a]
    return sum(to_read < to_ask for to_read, to_ask in told_apart) > len(told_apart) / 2
