"""Needs per head and day at the group's intake, ratios, electrolytes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.book.records import Group, OwnRequirement, Place
from rationlp.farm import Farm
from rationlp.rations.formulate import formulate, solve_rations
from rationlp.stages.needs import stage_needs
from rationlp.stages.stage import per_day_to_concentration


def with_groups(book, *groups):
    rows = tuple(Group(Place(), f"g{i}", stage, 10, None, None, kg) for i, (stage, kg) in enumerate(groups))
    return replace(book, groups=rows, herd=(), arrivals=())


def table_row(library, stage, nutrient, per):
    return next(
        r for r in library.requirements[stage] if (r.nutrient, r.per, r.use) == (nutrient, per, "row") and r.minimum
    )


def need_of(stage, book, library, nutrient):
    return next(n for n in stage_needs(stage, book, library).needs if n.nutrient == nutrient and n.minimum is not None)


def test_the_published_arithmetic_of_daily_needs():
    """NRC 1994, table 2-3: 690 mg lysine a day is 0.69 % at 100 g of feed, 0.86 at 80, 0.58 at 120."""
    for grams, percent in ((80, 0.8625), (100, 0.69), (120, 0.575)):
        assert per_day_to_concentration(690, "mg", "%", grams / 1000) == pytest.approx(percent)
    assert per_day_to_concentration(11.0, "g", "%", 2.2) == pytest.approx(0.5)
    with pytest.raises(ValueError, match="does not fit"):
        per_day_to_concentration(1, "IU", "%", 0.1)


@pytest.mark.parametrize(
    ("stage", "nutrient", "feed_kg"),
    [
        ("hen_white_100", "lysine", 0.093),
        ("hen_white_100", "calcium", 0.112),
        ("hen_peak", "sid_lysine_poultry", 0.098),
        ("sw_gest_p2_early", "sid_lysine_pig", 2.05),
        ("sw_lact_p2_230", "sid_lysine_pig", 5.2),
    ],
)
def test_hens_and_sows_get_the_days_amount_in_what_the_group_eats(stage, nutrient, feed_kg, demo_book, library):
    row = table_row(library, stage, nutrient, "day")
    need = need_of(stage, with_groups(demo_book, (stage, feed_kg)), library, nutrient)
    grams = row.minimum / 1000 if row.unit == "mg" else row.minimum
    more = need.minimum / (grams / (feed_kg * 1000) * 100)
    assert need.reference_energy is None
    assert "the feed the group eats" in need.basis
    # rows of sows are of the feed eaten, 5 % less than what is given; of the group.s feed as much is wasted
    assert more == pytest.approx(1.0 if stage.startswith("hen") else 1 / 0.95, rel=1e-3)


@pytest.mark.slow
def test_the_ration_holds_the_days_amount(demo_book, library):
    book = with_groups(demo_book, ("hen_white_100", 0.094), ("sw_gest_p2_early", 2.4))
    for ration in formulate(Farm(book, library), bins=["north"]):
        assert ration.status == "optimal"
        day = {
            r.nutrient: r for r in library.requirements[ration.stage] if r.per == "day" and r.use == "row" and r.minimum
        }
        feed = ration.feed_kg_per_head_per_day
        eaten = feed * (0.95 if ration.stage.startswith("sw") else 1.0)
        checked = 0
        for line in ration.requirements:
            row = day.get(line.nutrient)
            if row is not None and line.met_by == "ration" and line.unit == "%":
                amount = line.gives / 100 * eaten * 1000  # g a day
                assert amount >= (row.minimum / 1000 if row.unit == "mg" else row.minimum) * 0.985, line.nutrient
                checked += 1
        assert checked > 8


def test_several_groups_of_a_stage_are_fed_for_the_one_that_eats_least(demo_book, library):
    book = with_groups(demo_book, ("hen_white_100", 0.12), ("hen_white_100", 0.09))
    assert need_of("hen_white_100", book, library, "lysine").minimum == pytest.approx(0.69 / 0.9, rel=1e-3)


def test_own_rows_per_day(demo_book, library):
    own = (
        OwnRequirement(Place(), "hen_white_100", "lysine", 800.0, None, "mg", "day", "our vet"),
        OwnRequirement(Place(), "sw_gest_p2_early", "sid_lysine_pig", 12.0, None, "g", "day", "our vet"),
    )
    book = replace(with_groups(demo_book, ("hen_white_100", 0.1), ("sw_gest_p2_early", 2.4)), own_stages=own)
    assert need_of("hen_white_100", book, library, "lysine").minimum == pytest.approx(0.8)
    assert need_of("sw_gest_p2_early", book, library, "sid_lysine_pig").minimum == pytest.approx(0.5)


# Ratios ---------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_amino_acids_to_lysine_and_to_energy_are_shown_beside_the_tables(demo_book, library):
    for ration in formulate(Farm(demo_book, library), ["sw_gro_25_50", "hen_brown_110"], ["north"]):
        lines = {(r.numerator, r.denominator): r for r in ration.ratios}
        lysine = "sid_lysine_pig" if ration.stage.startswith("sw") else "lysine"
        threonine = lysine.replace("lysine", "threonine")
        line = lines[threonine, lysine]
        assert line.gives == pytest.approx(100 * ration.analysis[threonine] / ration.analysis[lysine])
        per_kg = {r.nutrient: r.minimum for r in library.requirements[ration.stage] if r.per == "kg" and r.use == "row"}
        if threonine in per_kg:
            assert line.table == pytest.approx(100 * per_kg[threonine] / per_kg[lysine])
        assert 55 < line.table < 75
        energy = lines[lysine, ration.energy]
        assert energy.gives == pytest.approx(ration.analysis[lysine] * 10 / (ration.energy_kcal_kg / 1000))
        assert ("calcium", "phosphorus") in lines
        assert not any(
            r.numerator.startswith("sid_") != r.denominator.startswith("sid_")
            for r in ration.ratios
            if "lysine" in r.denominator
        )


def test_the_published_ratio_of_the_swine_table(demo_book, library):
    """SID threonine to lysine 60, methionine + cystine 56 for 25 to 50 kg (derived in the reference from NRC 2012)."""
    (ration,) = formulate(Farm(demo_book, library), ["sw_gro_25_50"], ["north"])
    lines = {r.numerator: r.table for r in ration.ratios if r.denominator == "sid_lysine_pig"}
    assert lines["sid_threonine_pig"] == pytest.approx(60, abs=1)
    assert lines["sid_methionine_cystine_pig"] == pytest.approx(56, abs=1)
    assert lines["sid_valine_pig"] == pytest.approx(65, abs=1)


@pytest.mark.slow
def test_calcium_to_phosphorus_is_a_row_with_a_price(demo_book, library, monkeypatch):
    """A maximum of 1.2 binds; its price is what a little more of it saves."""
    tight = [replace(row, maximum=1.2) for row in library.ratios]
    monkeypatch.setitem(library.__dict__, "ratios", tuple(tight))
    book = replace(demo_book, farm=replace(demo_book.farm, objective="per_tonne"))

    def run(maximum):
        rows = tuple(replace(row, maximum=maximum) for row in tight)
        monkeypatch.setitem(library.__dict__, "ratios", rows)
        (ration,) = formulate(Farm(book, library), ["sw_gest_p2_late"], ["north"])
        return ration

    base = run(1.2)
    line = next(r for r in base.ratios if r.maximum is not None)
    assert line.binding == "maximum" and line.gives == pytest.approx(1.2, abs=1e-6) and line.source
    step = 1e-4
    slope = (run(1.2 + step).cost_per_tonne - run(1.2 - step).cost_per_tonne) / (2 * step)
    assert slope < 0
    assert line.shadow_price == pytest.approx(slope, rel=1e-3)


@pytest.mark.slow
def test_the_electrolyte_balance_is_the_published_sum(demo_book, library):
    """0.20 % sodium, 0.80 % potassium and 0.25 % chloride make 221.1 mEq/kg."""
    weights = library.nutrients["electrolyte_balance"].parts
    held = {"sodium": 0.20, "potassium": 0.80, "chloride": 0.25}
    assert sum(weights[n] * held[n] for n in held) == pytest.approx(221.1, abs=0.1)
    for ration in formulate(Farm(demo_book, library), ["broiler_3_6", "sw_gro_25_50"]):
        by_hand = sum(weights[n] * ration.analysis[n] for n in weights)
        assert ration.electrolyte_balance == pytest.approx(by_hand, rel=1e-9)


def test_the_published_range_of_electrolytes_is_watched_and_can_be_made_a_bound(demo_book, library, monkeypatch):
    (plain,) = formulate(Farm(demo_book, library), ["broiler_3_6"], ["north"])
    assert plain.electrolyte_balance < 202
    (note,) = [note for note in plain.notes if "Electrolyte balance" in note]
    assert "under 202" in note and library.sources["BJPS_DEB"].short in note
    rows = tuple(replace(row, use="row") if row.nutrient == "electrolyte_balance" else row for row in library.ceilings)
    monkeypatch.setitem(library.__dict__, "ceilings", rows)
    (bound,) = formulate(Farm(demo_book, library), ["broiler_3_6"], ["north"])
    assert bound.status == "optimal"
    assert bound.electrolyte_balance == pytest.approx(202, abs=1e-4)
    assert bound.cost_per_gcal > plain.cost_per_gcal
    line = next(r for r in bound.requirements if r.nutrient == "electrolyte_balance")
    assert (line.minimum, line.maximum, line.binding) == (202, 235, "minimum")


def test_a_farm_may_bound_the_electrolytes_itself(make_book, demo_book, library):
    own = make_book(
        {
            "farm": [{"setting": "name", "value": "x"}],
            "supplements": [{"offer": "corn", "feed": "corn", "price": 1}],
            "own_stages": [
                {
                    "stage": "sw_gro_25_50",
                    "nutrient": "electrolyte_balance",
                    "minimum": 190,
                    "unit": "mEq/kg",
                    "per": "kg",
                    "source": "our nutritionist",
                }
            ],
        }
    ).own_stages
    (ration,) = formulate(Farm(replace(demo_book, own_stages=own), library), ["sw_gro_25_50"], ["south"])
    assert ration.status == "optimal"
    assert ration.electrolyte_balance >= 190 - 1e-4


@pytest.mark.slow
def test_the_chance_of_a_ratio_is_kept_too(demo_book, library):
    book = replace(demo_book, farm=replace(demo_book.farm, confidence_pct=85.0))
    for one in solve_rations(Farm(book, library), ["sw_gest_p2_late", "sw_gro_25_50"]):
        lines = [r for r in one.ration.ratios if r.minimum is not None or r.maximum is not None]
        assert lines and one.ration.confidence.attained_pct == 85
        assert all(r.probability >= 0.85 - 1e-6 for r in lines)


@pytest.mark.parametrize(
    ("stage", "table_kg", "stated_kg", "most"),
    [
        ("hen_brown_110", 0.110, 0.105, 4.5),  # 4.42 % of 110 g is 4.63 % of 105 g; NRC 2005: 5.0 % of dry matter
        ("hen_brown_110", 0.110, 0.120, 4.0517),
        ("sw_gest_p2_early", 2.210, 1.9, 0.7561),
        ("sw_gest_p2_early", 2.210, 1.5, 0.9),  # NRC 2005: 1.0 % of dry matter
        ("sw_boar", 2.5, 2.0, 0.9),  # a published figure per kg stays
    ],
)
def test_the_most_calcium_moves_with_the_need_of_a_day(demo_book, library, stage, table_kg, stated_kg, most):
    """feed_library/ceilings.csv: so many times the need of a day, never above the tolerance of a kg (NRC 2005)."""
    stated_at_table = {"hen_brown_110": 4.42, "sw_gest_p2_early": 0.65, "sw_boar": 0.9}
    moved = stage_needs(stage, with_groups(demo_book, (stage, stated_kg)), library)
    assert moved.daily_feed_kg == pytest.approx(table_kg)
    (ceiling,) = (need for need in moved.needs if need.nutrient == "calcium" and need.maximum is not None)
    assert ceiling.maximum == pytest.approx(most, abs=1e-3) and ceiling.safety
    free = stage_needs(stage, with_groups(demo_book), library)
    (of_table,) = (need for need in free.needs if need.nutrient == "calcium" and need.maximum is not None)
    assert (of_table.maximum, of_table.basis) == (stated_at_table[stage], "per kg")


def test_hens_that_eat_little_get_the_calcium_of_their_day(demo_book, library):
    """NRC 1994, table 2-3: 3.6 g a day of a brown hen; 4.0 % of 90 g stands below the safe 4.5 %."""
    (ration,) = formulate(Farm(with_groups(demo_book, ("hen_brown_110", 0.09)), library), ["hen_brown_110"], ["north"])
    (line,) = (row for row in ration.requirements if row.nutrient == "calcium" and row.minimum is not None)
    assert line.minimum == pytest.approx(100 * 3.6 / 90, abs=0.01) and line.meets
