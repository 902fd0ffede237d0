"""The terminal: tables by a library, sentences wrapped, wide enough when piped to a file."""

from __future__ import annotations

import os
import re
import shutil
import sys
import textwrap
from collections.abc import Sequence

UNITS = r"%|kg|g|mg|t|lb|oz|ton|tons|bu|kcal|Mcal|IU|[A-Z]{3}"
BEFORE_A_UNIT = re.compile(rf"(?<=\d) (?=(?:{UNITS})(?![A-Za-z]))")
NO_BREAK = "\N{NO-BREAK SPACE}"
PIPED_WIDTH = 132
GAP = 2  # blanks between columns
NARROWEST = 12  # a text column is not made narrower than this
BOLD, PLAIN = "\x1b[1m", "\x1b[0m"


class Table:
    """A table with a title; each column is a heading and `left` or `right`, each cell text."""

    def __init__(self, title: str, columns: Sequence[tuple[str, str]]):
        self.title = title
        self.headings = [heading for heading, _ in columns]
        self.sides = [side for _, side in columns]
        self.rows: list[tuple[str, ...]] = []

    def add_row(self, *cells: str) -> None:
        """One more row of text."""
        self.rows.append(cells)

    def render(self, width: int) -> str:
        """The table in at most `width` columns: headings are wrapped first, then the widest text columns.

        No word is cut: a table whose words do not fit beside each other is printed row by row, each figure with its
        heading.
        """
        headings, cells = self._widths(width)
        if headings is not None and sum(headings) + GAP * (len(headings) - 1) > width:
            return self._records(width)
        import tabulate  # most first screens print no table

        tabulate.MIN_PADDING = 0  # blanks beside a heading, which the widths do not count
        return tabulate.tabulate(
            self.rows,
            headers=self.headings,
            tablefmt="simple",
            colalign=self.sides if self.rows else None,
            disable_numparse=True,
            maxcolwidths=cells,
            maxheadercolwidths=headings,
            break_long_words=False,
            break_on_hyphens=False,
        )

    def _widths(self, width: int) -> tuple[list[int] | None, list[int | None] | None]:
        """Width of each column and the widest its cells may be; None where nothing need be wrapped."""
        cells = [max((len(str(row[i])) for row in self.rows), default=0) for i in range(len(self.headings))]
        whole = [len(heading) for heading in self.headings]
        room = width - GAP * (len(cells) - 1)
        if not self.rows or sum(map(max, cells, whole)) <= room:
            return None, None
        heads = [
            len(heading) if len(heading) <= cell else _longest_word(heading)
            for heading, cell in zip(self.headings, cells, strict=True)
        ]
        words = [max((_longest_word(row[i]) for row in self.rows), default=0) for i in range(len(self.headings))]
        widths = [max(cell, head) for cell, head in zip(cells, heads, strict=True)]
        least = [max(word, head, NARROWEST) for word, head in zip(words, heads, strict=True)]
        text = [i for i, side in enumerate(self.sides) if side == "left"]
        while sum(widths) > room:
            wide = [i for i in text if widths[i] > least[i]]
            if not wide:
                break
            widths[max(wide, key=lambda i: widths[i])] -= 1
        kept = [w if w < cell else None for w, cell in zip(widths, cells, strict=True)]
        return _headings_whole(widths, whole, room), kept

    def _records(self, width: int) -> str:
        """Each row as lines of their own: its first cell, then what the others are, without those that are empty."""
        told = []
        for name, *rest in self.rows:
            pairs = zip(self.headings[1:], rest, strict=True)
            words = "; ".join(f"{heading} {cell}".strip() for heading, cell in pairs if cell)
            told.append(wrapped(f"{name}: {words}", width, "  "))
        return "\n".join(told)


def _headings_whole(widths: Sequence[int], whole: Sequence[int], room: int) -> list[int]:
    """The widths with the room that is left given to the headings, from the left: none is broken that need not be."""
    told = list(widths)
    for i, wanted in enumerate(whole):
        told[i] += min(max(wanted - told[i], 0), max(room - sum(told), 0))
    return told


def _longest_word(text: str) -> int:
    return max(map(len, text.split()), default=0)


def _held_together(text: str) -> str:
    """A text in which no line may end between a number and its unit."""
    return BEFORE_A_UNIT.sub(NO_BREAK, text)


def wrapped(text: str, width: int, indent: str = "") -> str:
    """A sentence in lines of at most `width`, those after the first behind `indent`.

    No word is cut, and no number is parted from its unit.
    """
    held = _held_together(text)
    lines = textwrap.wrap(held, width, subsequent_indent=indent, break_on_hyphens=False, break_long_words=False)
    return "\n".join(lines).replace(NO_BREAK, " ")


class Terminal:
    """Answers on stdout; bold only where a person reads and wants it (`NO_COLOR`, `TERM=dumb`)."""

    def __init__(self, widest: int | None = None) -> None:
        is_person = sys.stdout.isatty()
        self.is_bold = is_person and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
        width = shutil.get_terminal_size().columns if is_person else getattr(sys.stdout, "columns", PIPED_WIDTH)
        self.width = min(width, widest) if widest else width
        self.lines = 0  # printed so far

    def print(self, what: Table | str = "", strong: bool = False, hang: int = 0) -> None:
        """A table, or a sentence wrapped to the width, the lines that follow `hang` blanks in (2 behind a `- `)."""
        if isinstance(what, Table):
            self._line(what.title, strong=True)
            self._line(what.render(self.width) + "\n")
            return
        self._line(self._wrapped(what, hang), strong)

    def height(self, sentence: str, hang: int = 0) -> int:
        """How many lines a sentence takes."""
        return self._wrapped(sentence, hang).count("\n") + 1

    def _wrapped(self, sentence: str, hang: int) -> str:
        return wrapped(sentence, self.width, " " * (2 if sentence.startswith("- ") else hang))

    def rule(self, text: str) -> None:
        """A heading across the page."""
        self._line(f"\n{text} ".ljust(self.width + 1, "-"), strong=True)

    def _line(self, text: str, strong: bool = False) -> None:
        self.lines += text.count("\n") + 1
        sys.stdout.write(f"{BOLD}{text}{PLAIN}\n" if strong and self.is_bold else f"{text}\n")


def print_whole(line: str, to_stderr: bool = False) -> None:
    """A problem: one line in a file or a pipe, for those that search in it; at a terminal broken between words."""
    stream = sys.stderr if to_stderr else sys.stdout
    print(wrapped(line, shutil.get_terminal_size().columns, "  ") if stream.isatty() else line, file=stream)


def console() -> Terminal:
    """The terminal of this process."""
    return Terminal()


def table(title: str, columns: Sequence[tuple[str, str]]) -> Table:
    """An empty table."""
    return Table(title, columns)
