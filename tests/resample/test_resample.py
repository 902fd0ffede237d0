"""What a new sample changes, against definitions, another solver and simulation."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from kept_mixes import keep
from openpyxl import Workbook, load_workbook
from scipy.optimize import LinearConstraint, milp

from rationlp.bins import estimate_bin
from rationlp.book.records import Assay, Place, Sample
from rationlp.errors import InputError, SolverError
from rationlp.farm import Farm, as_of
from rationlp.feeds.candidates import bin_candidate, offer_candidates
from rationlp.ledger.kept import find
from rationlp.ledger.weighed import SheetName, weighed_mix
from rationlp.offers.live_ration import SAME_COST
from rationlp.pages.resample_page import WIDTHS, check_place, write_page
from rationlp.rations.answer.verdict import eased
from rationlp.rations.formulate import formulate
from rationlp.rations.program.formula import build
from rationlp.rations.solve.joint_chance import chance_of_all
from rationlp.reasons import Kind, Reason, Severity
from rationlp.resample import change as change_room
from rationlp.resample.change import IN_USE, resample
from rationlp.resample.moved import share_chance, two_samples
from rationlp.stages.needs import stage_needs

DAY = date(2025, 10, 6)
STAGES = ["sw_gro_25_50", "hen_brown_110", "sw_boar"]


def by_stage(found):
    return {change.stage: change for change in found.changes}


# What moved -----------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_bin_drawn_down_has_moved(drawn_down, library):
    move = resample(Farm(drawn_down, library), "n1", "n2", stages=["sw_boar"]).move
    assert move.more_than_chance
    lines = {line.name: line for line in move.lines}
    assert lines["camelina_seed"].more_than_chance
    assert lines["crude_protein"].more_than_chance
    assert lines["crude_protein"].change < 0
    assert lines["camelina_seed"].after == pytest.approx(15 / (300 + 113.8 + 25 + 40 + 15 + 7.6), abs=2e-3)


@pytest.mark.slow
def test_a_change_within_chance_is_called_so(same_again, library):
    move = resample(Farm(same_again, library), "n1", "n2", stages=["sw_boar"]).move
    assert not move.more_than_chance
    assert "within chance" in move.sentence
    assert not any(line.more_than_chance for line in move.lines)


@pytest.mark.slow
def test_a_toxin_found_in_the_new_sample_is_never_put_down_to_chance(same_again, library):
    """The heaps differ by chance, and of a mix above the limit of DON it was said that so is what it misses.

    1 mg/kg of the complete feed (FDA, swine: fda_uky_don).
    """
    toxic = Assay(Place(), "n2", "deoxynivalenol", 2.5, "mg/kg", "as_fed")
    book = replace(same_again, assays=(*same_again.assays, toxic))
    clean = resample(Farm(same_again, library), "n1", "n2", stages=["sw_boar"])
    found = resample(Farm(book, library), "n1", "n2", stages=["sw_boar"])
    assert clean.within_chance and not found.within_chance and not found.move.more_than_chance
    reasons = found.changes[0].old_now.ration.verdict.weighing(Severity.STOP)
    assert len([reason for reason in reasons if "Deoxynivalenol" in reason.text]) == 1  # not as a need missed as well


def test_the_chance_of_a_share_is_that_of_counting_kernels():
    """sum(share x figure) over samples of a multinomial, simulated."""
    shares, figures, count = np.array([0.6, 0.3, 0.1]), np.array([10.0, 25.0, 40.0]), 400
    draws = np.random.default_rng(3).multinomial(count, shares, 40_000) / count @ figures
    sds = np.sqrt(shares * (1 - shares) / count)
    names = ("a", "b", "c")
    told = share_chance(
        float(shares @ figures),
        {name: (float(s), float(sd)) for name, s, sd in zip(names, shares, sds, strict=True)},
        dict(zip(names, figures, strict=True)),
    )
    assert told == pytest.approx(draws.std(), rel=0.02)


@pytest.mark.slow
def test_the_old_sample_is_judged_without_the_new_one(drawn_down, at_home, library):
    then = resample(Farm(drawn_down, library), "n1", "n2", stages=["sw_boar"]).changes[0].old_then.ration
    (alone,) = formulate(Farm(at_home, library), ["sw_boar"], ["north"])
    assert then.cost_per_tonne == pytest.approx(alone.cost_per_tonne, rel=1e-9)
    old, _ = two_samples(drawn_down, "n1", "n2")
    assert [row.sample for row in as_of(drawn_down, old).samples] == ["n1", "s1", "n0"]


# The mixes ------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_the_new_mix_costs_what_the_ration_command_finds(drawn_down, library):
    found = by_stage(resample(Farm(drawn_down, library), "n1", "n2", stages=STAGES))
    for ration in formulate(Farm(drawn_down, library), STAGES, ["north"]):
        change = found[ration.stage]
        unit = "cost_per_gcal" if ration.objective == "per_energy" else "cost_per_tonne"
        ours, theirs = getattr(change.new.ration, unit), getattr(ration, unit)
        assert theirs * (1 - 1e-9) <= ours <= theirs * (1 + 2 * SAME_COST), ration.stage
        assert change.new.holds
        assert change.new.ration.status == "optimal"


def smallest_by_another_solver(change, book, library):
    """The least sum of changes of shares by scipy's integer program, rows written as inequalities on shares that add up
    to one; what is in the mix and no premix is heavy enough for the scales (a switch for each feed)."""
    candidates = [bin_candidate(estimate_bin("north", book, library), book), *offer_candidates(book, library)]
    formula = build(stage_needs(change.stage, book, library), ("north",), candidates, Farm(book, library))
    program, least = formula.program, formula.least_share
    old = np.array([next((s.old for s in change.shares if s.offer == name), 0.0) for name in program.columns])
    count = len(old)
    upper, equal = [], [np.concatenate([np.ones(count), np.zeros(count)])]
    for row in program.rows:
        line = np.concatenate([row.coefficients, np.zeros(count)])
        if row.sense == "=":
            equal.append(line)
        else:
            upper.append(line if row.sense == "<=" else -line)
    above = np.hstack([np.eye(count), -np.eye(count)])  # share - change <= old
    below = np.hstack([-np.eye(count), -np.eye(count)])
    upper = np.vstack([upper, above, below])
    right = np.concatenate([np.zeros(len(upper) - 2 * count), old, -old])
    free = np.array([bool(c.min_share or c.premix_covers) for c in formula.candidates])
    nothing, switch = np.zeros((count, count)), np.eye(count)
    held = LinearConstraint(np.hstack([upper, np.zeros((len(upper), count))]), -np.inf, right)
    one = [1.0] + [0.0] * (len(equal) - 1)
    whole = LinearConstraint(np.hstack([np.array(equal), np.zeros((len(equal), count))]), one, one)
    only_if_on = LinearConstraint(np.hstack([np.eye(count), nothing, -switch]), -np.inf, 0.0)
    heavy = LinearConstraint(np.hstack([np.eye(count), nothing, -switch * np.where(free, 0.0, least)]), 0.0, np.inf)
    costs = np.concatenate([np.zeros(count), np.ones(count), np.zeros(count)])
    answer = milp(
        costs,
        constraints=[held, whole, only_if_on, heavy],
        integrality=np.concatenate([np.zeros(2 * count), np.ones(count)]),
        options={"mip_rel_gap": 0.0},
    )
    assert answer.status == 0
    return answer.fun / 2


@pytest.mark.slow
def test_the_smallest_change_meets_everything_and_nothing_smaller_does(drawn_down, library):
    for change in resample(Farm(drawn_down, library), "n1", "n2", stages=STAGES).changes:
        assert not change.old_now.holds
        assert change.smallest.holds, (change.stage, change.smallest.missed)
        moved = sum(abs(line.smallest - line.old) for line in change.shares) / 2
        assert change.exchanged == pytest.approx(moved, rel=1e-6)
        assert change.exchanged == pytest.approx(
            smallest_by_another_solver(change, drawn_down, library), rel=1e-4, abs=2e-6
        )
        for line in change.shares:  # the hand scale weighs 0.2 kg into a batch of 500 (common practice)
            assert not 1e-6 < line.smallest < 0.2 / 500 * (1 - 1e-6), line.offer
        new = sum(abs(line.new - line.old) for line in change.shares) / 2
        assert change.exchanged <= new + 1e-7
        assert change.reprint
        assert sum(line.smallest for line in change.shares) == pytest.approx(1)


@pytest.mark.slow
def test_a_mix_that_still_holds_may_stay(same_again, at_home, library):
    """Made with a confidence of 85 %, judged by plain averages on a sample that differs by chance."""
    careful = replace(at_home, farm=replace(at_home.farm, confidence_pct=85.0))
    (ration,) = formulate(Farm(careful, library), ["sw_gest_p2_early"], ["north"])
    keep(ration, at_home, DAY, sheet="sows")
    (change,) = resample(Farm(same_again, library), "n1", "n2", find(same_again), ["sw_gest_p2_early"]).changes
    assert change.old_now.holds
    assert change.exchanged == pytest.approx(0, abs=1e-6)
    assert not change.reprint
    assert "may stay" in change.advice
    assert change.saves_per_tonne > 0
    assert change.old_now.chance_pct > change.new.chance_pct


@pytest.mark.slow
def test_before_is_what_was_kept_and_not_a_new_calculation(drawn_down, at_home, grower, library):
    """The sheet was printed with a tenth of soy; today's prices would have it otherwise."""
    lines = {line.offer: line for line in grower.mix if line.share}
    mix = tuple(
        replace(line, share=line.share + {"soy48_bulk": 0.04, "north": -0.04}.get(line.offer, 0.0))
        for line in lines.values()
    )
    keep(replace(grower, mix=mix), at_home, DAY, sheet="grower sheet")
    found = resample(Farm(drawn_down, library), "n1", "n2", find(drawn_down), ["sw_gro_25_50"])
    (change,) = found.changes
    old = {line.offer: line.old for line in change.shares}
    assert old["soy48_bulk"] == pytest.approx(lines["soy48_bulk"].share + 0.04)
    assert "mix sheet" in change.from_kept
    assert change.sheet == "grower sheet"


