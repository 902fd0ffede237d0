"""The terminal: tables by a library, sentences wrapped, wide enough when piped to a file."""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Sequence

from tabulate import tabulate

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
        """The table in at most `width` columns: headings are wrapped first, then the widest text columns."""
        headings, cells = self._widths(width)
        return tabulate(
            self.rows,
            headers=self.headings,
            tablefmt="simple",
            colalign=self.sides if self.rows else None,
            disable_numparse=True,
            maxcolwidths=cells,
            maxheadercolwidths=headings,
        )

    def _widths(self, width: int) -> tuple[list[int] | None, list[int | None] | None]:
        """The widest each heading and each column's cells may be; None where nothing need be wrapped."""
        cells = [max((len(str(row[i])) for row in self.rows), default=0) for i in range(len(self.headings))]
        room = width - GAP * (len(cells) - 1)
        if not self.rows or sum(map(max, cells, map(len, self.headings))) <= room:
            return None, None
        words = [max(map(len, heading.split()), default=0) for heading in self.headings]
        widths = [max(cell, word) for cell, word in zip(cells, words, strict=True)]
        text = [i for i, side in enumerate(self.sides) if side == "left"]
        while sum(widths) > room and text:
            widest = max(text, key=lambda i: widths[i])
            if widths[widest] <= NARROWEST:
                break
            widths[widest] -= 1
        return widths, [w if w < cell else None for w, cell in zip(widths, cells, strict=True)]


class Terminal:
    """Answers on stdout; bold only where a person reads."""

    def __init__(self) -> None:
        self.is_person = sys.stdout.isatty()
        self.width = shutil.get_terminal_size().columns if self.is_person else PIPED_WIDTH

    def print(self, what: Table | str = "", strong: bool = False) -> None:
        """A table, or a sentence wrapped to the width; `- ` at its head hangs the lines that follow."""
        if isinstance(what, Table):
            self._line(what.title, strong=True)
            self._line(what.render(self.width) + "\n")
            return
        indent = "  " if what.startswith("- ") else ""
        wrapped = textwrap.wrap(what, self.width, subsequent_indent=indent, break_on_hyphens=False) or [""]
        self._line("\n".join(wrapped), strong)

    def rule(self, text: str) -> None:
        """A heading across the page."""
        self._line(f"\n{text} ".ljust(self.width + 1, "-"), strong=True)

    def _line(self, text: str, strong: bool = False) -> None:
        sys.stdout.write(f"{BOLD}{text}{PLAIN}\n" if strong and self.is_person else f"{text}\n")


def console() -> Terminal:
    """The terminal of this process."""
    return Terminal()


def table(title: str, columns: Sequence[tuple[str, str]]) -> Table:
    """An empty table."""
    return Table(title, columns)
