"""The terminal: one console for answers, wide enough when piped to a file."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from rich import box
from rich.console import Console
from rich.table import Table

PIPED_WIDTH = 132


def console() -> Console:
    """A console on stdout; colours only where a person reads."""
    return Console(file=sys.stdout, width=None if sys.stdout.isatty() else PIPED_WIDTH, highlight=False, emoji=False)


def table(title: str, columns: Sequence[tuple[str, str]]) -> Table:
    """An empty table; each column is a heading and `left` or `right`."""
    made = Table(title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD, pad_edge=False)
    for heading, side in columns:
        made.add_column(heading, justify=side, overflow="fold")
    return made
