"""Sources as people read them: in short words instead of their ids."""

from __future__ import annotations

import re
from collections.abc import Mapping

from rationlp.library.records import Source

_SEEN = re.compile(r"\s*\((?:full )?(?:table |text )?seen: .*\)$|\s*\((?:full text|text) seen.*\)$")
"""How a figure was read, which `rationlp library sources ID` says."""


def cited(ids: str, sources: Mapping[str, Source]) -> str:
    """The sources of a row (ids parted by "; ") in short words, each once: "Rev Bras Zootec 2007b".

    What is no source of the library, as the words of a farm's own row, stays as it is.
    """
    parts = (part for part in ids.split("; ") if part)
    return "; ".join(dict.fromkeys(short_words(sources[part]) if part in sources else part for part in parts))


def short_words(source: Source) -> str:
    """What a sentence calls a source; one that nobody saw is marked."""
    words = source.short or citation_of(source)
    return f"{words}, from memory" if source.kind == "memory" and "memory" not in words else words


def citation_of(source: Source) -> str:
    """The source in full, without how it was seen."""
    return _SEEN.sub("", source.citation)
