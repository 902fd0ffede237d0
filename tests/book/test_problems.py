"""Every kind of problem: one slip in the demo book gives exactly its line, at its cell, in both kinds of book."""

from __future__ import annotations

from typing import Any

import pytest

from rationlp.book import check_book, open_book, read_book
from rationlp.errors import BookError

# id: (what to do to the demo, [(severity and place, words of `found`, words of `do`), ...])
CASES: dict[str, tuple[Any, list[tuple[str, str, str]]]] = {
    # sheets and columns
    "no farm sheet": (lambda d: d.drop("farm"), [("error farm", "no such sheet", "Add a sheet farm")]),
    "unknown sheet, read on": (lambda d: d.rename("bins", "bin"), [("error bin", "a sheet named 'bin'", "Did you mean bins?")]),
    "unknown sheet, like none": (
        lambda d: d.tables.update(machinery=[["tractor"], ["green"]]),
        [("error machinery", "a sheet named 'machinery'", "Delete the sheet")],
    ),
    "no bins sheet": (lambda d: d.drop("bins"), [("error bins", "samples speaks of the bin 'north'", "Add the sheet bins")]),
    "no samples sheet": (lambda d: d.drop("samples"), [("error samples", "sorted speaks of the sample 'n1'", "Add the sheet")]),
    "no sorted sheet": (lambda d: d.drop("sorted"), [("error sorted", "no sorted masses", "Fill in the sheet sorted")]),
    "no offers": (lambda d: d.clear("supplements"), [("warning supplements", "no offers", "bin grain alone")]),
    "nothing to feed": (
        lambda d: d.clear("bins", "samples", "sorted", "assays", "supplements"),
        [("error supplements", "no bins and no offers", "Fill in bins, or supplements")],
    ),
    "unknown column, read on": (
        lambda d: d.rename_column("supplements", "price", "pirce"),
        [("error supplements!D1", "a column named 'pirce'", "Did you mean price?")],
    ),
    "unknown column, like none": (
        lambda d: d.rename_column("bins", "note", "colour"),
        [("error bins!L1", "a column named 'colour'", "Delete the column")],
    ),
    "column twice": (
        lambda d: d.rename_column("supplements", "supplier", "label"),
        [("error supplements!M1", "a second column named label", "Delete one of the two")],
    ),
    "no column price": (
        lambda d: d.drop_column("supplements", "price"),
        [("error supplements!M1", "no column price", "Add the column")],
    ),
    "no column basis": (lambda d: d.drop_column("assays", "basis"), [("error assays!G1", "no column basis", "Add the column")]),
    "value in a column without a name": (
        lambda d: d.tables["samples"][1].append("seen") or d.tables["samples"][0].append(""),
        [("error samples!G2", "'seen' in a column without a name", "Name the column")],
    ),
    # settings
    "unknown setting": (
        lambda d: d.set("farm", 11, "setting", "batchmass"),
        [("error farm!A11", "the setting 'batchmass'", "Did you mean batch_mass?")],
    ),
    "setting twice": (lambda d: d.add("farm", setting="units", value="us"), [("error farm!A17", "a second row for units", "Delete")]),
    "value without a setting": (
        lambda d: d.set("farm", 3, "setting", ""),
        [("error farm!A3", "no setting beside a value", "Name the setting")],
    ),
    "units": (lambda d: d.setting("units", "imperial"), [("error farm!B4", "units = 'imperial'", "Choose one")]),
    "currency": (lambda d: d.setting("currency", "dollars"), [("error farm!B5", "currency = 'dollars'", "Write the letters")]),
    "objective": (lambda d: d.setting("objective", "per_ton"), [("error farm!B10", "'per_ton'", "Did you mean per_tonne?")]),
    "confidence": (lambda d: d.setting("confidence_pct", "120"), [("error farm!B8", "120", "Correct it")]),
    "date format": (lambda d: d.setting("date_format", "day first"), [("error farm!B16", "'day first'", "in this way")]),
    "batch above mixer": (lambda d: d.setting("batch_mass", "700"), [("warning farm", "700 kg above mixer_capacity 600 kg", "Lower")]),
    "coarse scale": (lambda d: d.setting("scale_step", "100"), [("warning farm", "scale_step 100 kg", "units of both")]),
    # bins
    "bin twice": (lambda d: d.set("bins", 3, "bin", "North").set("samples", 3, "bin", "north"),
                  [("error bins!A3", "a second row for bin 'North'", "another name")]),
    "bin without a name": (
        lambda d: d.add("bins", label="the third", mass="5 t", sale_price="100"),
        [("error bins!A4", "no bin", "Fill in bin")],
    ),
    "no tonnes": (lambda d: d.set("bins", 2, "mass", ""), [("warning bins!C2", "no mass and no diameter", "tonnes")]),
    "a measure missing": (lambda d: d.set("bins", 3, "test_weight", ""), [("warning bins!C3", "no test_weight", "tonnes")]),
    "test weight in kg/hl": (lambda d: d.set("bins", 3, "test_weight", "74"), [("error bins!G3", "74", "check its unit")]),
    "no sale price": (lambda d: d.set("bins", 2, "sale_price", ""), [("error bins!H2", "no sale_price", "Fill in sale_price")]),
    "negative sale price": (lambda d: d.set("bins", 2, "sale_price", "-1"), [("error bins!H2", "-1", "Correct it")]),
    "moisture 0": (lambda d: d.set("bins", 2, "moisture_pct", "0"), [("error bins!J2", "0", "Correct it")]),
    "moisture 100": (lambda d: d.set("bins", 2, "moisture_pct", "100"), [("error bins!J2", "100", "Correct it")]),
    "moisture as a share": (lambda d: d.set("bins", 2, "moisture_pct", "0.124"), [("warning bins!J2", "0.124 %", "13 means")]),
    "no such day": (lambda d: d.set("bins", 2, "filled_on", "2025-02-30"), [("error bins!K2", "'2025-02-30'", "date_format")]),
    "no date at all": (lambda d: d.set("bins", 2, "filled_on", "in August"), [("error bins!K2", "'in August'", "date_format")]),
    "date to come": (lambda d: d.set("bins", 2, "filled_on", "2099-08-14"), [("warning bins!K2", "still to come", "year")]),
    "year slip": (lambda d: d.set("samples", 2, "taken_on", "1925-09-03"), [("error samples!C2", "1925", "Correct the year")]),
    "unknown unit of mass": (lambda d: d.set("bins", 2, "mass", "42 bushels"), [("error bins!C2", "'42 bushels'", "one of the units")]),
    "which ton": (lambda d: d.set("bins", 2, "mass", "42 tons"), [("error bins!C2", "'42 tons'", "which ton")]),
    "thousands": (lambda d: d.set("bins", 2, "mass", "42,000 kg"), [("error bins!C2", "read in two ways", "decimal point")]),
    "negative mass": (lambda d: d.set("bins", 2, "mass", "-42 t"), [("error bins!C2", "'-42 t' (that is -42000 kg)", "Correct")]),
    # samples
    "sample of no bin": (lambda d: d.set("samples", 2, "bin", "nort"),
                         [("error samples!B2", "the bin 'nort'", "Did you mean north?"),
                          ("warning bins!A2", "no sample of the bin 'north'", "no ration")]),
    "sample twice": (lambda d: d.add("samples", sample="S1", bin="south", taken_on="2025-10-01"),
                     [("error samples!A4", "a second row for sample 'S1'", "another name")]),
    "bin without a sample": (
        lambda d: d.add("bins", bin="east", mass="5 t", sale_price="100", moisture_pct="13"),
        [("warning bins!A4", "no sample of the bin 'east'", "no ration")],
    ),
    "which sample is newer": (
        lambda d: d.add("samples", sample="n2", bin="north").add("sorted", sample="n2", crop="triticale", mass_g="5"),
        [("warning samples!C4", "several samples of 'north', this one undated", "Fill in taken_on")],
    ),
    "sample without a sort": (
        lambda d: d.add("samples", sample="n2", bin="north", taken_on="2025-10-01"),
        [("warning samples!A4", "no sorted rows for the sample 'n2'", "nothing about the bin")],
    ),
    "half a probe": (lambda d: d.set("samples", 2, "probes", "7.5"), [("error samples!D2", "7.5", "Correct it")]),
    "nothing sorted": (lambda d: d.set("samples", 2, "sorted_mass_g", "0"), [("error samples!E2", "0", "Correct it")]),
    # the hand sort
    "unknown crop": (lambda d: d.set("sorted", 2, "crop", "triticle"), [("error sorted!B2", "the crop 'triticle'", "Did you mean triticale?")]),
    "crop by its first word": (lambda d: d.set("sorted", 3, "crop", "oats"), [("error sorted!B3", "the crop 'oats'", "oats_naked")]),
    "crop twice": (lambda d: d.set("sorted", 3, "crop", "triticale"), [("error sorted!B3", "a second row for", "one row of the two")]),
    "masses that do not add up": (lambda d: d.set("samples", 2, "sorted_mass_g", "600"),
                                  [("error samples!E2", "600 g, but the sorted masses add up to 516.9 g (sorted!C2 to C7)", "crop left out")]),
    "a heap of nothing only": (lambda d: [d.set("sorted", row, "mass_g", "0") for row in range(2, 8)],
                               [("error sorted!C2", "0 g sorted in the sample 'n1'", "Fill them in")]),
    "negative heap": (lambda d: d.set("sorted", 2, "mass_g", "-261.3"), [("error sorted!C2", "-261.3", "Correct it")]),
    "heap of no sample": (lambda d: d.add("sorted", sample="x9", crop="rye", mass_g="4"), [("error sorted!A14", "the sample 'x9'", "Add it to samples")]),
    # assays
    "assay without a basis": (lambda d: d.set("assays", 3, "basis", ""), [("error assays!E3", "no basis", "Fill in basis")]),
    "assay of no sample": (lambda d: d.set("assays", 3, "sample", "n7"), [("error assays!A3", "the sample 'n7'", "Add it to samples")]),
    "unknown nutrient": (lambda d: d.set("assays", 3, "nutrient", "crude_protien"), [("error assays!B3", "'crude_protien'", "Did you mean crude_protein?")]),
    "unknown unit": (lambda d: d.set("assays", 3, "unit", "% of DM"), [("error assays!D3", "the unit '% of DM'", "say the basis")]),
    "unit of something else": (lambda d: d.set("assays", 3, "unit", "kcal/kg"), [("error assays!D3", "kcal/kg for crude_protein", "Correct the unit")]),
    "more than there can be": (lambda d: d.set("assays", 3, "value", "149"), [("error assays!C3", "149 % of crude_protein", "Correct the value")]),
    "an assay as a share": (lambda d: d.set("assays", 3, "value", "0.149"), [("warning assays!C3", "0.149 % crude_protein", "means 14 %")]),
    "negative assay": (lambda d: d.set("assays", 3, "value", "-14.9"), [("error assays!C3", "-14.9", "Correct it")]),
    # offers
    "two offers of one name": (lambda d: d.set("supplements", 3, "offer", "Soy_pressed"),
                               [("error supplements!A3", "a second row for offer 'Soy_pressed'", "another name")]),
    "an offer named like a bin": (lambda d: d.set("supplements", 2, "offer", "North"),
                                  [("error supplements!A2", "named like the bin 'north' (bins!A2)", "Rename the offer")]),
    "unknown feed": (lambda d: d.set("supplements", 2, "feed", "soybean_meal_expelled"),
                     [("error supplements!B2", "'soybean_meal_expelled'", "Did you mean soybean_meal_expeller?")]),
    "no price": (lambda d: d.set("supplements", 2, "price", ""), [("error supplements!D2", "no price", "Fill in price")]),
    "negative price": (lambda d: d.set("supplements", 2, "price", "-468"), [("error supplements!D2", "-468", "Correct it")]),
    "price in words": (lambda d: d.set("supplements", 2, "price", "468 USD"), [("error supplements!D2", "'468 USD'", "number alone")]),
    "price for nothing": (lambda d: d.set("supplements", 4, "per_mass", "0 kg"), [("error supplements!E4", "'0 kg'", "check its unit")]),
    "floor above cap": (lambda d: d.set("supplements", 2, "min_pct", "30").set("supplements", 2, "max_pct", "20"),
                        [("error supplements!H2", "min_pct 30 above max_pct 20 (I2)", "Correct one")]),
    "floors above 100": (lambda d: d.set("supplements", 2, "min_pct", "60").set("supplements", 3, "min_pct", "50"),
                         [("error supplements!H3", "adds up to 110 %", "Lower some")]),
    "cap above 100": (lambda d: d.set("supplements", 2, "max_pct", "101"), [("error supplements!I2", "101", "Correct it")]),
    "yes or no": (lambda d: d.set("supplements", 2, "organic", "maybe"), [("error supplements!K2", "'maybe'", "Write yes or no")]),
    # own feeds
    "own feed on dry matter without it": (
        lambda d: d.add("own_feeds", feed="pea_screenings", nutrient="lysine", value="1.1", unit="%", basis="dry_matter")
        .set("supplements", 9, "feed", "pea screenings"),
        [("error own_feeds!E4", "'pea_screenings' on dry_matter, without its dry matter", "Add its dry matter")],
    ),
    "own feed not used": (
        lambda d: d.add("own_feeds", feed="pea_feild", nutrient="dry_matter", value="87", unit="%", basis="as_fed"),
        [("warning own_feeds!A4", "'pea_feild', which is neither offered nor in a bin", "Did you mean peas_field?")],
    ),
    "own figure twice": (
        lambda d: d.add("own_feeds", feed="peas_field", nutrient="crude_protein", value="22", unit="%", basis="as_fed"),
        [("error own_feeds!B4", "a second row for feed 'peas_field', nutrient 'crude_protein'", "one row of the two")],
    ),
    "new nutrient in two units": (
        lambda d: d.add("own_feeds", feed="peas_field", nutrient="tannin", value="1", unit="%", basis="as_fed")
        .add("own_feeds", feed="corn", nutrient="tannin", value="2", unit="g/kg", basis="as_fed"),
        [("error own_feeds!D5", "unit g/kg for tannin, which has % at own_feeds!D4", "one unit")],
    ),
    "new nutrient on two bases": (
        lambda d: d.add("own_feeds", feed="peas_field", nutrient="tannin", value="1", unit="%", basis="as_fed")
        .add("own_feeds", feed="corn", nutrient="tannin", value="2", unit="%", basis="dry_matter"),
        [("error own_feeds!E5", "basis dry_matter for tannin, which has as_fed at own_feeds!E4", "one basis")],
    ),
    "a slip in a nutrient": (
        lambda d: d.add("own_feeds", feed="peas_field", nutrient="lysin", value="1.5", unit="%", basis="as_fed"),
        [("warning own_feeds!B4", "a new nutrient 'lysin', used once", "Did you mean lysine?")],
    ),
    "dry matter of nothing": (lambda d: d.set("own_feeds", 2, "value", "0"), [("error own_feeds!C2", "dry matter of 0 %", "Correct")]),
    # own stages and limits
    "requirement of nothing": (
        lambda d: d.add("own_stages", stage="hen_peak", nutrient="calcium", unit="%", per="kg"),
        [("error own_stages!C2", "neither minimum nor maximum", "Fill one in")],
    ),
    "minimum above maximum": (
        lambda d: d.add("own_stages", stage="hen_peak", nutrient="calcium", minimum="4.5", maximum="4", unit="%", per="kg"),
        [("error own_stages!C2", "minimum 4.5 above maximum 4 (D2)", "Correct one")],
    ),
    "per nothing": (
        lambda d: d.add("own_stages", stage="hen_peak", nutrient="calcium", minimum="4", unit="%"),
        [("error own_stages!F2", "no per", "Fill in per")],
    ),
    "a concentration per day": (
        lambda d: d.add("own_stages", stage="hen_peak", nutrient="calcium", minimum="4", unit="%", per="day"),
        [("error own_stages!E2", "the unit '%'", "state it per kg")],
    ),
    "per mcal of what": (
        lambda d: d.add("own_stages", stage="our_hens", nutrient="calcium", minimum="1.4", unit="%", per="mcal"),
        [("error own_stages!F2", "calcium per mcal, in a stage without an energy", "Add the energy row")],
    ),
    "energy per energy": (
        lambda d: d.add("own_stages", stage="hen_peak", nutrient="amen_poultry", minimum="1", unit="kcal/kg", per="mcal"),
        [("error own_stages!F2", "the energy amen_poultry per mcal", "State the energy per kg")],
    ),
    "two energies": (
        lambda d: d.add("own_stages", stage="our_hogs", nutrient="ne_pig", minimum="2300", unit="kcal/kg", per="kg")
        .add("own_stages", stage="our_hogs", nutrient="me_pig", minimum="3200", unit="kcal/kg", per="kg"),
        [("error own_stages!B3", "me_pig, beside ne_pig in B2", "Delete the rows of one")],
    ),
    "per day of what": (
        lambda d: d.add("own_stages", stage="our_hens", nutrient="calcium", minimum="4", unit="g", per="day"),
        [("error own_stages!F2", "feed per day is not known", "Fill it in on groups")],
    ),
    "a slip in a stage": (
        lambda d: d.add("own_stages", stage="hen_peek", nutrient="calcium", minimum="4", unit="%", per="kg"),
        [("warning own_stages!A2", "a new stage 'hen_peek'", "Did you mean hen_peak?")],
    ),
    "requirement no feed has": (
        lambda d: d.add("own_stages", stage="hen_peak", nutrient="xanthophyll", minimum="10", unit="mg/kg", per="kg"),
        [("warning own_stages!B2", "'xanthophyll', of which no feed has a figure", "Give the figures")],
    ),
    "requirement twice": (
        lambda d: d.add("own_stages", stage="hen_peak", nutrient="calcium", minimum="4", unit="%", per="kg")
        .add("own_stages", stage="hen_peak", nutrient="calcium", maximum="5", unit="%", per="kg"),
        [("error own_stages!F3", "a second row for stage 'hen_peak', nutrient 'calcium', per 'kg'", "one row of the two")],
    ),
    "limit of nothing": (lambda d: d.set("own_limits", 2, "max_pct", ""), [("error own_limits!C2", "neither min_pct nor max_pct", "Fill one in")]),
    "limit on no feed": (lambda d: d.set("own_limits", 2, "feed", "tritical"), [("error own_limits!B2", "'tritical'", "Did you mean triticale?")]),
    "limit for no stage": (lambda d: d.set("own_limits", 2, "stage", "hens"), [("error own_limits!A2", "the stage 'hens'", "")]),
    # groups and what was weighed
    "unknown stage": (lambda d: d.set("groups", 2, "stage", "sw_nur_11_52"), [("error groups!B2", "'sw_nur_11_52'", "Did you mean sw_nur_11_25?")]),
    "group twice": (lambda d: d.set("groups", 3, "group", "weaners"), [("error groups!A3", "a second row for group 'weaners'", "another name")]),
    "days reversed": (lambda d: d.set("groups", 2, "to", "2025-10-01"),
                      [("error groups!E2", "to 2025-10-01 before from 2025-10-06 (D2)", "Correct one")]),
    "no animals": (lambda d: d.set("groups", 2, "head", "0"), [("error groups!C2", "0", "Correct it")]),
    "weighed what": (
        lambda d: d.add("actual", sheet="north hens", made_on="2025-10-01", feed="soy_presed", mass="50"),
        [("error actual!C2", "'soy_presed'", "Did you mean soy_pressed?")],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_one_slip_gives_its_line(case, demo, written, library, brief):
    change, expected = CASES[case]
    change(demo)
    problems = check_book(written(demo), library)
    assert brief(problems) == [place for place, _, _ in expected], [problem.line() for problem in problems]
    for problem, (_, found, do) in zip(problems, expected, strict=True):
        assert found in problem.found
        assert do in problem.do
        assert problem.expected


def test_the_demo_has_no_problem(demo, written, library):
    assert check_book(written(demo), library) == []


def test_all_slips_at_once(demo, written, library, brief):
    """Slips on eight sheets, in the book and against the library, come in one list, errors first."""
    demo.setting("units", "imperial")
    demo.set("bins", 2, "moisture_pct", "0").set("bins", 3, "filled_on", "2099-01-01")
    demo.set("sorted", 2, "crop", "triticle")
    demo.set("assays", 3, "basis", "").set("assays", 4, "unit", "pounds")
    demo.set("supplements", 2, "price", "-1").set("supplements", 3, "price", "").set("supplements", 3, "offer", "soy_pressed")
    demo.set("own_limits", 2, "feed", "tritical")
    demo.set("groups", 2, "stage", "weaners").set("groups", 3, "from", "soon")
    assert brief(check_book(written(demo), library)) == [
        "error farm!B4", "error bins!J2", "error sorted!B2", "error assays!E3", "error assays!D4",
        "error supplements!D2", "error supplements!A3", "error supplements!D3", "error own_limits!B2",
        "error groups!B2", "error groups!D3", "warning bins!K3",
    ]  # fmt: skip


def test_caps_that_leave_room_for_nothing(demo, written, library, brief):
    """Without a bin the offers have to make up the whole ration."""
    demo.clear("bins", "samples", "sorted", "assays")
    del demo.tables["supplements"][4:]
    for row, share in ((2, "40"), (3, "30"), (4, "29.5")):
        demo.set("supplements", row, "min_pct", share).set("supplements", row, "max_pct", share)
    path = written(demo)
    assert [p.line() for p in check_book(path, library)] == [
        "error: supplements!I4: found max_pct of all offers adds up to 99.5 %, and there is no bin; "
        "expected at least 100 % together. Raise some of them, or add an offer."
    ]


def test_fixed_shares_that_add_up_are_a_mix(demo, written, library):
    demo.clear("bins", "samples", "sorted", "assays")
    del demo.tables["supplements"][5:]
    for row, share in ((2, "33.4"), (3, "33.3"), (4, "33.2"), (5, "0.1")):
        demo.set("supplements", row, "min_pct", share).set("supplements", row, "max_pct", share)
    assert check_book(written(demo), library) == []


def test_errors_stop_the_reader_and_warnings_do_not(demo, written, library):
    path = written(demo.set("bins", 2, "filled_on", "2099-08-14"))
    book, warnings = open_book(path, library)
    assert book.bins[0].filled_on.year == 2099
    assert [problem.severity for problem in warnings] == ["warning"]
    assert read_book(path, library.units) == book


def test_open_book_tells_all_problems_at_once(demo, written, library):
    path = written(demo.set("bins", 2, "moisture_pct", "0").set("groups", 2, "stage", "hogs"))
    with pytest.raises(BookError) as caught:
        open_book(path, library)
    assert [problem.sheet for problem in caught.value.problems] == ["bins", "groups"]
    with pytest.raises(BookError) as caught:
        read_book(path, library.units)
    assert [problem.sheet for problem in caught.value.problems] == ["bins"]


def test_a_problem_is_one_line(demo, written, library):
    (problem,) = check_book(written(demo.set("supplements", 2, "stock_mass", "-6 t")), library)
    assert problem.line() == (
        "error: supplements!G2: found '-6 t' (that is -6000 kg); expected stock_mass at least 0 kg. Correct it."
    )
