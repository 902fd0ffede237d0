"""Requirements recalled from tables against the models that the same handbooks give for them."""

from __future__ import annotations

import pytest

from rationlp.book.records import Book
from rationlp.library import Library
from rationlp.library.equations import animals
from rationlp.stages.needs import _lacks, stage_needs

EATEN = 0.95  # of the feed put out
# Stage: body weight kg and protein gain g a day of the mean pig; NRC Swine 2012, Table 16-1A (memory).
GROWING = {
    "sw_gro_25_50": (37.5, 128),
    "sw_gro_50_75": (62.5, 147),
    "sw_fin_75_100": (87.5, 141),
    "sw_fin_100_135": (117.5, 122),
}
STARTING = {"sw_nur_5_7": 6, "sw_nur_7_11": 9, "sw_nur_11_25": 18}


def row(library: Library, stage: str, nutrient: str, per: str = "kg") -> float:
    rows = [r for r in library.requirements[stage] if (r.nutrient, r.per) == (nutrient, per) and r.minimum]
    return rows[0].minimum


@pytest.mark.parametrize(("stage", "weight"), STARTING.items())
def test_weaned_pigs_eat_and_need_what_the_models_say(library: Library, stage: str, weight: float) -> None:
    intake = animals.me_intake_starting_pig(weight)
    feed = animals.feed_to_supply(intake, row(library, stage, "me_pig"))
    assert 1000 * feed == pytest.approx(library.stages[stage].daily_feed_g, rel=0.01)
    assert row(library, stage, "sid_lysine_pig") == pytest.approx(animals.lysine_need_starting_pig(weight), rel=0.03)
    assert row(library, stage, "sttd_phosphorus_pig") == pytest.approx(
        animals.phosphorus_need_starting_pig(weight), abs=0.006
    )


@pytest.mark.parametrize(("stage", "pig"), GROWING.items())
def test_growing_pigs_need_the_lysine_of_the_model(library: Library, stage: str, pig: tuple[float, float]) -> None:
    weight, gain = pig
    eaten = EATEN * library.stages[stage].daily_feed_g
    need = animals.lysine_need_growing_pig(weight, eaten, gain)
    assert row(library, stage, "sid_lysine_pig") * eaten / 100 == pytest.approx(need, rel=0.015)


@pytest.mark.parametrize(("stage", "weight"), [("sw_gro_25_50", 37.5), ("sw_gro_50_75", 62.5), ("sw_fin_75_100", 87.5)])
def test_growing_pigs_eat_between_barrow_and_gilt(library: Library, stage: str, weight: float) -> None:
    intake = (animals.me_intake_barrow(weight) + animals.me_intake_gilt(weight)) / 2
    feed = animals.feed_to_supply(intake, row(library, stage, "me_pig"))
    assert 1000 * feed == pytest.approx(library.stages[stage].daily_feed_g, rel=0.03)


def test_calcium_follows_digestible_phosphorus(library: Library) -> None:
    for stage in library.stages.values():
        if stage.species != "swine" or stage.stage in ("sw_boar", "sw_nur_5_7"):  # the youngest get less than 2.15
            continue
        kind = stage.kind if stage.kind in animals.CALCIUM_TO_STTD_PHOSPHORUS else "growing"
        need = animals.calcium_need(kind, row(library, stage.stage, "sttd_phosphorus_pig"))
        assert row(library, stage.stage, "calcium") == pytest.approx(need, rel=0.12), stage.stage


def test_a_hen_of_the_table_eats_what_its_energy_asks_for(library: Library) -> None:
    """White hens of 1.65 kg with 54 g of egg mass a day at 22 C eat about 100 g of 2900 kcal."""
    need = animals.me_need_of_hen(1.65, 22, 0, 54)
    feed = need / row(library, "hen_white_100", "amen_poultry") * 1000
    assert feed == pytest.approx(library.stages["hen_white_100"].daily_feed_g, rel=0.05)


def test_no_stage_asks_for_the_same_twice(demo_book: Book, library: Library) -> None:
    """Ceilings of what premixes add stand beside those of all there is, each once."""
    for stage in library.stages:
        needs = stage_needs(stage, demo_book, library).needs
        asked = [(n.kind, n.nutrient, n.minimum, n.maximum, n.basis, n.of_groups, n.usual) for n in needs]
        assert len(set(asked)) == len(asked), stage


@pytest.mark.parametrize(
    ("missing", "words"), [(["iron"], "iron:"), (["iron", "zinc"], "iron and zinc:"), (["a", "b", "c"], "a, b and c:")]
)
def test_what_a_stage_of_the_farm_lacks_is_named(
    demo_book: Book, library: Library, missing: list[str], words: str
) -> None:
    (reason,) = _lacks(stage_needs("sw_boar", demo_book, library), missing)
    assert f"has no row for {words}" in reason.text
    assert _lacks(stage_needs("sw_boar", demo_book, library), []) == []
