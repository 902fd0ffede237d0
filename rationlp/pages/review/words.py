"""How a figure was obtained, and from where, in the words of a reader."""

from __future__ import annotations

from collections.abc import Mapping

from rationlp.library.cited import cited
from rationlp.library.records import Source

HOW_WORDS = {
    "page": "read on a page",
    "dataset": "from a data set",
    "abstract": "from an abstract",
    "memory": "recalled",
    "analogy": "by analogy",
    "computed": "calculated",
    "own": "your own",
    "assay": "of the laboratory",
}


def how_words(how: str) -> str:
    """How a figure was obtained; one that rests on two ways names both."""
    return " and ".join(HOW_WORDS.get(part, part) for part in how.split("+"))


def counted_by_how(counts: dict[str, int]) -> str:
    """How many figures were obtained in each way."""
    return ", ".join(f"{count} {how_words(how)}" for how, count in counts.items())


def told_source(source: str, sources: Mapping[str, Source]) -> str:
    """Sources in words; the rules by which this library fills gaps are none."""
    return cited("; ".join(part for part in source.split("; ") if part != "rule:fill"), sources)
