"""What a person reads beside the figures: sources in words, each book of many in its own units, labels in sentences."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from rationlp.show.data.many import BookResult
from rationlp.show.first.many import print_first

RATION = {"cost_per_tonne": 300.0, "home_grown_share": 0.5, "verdict": {"verdict": "feed"}}


@pytest.mark.slow
def test_every_source_that_stands_by_its_id_is_told_in_words(run, two_groups, library):
    told = run("bin", two_groups, "--full").stdout
    ids = {word for word in re.findall(r"[\w.\-]*\w", told) if word in library.sources}
    assert ids
    for name in ids:
        assert re.search(rf"\n- {name}(?: \([^)]*\))?: {re.escape(library.sources[name].citation.split()[0])}", told)


@pytest.mark.parametrize(("units", "words"), [("us", "272.16 to 272.16 USD/ton"), ("metric", "300.00 to 300.00 USD/t")])
def test_a_book_of_many_is_told_in_its_own_units(capsys, units, words):
    print_first([BookResult("farm", True, (RATION,), currency="USD", units=units)], Path("out.jsonl"))
    told = capsys.readouterr().out
    assert words in told and told.startswith("1 book, none of them with problems. 1 rations")


@pytest.mark.slow
def test_the_overview_of_the_library_fits_a_screen(run):
    lines = run("library").stdout.splitlines()
    assert len(lines) <= 40 and max(map(len, lines)) <= 100
    assert "more lines" not in lines[-1] and "nutritionist" in " ".join(lines[-2:])
    assert re.search(r"^Table +Seen +Partly seen +Recalled", "\n".join(lines), re.MULTILINE)


def test_no_label_of_a_feed_breaks_a_sentence(library):
    """`Soybeans, raw: DO NOT FEED RAW to pigs or poultry is 33.4 % of it` stood in a reason."""
    assert [feed.label for feed in library.feeds.values() if ":" in feed.label or feed.label.endswith(".")] == []
