"""Every first answer fits 40 lines of 100 columns for ten groups, and hides nothing that a decision needs."""

from __future__ import annotations

import json

import pytest

LINES, WIDTH = 40, 100
COMMANDS = [
    ("check",),
    ("bin",),
    ("ration",),
    ("offers",),
    ("library",),
    ("library", "feeds"),
    ("library", "feeds", "triticale"),
    ("library", "stages"),
    ("library", "stages", "sw_boar"),
    ("library", "limits", "flaxseed"),
]


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_ten_groups_fit_a_screen(run, ten_groups, words):
    book = [] if words[0] == "library" else [ten_groups]
    lines = run(words[0], *book, *words[1:]).stdout.splitlines()
    assert len(lines) <= LINES, len(lines)
    assert max(map(len, lines)) <= WIDTH


def test_the_sheets_of_ten_groups_fit_a_screen(run, ten_groups, tmp_path):
    lines = run("sheets", ten_groups, "-o", tmp_path / "mix.csv", "--bin", "north").stdout.splitlines()
    assert len(lines) <= LINES and max(map(len, lines)) <= WIDTH


def test_every_reason_to_ask_is_on_the_first_screen(run, ten_groups):
    """Each kind of reason once: of those that differ by their numbers alone the worst stands for all."""
    rations = json.loads(run("ration", ten_groups, "--bin", "north", "--format", "json").stdout)["rations"]
    text = run("ration", ten_groups, "--bin", "north").stdout
    asked = [reason for ration in rations for reason in ration["verdict"]["reasons"] if reason["verdict"] != "feed"]
    assert asked
    for reason in asked:
        assert reason["text"].split(" is ")[0] in " ".join(text.split()), reason["text"]
    for ration in rations:
        mark = {"feed": "feed", "ask": "ASK", "stop": "STOP"}[ration["verdict"]["verdict"]]
        assert f"{mark} " in text and f"{ration['cost_per_tonne']:.2f}" in text


def test_full_prints_more(run, two_groups):
    first, full = run("bin", two_groups).stdout, run("bin", two_groups, "--full").stdout
    assert len(full.splitlines()) > 3 * len(first.splitlines())
    assert "Hand sort %" in full and "--full" in first


def test_a_pager_shows_all_of_it_on_a_terminal(run, two_groups, monkeypatch):
    from rationlp.cli import options

    shown = []
    monkeypatch.setattr(options.click, "echo_via_pager", shown.append)
    monkeypatch.setattr(options, "_is_terminal", lambda: True)
    done = run("bin", two_groups, "--bin", "north", "--full")
    assert done.stdout == "" and "Hand sort %" in shown[0]


def test_help_by_its_short_name(run):
    assert run("ration", "-h").stdout == run("ration", "--help").stdout
