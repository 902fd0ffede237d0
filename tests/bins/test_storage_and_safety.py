"""Will it keep, and what lies among the grain."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.bins import estimate_bin
from rationlp.bins.findings.notes import note_reasons
from rationlp.bins.findings.storage import keeping_days, moisture_limit

GROUP = {"group": "hens", "stage": "hen_brown_110", "head": 100, "from": "2025-10-01"}


def moisture_findings(bin_book, library, moisture, to="2026-09-30", sort=None, name="book"):
    book = bin_book(
        sort and {"n1": sort},
        bin_={"mass": "40 t", "moisture_pct": moisture, "filled_on": "2025-09-01"},
        groups=[{**GROUP, "to": to}],
        name=name,
    )
    return [f for f in estimate_bin("north", book, library).notices if f.kind == "moisture"]


@pytest.mark.parametrize(
    ("crop", "long", "pct", "source"),
    [
        ("barley_hulled", True, 12.0, "ndsu_store2019"),
        ("barley_hulled", False, 14.0, "memory:NDSU/MWPS grain storage tables"),
        ("canola_seed", True, 8.0, "ndsu_store2019"),
        ("corn", True, 13.0, "ndsu_store2019"),
        ("corn", False, 16.0, "ndsu_news_alt"),
        ("triticale", True, 14.0, "ca_offgrade"),  # no advice: the legal dry limit
        ("lentils", True, 14.0, "ab_pulse_store"),
        ("camelina_seed", True, 8.0, "ndsu_store2019"),  # as canola
    ],
)
def test_the_limit_of_a_crop_for_the_time_it_is_stored(library, crop, long, pct, source):
    limit = moisture_limit(crop, long, library)
    assert (limit.pct, limit.source) == (pct, source)


@pytest.mark.parametrize(
    ("moisture", "key", "days"),
    [
        (14.0, "70 F (21 C)", "200"),
        (14.5, "70 F (21 C)", "125"),
        (18.0, "50 F (10 C)", "90"),
        (31.0, "50 F (10 C)", None),
    ],
)
def test_days_come_from_the_next_wetter_row(library, moisture, key, days):
    assert keeping_days(moisture, key, "wheat_hard", library) == days  # ndsu_store2019


def test_the_most_sensitive_crop_decides(bin_book, library):
    wet = moisture_findings(bin_book, library, 14.5)
    assert wet[0].severity == "warning"
    assert "Camelina" in wet[0].text
    assert "8 %" in wet[0].text
    assert wet[0].source == "ndsu_store2019"
    barley = moisture_findings(bin_book, library, 11.5, sort={"barley_hulled": 500.0}, name="barley")
    assert barley[0].severity == "note"
    assert "dry enough" in barley[0].text


def test_a_short_store_has_the_wider_limit(bin_book, library):
    sort = {"barley_hulled": 400.0, "wheat_hard": 100.0}
    long = moisture_findings(bin_book, library, 13.0, sort=sort, name="long")
    short = moisture_findings(bin_book, library, 13.0, "2025-12-31", sort=sort, name="short")
    assert long[0].severity == "warning"
    assert "394 days" in long[0].text
    assert short[0].severity == "note"


@pytest.mark.parametrize(
    ("moisture", "to", "gravity", "words"),
    [
        (16.0, "2025-12-01", "note", "keeps 230 days at 10"),  # 91 days
        (19.5, "2025-10-10", "note", "The animals of the book eat for 39."),  # 39 days
        (19.5, "2025-12-01", "danger", "eat for 91: feed this bin first, so that it is empty before"),
        (31.0, "2025-12-01", "danger", "nobody has published"),
    ],
)
def test_grain_too_wet_to_keep_until_it_is_fed_is_asked_about(bin_book, library, moisture, to, gravity, words):
    """ndsu_store2019: 20 % moisture keeps 50 days at 50 F. A ration of it was free to feed without a word."""
    found = moisture_findings(bin_book, library, moisture, to, {"barley_hulled": 400.0})
    (finding,) = [one for one in found if words in one.text]
    assert finding.severity == gravity


def test_a_trace_of_oily_seed_does_not_decide(bin_book, library):
    found = moisture_findings(bin_book, library, 11.8, sort={"barley_hulled": 498.0, "canola_seed": 2.0})
    assert "Barley" in found[0].text


def grain_findings(bin_book, library, **changes):
    return [f for f in estimate_bin("north", bin_book(**changes), library).notices if f.kind == "grain"]


@pytest.mark.parametrize(("crop", "word"), [("soybeans_raw", "Raw soybeans"), ("vetch_common", "Vetch")])
def test_seed_that_poisons_is_named(bin_book, library, crop, word):
    (finding,) = grain_findings(bin_book, library, sorts={"n1": {"wheat_hard": 480.0, crop: 20.0}})
    assert finding.severity == "danger"
    assert word in finding.text
    assert "4.0 %" in finding.text


def test_much_foreign_matter_is_to_be_cleaned_out(bin_book, library):
    (finding,) = grain_findings(bin_book, library, sorts={"n1": {"wheat_hard": 460.0, "foreign_matter": 40.0}})
    assert "8.0 %" in finding.text
    assert finding.source.startswith("uk_767_2009_annexes")


@pytest.mark.parametrize(
    ("note", "words"),
    [
        ("some pink kernels seen", "treated or coloured"),
        ("smells musty at the door", "mould or crust"),
        ("top is warm", "heat"),
        ("ergot in the rye", "ergot"),
        ("thorn apple in the corner of the field", "weed seeds"),
        ("dry and cool, no ergot, not musty, free of weed seeds", ""),
        ("chot wheat", ""),
    ],
)
def test_what_the_farm_wrote_is_read(bin_book, library, note, words):
    found = grain_findings(bin_book, library, sorts={"n1": {"wheat_hard": 500.0}}, samples={"n1": {"note": note}})
    assert bool(found) == bool(words)
    if words:
        assert words in found[0].text
        assert "sample n1" in found[0].text


@pytest.mark.parametrize(("name", "words"), [("treated_seed", "treated or coloured"), ("north", "")])
def test_the_name_of_a_bin_is_read_as_its_label_is(bin_book, library, name, words):
    book = bin_book(sorts={"n1": {"wheat_hard": 500.0}})
    found = note_reasons(replace(book.bins[0], bin=name), book, library)
    assert [words in reason.text and "The name of the bin" in reason.text for reason in found] == [True] * bool(words)


def test_a_bin_of_which_nothing_was_sorted_says_how_unsure_its_shares_are(bin_book, library):
    estimate = estimate_bin("north", bin_book({}), library)
    widest = max(estimate.crops, key=lambda crop: crop.sd)
    words = f"at {100 * widest.share:.0f} with a standard deviation of {100 * widest.sd:.0f} points"
    assert any(words in notice.text for notice in estimate.notices)
