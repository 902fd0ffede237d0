"""What every first answer is made of: one screen that hides nothing a decision needs; `--full` prints the rest.

Every reason to stop or to ask stands on it once, under a letter that the lines above point to; of everything else at
most a few things are told.
"""

from __future__ import annotations

import string
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rationlp.book_units import BookUnits
from rationlp.cautions import REVIEW
from rationlp.numbers import largest_first, plain
from rationlp.reasons import HEADLINES, Kind, Reason, Severity, Verdict, in_order
from rationlp.show.terminal import GAP, Terminal, wrapped
from rationlp.show.text.verdict import MARKS

LINES, WIDTH = 40, 100
END_LINES = 4  # of what print_end prints
MOST_LINES = 36
"""Of an answer that is a list: what is longer is cut there."""
MOST_THINGS = 5
LONG_RUN = 5
"""So many letters that follow each other are told as their first and last."""
SHORT = {Severity.STOP: "STOP", Severity.ASK: "ASK", Severity.FEED: "feed"}
"""The verdict in a column."""


def screen() -> Terminal:
    """The terminal of this process, as wide as a first answer may be."""
    return Terminal(WIDTH)


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


@dataclass(frozen=True, slots=True)
class AskedLine:
    """A reason to stop or to ask behind its letter: the worst of those that differ by their numbers alone.

    `names` are the mixes it holds for; `worst` is the one it is of, empty where all say the same.
    """

    letter: str
    reason: Reason
    names: tuple[str, ...]
    worst: str = ""


class Asked:
    """The reasons to stop or to ask of several mixes: each kind of reason once, under a letter."""

    def __init__(self, verdicts: Iterable[tuple[str, Verdict]]) -> None:
        self._found: dict[tuple[object, ...], list[tuple[str, Reason]]] = {}
        for name, verdict in verdicts:
            for reason in verdict.reasons:
                if reason.severity is not Severity.FEED:
                    self._found.setdefault(_same(reason), []).append((name, reason))
        worst = {key: max((reason for _, reason in told), key=_off) for key, told in self._found.items()}
        order = {reason.text: place for place, reason in enumerate(in_order(worst.values()))}
        keys = sorted(self._found, key=lambda key: order[worst[key].text])
        self._letters = {key: _letter(place) for place, key in enumerate(keys)}
        self._worst = {key: worst[key] for key in keys}

    def mark(self, verdict: Verdict) -> str:
        """The verdict in a column, with the letters of its reasons: `ASK a,c`, and of a long run `STOP a-k`."""
        asked = {_same(reason) for reason in verdict.reasons if reason.severity is not Severity.FEED}
        places = [place for place, key in enumerate(self._letters) if key in asked]
        runs: list[list[int]] = []
        for place in places:
            if runs and place == runs[-1][-1] + 1:
                runs[-1].append(place)
            else:
                runs.append([place])
        letters = ",".join(
            f"{_letter(run[0])}-{_letter(run[-1])}" if len(run) >= LONG_RUN else ",".join(map(_letter, run))
            for run in runs
        )
        return f"{SHORT[verdict.severity]} {letters}".strip()

    @property
    def lines(self) -> list[AskedLine]:
        """Every reason behind its letter, the gravest first."""
        found = []
        for key, reason in self._worst.items():
            told = self._found[key]
            several = len({reason.text for _, reason in told}) > 1
            names = tuple(dict.fromkeys(name for name, _ in told))
            found.append(AskedLine(self._letters[key], reason, names, _worst_of(told) if several else ""))
        return found

    def print(self, out: Terminal, named: bool = False) -> None:
        """Every reason behind its letter. `named` says where each holds, on a screen without a line for each mix."""
        for line in self.lines:
            where = f" (the worst of {len(line.names)}: {line.worst})" if line.worst else ""
            if named and not line.worst:
                where = f" ({line.names[0]}{f' and {len(line.names) - 1} more' if len(line.names) > 1 else ''})"
            text = f"{line.letter}  {MARKS[line.reason.severity]} {line.reason.text}{where}"
            out.print(text, strong=True, hang=3)


def _same(reason: Reason) -> tuple[object, ...]:
    """What two reasons have in common that say the same with other numbers."""
    if reason.value is None or reason.limit is None or (reason.nutrient or reason.feed) is None:
        return (reason.severity, reason.text)
    side = reason.value > reason.limit
    return (reason.severity, reason.kind, reason.nutrient, reason.feed, side)


def _off(reason: Reason) -> float:
    """How far a reason's figure is from its limit, as a share of the limit."""
    if reason.value is None or not reason.limit:
        return 0.0
    return abs(reason.value - reason.limit) / abs(reason.limit)


def _worst_of(told: Sequence[tuple[str, Reason]]) -> str:
    return max(told, key=lambda pair: _off(pair[1]))[0]


def _letter(place: int) -> str:
    """a to z, then aa, ab ..."""
    more, last = divmod(place, len(string.ascii_lowercase))
    return (_letter(more - 1) if more else "") + string.ascii_lowercase[last]


def short_words(verdicts: Iterable[Verdict], units: BookUnits) -> str:
    """Of which bins and offers there is too little: `Short of north: 42.00 t there, 51.20 t wanted.`"""
    short = {reason.feed: reason for verdict in verdicts for reason in verdict.of(Kind.STOCK)}
    told = [
        f"{name}: {units.bulk(reason.limit or 0.0)} there, {units.bulk(reason.value or 0.0)} wanted"
        for name, reason in short.items()
    ]
    return f"Short of {'; '.join(told)}." if told else ""


def print_asked(out: Terminal, asked: Sequence[str]) -> None:
    """What was asked with `--price` and `--set`."""
    if asked:
        out.print(f"Asked: {', '.join(asked)}. The book itself is as it was.", strong=True)


def print_things(out: Terminal, sentences: Iterable[str], most: int = MOST_THINGS) -> None:
    """Things to know, each once: at most `most` of them, and as the screen has room for; the others are counted."""
    told = [f"- {sentence}" for sentence in dict.fromkeys(sentences)]
    room = LINES - END_LINES - out.lines
    shown = 0
    while shown < min(most, len(told)):
        room -= wrapped(told[shown], out.width, "  ").count("\n") + 1
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
