"""Feedable by construction: what the trade does not feed, laws, crystals, dust, bins of which nothing may be fed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.actual.judge import WEIGHED
from rationlp.book.records import Offer, OwnFigure, OwnLimit, OwnRequirement, Place
from rationlp.farm import Farm
from rationlp.rations.answer.verdict import eased
from rationlp.rations.formulate import formulate, solve_rations
from rationlp.rations.program.least import least_share
from rationlp.rations.program.only_here import CRYSTAL, bare
from rationlp.rations.solve import settle
from rationlp.rations.solve.optimum import optimum
from rationlp.rations.solve.settle import eased_formula
from rationlp.rations.studies.missing_offer import missing_offer
from rationlp.reasons import Kind, Reason, Severity
from rationlp.stages.needs import stage_needs

PIG = [
    ("ne_pig", 2300, "kcal/kg"),
    ("sid_lysine_pig", 0.9, "%"),
    ("calcium", 0.6, "%"),
    ("sodium", 0.1, "%"),
    ("sttd_phosphorus_pig", 0.28, "%"),
    ("sid_methionine_cystine_pig", 0.5, "%"),
]


def priced(book, **prices):
    """The book with other prices per tonne."""
    offers = tuple(replace(o, price_per_tonne=prices.get(o.offer, o.price_per_tonne)) for o in book.supplements)
    return replace(book, supplements=offers)


def with_stage(book, rows, stage="own_pig"):
    own = tuple(OwnRequirement(Place(), stage, n, low, None, unit, "kg", "own") for n, low, unit in rows)
    return replace(book, own_stages=own)


def share(ration, *feeds):
    return sum(line.share for line in ration.mix if line.feed in feeds)


# What the trade does not feed


@pytest.mark.slow
def test_cheap_meal_takes_no_ration_away(demo_book, library):
    """At 120 a tonne soybean meal is the cheapest feed: the mix keeps 24 % of protein (common practice)."""
    for ration in formulate(Farm(priced(demo_book, soy48_bulk=120.0), library), bins=["north"]):
        assert ration.status == "optimal", ration.stage
        line = next((r for r in ration.requirements if r.nutrient == "crude_protein" and r.kind == "usual"), None)
        assert line is None or line.gives <= line.maximum * (1 + 1e-6)
        assert not [r for r in ration.verdict.of(Kind.USUAL) if r.severity is not Severity.FEED]


def test_a_bound_of_the_trade_gives_way_by_just_what_is_needed_and_says_so(demo_book, library):
    """A need of 25 % protein against the 24 % of the trade: everything is met, and a nutritionist is asked."""
    rows = (OwnRequirement(Place(), "sw_gro_25_50", "crude_protein", 25.0, None, "%", "kg", "own"),)
    book = replace(demo_book, own_stages=rows)
    (one,) = solve_rations(Farm(book, library), ["sw_gro_25_50"], ["north"])
    assert one.ration.status == "optimal" and not one.ration.shortfalls
    (reason,) = [r for r in one.ration.verdict.of(Kind.USUAL) if r.nutrient == "crude_protein"]
    assert reason.severity is Severity.ASK and reason.limit == 24.0
    assert reason.value == pytest.approx(25.0, abs=1e-4)
    assert reason.source == "common practice"


def test_bounds_of_the_trade_are_reported_like_caps(demo_book, library):
    (ration,) = formulate(Farm(demo_book, library), ["hen_peak"], ["north"])
    lime = next(line for line in ration.limits if line.feed == "limestone" and line.evidence == "usual")
    assert lime.max_pct == 12 and lime.source == "common practice"
    assert any(line.kind == "usual" and line.nutrient == "crude_protein" for line in ration.requirements)


@pytest.mark.slow
def test_nothing_is_eased_where_needs_cannot_be_met_anyway(demo_book, library):
    rows = (OwnRequirement(Place(), "sw_gro_25_50", "sid_lysine_pig", 30.0, None, "%", "kg", "own"),)
    (one,) = solve_rations(Farm(replace(demo_book, own_stages=rows), library), ["sw_gro_25_50"], ["north"])
    assert one.ration.status == "nearest" and one.ration.conflict and one.ration.mix
    assert eased_formula(one.formula, 50.0) is None


# Safe and legal maxima


def test_an_own_stage_is_held_to_the_maxima_of_its_species(demo_book, library):
    """Limestone at 1 a tonne: no more calcium than pigs bear, 0.9 % (memory: NRC Mineral Tolerance of Animals 2005)."""
    book = priced(with_stage(demo_book, PIG), limestone=1.0)
    (ration,) = formulate(Farm(book, library), ["own_pig"], ["north"])
    assert ration.status == "optimal" and all("vitamins" in r.text for r in ration.verdict.of(Kind.STAGE))
    assert share(ration, "limestone_fine") <= 0.018 + 1e-9
    calcium = next(line for line in ration.requirements if line.nutrient == "calcium")
    assert calcium.maximum == 0.9 and calcium.gives <= 0.9
    nutrients = {line.nutrient for line in ration.requirements if line.maximum is not None and line.kind != "usual"}
    assert {"selenium", "copper", "zinc", "iodine", "sodium"} <= nutrients


@pytest.mark.parametrize(
    ("energy", "calcium", "maximum"), [("ne_pig", 0.6, 0.9), ("amen_poultry", 0.9, 1.0), ("amen_poultry", 3.6, 4.5)]
)
def test_the_strictest_class_that_leaves_room_counts(energy, calcium, maximum, demo_book, library):
    rows = [(energy, 2300, "kcal/kg"), ("calcium", calcium, "%")]
    needs = stage_needs("mine", with_stage(demo_book, rows, "mine"), library).needs
    assert min(n.maximum for n in needs if n.nutrient == "calcium" and n.safety) == maximum


def test_an_own_stage_that_lacks_rows_is_for_a_nutritionist(demo_book, library):
    found = stage_needs("mine", with_stage(demo_book, PIG[:2], "mine"), library)
    (reason,) = found.reasons
    assert (reason.kind, reason.severity) == (Kind.STAGE, Severity.ASK)
    assert "calcium, phosphorus and sodium" in reason.text


@pytest.mark.slow
def test_a_legal_maximum_is_a_row(demo_book, library):
    """Vitamin D in the EU: 2,000 IU/kg for pigs (EU_2017_1492); the US premix alone brings 2,205."""
    book = replace(demo_book, farm=replace(demo_book.farm, jurisdiction="eu"))
    (lawful,) = formulate(Farm(book, library), ["sw_gest_p2_late"], ["north"])
    assert lawful.verdict.severity is not Severity.STOP  # another premix on offer keeps the law
    offers = tuple(offer for offer in book.supplements if offer.offer != "premix_sows")
    (ration,) = formulate(Farm(replace(book, supplements=offers), library), ["sw_gest_p2_late"], ["north"])
    assert ration.verdict.severity is Severity.STOP and ration.mix
    assert any("Vitamin D" in reason.text and reason.kind is Kind.LAW for reason in ration.verdict.reasons)
    assert any("Vitamin D at most 2,000" in words for words in ration.conflict)


def test_a_premix_that_passes_a_printed_figure_by_less_than_its_rounding_is_no_stop(demo_book, library):
    """2,205 IU/kg of vitamin D of an ordinary swine premix; the safe figure is printed as 2,200."""
    (ration,) = formulate(Farm(demo_book, library), ["sw_gro_25_50"], ["north"])
    line = next(line for line in ration.requirements if line.nutrient == "vitamin_d" and line.kind == "ceiling")
    assert line.gives == pytest.approx(2204.6, abs=0.1) and line.meets
    assert ration.verdict.severity is not Severity.STOP


def test_a_feed_without_a_figure_counts_nothing_in_a_maximum(demo_book, library):
    """A grain of the farm's own without a figure of selenium is not thrown out for the maximum of selenium."""
    values = library.figures["corn"]
    own = tuple(
        OwnFigure(Place(), "home_corn", n, row.value, library.units[n], "dry_matter")
        for n, row in values.items()
        if n not in ("selenium", "copper", "iodine")
    )
    own += (OwnFigure(Place(), "home_corn", "dry_matter", 88.0, "%", "as_fed"),)
    offer = Offer(Place(), "home", "home_corn", price_per_tonne=1.0)
    book = replace(demo_book, own_feeds=own, supplements=(*demo_book.supplements, offer))
    (one,) = solve_rations(Farm(book, library), ["sw_gro_25_50"], ["north"])
    assert "home" in one.formula.program.columns


