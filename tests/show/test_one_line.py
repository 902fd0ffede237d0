"""A problem is one line in a file or a pipe, for those that search in it, and broken between words at a terminal."""

from __future__ import annotations

import io
import os

import pytest

from rationlp.errors import Problem
from rationlp.show.terminal import print_whole

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
