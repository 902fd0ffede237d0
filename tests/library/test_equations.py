"""Every published equation against the numbers printed beside it.

`data/equation_tests.csv` is the machine-readable list of test cases that came with the swine equations: its column
`source_id` names the source of each number, `origin` says whether the number was printed or calculated from the printed
coefficients. The poultry cases stand in POULTRY below; they come from the examples under the poultry equations (NRC
1994 Appendix B, Table B-1; Commission Regulation (EC) 152/2009; NRC 1994 Table 2-4), calculated from the printed
coefficients.
"""

from __future__ import annotations

import csv
import inspect
import json
import math
import re
import warnings
from pathlib import Path

import pytest

from rationlp.library import load_library
from rationlp.library.equations import EQUATIONS, MODULES, EquationError, OutsideRange, animals, minerals
from rationlp.library.equations import amino_acids as aa
from rationlp.library.equations import digestible_energy as de
from rationlp.library.equations import gross_energy as ge
from rationlp.library.equations import metabolizable_energy as me
from rationlp.library.equations import net_energy as ne
from rationlp.library.equations import poultry_energy as birds
from rationlp.library.equations import poultry_feeds as b1
from rationlp.library.equations.balance import nitrogen_free_extract

CASES = list(
    csv.DictReader((Path(__file__).parent / "data" / "equation_tests.csv").read_text(encoding="utf-8").splitlines())
)
KCAL_PER_MJ = 1000 / 4.184
# Energy equations of the list by the parts they take; "F1", "F2" and the gestation example are feed budgets.
ON_DRY_MATTER = {
    "GE1": (ge.gross_energy_ewan, "CP EE ash"),
    "GE2": (ge.gross_energy_inra, "CP EE CF ash"),
    "GE3": (ge.gross_energy_two_parts, "CP EE"),
    "GE4": (ge.gross_energy_three_parts, "CP EE ash"),
    "DE1": (de.digestible_energy_of_diet, "GE ash NDF"),
    "DE2": (de.digestible_energy_of_diet_without_ge, "ash CP EE NDF"),
    "DE3": (de.digestible_energy_of_ingredient_ash, "GE ash NDF"),
    "DE4": (de.digestible_energy_of_diet_2020, "GE ash NDF"),
    "DE5": (de.digestible_energy_of_ingredient, "GE NDF"),
    "DE6": (de.digestible_energy_fibre_ash, "CF ash"),
    "DE7": (de.digestible_energy_cereal_fibre, "CF"),
    "DE9": (de.digestible_energy_proximates, "CP EE NFE"),
    "DE11": (de.digestible_energy_ndf, "NDF"),
    "DE12": (de.digestible_energy_ge_ndf, "GE NDF"),
    "DE13": (de.digestible_energy_ge_ndf_no_lupin, "GE NDF"),
    "ME2": (me.metabolizable_energy_of_diet, "ash CP EE NDF"),
    "ME6": (me.metabolizable_energy_fibre_ash, "CF ash"),
    "ME7": (me.metabolizable_energy_proximates, "CP EE NFE"),
    "ME8": (me.metabolizable_energy_of_ingredient, "GE NDF"),
    "ME9": (me.metabolizable_energy_of_ingredient_ash, "GE ash NDF"),
}


def in_percent(inputs: dict, name: str) -> float:
    """A part of the list (g/kg, but NFE % and GE kcal/kg) in the units of the library."""
    if name == "GE":
        return inputs["GE"]
    return inputs["NFE_pct"] if name == "NFE" else inputs[f"{name}_g"] / 10


def as_fed_energy(equation: str, inputs: dict) -> float:
    """ME1, NE1 and NE2 of the table feeds, as fed like the printed column."""
    if equation == "ME1":
        return me.metabolizable_energy_from_de(inputs["DE_kcal_kg"], inputs["CP_pct"])
    per_dm = {key: value * 100 / inputs["DM_pct"] for key, value in inputs.items() if key not in ("feed", "DM_pct")}
    parts = {
        "ether_extract": per_dm["EE_pct"],
        "starch": per_dm["starch_pct"],
        "crude_protein": per_dm["CP_pct"],
        "adf": per_dm["ADF_pct"],
    }
    if equation == "NE1":
        return ne.net_energy_from_me(per_dm["ME_kcal_kg"], **parts) * inputs["DM_pct"] / 100
    return ne.net_energy_from_de(per_dm["DE_kcal_kg"], **parts) * inputs["DM_pct"] / 100