@pytest.mark.slow
def test_what_the_crew_weighed_later_beats_the_printed_sheet(drawn_down, at_home, grower, library):
    keep(grower, at_home, DAY, sheet="grower sheet")
    shares = {line.offer: line.share for line in grower.mix if line.share}
    kilos = {name: 500 * share for name, share in shares.items()} | {"soy48_bulk": 500 * shares["soy48_bulk"] + 10}
    batch = SheetName("sw_gro_25_50", ("north",), "7KQ4", 2)
    weighed = weighed_mix(batch, "Grower", date(2025, 10, 20), kilos, drawn_down)
    (change,) = resample(Farm(drawn_down, library), "n1", "n2", [*find(drawn_down), weighed], ["sw_gro_25_50"]).changes
    assert "weighed by the crew 7KQ4 #2" in change.from_kept
    assert next(line.old for line in change.shares if line.offer == "soy48_bulk") == pytest.approx(
        kilos["soy48_bulk"] / sum(kilos.values())
    )


@pytest.mark.slow
def test_a_mix_made_after_the_new_sample_is_not_the_old_mix(drawn_down, at_home, grower, library):
    keep(grower, drawn_down, date(2025, 11, 25), samples=("n2",))
    (change,) = resample(Farm(drawn_down, library), "n1", "n2", find(drawn_down), ["sw_gro_25_50"]).changes
    assert change.from_kept == ""