# Crystals


@pytest.mark.parametrize("stage", ["hen_brown_110", "hen_white_100", "sw_gest_p2_late", "turkey_8_12"])
def test_a_crystal_is_in_a_mix_only_so_far_as_a_need_holds_it(stage, demo_book, library):
    """Methionine at 40 a tonne would be the cheapest energy there is."""
    for one in solve_rations(Farm(priced(demo_book, methionine=40.0), library), [stage], ["north"]):
        assert one.ration.status == "optimal"
        held = share(one.ration, "dl_methionine")
        assert held <= 0.003
        acids = [r for r in one.ration.requirements if "methionine" in r.nutrient and r.minimum]
        least = one.formula.least_share * (1 + 1e-6)
        room = 0.01 * one.stage.reference_energy / one.ration.energy_kcal_kg  # a hundredth of the table's need
        assert held <= least or any(r.gives <= r.minimum * (1 + room + 1e-6) for r in acids)


@pytest.fixture
def lean_book(make_book):
    """Barley and peas, soybean meal and crystals: the energy of a grower is 0.6 % out of reach but for crystals."""
    offers = {
        "sbm": ("soybean_meal_48_dehulled_solvent", 430),
        "lime": ("limestone_fine", 150),
        "mono": ("monocalcium_phosphate", 900),
        "salt": ("salt", 220),
        "lys": ("l_lysine_hcl", 1900),
        "met": ("dl_methionine", 3300),
        "thr": ("l_threonine", 2100),
        "trp": ("l_tryptophan", 8000),
        "val": ("l_valine", 5000),
        "premix": ("premix_swine", 3000),
    }
    return make_book(
        {
            "farm": [{"setting": "jurisdiction", "value": "us"}],
            "bins": [{"bin": "lean", "mass": "40 t", "sale_price": 180, "moisture_pct": 14}],
            "samples": [{"sample": "one", "bin": "lean", "taken_on": "2026-09-02", "sorted_mass_g": 500}],
            "sorted": [
                {"sample": "one", "crop": crop, "mass_g": grams}
                for crop, grams in (("barley_hulled", 350), ("peas_field", 150))
            ],
            "supplements": [{"offer": o, "feed": feed, "price": price} for o, (feed, price) in offers.items()],
            "groups": [{"group": "g", "stage": "sw_gro_25_50", "head": 20}],
        }
    )


