"""What every first answer is made of: one screen that hides nothing a decision needs; `--full` prints the rest.

Of everything but the reasons to stop or to ask (`asked.py`) at most a few things are told.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rationlp.book_units import BookUnits
from rationlp.cautions import REVIEW
from rationlp.numbers import largest_first, plain
from rationlp.reasons import HEADLINES, Kind, Severity, Verdict
from rationlp.show.terminal import GAP, Terminal

LINES, WIDTH = 40, 100
MIXES = 20
"""So many mixes, of ten groups and two bins, have a screen of LINES; each further one may have a line more."""
END_LINES = 4  # of what print_end prints
MOST_LINES = LINES - 1
"""Of an answer that is a list: what is longer is cut there, and the last line says so."""
MOST_THINGS = 5
SHORT = {Severity.STOP: "STOP", Severity.ASK: "ASK", Severity.FEED: "feed"}
"""The verdict in a column."""


def screen() -> Terminal:
    """The terminal of this process, as wide as a first answer may be."""
    return Terminal(WIDTH)


def lines_for(mixes: int) -> int:
    """The lines that an answer about so many mixes may have before its end."""
    return LINES + max(mixes - MIXES, 0) - END_LINES


def print_start(text: str) -> None:
    """The first lines of an answer that is a list, and how many more there are."""
    out = screen()
    lines = text.strip("\n").split("\n")
    told = 0
    while told < len(lines) and out.lines < MOST_LINES:
        out.print(lines[told], hang=2)
        told += 1
    if told < len(lines):
        out.print(f"{len(lines) - told} more lines: --full prints all.", strong=True)


def counted(verdicts: Sequence[Verdict], what: str, several: str = "") -> str:
    """How many there are and how they stand: `3 rations: 1 may be fed after review, 2 ASK A NUTRITIONIST FIRST.`

    `several` is what they are called, if not `what` with an s.
    """
    weights = [verdict.severity for verdict in verdicts]
    counts = [f"{weights.count(weight)} {words}" for weight, words in HEADLINES.items() if weight in weights]
    return f"{len(verdicts)} {what if len(verdicts) == 1 else several or f'{what}s'}: {', '.join(counts) or 'none'}."


def laid_out(rows: Sequence[Sequence[str]], sides: str, indent: int = 0) -> list[str]:
    """Rows under each other without headings, a gap behind each; `sides` is `l` or `r` for each column."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    gap = " " * GAP
    told = []
    for row in rows:
        cells = [
            cell.rjust(width) if side == "r" else cell.ljust(width)
            for cell, width, side in zip(row, widths, sides, strict=True)
            if width
        ]
        told.append(" " * indent + "".join(cell + gap for cell in cells))
    return told


def mix_words(parts: Iterable[tuple[str, float]], units: BookUnits, room: int | None = None) -> str:
    """A mix in the book's unit of mass, the heaviest part first: `north 440, corn 45.2`. `parts` are names and kg.

    With `room`, what finds no place in so many characters is summed up as `5 others 9.1`.
    """
    heaviest = sorted(parts, key=lambda part: largest_first(part[1]))
    told = [f"{name} {plain(kg / units.mass_kg, 3)}" for name, kg in heaviest]
    for count in range(len(told), 1, -1):
        words = ", ".join([*told[:count], *_others(heaviest[count:], units)])
        if room is None or len(words) <= room:
            return words
    return ", ".join([*told[:1], *_others(heaviest[1:], units)])


def _others(parts: Sequence[tuple[str, float]], units: BookUnits) -> list[str]:
    return [f"{len(parts)} others {plain(sum(kg for _, kg in parts) / units.mass_kg, 3)}"] if parts else []


def short_words(verdicts: Iterable[Verdict], units: BookUnits) -> str:
    """Of which bins and offers there is too little: `Short of north: 42.00 t there, 51.20 t wanted.`"""
    short = {reason.feed: reason for verdict in verdicts for reason in verdict.of(Kind.STOCK)}
    told = [
        f"{name}: {units.amount(reason.limit or 0.0)} there, {units.amount(reason.value or 0.0)} wanted"
        for name, reason in short.items()
    ]
    return f"Short of {'; '.join(told)}." if told else ""


def print_asked(out: Terminal, asked: Sequence[str]) -> None:
    """What was asked with `--price` and `--set`."""
    if asked:
        out.print(f"Asked: {', '.join(asked)}. The book itself is as it was.", strong=True)


def print_things(out: Terminal, sentences: Iterable[str], most: int = MOST_THINGS, mixes: int = 0) -> None:
    """Things to know, each once: at most `most` of them, and as the screen of so many mixes has room for; the others
    are counted."""
    told = [f"- {sentence}" for sentence in dict.fromkeys(sentences)]
    room = lines_for(mixes) - out.lines
    shown = 0
    while shown < min(most, len(told)):
        room -= out.height(told[shown])
        if room < (shown + 1 < len(told)):  # a line for the count of the others
            break
        shown += 1
    for sentence in told[:shown]:
        out.print(sentence)
    if len(told) > shown:
        out.print(f"- {len(told) - shown} more to know: see --full.")


def print_end(out: Terminal, *more: str) -> None:
    """The review warning, then how to see more."""
    out.print(REVIEW, strong=True)
    out.print(" ".join(more))
