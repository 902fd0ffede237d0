"""The reasons to stop or to ask of several mixes on a screen: each once, under a letter that the lines above point to.

What most mixes share stands first. Where the whole sentences find no room, what says the same of several mixes is told
once and shortly; where that is too long, what there is too little or too much of is summed up in a sentence. No reason
is left out, and what may harm and is for a nutritionist to decide always stands whole.
"""

from __future__ import annotations

import re
import string
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from rationlp.numbers import plain
from rationlp.reasons import HARMFUL, Kind, Reason, Severity, Verdict
from rationlp.show.first.screen import SHORT, lines_for
from rationlp.show.terminal import Terminal
from rationlp.show.text.verdict import MARKS

LONG_RUN = 4
"""So many letters that follow each other are told as their first and last."""
FAMILIES = (Kind.REQUIREMENT, Kind.PREMIX)
"""Kinds whose sentences say what they are about before a colon, and then which feeds or nutrients."""
SHORT_LINES = 2
HANG = 3
PROTEIN = "Protein is short: "
NAME = re.compile(rf"(?!The mix)(?:{PROTEIN})?(?P<name>.*?)(?: is|:) \d")
"""What there is too little or too much of, before its figure."""


class Detail(StrEnum):
    """How much of the reasons is told, the most first."""

    WHOLE = "whole"
    SHORT = "short"
    SUMMED = "summed"


@dataclass(frozen=True, slots=True)
class AskedLine:
    """A reason to stop or to ask behind its letter: the worst of those that differ by their numbers alone.

    `names` are the mixes it holds for; `worst` is the one it is of, empty where all say the same. `text` is what a
    screen says of it.
    """

    letter: str
    reason: Reason
    names: tuple[str, ...]
    worst: str
    text: str


class Asked:
    """The reasons to stop or to ask of several mixes: each kind of reason once, under a letter."""

    def __init__(self, verdicts: Iterable[tuple[str, Verdict]], detail: Detail = Detail.WHOLE) -> None:
        self._verdicts = tuple(verdicts)
        self._detail = detail
        self._found: dict[tuple[object, ...], list[tuple[str, Reason]]] = {}
        for name, verdict in self._verdicts:
            for reason in verdict.reasons:
                if reason.severity is not Severity.FEED:
                    self._found.setdefault(self._key(reason), []).append((name, reason))
        self._order = sorted(self._found, key=lambda key: _weight(self._found[key]))
        self._letters = {key: _letter(place) for place, key in enumerate(self._order)}

    def told(self, detail: Detail) -> Asked:
        """The same reasons in more or in fewer words."""
        return Asked(self._verdicts, detail)

    def fitting(self, out: Terminal, others: int, named: bool = False) -> Asked:
        """The reasons in as many words as find room beside `others` lines still to come."""
        for detail in Detail:
            told = self.told(detail)
            if out.lines + others + told.height(out, named) <= lines_for(len(self._verdicts)):
                break
        return told

    def height(self, out: Terminal, named: bool = False) -> int:
        """How many lines of the screen they take."""
        return sum(out.height(text, hang=HANG) for text in self._sentences(out, named))

    def mark(self, verdict: Verdict) -> str:
        """The verdict in a column, with the letters of its reasons: `ASK a,c`, and of a long run `STOP a-k`."""
        asked = {self._key(reason) for reason in verdict.reasons if reason.severity is not Severity.FEED}
        places = [place for place, key in enumerate(self._order) if key in asked]
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
        """Every reason behind its letter, the gravest first, of these what most mixes share."""
        found = []
        for key in self._order:
            told = self._found[key]
            several = len({reason.text for _, reason in told}) > 1
            worst, reason = max(told, key=lambda pair: _off(pair[1]))
            text = _summed(told) if key[0] == Detail.SUMMED else reason.text
            found.append(AskedLine(self._letters[key], reason, _names(told), worst if several else "", text))
        return found

    def letter_of(self, line: AskedLine) -> str:
        """The letter under which the reason of a line of other mixes is told here already, of one as far off or
        further; empty where it is not."""
        key = self._key(line.reason)
        as_far = any(_off(reason) >= _off(line.reason) for _, reason in self._found.get(key, ()))
        return self._letters[key] if as_far else ""

    def print(self, out: Terminal, named: bool = False) -> None:
        """Every reason behind its letter. `named` says where each holds, on a screen without a line for each mix."""
        for text in self._sentences(out, named):
            out.print(text, strong=True, hang=HANG)

    def _sentences(self, out: Terminal, named: bool) -> Iterable[str]:
        for line in self.lines:
            start = f"{line.letter}  {MARKS[line.reason.severity]} "
            where = self._where(line, named)
            text = line.text
            if self._detail is not Detail.WHOLE and text == line.reason.text and not _stays_whole(line.reason):
                text = _shortened(text, SHORT_LINES * (out.width - HANG) - len(start) - len(where))
            yield f"{start}{text}{where}"

    def _where(self, line: AskedLine, named: bool) -> str:
        """Which mixes a reason speaks of, as far as the lines of the mixes do not show it."""
        count = len(line.names)
        if self._detail is not Detail.WHOLE and count > 1:
            which = (
                f"{'e.g.' if _side(line.reason) is None else 'worst'} {line.worst}"
                if line.worst
                else f"{line.names[0]} and {count - 1} more"
            )
            return f" ({count} of {len(self._verdicts)}{f'; {which}' if line.worst or named else ''})"
        if line.worst:
            return f" (the worst of {count}: {line.worst})"
        return f" ({line.names[0]}{f' and {count - 1} more' if count > 1 else ''})" if named else ""

    def _key(self, reason: Reason) -> tuple[object, ...]:
        """What reasons have in common that are told under one letter."""
        if self._detail is Detail.WHOLE or _stays_whole(reason):
            return _same(reason)
        if self._detail is Detail.SUMMED and _side(reason) is not None and NAME.match(reason.text):
            return (Detail.SUMMED, reason.severity, _side(reason))
        return _thing(reason)