@pytest.mark.slow
def test_crystals_that_only_bring_energy_are_asked_about(lean_book, library):
    """0.3 % of methionine and 0.35 % of valine beyond any need were fed without a word."""
    (made,) = formulate(Farm(lean_book, library))
    (asked,) = [reason for reason in made.verdict.weighing(Severity.ASK) if "more than any need" in reason.text]
    assert made.status == "optimal" and asked.feed == "val" and "DL-methionine" in asked.text
    corn = replace(lean_book, supplements=(*lean_book.supplements, Offer(Place(), "corn", "corn", price_per_tonne=210)))
    (mended,) = formulate(Farm(corn, library))  # what the sentence says to do
    assert mended.verdict.severity is Severity.FEED and share(mended, "l_valine") < 0.001


def test_crystals_are_settled_at_the_least_cost_of_all_alternatives(demo_book, library):
    """Branch and bound against trying every alternative of every crystal by hand."""
    (one,) = solve_rations(Farm(priced(demo_book, methionine=40.0), library), ["hen_white_100"], ["north"])
    plain = optimum(bare(one.formula), 50.0)[1]
    assert any(row.key.startswith(CRYSTAL) for row in one.formula.program.rows)
    assert plain.objective <= one.answer.solution.objective
    heavy = dict(zip(one.formula.program.columns, plain.amounts, strict=True))["methionine"] / sum(plain.amounts)
    assert heavy > share(one.ration, "dl_methionine")


