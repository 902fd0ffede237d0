"""Slips of the pen: pounds where kilograms belong, and two ingredients written in each other's row."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from rationlp.units import KG_PER_LB

WHOLE_SHEET, ONE_ROW = 0.03, 0.015
"""How near the ratio of weighed to asked must be to that of the units, for a sheet and for a single row."""
SWAPPED, UNLIKE = 0.1, 0.2
"""Two weights are each other's within a tenth, and neither is its own within a fifth."""


@dataclass(frozen=True, slots=True)
class Entry:
    """What was typed for one ingredient, and what the sheet asked for, in the sheet's unit. `sure`: with its unit."""

    cell: str
    label: str
    mass: float
    asked: float
    sure: bool


def suspicious_units(entries: Sequence[Entry], unit: str) -> list[tuple[str, str, str, str]]:
    """Cell, found, expected and what to do for every weight that looks like the other unit."""
    other, ratio = ("lb", 1 / KG_PER_LB) if unit == "kg" else ("kg", KG_PER_LB)
    typed = [entry for entry in entries if not entry.sure and entry.asked > 0 and entry.mass > 0]
    if not typed:
        return []
    middle = _weighted_median([(entry.mass / entry.asked, entry.asked) for entry in typed])
    if abs(middle / ratio - 1) < WHOLE_SHEET:
        first = max(typed, key=lambda entry: entry.asked)
        return [
            (
                first.cell,
                f"{first.mass:g} for {first.label}, and the others in the same proportion",
                f"about {first.asked:.6g} {unit}; this looks like {other}",
                f"Type the weights in {unit}, or each with its unit ({first.mass:g} {other}).",
            )
        ]
    return [
        (
            entry.cell,
            f"{entry.mass:g} for {entry.label}",
            f"about {entry.asked:.6g} {unit}; this looks like {other}",
            f"Type it in {unit}; if it was really that much, write {entry.mass:g} {unit}.",
        )
        for entry in typed
        if abs(entry.mass / entry.asked / ratio - 1) < ONE_ROW and abs(middle - 1) < SWAPPED
    ]


def swapped(weighed: Mapping[str, float], target: Mapping[str, float]) -> Iterator[tuple[str, str]]:
    """Pairs of ingredients that seem to have each other's weight."""
    names = [name for name in target if target[name] > 0 and weighed.get(name, 0.0) > 0]
    for i, one in enumerate(names):
        for other in names[i + 1 :]:
            crossed = _near(weighed[one], target[other]) and _near(weighed[other], target[one])
            if crossed and not _own(weighed[one], target[one]) and not _own(weighed[other], target[other]):
                yield one, other


def size_factor(weighed: Mapping[str, float], target: Mapping[str, float]) -> float:
    """How large the batch was against its target, by what makes up most of it: one slip does not move it."""
    ratios = [(weighed[name] / mass, mass) for name, mass in target.items() if mass > 0 and weighed.get(name, 0.0) > 0]
    return _weighted_median(ratios) if ratios else 1.0


def _near(mass: float, asked: float) -> bool:
    return abs(mass / asked - 1) < SWAPPED


def _own(mass: float, asked: float) -> bool:
    return abs(mass / asked - 1) < UNLIKE


def _weighted_median(pairs: Sequence[tuple[float, float]]) -> float:
    """The value at half of the weight; the plain median where one ingredient holds more than that."""
    ordered = sorted(pairs)
    half, passed = sum(weight for _, weight in ordered) / 2, 0.0
    if max(weight for _, weight in ordered) > half:
        return median(value for value, _ in ordered)
    for value, weight in ordered:
        passed += weight
        if passed >= half:
            return value
    return ordered[-1][0]
