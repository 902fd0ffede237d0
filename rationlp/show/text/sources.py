"""The sources that stand in an answer, in full."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from rationlp.library.cited import citation_of, short_words
from rationlp.show.terminal import console

if TYPE_CHECKING:
    from rationlp.library import Library
    from rationlp.library.records import Source

_ID = re.compile(r"[\w.\-]*\w")


def print_sources(text: str, library: Library) -> None:
    """Every source that `text` names, by its id as tables do or by its short words as sentences do, in full."""
    named = list(_named(text, library))
    if not named:
        return
    out = console()
    out.rule("Sources")
    for source in named:
        words, full = short_words(source), citation_of(source)
        called = "" if full.startswith(words) else f" ({words})"
        out.print(f"- {words}: {full}" if source.kind == "memory" else f"- {source.source}{called}: {full}")
    out.print("'rationlp library sources ID' says more of one.")


def _named(text: str, library: Library) -> Iterator[Source]:
    """The sources in the order of the library; one that has no more to say than its short words is left out."""
    ids, sentences = set(_ID.findall(text)), " ".join(text.split())
    for source in library.sources.values():
        words = short_words(source)
        known = source.source in ids or (
            words in sentences and re.search(rf"(?<=[\[(; ]){re.escape(words)}(?=[\]);,.])", sentences)
        )
        if known and citation_of(source) != source.short:
            yield source
