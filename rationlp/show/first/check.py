"""The first screen of `check`: every problem where there is room for all, else the first of each sheet."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.errors import Problem
from rationlp.show.first.screen import LINES, screen
from rationlp.show.terminal import print_whole

HANG = "  "


def print_first(problems: Sequence[Problem], summary: str) -> None:
    """The problems, then how many there are; of very many the first of each sheet, beside how many it has.

    Where all are told, each stands in a line of its own in a file or a pipe.
    """
    out = screen()
    lines = [problem.line() for problem in problems]
    if sum(map(_height, lines[:LINES])) < LINES:
        for line in lines:
            print_whole(line)
        print(summary)
        return
    by_sheet: dict[str, list[str]] = {}
    for problem, line in sorted(zip(problems, lines, strict=True), key=lambda pair: pair[0].severity != "error"):
        by_sheet.setdefault(problem.sheet, []).append(line)
    room = LINES - 2 - len(by_sheet)
    heights = [[_height(line) for line in told[:LINES]] for told in by_sheet.values()]
    each = max((count for count in range(1, LINES) if sum(sum(of[:count]) for of in heights) <= room), default=0)
    for sheet, told in by_sheet.items():
        shown = told[:each] if each else []
        more = f", the first {len(shown)}:" if 0 < len(shown) < len(told) else ":" if shown else "."
        out.print(f"{sheet}: {len(told)} problem{'' if len(told) == 1 else 's'}{more}", strong=True)
        for line in shown:
            out.print(line, hang=len(HANG))
    out.print(f"{summary} --full prints every one. Put these right first: one mistake often makes several.")


def _height(line: str) -> int:
    return screen().height(line, hang=len(HANG))