@pytest.mark.slow
def test_an_offer_that_is_no_more_is_judged_and_replaced(drawn_down, at_home, grower, library):
    keep(grower, at_home, DAY)
    gone = replace(drawn_down, supplements=tuple(o for o in drawn_down.supplements if o.offer != "soy48_bulk"))
    (change,) = resample(Farm(gone, library), "n1", "n2", find(gone), ["sw_gro_25_50"]).changes
    assert change.gone == ("soy48_bulk",)
    assert change.reprint
    assert "no longer on offer" in change.advice
    assert change.old_then.holds
    share = next(line for line in change.shares if line.offer == "soy48_bulk")
    assert share.old > 0.05
    assert (share.new, share.smallest) == (0.0, 0.0)


@pytest.mark.slow
def test_a_feed_that_nobody_knows_is_told(drawn_down, at_home, library):
    mix = weighed_mix(SheetName("sw_gro_25_50", ("north",)), "Grower", DAY, {"north": 90.0, "swill": 10.0}, at_home)
    found = resample(Farm(drawn_down, library), "n1", "n2", [mix], ["sw_gro_25_50"])
    assert found.changes == ()
    assert "swill" in found.not_judged[0].why
    assert not found.stopped and not found.failed


@pytest.mark.slow
def test_at_a_confidence_holding_means_with_that_chance(drawn_down, library):
    book = replace(drawn_down, farm=replace(drawn_down.farm, confidence_pct=75.0))
    found = by_stage(resample(Farm(book, library), "n1", "n2", stages=["sw_gro_25_50", "sw_boar"]))
    for change in found.values():
        for at in (change.new, change.smallest):
            assert at.holds, at.missed
            lines = [line for line in at.ration.requirements if line.met_by != "premix" and line.kind == "requirement"]
            assert min(line.probability for line in lines) >= 0.75 - 1e-3
        assert change.new.chance_pct > 10
        assert change.old_now.chance_pct < change.new.chance_pct


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["its ration", "its change"])
def test_a_calculation_that_fails_takes_no_other_stage_with_it(kind, drawn_down, library, monkeypatch):
    from rationlp.rations import formulate
    from rationlp.resample import change

    def failing(real, place):
        def fails(*asked):
            if asked[place].stage.stage == "sw_gro_25_50":
                raise SolverError("simulated")
            return real(*asked)

        return fails

    if kind == "its ration":
        monkeypatch.setattr(formulate, "answer_to", failing(formulate.answer_to, 0))
    else:
        monkeypatch.setattr(change, "live_ration", failing(change.live_ration, 0))
    found = resample(Farm(drawn_down, library), "n1", "n2", stages=["sw_gro_25_50", "sw_boar"])
    assert [change.stage for change in found.changes] == ["sw_boar"]
    (failed,) = found.not_judged
    assert failed.failed and "simulated" in failed.why and failed.now == "nothing is known of it now"
    assert found.failed


