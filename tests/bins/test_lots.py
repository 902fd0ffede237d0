"""How lots of a crop differ: the library's own spread, kept, and nutrients that move together as published."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from rationlp.bins.evidence import library_grains
from rationlp.bins.lots import HIGHEST_PROTEIN_CORRELATION, foreign_matter, is_coefficient, known_crop, slopes
from rationlp.book.records import Book, OwnFigure, Place, Settings
from rationlp.library import load_library
from rationlp.library.equations.net_energy import net_energy_from_de
from rationlp.library.reestimate import energy_sensitivities

BOOK = Book(Path("none"), Settings())
CROPS = library_grains(load_library())


def covariance(crop, *nutrients):
    loadings = crop.loadings(nutrients)
    return loadings @ loadings.T


@pytest.mark.parametrize("name", CROPS)
def test_the_library_spread_of_every_figure_is_kept(name, library):
    crop = known_crop(name, BOOK, library)
    for nutrient, figure in library.figures[name].items():
        if figure.sd is not None:
            assert covariance(crop, nutrient)[0, 0] ** 0.5 == pytest.approx(figure.sd, rel=1e-9), nutrient


@pytest.mark.parametrize("name", CROPS)
def test_every_nutrient_of_every_crop_has_a_believable_spread(name, library):
    crop = known_crop(name, BOOK, library)
    everything = covariance(crop, *crop.values)
    assert np.linalg.eigvalsh(everything).min() > -1e-6 * np.trace(everything)
    for nutrient, variance in zip(crop.values, np.diag(everything), strict=True):
        if crop.values[nutrient] and not is_coefficient(nutrient, library):
            assert 0.001 < variance**0.5 / crop.values[nutrient] < 0.75, nutrient


@pytest.mark.parametrize("name", CROPS)
def test_what_is_made_of_parts_moves_exactly_with_them(name, library):
    crop = known_crop(name, BOOK, library)
    wide = covariance(
        crop,
        "methionine",
        "cystine",
        "methionine_cystine",
        "phosphorus",
        "phytate_phosphorus",
        "nonphytate_phosphorus",
        "de_pig",
        "crude_protein",
        "me_pig",
    )
    for exact in ([1, 1, -1, 0, 0, 0, 0, 0, 0], [0, 0, 0, 1, -1, -1, 0, 0, 0], [0, 0, 0, 0, 0, 0, 1, -6.8, -1]):
        assert np.array(exact) @ wide @ np.array(exact) == pytest.approx(0, abs=1e-9 * np.trace(wide))


def test_net_energy_moves_by_its_published_equation(library):
    crop = known_crop("barley_hulled", BOOK, library)
    base = {n: crop.values[n] for n in ("de_pig", "ether_extract", "starch", "crude_protein", "adf")}
    for cause in ("barley_hulled crude_protein", "barley_hulled crude_fibre", "barley_hulled de_pig"):
        moved = {n: value + crop.moves[n].get(cause, 0.0) for n, value in base.items()}
        change = net_energy_from_de(**moved) - net_energy_from_de(**base)
        assert crop.moves["ne_pig"].get(cause, 0.0) == pytest.approx(change, abs=1e-6)


def test_energy_slopes_are_those_of_table_b1(library):
    crop = known_crop("triticale", BOOK, library)
    found = slopes("amen_poultry", "triticale", crop.values, library)
    # 34.49 CP + 62.16 EE + 35.61 NFE, NFE = 100 - CP - EE - CF - ash (NRC 1994, Table B-1)
    assert found == pytest.approx(
        {"crude_protein": -1.12, "ether_extract": 26.55, "crude_fibre": -35.61, "ash": -35.61}
    )


def test_energies_without_their_proximates_have_no_slopes(library):
    assert slopes("amen_poultry", "triticale", {"crude_protein": 12.0}, library) is None


@pytest.mark.parametrize("name", CROPS)
def test_energies_move_as_the_library_re_estimates_them(name, library):
    """The same slopes as reestimate.py gives for a figure of the farm's own, proximate by proximate."""
    crop = known_crop(name, BOOK, library)
    wanted = energy_sensitivities(name, library)
    for energy in ("de_pig", "ne_pig", "amen_poultry"):
        cause = f"{name} ether_extract"
        fat = crop.moves["ether_extract"][cause]
        starch = crop.moves["starch"].get(cause, 0.0)  # what fat takes from starch
        expected = wanted[energy]["ether_extract"] * fat + wanted[energy].get("starch", 0.0) * starch
        assert crop.moves[energy].get(cause, 0.0) == pytest.approx(expected, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(
    ("name", "correlation"),
    # slope of the published line at the library's protein x sd of protein / sd of lysine, worked by hand:
    # corn 0.026 (ait_corn_lys), barley (6.003 - 2 x 0.167 CP) / 100 (sajas_2000), wheat 0.0216 (wheat_aa_levels).
    # Correlations measured over many lots: corn 0.32, barley 0.54, wheat 0.28 (kjps_49_2_79_T4).
    [("corn", 0.2805), ("barley_hulled", 0.5037), ("wheat_hard", 0.526)],
)
def test_lysine_follows_protein_by_the_published_lines(name, correlation, library):
    wide = covariance(known_crop(name, BOOK, library), "crude_protein", "lysine")
    assert wide[0, 1] / (wide[0, 0] * wide[1, 1]) ** 0.5 == pytest.approx(correlation, abs=0.002)


@pytest.mark.parametrize("name", CROPS)
def test_no_amino_acid_is_tied_closer_to_protein_than_published(name, library):
    crop = known_crop(name, BOOK, library)
    amino = [
        n for n, row in library.nutrients.items() if row.kind == "amino_acid" and n in crop.values and not row.sum_of
    ]
    wide = covariance(crop, "crude_protein", *amino)
    correlations = wide[0, 1:] / np.sqrt(wide[0, 0] * np.diag(wide)[1:])
    assert correlations.max() <= HIGHEST_PROTEIN_CORRELATION + 1e-9
    assert correlations.min() >= 0


def test_richer_protein_leaves_less_starch(library):
    wide = covariance(known_crop("wheat_hard", BOOK, library), "crude_protein", "ndf", "starch")
    assert wide[0, 2] < 0
    assert wide[1, 2] < 0


def test_the_farms_own_figure_and_spread_beat_the_library(library):
    own = OwnFigure(Place(), "peas_field", "crude_protein", 21.6, "%", "as_fed", sd=0.4)
    crop = known_crop("peas_field", Book(Path("none"), Settings(), own_feeds=(own,)), library)
    assert crop.values["crude_protein"] == pytest.approx(21.6 / 0.88)
    assert covariance(crop, "crude_protein")[0, 0] ** 0.5 == pytest.approx(0.4 / 0.88)
    assert "crude_protein" in crop.own


def test_foreign_matter_is_credited_with_nothing_but_may_hold_something(library):
    crops = {name: known_crop(name, BOOK, library) for name in ("wheat_hard", "peas_field")}
    found = foreign_matter({"wheat_hard": 300, "peas_field": 100}, crops)
    assert set(found.values.values()) == {0.0}
    grain = 0.75 * crops["wheat_hard"].values["crude_protein"] + 0.25 * crops["peas_field"].values["crude_protein"]
    assert covariance(found, "crude_protein")[0, 0] ** 0.5 == pytest.approx(grain / 2)
