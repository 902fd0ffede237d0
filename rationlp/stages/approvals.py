"""What it takes to pass a safety or legal limit: a reason in words, a name, a day; and what nobody can pass."""

from __future__ import annotations

import re
from datetime import date

from rationlp.book.records import OwnLimit, OwnRequirement
from rationlp.errors import Problem
from rationlp.library.read import Library
from rationlp.library.records import FeedLimit, Stage

LEAST_WORDS = 3
HARM_SEEN = "trial_bad"
"""Evidence of the library that harm was published at a level."""


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
    if not _words(row.approved_by):
        found.append(("approved_by", "nobody in approved_by", "the name of the nutritionist or veterinarian"))
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


def approval(row: OwnLimit | OwnRequirement) -> str:
    """Who approved the row, when and why, in words."""
    why = row.reason if isinstance(row, OwnLimit) else row.source
    day = f"{row.approved_on:%Y-%m-%d}" if row.approved_on else "an unknown day"
    return f"approved by {row.approved_by.strip() or 'nobody'} on {day}: {why.strip()}"


def harm_level(feed: str, stage: Stage, library: Library) -> FeedLimit | None:
    """The lowest level at which harm to animals of the stage was published, for all that `feed` speaks of."""
    named = library.families.get(feed, frozenset({feed}))
    rows = [
        row
        for word, evidence in library.feed_limits.items()
        if named <= library.families.get(word, frozenset({word}))
        for row in evidence
        if row.evidence == HARM_SEEN and row.max_pct is not None and row.scope in stage.scopes
    ]
    return min(rows, key=lambda row: row.max_pct or 0.0, default=None)


def harm_problem(row: OwnLimit, stage: Stage, library: Library) -> Problem | None:
    """The problem of an own limit that allows a level at which harm was published; no approval passes it."""
    harm = harm_level(row.feed, stage, library)
    allowed = 100 * (row.max_share or 0.0)
    if harm is None or harm.max_pct is None or allowed <= 0 or allowed < harm.max_pct:
        return None
    below = f"below {harm.max_pct:g} %" if harm.max_pct else "none of it"
    return Problem(
        "error",
        row.place.sheet,
        row.place.cell("max_pct"),
        f"up to {allowed:g} % of {row.feed} in {stage.stage}, where harm was seen at {harm.max_pct:g} % "
        f"({harm.reason}; {harm.source})",
        f"{below}: no approval passes a level at which harm was published",
        "Lower max_pct, or give these animals a row of their own.",
    )


def _words(text: str) -> set[str]:
    return {word.casefold() for word in re.findall(r"[^\W\d_]{2,}", text)}