@pytest.mark.slow
def test_a_mix_that_no_scale_tells_from_the_ration_of_today_is_that_ration(drawn_down, library, monkeypatch):
    """A share that moved by a millionth made another mix of it, judged without the stock that `ration` tells."""

    def moved(case, shares):
        amounts = case.held.copy()
        first, second = amounts.argsort()[-2:]
        amounts[[first, second]] += np.array([1e-6, -1e-6]) * amounts.sum()
        return amounts

    monkeypatch.setattr(change_room, "steadiest", moved)
    bins = tuple(replace(row, mass_kg=1000.0) if row.bin == "north" else row for row in drawn_down.bins)
    farm = Farm(replace(drawn_down, bins=bins), library)
    (found,) = resample(farm, "n1", "n2", (), ["sw_gro_25_50"]).changes
    assert [reason.kind for reason in found.new.ration.verdict.reasons] == ["stock"]


@pytest.mark.slow
def test_a_bin_that_no_ration_can_be_made_from_any_more(drawn_down, library):
    """Every offer with lysine is gone: the growers cannot be met, and the program says so."""
    poor = replace(
        drawn_down,
        supplements=tuple(o for o in drawn_down.supplements if o.feed in ("limestone_fine", "salt", "premix_swine")),
    )
    found = resample(Farm(poor, library), "n1", "n2", stages=["sw_gro_25_50"])
    assert found.stopped
    assert [stage.can_be_met for stage in found.not_judged] == [False]


@pytest.mark.slow
def test_a_mix_in_use_that_cannot_be_made_any_more(drawn_down, at_home, grower, library):
    keep(grower, at_home, DAY)
    feeds = ("limestone_fine", "salt", "premix_swine")
    poor = replace(drawn_down, supplements=tuple(o for o in drawn_down.supplements if o.feed in feeds))
    found = resample(Farm(poor, library), "n1", "n2", find(poor), ["sw_gro_25_50"])
    (change,) = found.changes
    assert change.old_then.holds
    assert change.new.ration.status == "nearest"
    assert change.new.missed
    assert change.smallest is None
    assert found.stopped


# Chances --------------------------------------------------------------------------------------------------------


def test_the_chance_of_one_row_is_that_of_the_ration_line(small_case):
    formula, ration = small_case
    (line,) = [line for line in ration.requirements if line.minimum]
    shares = [next(m.share for m in ration.mix if m.offer == name) for name in formula.program.columns]
    assert chance_of_all(formula, shares) == pytest.approx(line.probability, abs=0.01)
    richer = [shares[0] + 0.05, shares[1] - 0.05]
    assert chance_of_all(formula, richer) > chance_of_all(formula, shares) + 0.2


