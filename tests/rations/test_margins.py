"""Margins on handbook requirements, and digestible against total amino acids in poultry."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.farm import Farm
from rationlp.rations.formulate import formulate, solve_rations
from rationlp.reasons import Kind, Severity
from rationlp.show.text.ration import print_rations


def at(book, **farm):
    return replace(book, farm=replace(book.farm, **farm))


@pytest.mark.slow
@pytest.mark.parametrize("confidence", [50.0, 85.0])
def test_the_margin_raises_amino_acid_minima_only_and_says_what_it_costs(confidence, demo_book, library):
    stages = ["sw_gro_25_50", "hen_brown_110"]
    plain = formulate(Farm(at(demo_book, confidence_pct=confidence), library), stages)
    margin = formulate(Farm(at(demo_book, confidence_pct=confidence, requirement_margin_pct=6.0), library), stages)
    acids = {n.nutrient for n in library.nutrients.values() if n.kind in ("amino_acid", "digestible_amino_acid")}
    for before, after in zip(plain, margin, strict=True):
        least = {line.nutrient: line.minimum / before.energy_kcal_kg for line in before.requirements if line.minimum}
        for line in after.requirements:
            if line.minimum and "energy" in line.basis and line.met_by == "ration":
                raised = line.minimum / after.energy_kcal_kg / least[line.nutrient]
                assert raised == pytest.approx(1.06 if line.nutrient in acids else 1.0, rel=1e-9), line.nutrient
        costs = [r.cost_per_tonne if r.objective == "per_tonne" else r.cost_per_gcal for r in (before, after)]
        assert after.margin.cost == pytest.approx(costs[1], rel=1e-9)
        assert after.margin.cost_without == pytest.approx(costs[0], rel=1e-7)
        assert after.margin.cost > after.margin.cost_without
        assert before.margin is None


@pytest.mark.slow
def test_the_output_says_that_tables_carry_no_margin_and_what_one_costs(demo_book, library, capsys):
    plain = formulate(Farm(demo_book, library), ["sw_gro_25_50"], ["north"])
    assert any("carry no margin" in note for note in plain[0].notes)
    book = at(demo_book, requirement_margin_pct=6.0)
    print_rations(formulate(Farm(book, library), ["sw_gro_25_50"], ["north"]), Farm(book, library))
    text = " ".join(capsys.readouterr().out.split())
    assert "The margin of 6 % on amino acid minima costs" in text and "carry no margin" in text


def test_digestible_amounts_are_those_of_the_feeds(demo_book, library):
    (one,) = solve_rations(Farm(demo_book, library), ["hen_brown_110"], ["north"])
    lines = {line.nutrient: line for line in one.ration.digestible}
    shares = {line.offer: line.share for line in one.ration.mix}
    assert "sid_lysine_poultry" in lines and "sid_crude_protein_poultry" not in lines
    for nutrient, line in lines.items():
        total = nutrient.removeprefix("sid_").removesuffix("_poultry")
        assert line.gives == pytest.approx(sum(shares[c.name] * c.values[nutrient] for c in one.formula.candidates))
        assert line.gives < one.ration.analysis[total]
    lysine = lines["sid_lysine_poultry"]
    eaten = one.ration.feed_kg_per_head_per_day * 1000
    assert lysine.figure == pytest.approx(538 / eaten / 10, rel=1e-6)  # PS2008_HENRATIO, mg a day
    assert lysine.source == "PS2008_HENRATIO"


def test_digestible_amounts_are_shown_only_for_birds_on_raw_legumes(demo_book, library):
    rations = {
        r.stage: r
        for r in formulate(Farm(demo_book, library), ["hen_brown_110", "sw_gro_25_50", "broiler_0_3"], ["north"])
    }
    assert rations["hen_brown_110"].digestible
    assert not rations["sw_gro_25_50"].digestible
    few = replace(demo_book, bins=(), samples=(), sorted=(), assays=())  # corn and soybean meal only
    (ration,) = formulate(Farm(few, library), ["hen_brown_110"])
    assert ration.status == "optimal" and not ration.digestible


@pytest.mark.parametrize(("share", "shown"), [(0.1 * (1 - 1e-12), True), (0.0999, False)])
def test_a_tenth_of_raw_legumes_is_one_whatever_the_solver_rounds(demo_book, library, monkeypatch, share, shown):
    """A cap of 10 % holds them just there: which side of it a solver's last digit falls on says nothing."""
    (one,) = solve_rations(Farm(demo_book, library), ["hen_brown_110"], ["north"])
    monkeypatch.setattr("rationlp.rations.answer.ratios.raw_legumes", lambda mix, library: share)
    assert bool(one.judged(one.column_shares).digestible) is shown


def test_a_mix_that_meets_totals_by_badly_digested_beans_is_warned_of(demo_book, library):
    """The farm's own peas hold much methionine that hens hardly digest: the totals are met, the digestible are not."""
    from rationlp.book.records import OwnFigure, Place

    own = [OwnFigure(Place(), "peas_field", n, v, "%", "as_fed") for n, v in (("methionine", 0.60), ("cystine", 0.50))]
    own += [
        OwnFigure(Place(), "peas_field", n, 30.0, "% of the nutrient", "as_fed")
        for n in ("methionine_sid_poultry", "cystine_sid_poultry")
    ]
    offers = tuple(
        replace(o, price_per_tonne=20.0) if o.feed == "peas_field" else o
        for o in demo_book.supplements
        if o.feed not in ("dl_methionine", "fish_meal_menhaden")
    )
    book = replace(
        demo_book, own_feeds=(*demo_book.own_feeds, *own), supplements=offers, bins=(), samples=(), sorted=(), assays=()
    )
    (ration,) = formulate(Farm(book, library), ["hen_brown_110"])
    assert ration.status == "optimal"
    total = next(r for r in ration.requirements if r.nutrient == "methionine_cystine")
    assert total.meets
    short = next(d for d in ration.digestible if d.nutrient == "sid_methionine_cystine_poultry")
    assert short.meets is False and short.gives < short.figure
    (reason,) = [r for r in ration.verdict.of(Kind.REQUIREMENT) if "raw legumes" in r.text]
    assert all(d.label in reason.text for d in ration.digestible if d.meets is False)
    assert reason.severity is Severity.ASK
    assert (reason.nutrient, reason.value, reason.limit) == (short.nutrient, short.gives, short.figure)
    assert "SID methionine + cystine, poultry" in reason.text and reason.source == "PS2008_HENRATIO"
    assert ration.verdict.severity is Severity.ASK
