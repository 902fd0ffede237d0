"""What the TAB key offers."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from click.shell_completion import ShellComplete

from rationlp.cli.app import app

DEMO = "demo/stillwater_bend"


def offered(monkeypatch, *words):
    """What is offered for the last word, the others typed before it."""
    monkeypatch.setenv("COMP_WORDS", " ".join(("rationlp", *words)))
    found = ShellComplete(app, {}, "rationlp", "_RATIONLP_COMPLETE").get_completions(list(words[:-1]), words[-1])
    return [item.value for item in found]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("of",), ["offers"]),
        (("ration", DEMO, "--bin", "n"), ["north"]),
        (("ration", DEMO, "--stage", "sw_gest_p1"), ["sw_gest_p1_early", "sw_gest_p1_late"]),
        (("sheets", DEMO, "--group", "grow"), ["growers_early", "growers_late"]),
        (("offers", DEMO, "--compare", "soy48"), ["soy48_bulk", "soy48_bags"]),
        (("offers", DEMO, "--what-if", "camelina_s"), ["camelina_seed"]),
        (("resample", DEMO, "--before", "n"), ["n1", "n0"]),
        (("library", "nut"), ["nutrients"]),
        (("library", "feeds", "tritic"), ["triticale"]),
        (("ration", "no_such_book", "--bin", "n"), []),
    ],
)
def test_ids_of_the_book_and_the_library_are_offered(monkeypatch, words, expected):
    assert offered(monkeypatch, *words) == expected


def test_the_script_for_the_shell_is_no_help_text():
    done = subprocess.run(
        [sys.executable, "-m", "rationlp"],
        env={**os.environ, "_RATIONLP_COMPLETE": "bash_source"},
        capture_output=True,
        text=True,
    )
    assert "complete" in done.stdout and "Usage" not in done.stdout