# What can be weighed


@pytest.mark.slow
def test_ten_more_quotations_of_each_crystal_leave_the_ration_as_it_is(demo_book, library, monkeypatch):
    """Each was decided by itself, until none were left to decide: a farm that had asked twelve dealers fed dearer."""
    more = [
        replace(offer, offer=f"{offer.offer}_{k}", price_per_tonne=offer.price_per_tonne * (1 + 0.01 * k))
        for offer in demo_book.supplements
        for k in range(1, 11)
        if library.feeds[offer.feed].group == "amino_acid"
    ]
    tried = []
    monkeypatch.setattr(settle, "run_settled", lambda live, run=settle.run_settled: tried.append(live) or run(live))
    asked = replace(demo_book, supplements=(*demo_book.supplements, *more))
    found = [formulate(Farm(book, library), ["sw_gro_25_50"], ["north"])[0] for book in (demo_book, asked)]
    assert [line.offer for line in found[1].mix if line.share] == [line.offer for line in found[0].mix if line.share]
    assert found[1].cost_per_tonne == pytest.approx(found[0].cost_per_tonne, rel=1e-9)
    assert len(tried) <= 12


@pytest.mark.slow
def test_nothing_is_in_a_mix_that_the_scales_cannot_weigh(demo_book, library):
    """Twenty steps of the 10 g hand scale (memory: NIST Handbook 44) in 500 kg are 0.04 %."""
    assert least_share(demo_book.farm) == pytest.approx(0.0004)
    for ration in formulate(Farm(demo_book, library)):
        assert min(line.share for line in ration.mix if line.share) >= 0.0004 * (1 - 1e-6), ration.stage


def test_the_book_says_what_is_worth_weighing(make_book, demo_book, library):
    book = make_book(
        {
            "farm": [{"setting": "name", "value": "x"}, {"setting": "hand_least", "value": "2 kg"}],
            "supplements": [{"offer": "corn", "feed": "corn", "price": 1}],
        }
    )
    assert book.farm.hand_least_kg == 2.0
    farm = replace(demo_book.farm, hand_least_kg=2.0)
    (ration,) = formulate(Farm(replace(demo_book, farm=farm), library), ["sw_gro_25_50"], ["north"])
    assert ration.status == "optimal"
    assert min(line.share for line in ration.mix if line.share) >= 0.004 * (1 - 1e-6)


# Bins


def test_a_bin_of_which_nothing_may_be_fed_says_so_and_why(demo_book, library):
    """Raw soybeans are none for growing pigs (soy_raw_chick): a bin with 12 % of them is left out."""
    rows = tuple(replace(r, crop="soybeans_raw") if r.crop == "chickpea_desi" else r for r in demo_book.sorted)
    (one,) = solve_rations(Farm(replace(demo_book, sorted=rows), library), ["sw_gro_25_50"], ["north"])
    (reason,) = one.formula.left_out
    assert reason.feed == "north" and reason.limit == 0 and 10 < reason.value < 15
    assert "north" not in one.formula.program.columns
    assert "NO home-grown grain in it" in one.ration.verdict.headline
    assert any(
        "is left out" in r.text and r.feed == "north" and "the cap on it is 0" in r.text
        for r in one.ration.verdict.reasons
    )


def test_the_share_of_a_bin_that_each_cap_allows(demo_book, library):
    book = replace(demo_book, own_limits=(OwnLimit(Place(), "all", "triticale", max_share=0.25, reason="trial here"),))
    (one,) = solve_rations(Farm(book, library), ["sw_gro_25_50"], ["north"])
    room = next(room for room in one.formula.rooms if room.feed == "triticale")
    assert room.allows == pytest.approx(0.25 / room.holds)
    assert share(one.ration, "bin:north") <= room.allows + 1e-9


