"""A problem is one line in a file or a pipe, for those that search in it, and broken between words at a terminal."""

from __future__ import annotations

import io
import os

import pytest

from rationlp.errors import Problem
from rationlp.show.first.check import print_first
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


def test_of_ten_thousand_problems_only_what_a_screen_holds_is_laid_out(capsys, monkeypatch):
    """Each number of them was tried against the screen, each time all anew: a sheet of 18,000 rows took no end."""
    laid_out, height = [], Terminal.height
    monkeypatch.setattr(
        Terminal, "height", lambda self, line, hang=0: laid_out.append(line) or height(self, line, hang)
    )
    print_first([Problem("error", "bins", f"C{row}", "x", "y", "Write y.") for row in range(10_000)], "10,000.")
    assert len(laid_out) < 40**2
    assert "bins: 10000 problems, the first 37:" in capsys.readouterr().out
