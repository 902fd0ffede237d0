"""Vitamins of feeds: eight worked mixes, published basal contents and needs, and premixes by class.

`data/vitamin_mixes.json` holds mixes as fed (the rest is limestone and the premix), what their feeds bring in mg/kg, of
thiamin, B6 and folate in all, of biotin and niacin the part animals can use, reckoned by hand from the same sources,
and which of seven vitamins stay short with the library's premix.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from rationlp.book.records import Book
from rationlp.farm import Farm
from rationlp.library import Library
from rationlp.library.derive import with_derived
from rationlp.rations.answer.model import Ration
from rationlp.rations.formulate import formulate
from rationlp.reasons import Kind
from rationlp.units import as_fed

MIXES = json.loads((Path(__file__).parent / "data" / "vitamin_mixes.json").read_text(encoding="utf-8"))
SEVEN = ("thiamin", "niacin", "pantothenic_acid", "vitamin_b6", "biotin", "folate", "choline")
PREMIX_ALONE = ("vitamin_a", "vitamin_d", "vitamin_e", "vitamin_k", "vitamin_b12", "riboflavin")
FARM = [{"setting": "name", "value": "vitamins"}]
CORN_SOY = {"corn": 0.58, "soybean_meal_48_dehulled_solvent": 0.36}
MakeBook = Callable[..., Book]


def brings(feeds: Mapping[str, float], nutrient: str, library: Library) -> float:
    """What a kilogram of mix holds of a vitamin from its feeds, as fed; of a split vitamin the part `nutrient` says."""
    total = 0.0
    for feed, share in feeds.items():
        figures = {n: row.value for n, row in library.figures[feed].items()}
        whole = figures.get(f"{nutrient}_total", figures.get(nutrient, 0.0))
        part = figures.get(f"{nutrient}_availability", 100.0) / 100
        total += share * as_fed(whole, library.feeds[feed].dry_matter_pct) * part
    return total


def fixed(mix: Mapping[str, Any], make_book: MakeBook, library: Library) -> Ration:
    """The mix as a ration in which every share is fixed, the rest limestone."""
    premix, pct = mix["premix"]
    shares = {**mix["feeds"], premix: pct}
    shares["limestone_fine"] = 100 - sum(shares.values())
    offers = [
        {"offer": feed, "feed": feed, "price": 100, "min_pct": share, "max_pct": share}
        for feed, share in shares.items()
    ]
    (ration,) = formulate(Farm(make_book({"farm": FARM, "supplements": offers}), library), [mix["stage"]])
    return ration


@pytest.mark.parametrize("mix", MIXES, ids=lambda mix: mix["stage"])
def test_feeds_bring_what_was_reckoned_by_hand(mix: Mapping[str, Any], library: Library) -> None:
    feeds = {feed: pct / 100 for feed, pct in mix["feeds"].items()}
    for nutrient, total in mix["total"].items():
        assert brings(feeds, nutrient, library) == pytest.approx(total, rel=0.03), nutrient
    assert brings(feeds, "biotin", library) == pytest.approx(mix["available"]["biotin"], rel=0.08)
    assert brings(feeds, "niacin", library) <= 1.02 * mix["available"]["niacin"]  # the lower species counts


@pytest.mark.parametrize("mix", MIXES, ids=lambda mix: mix["stage"])
def test_short_means_short(mix: Mapping[str, Any], make_book: MakeBook, library: Library) -> None:
    lines = {line.nutrient: line for line in fixed(mix, make_book, library).requirements}
    assert {nutrient for nutrient in SEVEN if lines[nutrient].meets is False} == set(mix["short"])
    assert all(lines[nutrient].meets is not None for nutrient in SEVEN)


@pytest.mark.parametrize(
    ("nutrient", "low", "high", "source"),
    [
        ("niacin_total", 23, 26, "Ruiz and Harms 1988, Poultry Science 67:760, basal diet of poults"),
        ("biotin_total", 0.10, 0.12, "trade article on biotin of broilers: corn and soybean meal about 0.10"),
    ],
)
def test_corn_and_soybean_meal_hold_what_trials_found(
    nutrient: str, low: float, high: float, source: str, library: Library
) -> None:
    found = sum(
        share * as_fed(library.figures[feed][nutrient].value, library.feeds[feed].dry_matter_pct)
        for feed, share in CORN_SOY.items()
    )
    assert 0.8 * low <= found <= 1.2 * high, source  # lots of corn and meal


def test_available_choline_of_meals_is_that_of_the_chick_assay(library: Library) -> None:
    """Emmert and Baker 1997, J Nutr 127:745: 1708 to 2002 mg/kg in soybean meal, 1464 to 1545 in canola meal."""
    assert 1708 <= brings({"soybean_meal_48_dehulled_solvent": 1.0}, "choline", library) <= 2002
    assert 1464 <= brings({"canola_meal_solvent": 1.0}, "choline", library) <= 1545


OFFERS = [
    {"offer": feed, "feed": feed, "price": price}
    for feed, price in [
        ("barley_hulled", 180),
        ("wheat_hard", 200),
        ("peas_field", 240),
        ("wheat_bran", 190),
        ("corn", 210),
        ("limestone_fine", 90),
        ("soybean_meal_48_dehulled_solvent", 400),
        ("canola_oil", 950),
        ("monocalcium_phosphate", 800),
        ("salt", 200),
        ("l_lysine_hcl", 1700),
        ("dl_methionine", 3300),
        ("l_threonine", 1900),
        ("l_tryptophan", 9000),
        ("l_valine", 5000),
        ("premix_swine", 2600),
    ]
]


def sow(make_book: MakeBook, library: Library, *more: str) -> Ration:
    offers = [*OFFERS, *({"offer": feed, "feed": feed, "price": 2000} for feed in more)]
    book = make_book({"farm": FARM, "supplements": offers}, f"sows_{len(more)}")
    (ration,) = formulate(Farm(book, library), ["sw_gest_p2_early"])
    return ration


def test_no_grain_is_bought_for_a_vitamin_but_it_is_said_short(make_book: MakeBook, library: Library) -> None:
    ration = sow(make_book, library)
    assert ration.status == "optimal"
    short = {line.nutrient for line in ration.requirements if line.met_by == "premix" and line.meets is False}
    assert {"biotin", "choline"} <= short
    said = [reason.text for reason in ration.verdict.reasons if reason.kind is Kind.PREMIX]
    assert any(text.startswith("Biotin") and "ask for a premix that covers the need" in text for text in said)


def test_choline_chloride_and_a_sow_premix_are_taken_where_they_are_on_offer(
    make_book: MakeBook, library: Library
) -> None:
    without, with_both = sow(make_book, library), sow(make_book, library, "choline_chloride_60", "premix_swine_sow")
    shares = {line.offer: line.share for line in with_both.mix}
    assert 0 < shares["choline_chloride_60"] <= 0.002
    assert shares["premix_swine_sow"] > 0
    assert [line.nutrient for line in with_both.requirements if line.meets is False] == []
    assert with_both.cost_per_tonne is not None and without.cost_per_tonne is not None
    assert with_both.cost_per_tonne < without.cost_per_tonne + 8  # not a fifth dearer, as grain for biotin would be


def test_the_program_chooses_the_premix_and_its_dose_within_what_the_book_allows(
    make_book: MakeBook, library: Library
) -> None:
    """A premix at 0.2 % that is short of vitamin A by a quarter is given at up to its largest dose, and not above."""
    need = next(r for r in library.requirements["sw_gest_p2_early"] if r.nutrient == "vitamin_a" and r.minimum)
    lean = {"feed": "premix_swine_sow", "basis": "as_fed"}
    own = [
        {**lean, "nutrient": "vitamin_a", "unit": "IU/kg", "value": 0.75 * (need.minimum or 0) / 0.002},
        {**lean, "nutrient": "selenium", "unit": "mg/kg", "value": 60},  # the law on it leaves room for a larger dose
    ]
    offers = [row for row in OFFERS if row["feed"] != "premix_swine"]
    share = {}
    for most in ("", 0.24, 0.4):
        offer = {"offer": "premix", "feed": "premix_swine_sow", "price": 6000, "max_pct": most}
        book = make_book({"farm": FARM, "supplements": [*offers, offer], "own_feeds": own}, f"dose_{most}")
        (ration,) = formulate(Farm(book, library), ["sw_gest_p2_early"])
        share[most] = {line.offer: line.share for line in ration.mix}["premix"]
        short = [reason for reason in ration.verdict.reasons if reason.nutrient == "vitamin_a"]
        assert bool(short) is (most != 0.4)
    assert share[""] == pytest.approx(0.002) and share[0.24] == pytest.approx(0.002)
    assert 0.0021 < share[0.4] < 0.0028  # the leaner the mix, the less it takes


def test_the_premix_alone_counts_for_what_feeds_lose_in_store(make_book: MakeBook, library: Library) -> None:
    """Riboflavin and vitamin E stand in composition, but a ration is credited with those of the premix only."""
    ration = fixed(MIXES[0], make_book, library)
    lines = {line.nutrient: line for line in ration.requirements}
    premix, pct = MIXES[0]["premix"]
    for nutrient in PREMIX_ALONE:
        added = library.premix_figures[premix][nutrient].value * pct / 100
        assert lines[nutrient].gives == pytest.approx(added, rel=1e-6), nutrient
    assert library.figures["barley_hulled"]["riboflavin"].value > 0


def test_a_feed_of_ones_own_without_vitamins_stays_on_offer_and_it_is_said(
    make_book: MakeBook, library: Library
) -> None:
    stored = {nutrient: row.value for nutrient, row in library.figures["barley_hulled"].items()}
    own = [
        {"feed": "my_grain", "nutrient": n, "value": value, "unit": library.units[n], "basis": "dry_matter"}
        for n, value in with_derived(stored, library.nutrients).items()
        if library.nutrients[n].kind not in ("vitamin", "coefficient")
    ]
    own.append({"feed": "my_grain", "nutrient": "dry_matter", "value": 88, "unit": "%", "basis": "as_fed"})
    offers = [*OFFERS, {"offer": "mine", "feed": "my_grain", "price": 100}]
    (ration,) = formulate(
        Farm(make_book({"farm": FARM, "supplements": offers, "own_feeds": own}), library), ["sw_gro_25_50"]
    )
    assert any(line.offer == "mine" and line.share > 0.1 for line in ration.mix)
    assert any(note.startswith("my grain: no figure for") and "on the safe side" in note for note in ration.notes)


@pytest.mark.parametrize(
    ("premix", "stage"),
    [
        ("premix_swine_sow", "sw_gest_p2_early"),
        ("premix_swine_finisher", "sw_fin_75_100"),
        ("premix_layer", "hen_brown_110"),
        ("premix_broiler", "broiler_3_6"),
        ("premix_pullet", "layer_grower_6_12_brown"),
        ("premix_turkey", "turkey_4_8"),
    ],
)
def test_published_premixes_bring_what_was_printed(premix: str, stage: str, library: Library) -> None:
    feed = library.feeds[premix]
    assert feed.premix_inclusion_pct and set(library.stages[stage].premix.split()) & set(feed.premix_species)
    for nutrient, row in library.premix_figures[premix].items():
        printed = float(row.equation.removeprefix("premix_amount(").split(",")[0])
        assert row.value * feed.premix_inclusion_pct / 100 == pytest.approx(printed, rel=1e-4), nutrient
        assert row.source in library.sources
