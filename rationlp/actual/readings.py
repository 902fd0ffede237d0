"""What the scale read after each thing went in, where weights were asked for: told apart by which they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from rationlp.actual.slips import SWAPPED, Entry

LEAST_READINGS = 3
"""Of fewer figures nobody can tell whether they are readings."""
SAME = 1e-6
FAR_TOO_MUCH = 1.5
"""Of the batch: no crew errs so much in all weights together."""


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
    for in_bucket in (True, False):
        mine = [i for i, place in enumerate(places) if place.in_bucket == in_bucket]
        reads = [reads for i in mine if (reads := places[i].reads) is not None]
        typed, asked = [entries[i].mass for i in mine], [entries[i].asked for i in mine]
        if len(reads) < len(mine) or not are_readings(typed, asked, reads):
            continue
        for i, now, last, after, before in zip(mine, typed, [0.0, *typed], reads, [0.0, *reads], strict=False):
            beside = after - entries[i].asked - before
            mass = now - last - beside
            as_asked = abs(mass - entries[i].asked) <= places[i].step * (1 + SAME)
            made[i] = replace(entries[i], mass=entries[i].asked if as_asked else max(mass, 0.0), sure=True)
        told.append(entries[mine[-1]])
    return made, told


def are_readings(typed: Sequence[float], asked: Sequence[float], reads: Sequence[float]) -> bool:
    """Whether what was typed is what the scale read after each thing went in, and not what each weighed.

    Readings never fall, end near the last one printed, and add up to far more than the batch; weights do none of that.
    """
    if len(typed) < LEAST_READINGS or not reads[-1] or any(after < before for before, after in pairwise(typed)):
        return False
    return abs(typed[-1] / reads[-1] - 1) < SWAPPED and sum(typed) > FAR_TOO_MUCH * sum(asked)
