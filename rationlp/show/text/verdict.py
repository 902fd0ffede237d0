"""A verdict and its reasons for the terminal, the same wherever a mix is spoken of."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rationlp.library import Library
from rationlp.library.cited import cited
from rationlp.library.records import Source
from rationlp.reasons import Reason, Severity, Verdict, in_order
from rationlp.show.terminal import Terminal

MARKS = {Severity.STOP: "STOP:", Severity.ASK: "ASK:", Severity.FEED: "-"}
"""Before a reason, by how much it weighs; words, so that no colour or sign is needed to tell."""


def reason_line(reason: Reason, sources: Mapping[str, Source]) -> str:
    """A reason with its weight before it and its source behind it."""
    source = f" [{cited(reason.source, sources)}]" if reason.source else ""
    return f"{MARKS[reason.severity]} {reason.text}{source}"


def print_reasons(out: Terminal, verdict: Verdict, library: Library) -> None:
    """Every reason, the gravest first."""
    for reason in verdict.reasons:
        out.print(reason_line(reason, library.sources), strong=reason.severity is not Severity.FEED)


def print_grouped(
    out: Terminal, verdicts: Iterable[tuple[str, Verdict]], library: Library, least: Severity = Severity.FEED
) -> None:
    """The reasons of several mixes, each once with the names of the mixes it speaks of."""
    names: dict[str, list[str]] = {}
    found: list[Reason] = []
    for name, verdict in verdicts:
        for reason in verdict.reasons:
            if reason.severity.rank >= least.rank:
                found.append(reason)
                names.setdefault(reason.text, []).append(name)
    for reason in in_order(found):
        named = ", ".join(dict.fromkeys(names[reason.text]))
        out.print(f"{reason_line(reason, library.sources)} ({named})", strong=reason.severity is not Severity.FEED)