def feed_budget(equation: str, inputs: dict) -> float:
    """Feed of a phase (F1), of a sow's year (F2) and of a gilt's day (the worked gestation example)."""
    if equation == "F1":
        return (inputs["W2"] - inputs["W1"]) / inputs["gain_kg_d"] * inputs["feed_kg_d"]
    if equation == "F2":
        cycle = 114 + inputs["lact_days"] + inputs["empty_days"]
        feed = 90 * inputs["early"] + 24 * inputs["late"] + inputs["lact_days"] * inputs["lact"]
        return 365 / cycle * (feed + inputs["empty_days"] * inputs["early"])
    maintenance = inputs["metabolic_weight"] * inputs["maintenance_kcal_per_kg_mw"] / 1000
    gain = inputs["maternal_gain_kg"] * inputs["gain_Mcal_kg"] / inputs["days"]
    return (maintenance + inputs["conceptus_Mcal_d"] + gain) / inputs["diet_Mcal_kg"]


def answer(equation: str, inputs: dict) -> float:
    if equation in ("ME1", "NE1", "NE2"):
        return as_fed_energy(equation, inputs)
    if equation in ON_DRY_MATTER:
        function, parts = ON_DRY_MATTER[equation]
        return function(*(in_percent(inputs, name) for name in parts.split()))
    if equation == "ME5":
        return me.metabolizable_energy_protein_fibre(100, inputs["CP_g"] / 10, inputs["CF_g"] / 10)
    parts = {
        key: inputs.get(name)
        for key, name in (
            ("crude_protein", "CP_pct"),
            ("ether_extract", "EE_pct"),
            ("crude_fibre", "CF_pct"),
            ("starch", "starch_pct"),
        )
    }
    if equation == "NE4":
        return ne.net_energy_from_de_inra(inputs["DE_MJ"] * KCAL_PER_MJ, **parts) / KCAL_PER_MJ
    if equation == "NE5":
        return ne.net_energy_from_me_inra(inputs["ME_MJ"] * KCAL_PER_MJ, **parts) / KCAL_PER_MJ
    if equation in ("F1", "F2", "gestation_example"):
        return feed_budget(equation, inputs)
    if equation == "AA4":
        assert inputs["PdMax_g"] == animals.MEAN_PROTEIN_GAIN_MAX_G
        return animals.lysine_need_growing_pig(inputs["BW_kg"], inputs["FI_g"], inputs["Pd_g"])
    if equation == "I5":
        return animals.feed_to_supply(inputs["ME_intake"], inputs["diet_ME"])
    if equation == "I6":
        return animals.milk_energy(inputs["litter_gain_g_d"], inputs["pigs"])
    by_weight = {
        "I1": animals.me_intake_starting_pig,
        "I2": animals.me_intake_barrow,
        "I3": animals.me_intake_gilt,
        "P2": animals.phosphorus_need_starting_pig,
        "M1": animals.maintenance_growing_pig,
        "M6_pregnant": animals.maintenance_pregnant_sow,
        "M6_lactating": animals.maintenance_lactating_sow,
    }
    return by_weight[equation](inputs["BW_kg"])


@pytest.mark.parametrize("case", CASES, ids=[f"{case['equation_id']}-{n}" for n, case in enumerate(CASES)])
def test_swine_equations_return_the_listed_numbers(case: dict[str, str]) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)  # the list tries diet equations on corn: arithmetic only
        result = answer(case["equation_id"], json.loads(case["inputs_json"]))
    assert result == pytest.approx(float(case["expected"]), abs=float(case["tolerance"])), case["source_id"]


