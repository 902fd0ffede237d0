"""A problem is one line in a file or a pipe, for those that search in it, and broken between words at a terminal."""

from __future__ import annotations

import io
import os

import pytest

from rationlp.errors import Problem
from rationlp.show.first.check import print_first
from rationlp.show.first.screen import LINES
from rationlp.show.terminal import Terminal, print_whole

LONG = Problem("error", "bins", "C2", "so many words " * 8, "fewer words", "Write fewer.").line()


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("to_stderr", [False, True])
def test_a_problem_is_broken_between_words_at_a_terminal_alone(monkeypatch, to_stderr):
    monkeypatch.setattr("shutil.get_terminal_size", lambda: os.terminal_size((60, 24)))
    for stream, lines in ((io.StringIO(), 1), (Screen(), 3)):
        monkeypatch.setattr("sys.stderr" if to_stderr else "sys.stdout", stream)
        print_whole(LONG, to_stderr)
        told = stream.getvalue().splitlines()
        assert len(told) == lines and max(map(len, told[1:]), default=0) <= 60
        assert " ".join(line.strip() for line in told) == LONG


def test_of_very_many_problems_the_first_fit_a_screen(capsys):
    """With --full each is a line, as above."""
    words = "so many words " * 12
    print_first([Problem("error", "bins", f"C{row}", words, "fewer words", "Write fewer.") for row in range(60)], "60.")
    told = capsys.readouterr().out.splitlines()
    assert len(told) <= 40 and max(map(len, told)) <= 100 and "--full prints every one" in told[-1]


def test_thousands_of_problems_are_measured_by_the_screen_alone(monkeypatch, capsys):
    """Of 1,100 of them (a column pasted in the wrong place) `check` took half a minute, of 20,000 hours."""
    measured = []
    height = Terminal.height
    monkeypatch.setattr(Terminal, "height", lambda *words, **more: measured.append(1) or height(*words, **more))
    print_first([Problem("error", f"s{row % 9}", "", "x", "y", "Z.") for row in range(4_000)], "4,000 errors.")
    told = capsys.readouterr().out.splitlines()
    assert len(told) <= LINES and told[0] == "s0: 445 problems, the first 3:"
    assert len(measured) <= 10 * LINES
