"""A farm's assays move the figures that follow from them, by the published equations."""

from __future__ import annotations

import pytest

from rationlp.library import Library
from rationlp.library.equations import EquationError
from rationlp.library.reestimate import (
    FigureChange,
    amino_acid_sensitivities,
    energy_sensitivities,
    estimate_for,
    reestimate,
)


def changes(feed: str, own: dict[str, float], library: Library) -> dict[str, FigureChange]:
    return {change.nutrient: change for change in reestimate(feed, own, library)}


def value(library: Library, feed: str, nutrient: str) -> float:
    return library.figures[feed][nutrient].value


def test_the_table_s_own_figures_change_nothing(library: Library) -> None:
    for feed, rows in library.figures.items():
        own = {n: row.value for n, row in rows.items() if library.nutrients[n].kind in ("proximate", "mineral")}
        assert reestimate(feed, own, library) == (), feed


def test_triticale_of_more_protein_by_hand(library: Library) -> None:
    """Protein 14 % instead of the table's: lysine by sajas_2000, AMEn by Table B-1 (34.49 CP, 35.61 NFE lost)."""
    old, new = value(library, "triticale", "crude_protein"), 14.0
    moved = changes("triticale", {"crude_protein": new}, library)
    air_dry = [0.88 * protein for protein in (old, new)]
    share = [(5.538 - 0.156 * protein) * protein for protein in air_dry]
    assert moved["lysine"].new == pytest.approx(value(library, "triticale", "lysine") * share[1] / share[0])
    assert moved["threonine"].new == pytest.approx(value(library, "triticale", "threonine") * new / old)
    amen = value(library, "triticale", "amen_poultry") + (34.49 - 35.61) * (new - old)
    assert moved["amen_poultry"].new == pytest.approx(amen)
    assert moved["amen_poultry"].equation == "amen_triticale()"
    starch = value(library, "triticale", "starch") * (100 - new) / (100 - old)
    assert moved["starch"].new == pytest.approx(starch)
    gross = value(library, "triticale", "gross_energy") + 14.73 * (new - old)
    digestible = value(library, "triticale", "de_pig") + 0.76 * 14.73 * (new - old)
    assert moved["gross_energy"].new == pytest.approx(gross)
    assert moved["de_pig"].new == pytest.approx(digestible)
    assert moved["me_pig"].new == pytest.approx(
        value(library, "triticale", "me_pig") + (0.76 * 14.73 - 6.8) * (new - old)
    )
    net = value(library, "triticale", "ne_pig") + (0.7 * 0.76 * 14.73 - 9.1) * (new - old)
    assert moved["ne_pig"].new == pytest.approx(net + 4.8 * (starch - value(library, "triticale", "starch")))
    assert all(change.because == ("crude_protein",) for change in moved.values())


def test_what_the_farm_assayed_itself_stays(library: Library) -> None:
    own = {"crude_protein": 14.0, "lysine": 0.40, "de_pig": 3700.0}
    moved = changes("triticale", own, library)
    assert "lysine" not in moved and "de_pig" not in moved
    by_hand = value(library, "triticale", "me_pig") + (3700 - value(library, "triticale", "de_pig"))
    by_hand -= 6.8 * (14.0 - value(library, "triticale", "crude_protein"))
    assert moved["me_pig"].new == pytest.approx(by_hand)
    assert set(moved["me_pig"].because) == {"crude_protein", "de_pig"}


def test_more_fibre_means_less_energy_and_less_starch(library: Library) -> None:
    fibre = value(library, "barley_hulled", "crude_fibre")
    moved = changes("barley_hulled", {"crude_fibre": 1.2 * fibre}, library)
    assert moved["ndf"].new == pytest.approx(1.2 * moved["ndf"].old)
    for nutrient in ("starch", "de_pig", "me_pig", "ne_pig", "amen_poultry"):
        assert moved[nutrient].new < moved[nutrient].old


