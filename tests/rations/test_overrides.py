"""A farm may lift a cap; one that stands for safety or law only with a reason in its book, and the output says so."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from rationlp.cli.app import app
from rationlp.errors import BookError
from rationlp.library.which_limits import choose_rows
from rationlp.rations.formulate import formulate

BASE = {
    "farm": [{"setting": "name", "value": "caps"}],
    "supplements": [
        {"offer": feed, "feed": feed, "price": price}
        for feed, price in (
            ("corn", 200), ("flaxseed", 90), ("soybean_meal_48_dehulled_solvent", 390), ("limestone_fine", 90),
            ("salt", 200), ("monocalcium_phosphate", 800), ("l_lysine_hcl", 1700), ("dl_methionine", 3300),
            ("l_threonine", 1900), ("l_tryptophan", 9000), ("camelina_seed", 60), ("premix_swine", 2500),
            ("layer_vitamin_mineral_premix", 2300), ("premix_poultry_growing", 2400),
        )
    ],
    "groups": [{"group": "g", "stage": "sw_gro_50_75", "head": 10}],
}  # fmt: skip


def safety_cap(library, feed, stage="sw_gro_50_75"):
    (row,) = [r for r in choose_rows(library.feed_limits[feed], library.stages[stage]) if r.safety == "yes"]
    return row.max_pct


def limits(feed, max_pct, reason, stage="sw_gro_50_75"):
    return BASE | {"own_limits": [{"stage": stage, "feed": feed, "max_pct": max_pct, "reason": reason}]}


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
    book = make_book(limits("camelina_seed", cap + 4, "trial with our vet, 2024"))
    (ration,) = formulate(book, library)
    (warning,) = [w for w in ration.warnings if "amelina" in w]
    assert "SAFETY" in warning or "LEGAL" in warning
    assert "trial with our vet, 2024" in warning and f"{cap:g} %" in warning
    held = next(line for line in ration.limits if line.feed == "camelina_seed")
    assert held.max_pct == pytest.approx(cap + 4) and held.reason == "trial with our vet, 2024"


def test_tightening_needs_no_reason_and_is_only_a_note(make_book, library):
    cap = safety_cap(library, "camelina_seed")
    (ration,) = formulate(make_book(limits("camelina_seed", cap / 2, "")), library)
    assert not any("amelina" in w for w in ration.warnings)
    assert any("amelina" in n and "stands instead" in n for n in ration.notes)


def test_a_cap_that_is_not_for_safety_may_be_lifted_without_a_reason(make_book, library):
    rows = [r for r in library.feed_limits["corn"] if r.scope in library.stages["hen_peak"].scopes and r.max_pct]
    assert rows and all(r.safety == "no" and r.evidence != "legal_max" for r in rows)
    book = make_book(
        limits("corn", 95, "", stage="hen_peak") | {"groups": [{"group": "g", "stage": "hen_peak", "head": 9}]}
    )
    (ration,) = formulate(book, library)
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
        formulate(book, library)
    found = [(p.sheet, p.cell, p.found) for p in caught.value.problems]
    assert any(sheet == "own_stages" and "calcium" in words for sheet, _, words in found)
    assert any("salt" in words and "sw_gro_50_75" in words for _, _, words in found)
    assert any("camelina_seed" in words and "hen_peak" in words for _, _, words in found)


@pytest.mark.parametrize(("per", "maximum"), [("kg", 2.0), ("mcal", 0.7)])
def test_a_maximum_above_a_safe_ceiling_needs_its_source(per, maximum, make_book, library):
    """Pullets bear 1.0 % calcium; per Mcal the same at the energy of the table (2850 kcal/kg)."""
    rows = lambda source: BASE | {  # noqa: E731
        "groups": [{"group": "g", "stage": "layer_grower_6_12_brown", "head": 9}],
        "own_stages": [{"stage": "layer_grower_6_12_brown", "nutrient": "calcium", "maximum": maximum, "unit": "%",
                        "per": per, "source": source}],
    }  # fmt: skip
    with pytest.raises(BookError, match="safe ceiling of 1") as caught:
        formulate(make_book(rows(""), "without"), library)
    (problem,) = caught.value.problems
    assert problem.sheet == "own_stages" and problem.cell.endswith("2") and "source" in problem.expected
    (ration,) = formulate(make_book(rows("veterinary trial"), "with"), library)
    (warning,) = [w for w in ration.warnings if "SAFETY" in w]
    assert "Calcium" in warning and "veterinary trial" in warning and "1 %" in warning


def test_a_maximum_below_the_safe_ceiling_needs_none(make_book, library):
    book = make_book(BASE | {
        "groups": [{"group": "g", "stage": "layer_grower_6_12_brown", "head": 9}],
        "own_stages": [{"stage": "layer_grower_6_12_brown", "nutrient": "calcium", "maximum": 0.95, "unit": "%",
                        "per": "kg"}],
    })  # fmt: skip
    (ration,) = formulate(book, library)
    assert not any("SAFETY" in w for w in ration.warnings)


def test_every_cap_that_binds_says_why_and_on_whose_word(demo_book, library):
    seen = 0
    for ration in formulate(demo_book, library):
        for line in ration.limits:
            if line.binding:
                assert line.reason and line.source and line.how
                seen += 1
        for line in ration.requirements:
            if line.binding == "maximum":
                assert line.source
    assert seen > 10


def test_even_the_short_answer_says_that_a_safety_cap_was_lifted(write_book, library):
    cap = safety_cap(library, "camelina_seed")
    path = write_book(limits("camelina_seed", cap + 4, "trial with our vet, 2024"))
    done = CliRunner().invoke(app, ["ration", str(path), "--brief"])
    assert "trial with our vet, 2024" in " ".join(done.stdout.split())
