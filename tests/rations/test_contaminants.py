"""An assayed toxin of a bin is a hard row of its rations, or keeps the bin out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.book.records import Assay, OwnFigure, Place
from rationlp.farm import Farm
from rationlp.rations.formulate import formulate, solve_rations
from rationlp.reasons import Kind, Severity


def with_toxin(book, value, nutrient="deoxynivalenol", **farm):
    assay = Assay(Place(), book.samples[0].sample, nutrient, value, "mg/kg", "as_fed", "ELISA", 0.1)
    return replace(book, assays=(*book.assays, assay), farm=replace(book.farm, **farm))


def sampled_bin(book):
    return book.samples[0].bin


def test_a_little_vomitoxin_limits_the_bin_on_the_safe_side_of_the_assay(demo_book, library):
    book = with_toxin(demo_book, 2.0)
    name = sampled_bin(book)
    (clean,) = formulate(Farm(demo_book, library), ["sw_gro_50_75"], [name])
    (one,) = solve_rations(Farm(book, library), ["sw_gro_50_75"], [name])
    assert one.ration.status == "optimal"
    line = next(r for r in one.ration.requirements if r.nutrient == "deoxynivalenol")
    assert (line.kind, line.maximum, line.meets, line.binding) == ("contaminant", 1.0, True, "maximum")
    share = next(m.share for m in one.ration.mix if m.offer == name)
    safe = one.formula.contaminants[0].safe_contents[name]
    assert safe > 2.0 and share * safe == pytest.approx(1.0, rel=1e-6)
    assert line.probability == pytest.approx(0.95, abs=1e-3)
    assert line.shadow_price < 0 and one.ration.cost_per_gcal > clean.cost_per_gcal


@pytest.mark.slow
def test_the_nearest_ration_never_gives_a_toxin_limit_up(demo_book, library):
    book = with_toxin(demo_book, 2.0)
    kept = {"limestone_fine", "salt", "monocalcium_phosphate", "premix_swine", "corn", "wheat_bran"}
    book = replace(book, supplements=tuple(o for o in book.supplements if o.feed in kept))
    (ration,) = formulate(Farm(book, library), ["sw_gro_50_75"], [sampled_bin(book)])
    assert ration.status == "nearest"
    line = next(r for r in ration.requirements if r.nutrient == "deoxynivalenol")
    assert line.gives <= 1.0


@pytest.mark.parametrize("jurisdiction", ["us", "eu"])
def test_a_bin_above_the_limit_of_the_grain_itself_is_left_out(jurisdiction, demo_book, library):
    book = with_toxin(demo_book, 30.0, jurisdiction=jurisdiction)
    name = sampled_bin(book)
    (one,) = solve_rations(Farm(book, library), ["sw_gro_50_75"], [name])
    assert name not in {c.name for c in one.formula.candidates}
    (left_out,) = one.formula.left_out
    assert (left_out.feed, left_out.kind, left_out.severity) == (name, Kind.SAFETY, Severity.STOP)
    assert (left_out.nutrient, left_out.unit) == ("deoxynivalenol", "mg/kg") and left_out.limit < left_out.value
    assert left_out.value == pytest.approx(30.0, rel=2e-3)
    (told,) = [reason for reason in one.ration.verdict.reasons if reason.feed == name and reason.nutrient]
    assert told.severity is Severity.ASK and one.ration.verdict.severity is not Severity.FEED
    assert name in told.text and "30 mg/kg" in told.text  # meter and oven say one moisture
    assert ("prohibited" in told.text) == (jurisdiction == "eu")


def test_without_an_assay_nothing_is_said(demo_book, library):
    (one,) = solve_rations(Farm(demo_book, library), ["sw_gro_50_75"], ["north"])
    assert not one.formula.contaminants
    assert not any(r.kind == "contaminant" for r in one.ration.requirements)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("nutrient", "grain", "pigs", "chicks"),
    [("arsenic", 2, 2, 2), ("lead", 10, 5, 5), ("fluorine", 150, 100, 250), ("mercury", 0.1, 0.1, 0.1)],
)
def test_heavy_metals_and_fluorine_hold_wherever_they_come_from(nutrient, grain, pigs, chicks, demo_book, library):
    """Directive 2002/32/EC Annex I as of 2005 (mercury: of today), where the country sets none: grain and whole feed,
    both at 12 % moisture; mercury, lead and arsenic alike for pigs and birds."""
    for jurisdiction in ("us", "eu", "canada"):
        book = with_toxin(demo_book, 1.2 * grain, nutrient, jurisdiction=jurisdiction)
        (one,) = solve_rations(Farm(book, library), ["sw_gro_50_75"], ["north"])
        assert "north" not in {candidate.name for candidate in one.formula.candidates}
    rows = [row for row in library.contaminants if row.nutrient == nutrient and row.limit_in_complete_diet is not None]
    for scope, limit in (("swine", pigs), ("poultry_growing", chicks)):
        mine = [row.limit_in_complete_diet for row in rows if scope in row.scopes or scope[:7] in row.scopes]
        assert min(mine) == limit


def test_lead_in_bought_limestone_is_seen(demo_book, library):
    """20 mg/kg at most in calcium carbonate (Directive 2002/32/EC Annex I as of 2005)."""
    own = OwnFigure(Place(), "limestone_fine", "lead", 3000.0, "mg/kg", "as_fed", source="a test")
    (one,) = solve_rations(Farm(replace(demo_book, own_feeds=(own,)), library), ["sw_gro_25_50"], ["north"])
    assert [reason.feed for reason in one.formula.left_out] == ["limestone"]
    assert not any(line.offer == "limestone" and line.share for line in one.ration.mix)


@pytest.mark.slow
@pytest.mark.parametrize(("jurisdiction", "most"), [("us", 0.01), ("canada", 0.01), ("eu", 0.005)])
def test_ducks_get_less_aflatoxin_than_the_law_of_all_poultry_allows(jurisdiction, most, demo_book, library):
    """10 ug/kg of the feed: recommended safe level (duck_aflatoxin_pekin, abstract); the law of the US and of Canada
    allows 20 of chicks and ducks alike, that of the EU 5 of all young poultry. Half of a ducklings' feed was grain of
    18 ug/kg, and it was said to be fit."""
    book = with_toxin(demo_book, 0.018, "aflatoxin", jurisdiction=jurisdiction)
    farm = Farm(book, library)
    for stage, bound in (("duck_2_7", most), ("broiler_3_6", 0.005 if jurisdiction == "eu" else 0.02)):
        (one,) = solve_rations(farm, [stage], [sampled_bin(book)])
        bounds = {need.nutrient: need.maximum for need in one.formula.contaminants}
        assert bounds["aflatoxin"] == pytest.approx(bound, rel=0.05), stage  # at the dry matter of the feed
