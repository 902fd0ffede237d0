"""How evenly a mixer mixes: the coefficient of variation of samples of one batch, against published limits."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import mean, stdev

from rationlp.errors import Problem, RequestError
from rationlp.numbers import as_typed
from rationlp.sheets.practice import (
    ADVICE_WORDS,
    FARM_TARGET,
    SAMPLES,
    UNIFORMITY_LIMITS,
)

NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Uniformity:
    """Samples of one tracer in one batch. `sd` is with n - 1; `passes` says whether each limit is kept."""

    tracer: str
    values: tuple[float, ...]
    mean: float
    sd: float
    cv_pct: float
    passes: tuple[tuple[str, float, bool], ...]
    advice: str
    notes: tuple[str, ...]

    @property
    def good(self) -> bool:
        """Whether the farm mixer's target is kept."""
        return self.cv_pct < FARM_TARGET.at_most_pct


def uniformity(tracer: str, values: Sequence[float]) -> Uniformity:
    """The CV of `values` (all in one unit) and what it says. Raises RequestError for fewer than two or none above 0."""
    if len(values) < 2 or min(values) < 0 or sum(values) <= 0:
        raise RequestError(
            [
                Problem(
                    "error",
                    tracer or "uniformity",
                    "",
                    ", ".join(as_typed(value) for value in values) or "no figures",
                    "what two or more samples of one batch hold of the tracer, none below 0",
                    "Give one figure for each sample.",
                )
            ]
        )
    middle, sd = mean(values), stdev(values)
    cv = 100 * sd / middle
    notes = []
    if len(values) < SAMPLES:
        notes.append(f"{len(values)} samples only; take {SAMPLES} (Canada's Feeds Regulations, 2024, section 73).")
    return Uniformity(
        tracer=tracer,
        values=tuple(values),
        mean=middle,
        sd=sd,
        cv_pct=cv,
        passes=tuple((limit.named(), limit.at_most_pct, cv <= limit.at_most_pct) for limit in UNIFORMITY_LIMITS),
        advice=next(advice for limit, advice in ADVICE_WORDS if limit is None or cv <= limit),
        notes=tuple(notes),
    )


def read_uniformity(text: str) -> Uniformity:
    """`salt: 0.31 0.29 0.33` as typed on the command line. Raises RequestError."""
    tracer, _, figures = text.rpartition(":")
    words = figures.replace(",", " ").replace(";", " ").split()
    wrong = [word for word in words if not NUMBER.fullmatch(word)]
    if wrong:
        raise RequestError(
            [
                Problem(
                    "error",
                    "uniformity",
                    "",
                    repr(wrong[0]),
                    "a name, a colon and figures, such as salt: 0.31 0.29 0.33",
                    "Separate the figures by blanks; write decimals with a point.",
                )
            ]
        )
    return uniformity(tracer.strip() or "tracer", [float(word) for word in words])
