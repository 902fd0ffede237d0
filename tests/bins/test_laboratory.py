"""What a laboratory's figure is worth: published formulas, and which of them is taken."""

from __future__ import annotations

import pytest

from rationlp.bins import estimate_bin
from rationlp.bins.sampling import horwitz_rsd_pct, lab_sd


def test_horwitz_of_the_published_formula(examples):
    example = examples["lab_horwitz"]
    found = [horwitz_rsd_pct(fraction) for fraction in example["inputs"]["mass_fraction"]]
    assert found == pytest.approx(example["expected"]["prsd_r_pct"], abs=example["tolerance"]["abs"])


def test_horwitz_refuses_what_is_no_mass_fraction():
    with pytest.raises(ValueError, match="mass fraction"):
        horwitz_rsd_pct(0)


@pytest.mark.parametrize(
    ("nutrient", "value", "unit", "method", "sd", "source"),
    [
        ("crude_protein", 16.0, "%", "combustion", 16 * 0.02633, "aoac_app_f"),
        ("crude_protein", 16.0, "%", "NIR whole grain", 0.6, "nirs_winter_grain"),
        ("ndf", 12.0, "%", "", 0.93, "ringtest_andf"),
        ("ndf", 12.0, "%", "filter bag", 2.542, "ringtest_andf"),
        ("zinc", 100.0, "mg/kg", "", 100 * 0.0796, "aoac_app_f"),
        ("deoxynivalenol", 2.0, "mg/kg", "ELISA", 2 * 0.134, "jaoac_2000_don_wheat"),
        ("t2_toxin", 0.1, "mg/kg", "", 0.03, "common practice"),
        (
            "ne_pig",
            2400.0,
            "kcal/kg",
            "",
            60.0,
            "memory:Regulation (EC) 767/2009 Annex IV Part A as replaced by (EU) 2017/2279",
        ),
        ("vitamin_e", 20.0, "IU/kg", "", 3.0, "memory:AAFCO Official Publication, Analytical Variations table"),
        ("deoxynivalenol", 0.0, "mg/kg", "", 0.0, "jaoac_2000_don_wheat"),
        ("zinc", 0.0, "mg/kg", "", 0.0, "aoac_app_f"),
    ],
)
def test_the_published_error_of_nutrient_and_method_is_taken(library, nutrient, value, unit, method, sd, source):
    found, says = lab_sd(nutrient, value, unit, method, library)
    assert found == pytest.approx(sd, rel=1e-3)
    assert says == source


def test_a_smaller_portion_misses_by_more(bin_book, library):
    """The variance of kernels in what is ground, (1 / M) sum w k (1 + c^2) (a - a_mix)^2 (fe_page, gy_wiki)."""
    protein = [("crude_protein", 16.0, "%", "as_fed", 0.05)]
    books = {
        grams: bin_book(assays={"n1": protein}, samples={"n1": {"lab_portion_g": grams}}, name=f"g{grams}")
        for grams in ("", 500, 50)
    }
    found = {grams: estimate_bin("north", book, library) for grams, book in books.items()}
    assert found[""].sd("crude_protein") == found[500].sd("crude_protein")
    assert found[50].sd("crude_protein") > 1.1 * found[500].sd("crude_protein")
    told = {grams: any("500 g are assumed" in f.text for f in estimate.notices) for grams, estimate in found.items()}
    assert told == {"": True, 500: False, 50: False}
