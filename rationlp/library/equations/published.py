"""What every published equation of the feed library has: its unit, its scope, its range and its source.

One convention for all of them, whatever the source prints: composition in percent of dry matter, energies in
kcal/kg of dry matter (1 kcal = 4.184 kJ). Arguments bear the nutrient ids of nutrients.csv, so that a feed's own
figures can be handed over by name.
"""

from __future__ import annotations

import functools
import math
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, ParamSpec

P = ParamSpec("P")
TINY = 1e-9

AMOUNTS = ("energy", "_pig", "_term", "_g", "_kg", "_kcal", "_c", "_mass", "_amount", "slope", "piglets")
"""Endings of argument names that are no percentage; all other numbers are percent and may not pass 100."""

SIGNED = frozenset({"temperature_c", "feed_term", "weight_change_g"})


class EquationError(ValueError):
    """An argument that no feed can have, or a result that no feed can have: the equation refuses."""


class OutsideRange(UserWarning):
    """The equation was used outside the range it was made for; its result is a guess."""


@dataclass(frozen=True, slots=True)
class Equation:
    """A published equation. `id` is the short name of the notes, `name` the function that holds it.

    `valid` gives the range of arguments (and, under `result`, of the result) within which it may be trusted;
    `range_from` says who drew that range.
    """

    id: str
    name: str
    gives: str
    unit: str
    scope: str
    source: str
    how: str
    valid: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    range_from: str = ""

    def outside(self, values: Mapping[str, float]) -> list[str]:
        """In words, which of `values` lie outside the range."""
        return [
            f"{self.id}: {name} {values[name]:.4g} is outside {low:g} to {high:g}"
            for name, (low, high) in self.valid.items()
            if name in values and not low - TINY <= values[name] <= high + TINY
        ]


EQUATIONS: dict[str, Equation] = {}
"""Every published equation by the name of its function."""


def published(
    equation_id: str,
    *,
    gives: str,
    scope: str,
    source: str,
    how: str,
    unit: str = "kcal/kg DM",
    valid: Mapping[str, tuple[float, float]] | None = None,
    range_from: str = "the source prints none; the feeds it was made for",
    signed_result: bool = False,
) -> Callable[[Callable[P, float]], Callable[P, float]]:
    """Registers a function as a published equation and guards it.

    The guarded function raises EquationError for an argument that no feed has (not a number, negative, over 100 %)
    or a negative result, and warns with OutsideRange where an argument or the result leaves the range.
    """

    def guard(function: Callable[P, float]) -> Callable[P, float]:
        record = Equation(
            equation_id, function.__name__, gives, unit, scope, source, how, dict(valid or {}), range_from
        )
        code = function.__code__  # what `inspect` would say of it, without its share of every command's start
        names = code.co_varnames[: code.co_argcount]

        @functools.wraps(function)
        def guarded(*args: P.args, **kwargs: P.kwargs) -> float:
            values: dict[str, Any] = dict(zip(names, args, strict=False)) | kwargs
            _refuse(record, values)
            result = function(*args, **kwargs)
            if not math.isfinite(result) or (result < 0 and not signed_result):
                raise EquationError(f"{record.id} gives {result:.4g} {unit}: no feed has that ({_words(values)})")
            for line in record.outside({**values, "result": result}):
                warnings.warn(line, OutsideRange, stacklevel=2)
            return result

        EQUATIONS[function.__name__] = record
        return guarded

    return guard


def _refuse(record: Equation, values: Mapping[str, float | str]) -> None:
    for name, value in values.items():
        if isinstance(value, str):
            continue
        if not math.isfinite(value):
            raise EquationError(f"{record.id}: {name} is {value}, not a number")
        if value < 0 and name not in SIGNED:
            raise EquationError(f"{record.id}: {name} is {value:.4g}, less than nothing")
        if value > 100 and not name.endswith(AMOUNTS):
            raise EquationError(f"{record.id}: {name} is {value:.4g} %, more than all of the dry matter")


def _words(values: Mapping[str, float | str]) -> str:
    return ", ".join(f"{name} {value if isinstance(value, str) else f'{value:.4g}'}" for name, value in values.items())
