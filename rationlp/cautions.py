"""The warnings that go with everything the tool prints."""

from __future__ import annotations

from collections.abc import Mapping

from rationlp.library.read import Library
from rationlp.library.records import Stage

REVIEW = (
    "A qualified (licensed) nutritionist should review this before it is fed: it rests on table figures and, where "
    "grain of the farm is in it, on samples of that grain."
)
NOT_SOLD = "sell none of it as feed or food until it is cleared"
ASK_WHOM = "see what is said of the bin, and ask the feed control office what may be done with it"
"""Of grain with a danger in it."""


def ration_cautions(stage: Stage | None, feeds: Mapping[str, float], library: Library) -> tuple[str, ...]:
    """The review warning and the library's cautions for this stage and these feeds."""
    return _matching({"ration", *(stage.scopes if stage else ())}, feeds, library)


def sheet_cautions(stage: Stage | None, feeds: Mapping[str, float], library: Library) -> tuple[str, ...]:
    """The same, with what the crew must mind at the mixer and the bin."""
    return _matching({"ration", "sheet", *(stage.scopes if stage else ())}, feeds, library)


def bin_cautions(feeds: Mapping[str, float], library: Library) -> tuple[str, ...]:
    """What to mind at the bin and with these crops."""
    return _matching({"bin"}, feeds, library)


def _matching(words: set[str], feeds: Mapping[str, float], library: Library) -> tuple[str, ...]:
    found = [REVIEW]
    for row in library.cautions:
        if set(row.shown_with) & words or any(_in_mix(word, feeds, library) for word in row.shown_with):
            found.append(row.text)
    return tuple(dict.fromkeys(found))


def _in_mix(word: str, feeds: Mapping[str, float], library: Library) -> bool:
    family = word.removeprefix("feed:")
    return word != family and any(feeds.get(feed) for feed in library.families.get(family, ()))