def test_a_mix_without_home_grain_says_what_would_bring_it_in(demo_book, library):
    bins = tuple(replace(row, sale_price_per_tonne=400.0) for row in demo_book.bins)
    (ration,) = formulate(Farm(replace(demo_book, bins=bins), library), ["sw_gro_25_50"], ["north"])
    (said,) = [r for r in ration.verdict.of(Kind.USUAL) if r.text.startswith("No home-grown grain")]
    assert said.severity is Severity.FEED
    price = float(said.text.split("comes in below about ")[1].split()[0])
    # other crystals may be the cheaper choice around it, so that the grain comes in a little sooner
    for times, grows in ((0.9999, True), (1.02, False)):
        priced = tuple(replace(row, sale_price_per_tonne=price * times) for row in demo_book.bins)
        (moved,) = formulate(Farm(replace(demo_book, bins=priced), library), ["sw_gro_25_50"], ["north"])
        assert (moved.home_grown_share > 0) is grows


# What nobody offers


@pytest.mark.slow
def test_the_missing_offer_is_named_with_both_costs(demo_book, library):
    offers = tuple(o for o in demo_book.supplements if o.offer != "corn_bought")
    book = replace(demo_book, supplements=offers)
    (one,) = solve_rations(Farm(book, library), ["sw_nur_11_25"], ["north"])
    found = missing_offer(one.formula, one.answer, Farm(book, library))
    assert found is not None and found.cost_with < found.cost
    offer = Offer(Place(), "new", found.feed, price_per_tonne=found.price)
    (with_it,) = formulate(Farm(replace(book, supplements=(*offers, offer)), library), ["sw_nur_11_25"], ["north"])
    times = one.ration.energy_kcal_kg / 1000  # Gcal in a tonne
    assert with_it.cost_per_gcal * times == pytest.approx(found.cost_with, rel=1e-6)
    assert missing_offer(one.formula, one.answer, Farm(book, library)) == found


def meal_alone(book):
    """No grain and no premix: an own stage of pigs is made of meals, far beyond what the trade feeds."""
    kept = {"soy48_bulk", "canola_meal", "limestone", "salt", "monocal", "lysine"}
    offers = tuple(offer for offer in book.supplements if offer.offer in kept)
    bins = tuple(replace(row, hold="mould") for row in book.bins)
    return with_stage(replace(book, supplements=offers, bins=bins), [("ne_pig", 1900, "kcal/kg"), *PIG[1:5]])


def test_no_crystal_fills_what_the_trade_does_not_feed(demo_book, library):
    """The bounds of the trade gave way with 1.5 % of lysine as a filler, which could not be taken out again."""
    (one,) = solve_rations(Farm(meal_alone(demo_book), library), ["own_pig"], ["north"])
    assert one.ration.status == "nearest" or one.ration.verdict.of(Kind.USUAL)
    line = next(row for row in one.ration.requirements if row.nutrient == "sid_lysine_pig")
    assert line.gives > 2 * line.minimum
    assert share(one.ration, "l_lysine_hcl") <= least_share(demo_book.farm) * (1 + 1e-6)


def test_far_beyond_what_the_trade_feeds_is_a_stop(demo_book, library):
    """Pigs on 40 % protein (the trade: 24) were a question only, with mix sheets."""
    (one,) = solve_rations(Farm(meal_alone(demo_book), library), ["own_pig"], ["north"])
    protein = next(reason for reason in one.verdict.of(Kind.USUAL) if reason.nutrient == "crude_protein")
    assert protein.value > 36 and protein.severity is Severity.STOP


@pytest.mark.parametrize(("protein", "severity"), [(24.1, Severity.FEED), (30.0, Severity.ASK), (37.0, Severity.STOP)])
def test_what_the_crew_weighed_far_beyond_the_trade_is_a_stop_too(protein, severity):
    """A ration was a stop and the same mix, weighed, a question."""
    found = Reason(Kind.USUAL, Severity.STOP, "protein", value=protein, limit=24.0)
    assert eased(found, WEIGHED).severity is severity