def _weight(told: Sequence[tuple[str, Reason]]) -> tuple[int, int, bool]:
    """The gravest first, of these what most mixes share, of these what may harm or is not lawful."""
    reasons = [reason for _, reason in told]
    harmful = any(reason.kind in HARMFUL for reason in reasons)
    return (-max(reason.severity.rank for reason in reasons), -len(_names(told)), not harmful)


def _names(told: Sequence[tuple[str, Reason]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for name, _ in told))


def _stays_whole(reason: Reason) -> bool:
    """What may harm in a mix that may be fed if a nutritionist says so is never shortened."""
    return reason.kind in HARMFUL and reason.severity is Severity.ASK


def _same(reason: Reason) -> tuple[object, ...]:
    """What two reasons have in common that say the same with other numbers."""
    side = _side(reason)
    if side is None:
        return (reason.severity, reason.text)
    return (reason.severity, reason.kind, reason.nutrient, reason.feed, side)


def _thing(reason: Reason) -> tuple[object, ...]:
    """What two reasons have in common that say the same of other nutrients or feeds: the words before the colon."""
    head, colon, _ = reason.text.partition(": ")
    if colon and reason.kind in FAMILIES:
        return (reason.severity, reason.kind, re.sub(r"[\d.,]+", "", head))
    return _same(reason)


def _side(reason: Reason) -> bool | None:
    """Whether a figure is above its limit; None where a reason has no such figure of a nutrient or a feed."""
    if reason.value is None or reason.limit is None or (reason.nutrient or reason.feed) is None:
        return None
    return reason.value > reason.limit


def _off(reason: Reason) -> float:
    """How far a reason's figure is from its limit, as a share of the limit."""
    if reason.value is None or not reason.limit:
        return 0.0
    return abs(reason.value - reason.limit) / abs(reason.limit)


def _summed(told: Sequence[tuple[str, Reason]]) -> str:
    """What there is too little or too much of, each with its worst figure and in how many mixes, the most first."""
    things: dict[str, list[tuple[str, Reason]]] = {}
    for name, reason in told:
        things.setdefault(_name(reason).casefold(), []).append((name, reason))
    parts = []
    for found in sorted(things.values(), key=lambda found: -len(_names(found))):
        worst = max((reason for _, reason in found), key=_off)
        unit = f" {worst.unit}" if worst.unit else ""
        count = f" ({len(_names(found))})" if len(things) > 1 else ""
        name = f"protein ({_name(worst)})" if worst.text.startswith(PROTEIN) else _name(worst)
        parts.append(f"{name} {plain(worst.value)} of {plain(worst.limit)}{unit}{count}")
    much = "Too much" if _side(told[0][1]) else "Too little"
    return f"{much}{', each at its worst and in how many' if len(things) > 1 else ''}: {'; '.join(parts)}."


def _name(reason: Reason) -> str:
    match = NAME.match(reason.text)
    return match["name"] if match else reason.text


def _shortened(text: str, room: int) -> str:
    """A sentence without what stands in brackets; one still longer than `room` letters is cut behind a part of it."""
    bare, before = text, ""
    while bare != before:
        bare, before = re.sub(r" \([^()]*\)", "", bare), bare
    if len(bare) <= room:
        return bare
    kept = bare[: max(room - 4, 0)]
    ends = [place for end in (". ", "; ", " ") if (place := kept.rfind(end)) > len(kept) // 2]
    return f"{kept[: ends[0] if ends else len(kept)].rstrip(' ,;:')} ..."


def _letter(place: int) -> str:
    """a to z, then aa, ab ..."""
    more, last = divmod(place, len(string.ascii_lowercase))
    return (_letter(more - 1) if more else "") + string.ascii_lowercase[last]
