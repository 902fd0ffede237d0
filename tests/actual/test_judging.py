"""What judges a batch: tolerances of the regulator, what its stock is told as, which ration it is held against."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import pytest

from rationlp.actual.known import Known
from rationlp.actual.report import judged_for_all
from rationlp.actual.stock import stock_words, stocks
from rationlp.actual.tolerance import beyond_tolerance
from rationlp.errors import InputError
from rationlp.farm import Farm
from rationlp.feeds.stock import Count, Stock
from rationlp.ledger.made_mix import printed_mix
from rationlp.ledger.shape import mix_of, printed_entry
from rationlp.ledger.weighed import SheetName, weighed_mix
from rationlp.rations.formulate import solve_rations
from rationlp.reasons import Kind, Reason, Severity, Verdict

# Canada, Feeds Regulations 2024, Schedule 1 (ca_feeds2024): what the formula has, and how far the mix may be
# below and above it, worked out by hand (None: it may be as far off as it likes).
SCHEDULE_1 = [
    ("crude_protein", 24.0, 1.0, None),  # at most 24 %: one point, under only
    ("crude_protein", 24.1, 1.5, None),  # above: one and a half
    ("calcium", 1.0, 0.2, 0.2),  # at most 1 %: 0.2 points
    ("calcium", 4.0, 0.8, 0.8),  # above: a fifth
    ("sodium", 0.15, 0.2, 0.2),
    ("phosphorus", 0.6, 0.12, 0.12),  # a fifth, whatever there is
    ("zinc", 100.0, 20.0, 20.0),
    ("ether_extract", 3.0, 1.5, 1.5),  # one and a half points
    ("ether_extract", 9.0, 1.5, 1.5),
    ("crude_fibre", 5.0, 1.0, 1.0),
    ("crude_fibre", 10.0, 1.5, 1.5),  # above 5 %: 15 percent
    ("vitamin_a", 8000.0, 1600.0, None),
]


def feed(values, lines=()):
    """A ration as far as tolerances look at it."""
    return SimpleNamespace(requirements=lines, analysis=values)


@pytest.mark.parametrize(("nutrient", "meant", "under", "over"), SCHEDULE_1)
def test_how_far_a_nutrient_may_be_off(nutrient, meant, under, over, library):
    def told(off):
        return list(beyond_tolerance(feed({nutrient: meant}), feed({nutrient: meant + off}), library))

    assert not told(0.0) and not told(-under)
    (reason,) = told(-1.01 * under)
    assert (reason.kind, reason.severity, reason.nutrient) == (Kind.LAW, Severity.ASK, nutrient)
    assert reason.value == pytest.approx(meant - 1.01 * under) and reason.limit == meant
    assert reason.unit == library.units[nutrient] and reason.source == "ca_feeds2024, Schedule 1"
    if over is None:
        assert not told(under * 3)
    else:
        assert not told(over) and told(1.01 * over)


def test_what_the_premix_adds_counts_and_what_is_in_neither_feed_does_not(library):
    line = SimpleNamespace(nutrient="zinc", gives=100.0)
    as_bought = SimpleNamespace(nutrient="zinc", gives=70.0)
    (reason,) = beyond_tolerance(feed({"zinc": 30.0}, [line]), feed({"zinc": 30.0}, [as_bought]), library)
    assert (reason.value, reason.limit) == (70.0, 100.0)
    assert not list(beyond_tolerance(feed({"zinc": 0.0}), feed({"zinc": 50.0}), library))
    assert not list(beyond_tolerance(feed({"zinc": 50.0}), feed({}), library))


# What is left -----------------------------------------------------------------------------------

NORTH = Stock("north", "North bin", True, 10_000.0, 7_000.0, 7_000.0, mixed_kg=3_000.0)
DAY = date(2025, 11, 20)


def counted(kg, expected):
    return replace(NORTH, counts=(Count(DAY, 1.0, 1.0), Count(DAY, kg, expected)))


@pytest.mark.parametrize(
    ("stock", "words"),
    [
        (NORTH, ""),
        (replace(NORTH, left_kg=0.0), ""),
        (replace(NORTH, left_kg=-1.0), "more was taken out than the book says there was: measure it again"),
        (replace(counted(5_000.0, 7_000.0), left_kg=-1.0), "more was taken out than the book says there was"),
        (replace(NORTH, start_kg=None, left_kg=None), "the book does not say how much there was"),
        (replace(NORTH, start_kg=None, left_kg=None, mixed_kg=0.0), ""),
        (replace(NORTH, start_kg=None, left_kg=None, is_bin=False), ""),
        (counted(7_035.0, 7_000.0), "as the record has it"),  # 0.5 percent: no difference
        (counted(7_000.0, None), "the record had no figure to compare"),
        (counted(5_600.0, 7_000.0), "1,400 kg (20 %) less than the record's 7,000 kg; look for batches that were not"),
        (counted(7_700.0, 7_000.0), "700 kg (10 %) more than the record's 7,000 kg; look for batches entered that"),
        (counted(700.0, 0.0), "700 kg more than the record's 0 kg"),
    ],
)
def test_what_is_told_of_a_stock(stock, words, demo_book):
    told = stock_words(stock, demo_book.farm)
    assert words in told and bool(words) == bool(told)
    assert "counted" not in told or "1 kg" not in told.split(";")[0]  # of the newest count


def test_what_came_and_went_is_told_of_bins_and_of_what_has_an_end_or_was_used(demo_book, library):
    farm = Farm(demo_book, library)
    made = weighed_mix(SheetName("sw_boar", ("north",)), "", DAY, {"north": 400.0, "soy48_bulk": 100.0}, demo_book)
    before, after = ({stock.name: stock for stock in stocks(mixes, farm)} for mixes in ([], [made]))
    ends = {offer.offer for offer in demo_book.supplements if offer.stock_kg is not None}
    assert before.keys() == {"north", "south", "corn_bought"} | ends  # of the corn a lot was delivered
    assert after.keys() == before.keys() | {"soy48_bulk"}
    assert after["north"].mixed_kg == 400.0 and after["north"].left_kg == before["north"].left_kg - 400.0
    assert after["soy48_bulk"].mixed_kg == 100.0


# What a batch is held against -------------------------------------------------------------------


def batch_of(case):
    ration = case.recipe.ration
    return weighed_mix(SheetName(ration.stage, ration.bins), ration.stage_label, DAY, case.target, case.farm.book)


@pytest.mark.slow
def test_a_batch_of_no_printed_sheet_is_held_against_the_weights_of_today(cases):
    case = next(case for case in cases if case.recipe.verdict.severity is not Severity.STOP)
    made = batch_of(case)
    asked = Known(case.farm, lambda id: None).target_kg(made, case.recipe)
    whole = sum(case.target.values())
    assert asked.keys() == case.target.keys()
    for name, mass in case.target.items():
        assert asked[name] / sum(asked.values()) == pytest.approx(mass / whole, rel=0.02), name


def test_a_batch_of_a_printed_sheet_is_held_against_what_was_printed(cases):
    """500 kg, the usual batch of the demo, of 300 kg of grain and 100 kg of meal."""
    case = cases[0]
    name = SheetName("sw_boar", ("north",), "ABCD-EFGH")
    printed = weighed_mix(name, "", DAY, {"north": 300.0, "soy48_bulk": 100.0}, case.farm.book)
    asked = Known(case.farm, {printed.id: printed}.get).target_kg(printed, case.recipe)
    assert asked == pytest.approx({"north": 375.0, "soy48_bulk": 125.0})


def test_where_no_sheet_is_made_the_shares_are_what_was_asked(cases):
    """A ration that must not be fed has no weights: 500 kg of its shares."""
    case, stop = cases[0], Reason(Kind.LAW, Severity.STOP, "not to be fed")
    bad = replace(case.recipe, ration=replace(case.recipe.ration, verdict=Verdict((stop,))))
    asked = Known(case.farm, lambda id: None).target_kg(batch_of(case), bad)
    batch = case.farm.settings.batch_kg
    assert asked == {name: share * batch for name, share in case.recipe.shares.items() if share > 1e-7}


def test_an_id_that_was_never_printed_is_looked_for_among_the_rations_of_today(demo_book, library):
    group = next(group for group in demo_book.groups if group.stage == "sw_gro_25_50")
    farm = Farm(replace(demo_book, groups=(group,), herd=(), arrivals=(), own_stages=()), library)
    assert Known(farm, lambda id: None).ids(["boar north", "sw_boar #3"]) == {}
    found = Known(farm, lambda id: None).ids(["abcd-efgh #3"])
    assert set(found.values()) == {
        ("sw_gro_25_50", ("north",)),
        ("sw_gro_25_50", ("south",)),
        ("sw_gro_25_50", ("north", "south")),
    }


def test_what_did_not_go_in_is_no_stranger(cases):
    """A premix of other animals forbids a batch of pigs; a row for it with 0 kg does not."""
    case = cases[0]
    right, none, some = (
        case.judged(case.target | more) for more in ({}, {"premix_layers": 0.0}, {"premix_layers": 2.0})
    )
    assert none.verdict == right.verdict and "bin north | sample n1 |" in right.label_line
    assert some.verdict.severity is Severity.STOP
    assert any("for other animals" in reason.text for reason in some.verdict.reasons)


def test_an_offer_that_the_book_has_lost_is_judged_as_its_sheet_named_it(cases):
    """Sold out and taken off the list: 46 kg of meal had no figures, and of what was left vitamin D was too much."""
    case = next(each for each in cases if "soy48_bulk" in each.target)
    printed = replace(batch_of(case), id="ABCD-EFGH")
    offers = tuple(offer for offer in case.farm.book.supplements if offer.offer != "soy48_bulk")
    farm = Farm(replace(case.farm.book, supplements=offers), case.farm.library)
    known = Known(farm, {printed.id: printed}.get)
    (meal,) = (offer for offer in known.then(printed).book.supplements if offer.offer == "soy48_bulk")
    assert meal.feed == "soybean_meal_48_dehulled_solvent" and known.then(printed) is known.then(printed)
    assert known.then(replace(printed, id="ZZZZ-ZZZZ")) is known.on(DAY)


def test_a_bin_that_the_book_has_lost_is_asked_for_by_its_batch(cases):
    """It said: bin: found 'north'; expected a bin of the book. Did you mean n_old?"""
    made = replace(batch_of(cases[0]), bins=("gone",), id="ABCD-EFGH", number=3)
    with pytest.raises(InputError) as caught:
        Known(cases[0].farm, lambda id: None).ration(made)
    (problem,) = caught.value.problems
    assert (problem.sheet, problem.found) == ("bins", "no bin gone, from which ABCD-EFGH #3 was made")
    assert caught.value.exit_code == 1


def test_a_batch_is_asked_about_what_its_sheet_is_asked_about_for_its_weights(demo_book, library):
    """One truth: a sheet whose whole weights miss the book's confidence, weighed to the gram, is no better than it."""
    farm = Farm(demo_book, library)
    (recipe,) = solve_rations(farm, ["broiler_0_3"], ["north"])
    assert recipe.verdict.severity is Severity.FEED
    of_all = Reason(Kind.REQUIREMENT, Severity.ASK, "Not every requirement is met as surely as the book asks for.")
    of_one = Reason(Kind.PREMIX, Severity.ASK, "Biotin is 0.0484 of 0.0487 mg/kg.", nutrient="biotin", value=0.0484)
    stock = Reason(Kind.STOCK, Severity.ASK, "There is not enough of it.", feed="corn")
    sheet = replace(recipe.ration, verdict=recipe.verdict.plus([of_all, of_one, stock]))
    printed = printed_mix(sheet, demo_book, id="7KQ4-M2XD", book_version="1", made_on=date(2025, 11, 20))
    assert printed.asked == (of_all, of_one)
    assert mix_of(printed_entry(printed)) == printed

    kg = {name: 500 * share for name, share in printed.shares.items()}
    name = SheetName("broiler_0_3", ("north",), id=printed.id)
    made = weighed_mix(name, "Broilers", date(2025, 11, 20), kg, demo_book)
    found = judged_for_all(made, Known(farm, {printed.id: printed}.get))
    assert found.verdict.weighing(Severity.ASK) == (of_all, of_one) and not found.faults
    plain = judged_for_all(made, Known(farm, {printed.id: replace(printed, asked=())}.get))
    assert plain.verdict.severity is Severity.FEED
