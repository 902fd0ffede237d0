"""A farm may lift a cap; one that stands for safety or law only with a reason in its book, and the output says so."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from rationlp.cli.app import app
from rationlp.errors import BookError
from rationlp.farm import Farm
from rationlp.library.which_limits import choose_rows
from rationlp.rations.formulate import formulate, solve_rations
from rationlp.reasons import Kind, Severity
from rationlp.stages.approvals import harm_level
from rationlp.stages.needs import stage_needs

BASE = {
    "farm": [{"setting": "name", "value": "caps"}],
    "supplements": [
        {"offer": feed, "feed": feed, "price": price}
        for feed, price in (
            ("corn", 200),
            ("flaxseed", 125),
            ("soybean_meal_48_dehulled_solvent", 390),
            ("limestone_fine", 90),
            ("salt", 200),
            ("monocalcium_phosphate", 800),
            ("l_lysine_hcl", 1700),
            ("dl_methionine", 3300),
            ("l_threonine", 1900),
            ("l_tryptophan", 9000),
            ("camelina_seed", 125),
            ("premix_swine", 2500),
            ("layer_vitamin_mineral_premix", 2300),
            ("premix_poultry_growing", 2400),
        )
    ],
    "groups": [{"group": "g", "stage": "sw_gro_50_75", "head": 10}],
}


def safety_cap(library, feed, stage="sw_gro_50_75"):
    (row,) = [r for r in choose_rows(library.feed_limits[feed], library.stages[stage]) if r.safety == "yes"]
    return row.max_pct


APPROVED = {"approved_by": "Dr A. Vet", "approved_on": "2024-05-01"}


def limits(feed, max_pct, reason, stage="sw_gro_50_75", **more):
    return BASE | {"own_limits": [{"stage": stage, "feed": feed, "max_pct": max_pct, "reason": reason, **more}]}


def test_a_safety_cap_lifted_without_a_reason_is_a_problem_with_its_cell(write_book, library):
    cap = safety_cap(library, "camelina_seed")
    path = write_book(limits("camelina_seed", cap + 4, ""))
    done = CliRunner().invoke(app, ["ration", str(path)])
    assert done.exit_code == 1
    text = " ".join(done.output.split())
    assert "own_limits!D2" in text and "safety cap" in text and f"{cap + 4:g} %" in text and "reason" in text
    assert "Traceback" not in text and not done.stdout.strip()


def test_with_a_reason_it_stands_and_is_said_aloud(make_book, library):
    cap = safety_cap(library, "camelina_seed")
    book = make_book(limits("camelina_seed", cap + 4, "trial with our vet, 2024", **APPROVED))
    (ration,) = formulate(Farm(book, library))
    (warning,) = [w for w in ration.warnings if "amelina" in w]
    assert "SAFETY" in warning or "LEGAL" in warning
    assert "trial with our vet, 2024" in warning and f"{cap:g} %" in warning
    held = next(line for line in ration.limits if line.feed == "camelina_seed")
    assert held.max_pct == pytest.approx(cap + 4) and held.reason == "trial with our vet, 2024"


def test_tightening_needs_no_reason_and_is_only_a_note(make_book, library):
    cap = safety_cap(library, "camelina_seed")
    (ration,) = formulate(Farm(make_book(limits("camelina_seed", cap / 2, "")), library))
    assert not any("amelina" in w for w in ration.warnings)
    assert any("amelina" in n and "stands instead" in n for n in ration.notes)


def test_a_cap_that_is_not_for_safety_may_be_lifted_without_a_reason(make_book, library):
    rows = [r for r in library.feed_limits["corn"] if r.scope in library.stages["hen_peak"].scopes and r.max_pct]
    assert rows and all(r.safety == "no" and r.evidence != "legal_max" for r in rows)
    book = make_book(
        limits("corn", 95, "", stage="hen_peak") | {"groups": [{"group": "g", "stage": "hen_peak", "head": 9}]}
    )
    (ration,) = formulate(Farm(book, library))
    assert any("Corn" in n and "95 %" in n for n in ration.notes)


def test_all_such_problems_are_told_at_once(make_book, library):
    cap = safety_cap(library, "camelina_seed")
    book = make_book(
        limits("camelina_seed", cap + 4, "")
        | {
            "own_limits": [
                {"stage": "all", "feed": "camelina_seed", "max_pct": cap + 10, "reason": ""},
                {"stage": "sw_gro_50_75", "feed": "salt", "max_pct": 5, "reason": " "},
            ],
            "own_stages": [
                {
                    "stage": "layer_grower_6_12_brown",
                    "nutrient": "calcium",
                    "maximum": 2,
                    "unit": "%",
                    "per": "kg",
                    "source": "",
                }
            ],
            "groups": [
                {"group": stage, "stage": stage, "head": 9}
                for stage in ("sw_gro_50_75", "hen_peak", "layer_grower_6_12_brown")
            ],
        }
    )
    with pytest.raises(BookError) as caught:
        formulate(Farm(book, library))
    found = [(p.sheet, p.cell, p.found) for p in caught.value.problems]
    assert any(sheet == "own_stages" and "calcium" in words for sheet, _, words in found)
    assert any("salt" in words and "sw_gro_50_75" in words for _, _, words in found)
    assert any("camelina_seed" in words and "hen_peak" in words for _, _, words in found)


@pytest.mark.parametrize(("per", "maximum"), [("kg", 2.0), ("mcal", 0.7)])
def test_a_maximum_above_a_safe_ceiling_needs_its_source(per, maximum, make_book, library):
    """Pullets bear 1.0 % calcium; per Mcal the same at the energy of the table (2850 kcal/kg)."""

    def rows(source):
        row = {"stage": "layer_grower_6_12_brown", "nutrient": "calcium", "maximum": maximum, "unit": "%", "per": per}
        row |= {"source": source, **(APPROVED if source else {})}
        return BASE | {"groups": [{"group": "g", "stage": row["stage"], "head": 9}], "own_stages": [row]}

    with pytest.raises(BookError, match="safe ceiling of 1") as caught:
        formulate(Farm(make_book(rows(""), "without"), library))
    problem, *others = caught.value.problems
    assert [p.found.split(" for ")[0] for p in others] == ["nobody in approved_by", "no day in approved_on"]
    assert problem.sheet == "own_stages" and problem.cell.endswith("2") and "source" in problem.expected
    (ration,) = formulate(Farm(make_book(rows("veterinary trial of 2023"), "with"), library))
    (warning,) = [w for w in ration.warnings if "SAFETY" in w]
    assert "Calcium" in warning and "veterinary trial" in warning and "1 %" in warning


def test_a_maximum_below_the_safe_ceiling_needs_none(make_book, library):
    book = make_book(
        BASE
        | {
            "groups": [{"group": "g", "stage": "layer_grower_6_12_brown", "head": 9}],
            "own_stages": [
                {"stage": "layer_grower_6_12_brown", "nutrient": "calcium", "maximum": 0.95, "unit": "%", "per": "kg"}
            ],
        }
    )
    (ration,) = formulate(Farm(book, library))
    assert not any("SAFETY" in w for w in ration.warnings)


@pytest.mark.slow
def test_every_cap_that_binds_says_why_and_on_whose_word(demo_book, library):
    seen = 0
    for ration in formulate(Farm(demo_book, library)):
        for line in ration.limits:
            if line.binding:
                assert line.reason and line.source and line.how
                seen += 1
        for line in ration.requirements:
            if line.binding == "maximum":
                assert line.source
    assert seen > 10


@pytest.mark.slow
def test_even_the_short_answer_says_that_a_safety_cap_was_lifted(write_book, library):
    cap = safety_cap(library, "camelina_seed")
    path = write_book(limits("camelina_seed", cap + 4, "trial with our vet, 2024", **APPROVED))
    done = CliRunner().invoke(app, ["ration", str(path)])
    assert "trial with our vet, 2024" in " ".join(done.stdout.split())


# With weight ----------------------------------------------------------------------------------------------------


def problems_of(book, library):
    with pytest.raises(BookError) as caught:
        formulate(Farm(book, library))
    return [(p.sheet, p.cell, p.found) for p in caught.value.problems]


@pytest.mark.parametrize(
    ("given", "cell", "words"),
    [
        ({"reason": "."}, "D2", "no reason in words"),
        ({"reason": "x x x x"}, "D2", "no reason in words"),
        ({"reason": "because so"}, "D2", "no reason in words"),
        ({"approved_by": ""}, "E2", "nobody in approved_by"),
        ({"approved_by": "."}, "E2", "nobody in approved_by"),
        ({"approved_on": ""}, "F2", "no day in approved_on"),
        ({"approved_on": "2099-01-01"}, "F2", "still to come"),
    ],
)
def test_one_character_loosens_nothing(make_book, library, given, cell, words):
    cap = safety_cap(library, "camelina_seed")
    row = {"reason": "trial with our vet", **APPROVED, **given}
    book = make_book(limits("camelina_seed", cap + 4, row.pop("reason"), **row))
    ((sheet, at, found),) = problems_of(book, library)
    assert (sheet, at) == ("own_limits", cell) and words in found and "safety cap" in found


def test_with_approval_the_ration_is_a_question_that_names_who_and_when(make_book, library):
    cap = safety_cap(library, "camelina_seed")
    book = make_book(limits("camelina_seed", cap + 4, "trial with our vet, 2024", **APPROVED))
    (made,) = solve_rations(Farm(book, library))
    (reason,) = made.formula.reasons
    assert (reason.kind, reason.severity, reason.feed) == (Kind.SAFETY, Severity.ASK, "camelina_seed")
    assert "Dr A. Vet on 2024-05-01" in reason.text and reason.value == pytest.approx(cap + 4)
    assert reason.limit == pytest.approx(cap)


def test_a_cap_of_the_law_that_is_passed_is_a_reason_of_law(make_book, library):
    """Camelina meal: at most 2 % for growing pigs in the US (mt_camelina)."""
    book = make_book(
        limits("camelina_meal_expeller", 4, "state official agreed in writing", stage="sw_gro_25_50", **APPROVED)
        | {
            "supplements": [*BASE["supplements"], {"offer": "cam", "feed": "camelina_meal_expeller", "price": 150}],
            "groups": [{"group": "g", "stage": "sw_gro_25_50", "head": 10}],
        }
    )
    (made,) = solve_rations(Farm(book, library))
    assert Kind.LAW in {reason.kind for reason in made.formula.reasons}


RAW = [{"offer": "raw", "feed": "soybeans_raw", "price": 100}, {"offer": "vetch", "feed": "vetch_common", "price": 50}]
CHICKS = {"groups": [{"group": "g", "stage": "broiler_0_3", "head": 10}]}


def test_a_level_at_which_harm_was_published_cannot_be_passed(make_book, library):
    """Raw soybeans for a quarter of the soya checked the growth of chicks (abstract): nobody can approve 60 %."""
    source = "trial_soybeans_raw_broiler_starter"
    harm = harm_level("soybeans_raw", library.stages["broiler_0_3"], library)
    assert harm.trial.source == source and not harm.printed and harm.level_pct == 6  # held in a trial
    book = make_book(
        limits("soybeans_raw", 60, "our own trial of last year", stage="all", **APPROVED)
        | CHICKS
        | {"supplements": [*BASE["supplements"], *RAW]}
    )
    ((sheet, cell, found),) = problems_of(book, library)
    assert (sheet, cell) == ("own_limits", "C2") and "harm was seen" in found and library.sources[source].short in found


@pytest.mark.slow
def test_a_cap_on_a_family_does_not_lift_those_of_its_members(make_book, library):
    book = make_book(
        limits("raw_legumes", 100, "x", stage="broiler_0_3")
        | CHICKS
        | {"supplements": [*BASE["supplements"], *RAW, {"offer": "peas", "feed": "peas_field", "price": 240}]}
    )
    (made,) = solve_rations(Farm(book, library))
    vetch = [cap for cap in made.formula.caps if "vetch_common" in cap.members and cap.feed == "common_vetch"]
    (row,) = choose_rows(library.feed_limits["common_vetch"], library.stages["broiler_0_3"])
    assert [100 * cap.max_share for cap in vetch] == [pytest.approx(row.max_pct)] and row.max_pct <= 10
    raw = [cap for cap in made.formula.caps if cap.feed == "soybeans_raw"]
    assert [cap.max_share for cap in raw if cap.safety] == [0]  # beside the 6 % that a trial held (2017 abstract)
    assert made.ration.status != "optimal" or all(
        line.gives_pct == 0 for line in made.ration.limits if line.feed == "soybeans_raw"
    )


@pytest.mark.parametrize("reason", ["x", "our own trial of last year"])
def test_a_maximum_on_a_family_that_could_only_lift_a_cap_is_told(make_book, library, reason):
    book = make_book(limits("camelina", 60, reason, stage="all", **APPROVED))
    ((sheet, cell, found),) = problems_of(book, library)
    assert (sheet, cell) == ("own_limits", "B2") and "camelina_seed" in found and "safety cap" in found


@pytest.mark.parametrize(
    ("stage", "nutrient", "maximum", "unit", "ceiling"),
    [
        ("sw_gro_25_50", "selenium", 100, "mg/kg", "3.6"),  # NRC 2005 Mineral Tolerance: 4 mg/kg of dry matter
        ("sw_gro_25_50", "copper", 1500, "mg/kg", "225"),  # the same: 250 mg/kg of dry matter
        ("own_pig", "selenium", 100, "mg/kg", "3.6"),
        ("own_hen", "selenium", 100, "mg/kg", "2.7"),  # the same: 3 mg/kg of dry matter
    ],
)
def test_a_maximum_above_a_safe_ceiling_is_loosened_in_the_same_way(
    make_book, library, stage, nutrient, maximum, unit, ceiling
):
    energy = {"own_pig": "ne_pig", "own_hen": "amen_poultry"}.get(stage)
    rows = [{"stage": stage, "nutrient": energy, "minimum": 2300, "unit": "kcal/kg", "per": "kg"}] if energy else []

    def book(name, **more):
        row = {"stage": stage, "nutrient": nutrient, "maximum": maximum, "unit": unit, "per": "kg", **more}
        groups = [{"group": "g", "stage": stage, "head": 9}]
        return make_book(BASE | {"groups": groups, "own_stages": [row, *rows]}, name)

    with pytest.raises(BookError) as caught:
        stage_needs(stage, book("without", source="y"), library)
    assert {p.sheet for p in caught.value.problems} == {"own_stages"}
    assert all(ceiling in p.found for p in caught.value.problems) and len(caught.value.problems) == 3
    reasons = stage_needs(stage, book("with", source="wish of the owner", **APPROVED), library).reasons
    assert all(r.text for r in reasons)
    (reason,) = (r for r in reasons if r.nutrient == nutrient)
    assert (reason.severity, reason.nutrient, reason.value) == (Severity.ASK, nutrient, maximum)
    assert "Dr A. Vet on 2024-05-01" in reason.text


def test_check_refuses_it_with_the_cell(write_book, library):
    path = write_book(limits("camelina_seed", 40, "."))
    done = CliRunner().invoke(app, ["check", str(path)])
    assert done.exit_code == 1 and "own_limits!D2" in done.output and "no reason in words" in done.output


@pytest.mark.parametrize("side", ["minimum", "maximum"])
def test_an_own_bound_of_one_side_leaves_the_other_as_it_is(side, make_book, library):
    """An own minimum of calcium takes no safe ceiling away, an own maximum no minimum."""
    stage, own = "sw_gro_50_75", {"minimum": 0.7, "maximum": 0.8}
    row = {"stage": stage, "nutrient": "calcium", "unit": "%", "per": "kg", "source": "own trial", side: own[side]}

    def bounds(book):
        needs = [n for n in stage_needs(stage, book, library).needs if n.nutrient == "calcium" and not n.usual]
        return {
            (side, getattr(need, side), need.safety)
            for need in needs
            for side in ("minimum", "maximum")
            if getattr(need, side) is not None
        }

    usual, now = bounds(make_book(BASE, "usual")), bounds(make_book(BASE | {"own_stages": [row]}, "own"))
    assert {kind for kind, *_ in usual} == {"minimum", "maximum"}
    assert now == {bound for bound in usual if bound[0] != side} | {(side, own[side], False)}


def test_a_ratio_that_stands_for_safety_is_one_in_the_stage(make_book, library):
    """Calcium to phosphorus of growing pigs at most 1.5 (KSU_CAP_2005); ratios of practice give way."""
    kinds = {(r.numerator, r.denominator, r.maximum): r.kind for r in library.ratios}
    ratios = stage_needs("sw_gro_50_75", make_book(BASE), library).ratios
    assert {(r.numerator, r.denominator, r.maximum) for r in ratios if r.safety} >= {("calcium", "phosphorus", 1.5)}
    for ratio in ratios:
        assert ratio.safety == (kinds[ratio.numerator, ratio.denominator, ratio.maximum] == "safety")