# Inputs made up, results calculated from the printed coefficients; source of the coefficients in the third place.
POULTRY = [
    (b1.amen_wheat(13.0, 2.0, 80.4), 3508.3, "NRC 1994 Table B-1"),
    (b1.amen_wheat(13.0, 2.0, 80.4) * 0.88, 3087.3, "NRC 1994 Table B-1, at 88 % dry matter"),
    (b1.amen_wheat_fibre(2.8), 3411.0, "NRC 1994 Table B-1"),
    (b1.amen_barley(5.5, 60), 3132.8, "NRC 1994 Table B-1"),
    (b1.amen_triticale(12.5, 1.7, 81.0), 3421.2, "NRC 1994 Table B-1"),
    (b1.amen_corn(9.2, 4.2, 82.7), 3773.4, "NRC 1994 Table B-1"),
    (b1.amen_oats(12.0, 5.0), 2838.1, "NRC 1994 Table B-1, coefficients from memory"),
    (birds.amen_compound_feed(17, 4, 42, 4), 11.5393 * KCAL_PER_MJ, "Regulation (EC) 152/2009 Annex VII"),
    (birds.amen_compound_feed(20, 5, 40, 3.5), 2856, "Regulation (EC) 152/2009 Annex VII"),
    (birds.amen_compound_feed(11.5, 2.0, 58, 2.5), 2982, "Regulation (EC) 152/2009 Annex VII"),
    (birds.amen_from_digested_parts(9.5, 1.2, 59.0), 2963.4, "WPSA 1989, from memory"),
    (birds.amen_from_digested_parts(9.5, 1.2, 59.0) * 4.184, 12397.6, "WPSA 1989, its kJ form, from memory"),
    (birds.amen_broiler_diet(4.0, 1.5, 2.3, 11), 3763.1, "AJAS 28:1335, 2015"),
    (animals.me_need_of_hen(1.9, 10, 0, 52), 356.1, "NRC 1994 Table 2-4, from memory"),
    (animals.me_need_of_free_range_hen(1.9, 45), 308.7, "JAS2016_FREERANGE"),
    (animals.phosphorus_need_growing_pig(10.3, 0.147, 2.2290 * 0.95, 62.5), 5.67, "NRC Swine 2012 ch. 8, from memory"),
    (aa.lysine_of_corn(8), 0.257, "ait_corn_lys"),
]


@pytest.mark.parametrize(("result", "expected", "source"), POULTRY, ids=[str(n) for n in range(len(POULTRY))])
def test_poultry_and_amino_acid_equations_return_the_listed_numbers(
    result: float, expected: float, source: str
) -> None:
    assert result == pytest.approx(expected, rel=4e-4), source


def test_digestible_lysine_of_corn() -> None:
    """AA2 is a definition: 0.25 % of lysine, 74 % of it digested (NRC Swine 2012, from memory)."""
    assert minerals.digestible_part(0.25, 74) == pytest.approx(0.185)


def test_hens_of_the_energy_table() -> None:
    """NRC 1994 Table 2-4 (22 C, 60 g eggs), recalled: body weight, share of hens in lay, kcal per hen and day."""
    for weight, lay, printed in [
        (1.0, 0, 130),
        (1.0, 90, 242),
        (1.5, 50, 239),
        (1.5, 80, 276),
        (2.0, 0, 218),
        (2.0, 70, 305),
        (2.5, 60, 333),
        (3.0, 0, 296),
        (3.0, 90, 408),
    ]:
        assert animals.me_need_of_hen(weight, 22, 0, 0.6 * lay) == pytest.approx(printed, abs=1.5)


def test_wheat_lines_return_the_three_levels_of_their_page() -> None:
    """wheat_aa_levels: % of grain at 9, 12 and 16 % protein (N x 5.83), which is 9.65, 12.86 and 17.15 as N x 6.25."""
    for amino_acid, printed in {
        "lysine": (0.31, 0.36, 0.47),
        "arginine": (0.47, 0.57, 0.75),
        "tyrosine": (0.24, 0.33, 0.48),
    }.items():
        for protein, figure in zip((9.65, 12.86, 17.15), printed, strict=True):
            assert aa.amino_acid_of_wheat(amino_acid, protein) == pytest.approx(figure, abs=0.016)


def test_share_lines_return_the_cautions_of_their_notes() -> None:
    """sajas_2000: wheat of 12 % protein has 0.48 % lysine, barley of 11 % 0.46, triticale of 14 % 0.47."""
    assert aa.amino_acid_by_share("wheat", "lysine", 12) == pytest.approx(0.48, abs=0.005)
    assert aa.amino_acid_by_share("barley", "lysine", 11) == pytest.approx(0.46, abs=0.005)
    assert aa.amino_acid_by_share("triticale", "lysine", 14) == pytest.approx(0.47, abs=0.005)