def test_more_oil_means_more_energy_and_more_of_its_fatty_acids(library: Library) -> None:
    oil = value(library, "camelina_seed", "ether_extract")
    moved = changes("camelina_seed", {"ether_extract": oil + 2}, library)
    assert moved["alpha_linolenic_acid"].new == pytest.approx(moved["alpha_linolenic_acid"].old * (oil + 2) / oil)
    assert moved["de_pig"].new - moved["de_pig"].old == pytest.approx(0.917 * 0.76 * 52.39 * 2)
    assert moved["ne_pig"].new > moved["ne_pig"].old


def test_phytate_keeps_its_share_of_phosphorus(library: Library) -> None:
    moved = changes("peas_field", {"phosphorus": 0.55}, library)
    assert moved["phytate_phosphorus"].new + moved["nonphytate_phosphorus"].new == pytest.approx(0.55, abs=0.002)
    assert set(moved) == {"phytate_phosphorus", "nonphytate_phosphorus"}


def test_beyond_its_range_an_equation_says_so(library: Library) -> None:
    moved = changes("wheat_soft", {"crude_protein": 22.0}, library)
    assert any("AA wheat: crude_protein" in line for line in moved["lysine"].outside)
    assert any("B-1: crude_protein" in line for line in moved["amen_poultry"].outside)
    assert changes("wheat_soft", {"crude_protein": 13.0}, library)["lysine"].outside == ()


def test_figures_that_cannot_be_are_refused(library: Library) -> None:
    with pytest.raises(EquationError, match="add up to"):
        reestimate("wheat_soft", {"crude_protein": 60.0, "ash": 45.0}, library)
    with pytest.raises(EquationError):
        reestimate("corn", {"de_pig": 40.0}, library)


def test_a_feed_the_library_does_not_know_has_no_table_to_start_from(library: Library) -> None:
    assert reestimate("dragon_fruit", {"crude_protein": 9.0}, library) == ()
    assert reestimate("corn", {"betaine": 9.0}, library) == ()


def test_every_feed_of_organic_matter_has_an_equation_for_every_energy(library: Library) -> None:
    groups = ("cereal", "pulse", "oilseed", "protein_meal", "grain_byproduct", "forage_meal", "animal_protein")
    for feed in (f for f in library.feeds.values() if f.group in groups):
        for nutrient in ("gross_energy", "de_pig", "me_pig", "ne_pig", "amen_poultry", "amino_acids"):
            assert estimate_for(feed.feed, nutrient, library), (feed.feed, nutrient)


def test_equations_stand_near_the_table_they_move(library: Library) -> None:
    """An equation must know the feed it moves: nine in ten within a tenth of the table's figure."""
    from rationlp.library.expressions import evaluate

    gaps = []
    values = {feed: {n: row.value for n, row in rows.items()} for feed, rows in library.figures.items()}
    for feed in (f for f in library.feeds.values() if f.group in ("cereal", "pulse", "oilseed", "protein_meal")):
        for energy in ("gross_energy", "de_pig", "me_pig", "ne_pig", "amen_poultry"):
            row = estimate_for(feed.feed, energy, library)
            gaps.append(
                (
                    abs(_quiet(evaluate, row.equation, feed.feed, values) / values[feed.feed][energy] - 1),
                    feed.feed,
                    energy,
                )
            )
    gaps.sort()
    assert gaps[int(0.9 * len(gaps))][0] < 0.1
    assert gaps[-1][0] < 0.4, gaps[-3:]


def _quiet(function, *arguments):
    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return function(*arguments)


def test_sensitivities_are_the_slopes_of_the_same_equations(library: Library) -> None:
    slopes = energy_sensitivities("faba_coloured", library)
    assert slopes["gross_energy"]["crude_protein"] == pytest.approx(14.73)
    assert slopes["ne_pig"]["starch"] == pytest.approx(4.8)
    assert slopes["me_pig"]["crude_protein"] == pytest.approx(0.76 * 14.73 - 6.8)
    protein = value(library, "faba_coloured", "crude_protein")
    assert amino_acid_sensitivities("faba_coloured", library)["lysine"] == pytest.approx(
        value(library, "faba_coloured", "lysine") / protein, rel=1e-6
    )
    assert energy_sensitivities("limestone_fine", library)["ne_pig"]["ash"] == 0
