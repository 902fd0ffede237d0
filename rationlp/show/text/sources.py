"""The sources whose ids stand in an answer, in words."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from rationlp.show.terminal import console

if TYPE_CHECKING:
    from rationlp.library import Library

_ID = re.compile(r"[\w.\-]*\w")
_SEEN = re.compile(r"\s*\(seen: .*\)$")
"""How a figure was read, which `rationlp library sources ID` says."""


def print_sources(text: str, library: Library) -> None:
    """Every source that `text` names by its id, in the order in which they come."""
    named = [word for word in dict.fromkeys(_ID.findall(text)) if word in library.sources]
    if not named:
        return
    out = console()
    out.rule("Sources")
    for name in named:
        out.print(f"- {name}: {_SEEN.sub('', library.sources[name].citation)}")
    out.print("'rationlp library sources ID' says more of one.")