def test_lysine_of_grain_rises_less_than_protein_and_of_other_seed_in_step() -> None:
    for grain in ("wheat", "barley", "triticale", "corn"):
        ratio = aa.amino_acid_ratio(grain, "lysine", 12.0, 13.0)
        assert 1 < ratio < 13 / 12
        assert math.log(ratio) == pytest.approx(aa.amino_acid_slope(grain, "lysine", 12.5), rel=0.05)
    assert aa.amino_acid_ratio("peas", "lysine", 22.0, 24.0) == pytest.approx(24 / 22)


def test_lysine_of_young_pigs() -> None:
    """NRC Swine 2012 chapter 8 (from memory): 1.48, 1.39 and 1.24 % at 6, 9 and 18 kg."""
    for weight, share in ((6, 1.48), (9, 1.39), (18, 1.24)):
        assert animals.lysine_need_starting_pig(weight) == pytest.approx(share, abs=0.006)


def test_impossible_figures_are_refused() -> None:
    with pytest.raises(EquationError, match="less than nothing"):
        ge.gross_energy_ewan(-1, 2, 3)
    with pytest.raises(EquationError, match="more than all"):
        ge.gross_energy_ewan(101, 2, 3)
    with pytest.raises(EquationError, match="not a number"):
        de.digestible_energy_of_ingredient(float("nan"), 10)
    with pytest.raises(EquationError, match="no feed has that"):
        nitrogen_free_extract(60, 30, 10, 5)
    with pytest.raises(EquationError, match="no feed has that"):
        minerals.nonphytate_phosphorus(0.3, 0.4)


def test_outside_the_range_warns_and_says_where() -> None:
    with pytest.warns(OutsideRange, match="DE7: crude_fibre 28 is outside 1.5 to 15"):
        de.digestible_energy_cereal_fibre(28)
    with pytest.warns(OutsideRange, match="result"):
        de.digestible_energy_of_ingredient_ash(6700, 4, 18)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        de.digestible_energy_cereal_fibre(2.5)


def test_every_equation_has_unit_scope_source_and_a_docstring_that_says_so() -> None:
    library = load_library()
    functions = {name: getattr(module, name) for module in MODULES for name in EQUATIONS if hasattr(module, name)}
    assert set(functions) == set(EQUATIONS)
    for name, record in EQUATIONS.items():
        assert record.unit and record.scope and record.source and record.how, name
        text = functions[name].__doc__
        assert text and ("[" in text or "in one unit" in text), f"{name} says no unit in brackets"
        free = record.source == "definition" or record.source.startswith("rule ")
        assert free or record.source in library.sources, f"{name}: source {record.source} is not in sources.csv"


UNIT_FACTORS = {0.0, 1.0, 2.0, 10.0, 100.0, 1000.0, 4.184}  # shares and percent, g and kg, halves and squares, kcal
WORKED_OUT = {  # 1 + 0.0547 and 2 x 0.2299, which Python works out once
    "lysine_need_growing_pig": {1.0547},
    "phosphorus_need_growing_pig": {0.4598},
}


def test_every_coefficient_is_the_one_that_the_docstring_quotes_from_its_source() -> None:
    """Percent too: 0.9 is printed as 90 %, 0.050 MJ as 11.95 kcal."""
    for name in EQUATIONS:
        function = inspect.unwrap(next(vars(module)[name] for module in MODULES if name in vars(module)))
        quoted = {float(figure) for figure in re.findall(r"\d+(?:\.\d+)?", function.__doc__.replace(",", ""))}
        known = UNIT_FACTORS | WORKED_OUT.get(name, set()) | quoted | {figure / 100 for figure in quoted}
        numbers = [abs(constant) for constant in function.__code__.co_consts if isinstance(constant, int | float)]
        unknown = [n for n in numbers if not any(math.isclose(n, figure, rel_tol=1e-4) for figure in known)]
        assert not unknown, f"{name} counts with {unknown}"
