"""A contaminant typed in another unit than its laboratory wrote, by the published limits of the shipped library."""

from __future__ import annotations

import pytest

from rationlp.book.checks.check import check_book, open_book
from rationlp.library.contaminant_law import contaminants_known, published_levels

# What laboratories find in grain and feed and how they write it (common practice).
ORDINARY = [
    *(("deoxynivalenol", value, "ppm") for value in (0.05, 0.3, 1.2, 8, 35)),
    *(("deoxynivalenol", value, "ppb") for value in (60, 250, 1200, 8000)),
    *(("aflatoxin", value, "ppb") for value in (0.5, 2, 5, 20, 300, 1500)),
    *(("aflatoxin", value, "mg/kg") for value in (0.002, 0.02, 0.3)),
    *(("aflatoxin_b1", value, "ug/kg") for value in (1, 4.7)),
    *(("fumonisin", value, "ppm") for value in (0.2, 2, 30, 120)),
    *(("fumonisin", value, "ppb") for value in (150, 2000)),
    *(("zearalenone", value, "ug/kg") for value in (5, 50, 400, 2000)),
    *(("zearalenone", value, "mg/kg") for value in (0.05, 0.4, 5)),
    *(("ochratoxin_a", value, "ug/kg") for value in (3, 20, 250)),
    *(("t2_ht2_toxin", value, "ug/kg") for value in (10, 60, 500)),
    *(("ergot_alkaloids", value, "ug/kg") for value in (50, 400, 3000)),
    *(("ergot_sclerotia", value, "%") for value in (0.01, 0.1, 1)),
    *(("ergot_sclerotia", value, "mg/kg") for value in (50, 1000)),
    *(("cadmium", value, "mg/kg") for value in (0.02, 0.1, 1)),
    *(("lead", value, "mg/kg") for value in (0.05, 0.5, 8)),
]


def asked(demo, written, library, *, severity="error"):
    """The questions of another unit."""
    found = [problem for problem in check_book(written(demo), library) if "published limit" in problem.found]
    assert {problem.severity for problem in found} <= {severity}
    return found


def of_feeds(demo, library, figures):
    """A row on own_feeds for each figure, of a feed each."""
    for feed, (name, value, unit) in zip(library.feeds, figures, strict=False):
        demo.add("own_feeds", feed=feed, nutrient=name, value=value, unit=unit, basis="as_fed")
    return demo


def assayed(demo, value, unit, nutrient="DON"):
    """The demo with this laboratory result alone."""
    return demo.clear("assays").add("assays", sample="n1", nutrient=nutrient, value=value, unit=unit, basis="as_fed")


def test_ordinary_results_are_read(demo, written, library):
    assert asked(of_feeds(demo, library, ORDINARY), written, library) == []


@pytest.mark.parametrize(
    ("of_levels", "typed", "side", "meant"),
    [
        (lambda levels: 1.5 * min(levels), "ppb", "below", "mg/kg (ppm)"),
        (lambda levels: max(levels), "ug/kg", "below", "mg/kg (ppm)"),
        (lambda levels: 400 * max(levels), "ppm", "above", "ug/kg (ppb)"),
        (lambda levels: 100 * min(levels) + 10 * max(levels), "mg/kg", "above", "ug/kg (ppb)"),
    ],
)
def test_every_contaminant_is_asked_in_both_directions(demo, written, library, of_levels, typed, side, meant):
    names = [name for name in contaminants_known(library) if library.nutrients[name].unit == "mg/kg"]
    figures = [(name, of_levels(published_levels(name, library)), typed) for name in names]
    severity = "error" if side == "below" else "warning"  # too little would be fed; with too much nobody is fed
    found = asked(of_feeds(demo, library, figures), written, library, severity=severity)
    assert len(found) == len(names) > 20
    assert all(f"far {side}" in problem.found and f"{meant} is meant" in problem.do for problem in found)


@pytest.mark.parametrize(
    ("value", "unit", "meant", "severity"),
    [
        (0.05, "mg/kg", "0.05 %", "error"),
        (50, "%", "50 mg/kg", "warning"),
        (0.5, "mg/kg", "0.5 g/kg", "error"),
    ],
)
def test_ergot_bodies_in_parts_of_a_hundred_or_a_million(demo, written, library, value, unit, meant, severity):
    (problem,) = asked(assayed(demo, value, unit, "ergot_sclerotia"), written, library, severity=severity)
    assert f"Perhaps {meant} " in problem.do


@pytest.mark.parametrize(("value", "severity"), [(8, "error"), ("8 ppb", "warning"), ("8.0 ug/kg", "warning")])
def test_what_has_its_unit_in_the_cell_is_meant_and_told(demo, written, library, value, severity):
    """DON of 8 ppm would be fed to pigs as 8 ppb."""
    unit = "" if value == "8.0 ug/kg" else "ppb"
    (problem,) = asked(assayed(demo, value, unit), written, library, severity=severity)
    assert problem.cell == "C2" and "Perhaps 8 mg/kg (ppm) is meant" in problem.do


def test_a_maximum_of_ones_own_is_asked_too(demo, written, library):
    demo.add("own_stages", stage="sw_gro_25_50", nutrient="DON", maximum=800, unit="ppm", per="kg")
    (problem,) = asked(demo, written, library)
    assert "800 ug/kg (ppb)" in problem.do


@pytest.mark.parametrize("heading", ["value (ppb)", "Value, ug/kg", "VALUE [µg/kg]"])
def test_a_unit_in_the_heading_is_the_unit_where_the_row_has_none(demo, written, library, heading):
    book = assayed(demo, 750, "").rename_column("assays", "value", heading)
    (assay,) = open_book(written(book), library)[0].assays
    assert assay.value == pytest.approx(0.75)


def test_a_unit_in_the_heading_is_asked_about(demo, written, library):
    book = assayed(demo, 750, "").rename_column("assays", "value", "value (ppm)")
    (problem,) = asked(book, written, library, severity="warning")
    assert "750 ug/kg (ppb) is meant" in problem.do


@pytest.mark.parametrize(("heading", "value"), [("value", "8 ppm"), ("value (ppm)", 8)])
def test_two_units_in_a_row_are_asked(demo, written, library, heading, value):
    book = assayed(demo, value, "ppb").rename_column("assays", "value", heading)
    found = [each for each in check_book(written(book), library) if each.severity == "error"]
    assert [problem.found for problem in found] == ["8 ppm in a row whose unit is ppb"]
