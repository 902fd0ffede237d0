"""What it takes to pass a safety or legal limit: a reason in words, a name, a day; and what nobody can pass."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from rationlp.book.records import OwnLimit, OwnRequirement, Settings
from rationlp.book.somebody import names_somebody
from rationlp.errors import Problem
from rationlp.library.cited import cited
from rationlp.library.read import Library
from rationlp.library.records import Stage
from rationlp.library.trial_caps import CLEAR, UNKNOWN, Circumstances, Trial, level, of_variety, with_enzyme
from rationlp.library.which_limits import scopes_of_caps

LEAST_WORDS = 3


def weight_problems(row: OwnLimit | OwnRequirement, passes: str, today: date | None = None) -> list[Problem]:
    """What a row that passes a safety or legal limit lacks, each at its cell. `passes` says what it passes.

    It needs a reason of at least three words (column `reason`, or `source` of a requirement), the name of who approved
    it, and a day that is not still to come.
    """
    column, why = ("reason", row.reason) if isinstance(row, OwnLimit) else ("source", row.source)
    found = []
    if len(_words(why)) < LEAST_WORDS:
        found.append(
            (
                column,
                f"no {column} in words ({why.strip()!r})" if why.strip() else f"no {column}",
                f"a {column} of at least three words: why, and on what ground",
            )
        )
    if not names_somebody(row.approved_by):
        by = f" ({row.approved_by.strip()!r})" if row.approved_by.strip() else ""
        found.append(("approved_by", f"nobody in approved_by{by}", "the name of the nutritionist or veterinarian"))
    if row.approved_on is None:
        found.append(("approved_on", "no day in approved_on", "the day it was approved"))
    elif row.approved_on > (today or date.today()):
        found.append(("approved_on", f"approved_on {row.approved_on}, which is still to come", "a day up to today"))
    return [
        Problem(
            "error",
            row.place.sheet,
            row.place.cell(name),
            f"{words} for {passes}",
            expected,
            "Fill it in, or stay within the limit.",
        )
        for name, words, expected in found
    ]


def approval(row: OwnLimit | OwnRequirement, farm: Settings) -> str:
    """Who approved the row, when and why, in words."""
    why = row.reason if isinstance(row, OwnLimit) else row.source
    day = farm.day(row.approved_on, "an unknown day")
    return f"approved by {row.approved_by.strip() or 'nobody'} on {day}: {why.strip()}"


@dataclass(frozen=True, slots=True)
class Harm:
    """The lowest level at which a feeding trial saw a clear loss, and the row that says so.

    `level_pct` is percent of the complete feed. Where the trial prints no level (`printed` false) it is the highest
    that trials fed without loss, 0 where none did: nobody knows that more does no harm.
    """

    level_pct: float
    printed: bool
    trial: Trial

    def reached_by(self, allowed_pct: float) -> bool:
        """Whether so much of the feed, percent of the complete feed, may do the harm."""
        return allowed_pct > 0 and (allowed_pct >= self.level_pct if self.printed else allowed_pct > self.level_pct)


def harm_level(feed: str, stage: Stage, library: Library, said: Circumstances = UNKNOWN) -> Harm | None:
    """The lowest level at which harm to animals of the stage was published, for all that `feed` speaks of.

    Losses without a printed level count where the library caps the feed for safety.
    """
    named = library.families.get(feed, frozenset({feed}))
    found: list[Harm] = []
    for word, trials in library.trials.items():
        if named <= library.families.get(word, frozenset({word})):
            here = [row for row in trials if set(row.scopes) & set(scopes_of_caps(stage))]
            rows = with_enzyme(of_variety(here, said.variety(word)), said.enzyme)
            found += [Harm(level(row), True, row) for row in rows if row.use == "cap" and row.outcome in CLEAR]
            if any(row.safety == "yes" and row.scope in stage.scopes for row in library.feed_limits.get(word, ())):
                found += _at_no_printed_level(rows)
    return min(found, key=lambda harm: harm.level_pct, default=None)


def _at_no_printed_level(rows: Sequence[Trial]) -> Iterator[Harm]:
    """Losses of the feed at levels that are not printed as percent of the complete feed."""
    held = max((level(row) for row in rows if row.use == "cap" and row.yield_kept == "yes"), default=0.0)
    for row in rows:
        if row.level_pct is None and row.outcome in CLEAR:
            yield Harm(held, False, row)


def harm_problem(row: OwnLimit, stage: Stage, library: Library, said: Circumstances = UNKNOWN) -> Problem | None:
    """The problem of an own limit that allows a level at which harm was published; no approval passes it."""
    harm = harm_level(row.feed, stage, library, said)
    allowed = 100 * (row.max_share or 0.0)
    if harm is None or not harm.reached_by(allowed):
        return None
    seen = f"{harm.level_pct:g} %" if harm.printed else harm.trial.level_as_printed or "a level not printed"
    below = f"{'below' if harm.printed else 'at most'} {harm.level_pct:g} %" if harm.level_pct else "none of it"
    return Problem(
        "error",
        row.place.sheet,
        row.place.cell("max_pct"),
        f"up to {allowed:g} % of {row.feed} in {stage.stage}, where harm was seen at {seen} "
        f"({harm.trial.outcome.replace('_', ' ')} of {harm.trial.what}; {cited(harm.trial.source, library.sources)})",
        f"{below}: no approval passes a level at which harm was published",
        "Lower max_pct, or give these animals a row of their own.",
    )


def _words(text: str) -> set[str]:
    return {word.casefold() for word in re.findall(r"[^\W\d_]{2,}", text)}