@pytest.fixture
def small_case(make_book, library):
    book = make_book(
        {
            "farm": [{"setting": "name", "value": "chance"}, {"setting": "objective", "value": "per_tonne"}],
            "supplements": [
                {"offer": "rich", "feed": "rich_x", "price": 300},
                {"offer": "poor", "feed": "poor_x", "price": 100},
            ],
            "own_feeds": [
                {"feed": "rich_x", "nutrient": "thing", "value": 40, "unit": "%", "basis": "as_fed", "sd": 3},
                {"feed": "poor_x", "nutrient": "thing", "value": 10, "unit": "%", "basis": "as_fed", "sd": 1},
            ],
            "own_stages": [{"stage": "mine", "nutrient": "thing", "minimum": 20, "unit": "%", "per": "kg"}],
        }
    )
    formula = build(stage_needs("mine", book, library), "", offer_candidates(book, library), Farm(book, library))
    (ration,) = formulate(Farm(book, library))
    return formula, ration


# Mistakes and the workbook --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [("n1", "n9", "n9"), ("n1", "n1", "another sample"), ("n1", "s1", "bin"), ("x", "y", "x")],
)
def test_samples_that_cannot_be_compared(before, after, words, drawn_down, library):
    with pytest.raises(InputError, match=words):
        resample(Farm(drawn_down, library), before, after)


def test_a_sample_without_a_figure_is_refused(drawn_down, library):
    book = replace(drawn_down, samples=(*drawn_down.samples, Sample(Place(), "n3", "north", date(2025, 12, 1))))
    with pytest.raises(InputError, match="nothing is known"):
        resample(Farm(book, library), "n1", "n3")


def texts(sheet):
    return [str(cell.value) for row in sheet.iter_rows() for cell in row if cell.value is not None]


@pytest.mark.slow
def test_the_sheet_of_a_workbook(drawn_down, library, tmp_path):
    found = resample(Farm(drawn_down, library), "n1", "n2", stages=["sw_gro_25_50"])
    path = tmp_path / "changes.xlsx"
    other = Workbook()
    other.active.title = "notes"
    other.active["A1"] = "mine"
    other.save(path)
    for _ in range(2):
        write_page(found, drawn_down, path)
    book = load_workbook(path)
    assert book.sheetnames == ["notes", "resample n1 n2"]
    assert book["notes"]["A1"].value == "mine"
    sheet = book["resample n1 n2"]
    assert sheet.page_setup.paperSize == 9 and all(width <= 40 for width in WIDTHS.values())
    across = [cell for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)]
    assert all(cell.alignment.wrap_text for cell in across), (
        "a long line ran over the page, and was printed at 3.5 points"
    )
    words = texts(sheet)
    assert any(word.startswith("Mix sheets to print again: sw_gro_25_50 north") for word in words)
    assert "Camelina seed" in words
    (change,) = found.changes
    assert any(word.startswith(f"{change.stage_label} ({change.stage})") for word in words)
    numbers = [c.value for row in book["resample n1 n2"].iter_rows() for c in row if isinstance(c.value, float)]
    assert any(value == pytest.approx(change.old_now.ration.cost_per_tonne) for value in numbers)


@pytest.mark.slow
def test_words_of_the_book_never_become_formulas(drawn_down, library, tmp_path):
    evil = replace(drawn_down, farm=replace(drawn_down.farm, name="=1+1"))
    path = tmp_path / "changes.xlsx"
    write_page(resample(Farm(evil, library), "n1", "n2", stages=["sw_boar"]), evil, path)
    cells = [cell for row in load_workbook(path).active.iter_rows() for cell in row if cell.value is not None]
    assert not any(cell.data_type == "f" for cell in cells)


def test_only_a_workbook_is_written_to(tmp_path):
    with pytest.raises(InputError):
        check_place(tmp_path / "x.txt")
    (tmp_path / "bad.xlsx").write_text("no workbook")
    with pytest.raises(InputError, match="no workbook"):
        check_place(tmp_path / "bad.xlsx")
    check_place(tmp_path / "new.xlsx")


@pytest.mark.parametrize(
    ("kind", "value", "limit", "severity"),
    [
        (Kind.PREMIX, 99.98, 100.0, Severity.FEED),
        (Kind.PREMIX, 90.0, 100.0, Severity.ASK),
        (Kind.LAW, 0.30003, 0.3, Severity.FEED),
        (Kind.LAW, 0.32, 0.3, Severity.STOP),
        (Kind.USUAL, 2.1, 2.0, Severity.STOP),
    ],
)
def test_a_mix_in_use_was_weighed_and_is_judged_so(kind, value, limit, severity):
    """A batch with 4.4 lb of premix in 1,100.07 lb was a STOP: 'the premix is at 100 % of its dose'."""
    reason = Reason(kind, Severity.STOP, "", feed="premix", unit="%", value=value, limit=limit)
    assert eased(reason, IN_USE).severity is severity
