"""What moved from one sample to the next, and the smallest change of a mix: every figure calculated by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from rationlp.errors import RequestError
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.reasons import Kind, Reason, Severity, Verdict
from rationlp.resample import change, smallest
from rationlp.resample.change import WORTH_NAMING_PCT, Resample, _broken, _saves
from rationlp.resample.moved import Moved, _chance, _crops, _figure, newest_pair, share_chance
from rationlp.resample.smallest import _too_light, smallest_change


def moved(before: float, after: float, sd: float) -> Moved:
    return Moved("nutrient", "lysine", "Lysine", "%", before, after, sd)


@pytest.mark.parametrize(
    ("apart", "sd", "p_value", "more"),
    [(0.0, 1.0, 1.0, False), (1.96, 1.0, 0.05, False), (2.5, 1.0, 0.0124, False), (5.2, 2.0, 0.0093, True)],
)
def test_how_often_chance_parts_two_samples_so_far(apart, sd, p_value, more):
    """The two tails of the normal distribution, from its tables."""
    for line in (moved(3.0, 3.0 + apart, sd), moved(3.0, 3.0 - apart, sd)):
        assert line.p_value == pytest.approx(p_value, abs=5e-5) and line.more_than_chance is more
        assert abs(line.change) == pytest.approx(apart)


def test_what_has_no_chance_moved_or_did_not():
    assert (moved(3.0, 3.0, 0.0).p_value, moved(3.0, 3.1, 0.0).p_value, moved(3.1, 3.0, 0.0).p_value) == (1.0, 0.0, 0.0)


def book_of(**bins: str):
    """Samples by bin, the older first."""
    rows = [SimpleNamespace(sample=name, bin=bin_) for bin_, names in bins.items() for name in names.split()]
    return SimpleNamespace(samples=rows, samples_of=lambda bin_: [row for row in rows if row.bin == bin_])


def test_the_two_newest_samples_of_the_one_bin_that_has_several():
    assert newest_pair(book_of(north="n1 n2 n3", south="s1")) == ("n2", "n3")
    for book, found, do in (
        (
            book_of(north="n1 n2", south="s1 s2"),
            "more than one",
            "Write --before n1 --after n2 or --before s1 --after s2.",
        ),
        (book_of(north="n1", south="s1"), "no bin", "Enter the new sample first."),
    ):
        with pytest.raises(RequestError) as raised:
            newest_pair(book)
        (problem,) = raised.value.problems
        assert problem.found.startswith(found) and problem.do == do


def crop(name: str, share: float, sd: float):
    return SimpleNamespace(crop=name, label=name.title(), share=share, sd=sd)


def test_crops_of_two_sorts():
    """Chances of both sorts together (3 and 4 are 5); what is in one sort alone is nothing in the other."""
    old = SimpleNamespace(crops=(crop("corn", 0.6, 0.03), crop("oats", 0.4, 0.02)))
    new = SimpleNamespace(crops=(crop("corn", 0.5, 0.04), crop("rye", 0.5, 0.01)))
    found = {line.name: (line.label, line.before, line.after, line.sd) for line in _crops(old, new)}
    assert found == {
        "corn": ("Corn", 0.6, 0.5, pytest.approx(0.05)),
        "oats": ("Oats", 0.4, 0.0, pytest.approx(0.02)),
        "rye": ("Rye", 0.0, 0.5, pytest.approx(0.01)),
    }


def test_the_chance_of_what_follows_from_the_shares_alone():
    """Half of 10 and half of 20, each 5 off the mean: 2 x 25 x 0.05^2 / 0.5 = 0.25. One crop alone has no chance."""
    shares = {"a": (0.5, 0.05), "b": (0.5, 0.05)}
    assert share_chance(15.0, shares, {"a": 10.0, "b": 20.0}) == pytest.approx(0.5)
    assert share_chance(10.0, {"a": (1.0, 0.05)}, {"a": 10.0}) == 0.0
    figures = {
        "a": SimpleNamespace(values={"lysine": 10.0}, dry_matter_pct=80.0),
        "b": SimpleNamespace(values={"lysine": 22.0}, dry_matter_pct=88.0),
    }
    estimate = SimpleNamespace(crops=(crop("a", 0.5, 0.05), crop("b", 0.5, 0.05)), dry_matter_pct=80.0)
    assert _figure(figures["b"], "lysine", estimate) == pytest.approx(20), "at the bin's dry matter"
    assert _figure(figures["b"], "zinc", estimate) == 0.0
    stones = SimpleNamespace(values={"ash": 7.0}, dry_matter_pct=0.0)
    assert _figure(stones, "ash", estimate) == 7.0
    line = SimpleNamespace(nutrient="lysine", origin="library", value=15.0, sd=9.0)
    assert _chance(line, estimate, figures) == pytest.approx(0.5)
    assert _chance(SimpleNamespace(**vars(line) | {"origin": "assay"}), estimate, figures) == 9.0


FEEDS = Program(
    ("grain", "meal", "salt", "crystal"),
    (200.0, 400.0, 100.0, 2000.0),
    (ProgramRow("protein", (-6.0, 24.0, -16.0, 84.0), ">="), ProgramRow("salt", (-0.01, -0.01, 0.99, -0.01), "=")),
    (1.0,) * 4,
)
"""At least 16 % of protein from 10, 40, 0 and 100 %; 1 % of salt."""
WANTED = (0.80, 0.19, 0.01, 0.0)
"""Has 15.6 %."""


def formula_of(least_share: float, **first: object):
    plain = {"min_share": None, "premix_covers": ()}
    candidates = [SimpleNamespace(name=name, **plain) for name in FEEDS.columns]
    vars(candidates[3]).update(first)
    return SimpleNamespace(program=FEEDS, candidates=candidates, least_share=least_share)


@pytest.mark.parametrize(
    ("least", "crystal", "changed"),
    [
        (0.004, 0.4 / 90, 0.8 / 90),  # 90 points more than grain: 0.44 % of it can be weighed
        (0.005, 0.005, 0.010),  # not here: half a percent can, which is less of a change than meal
        (0.020, 0.0, 0.8 / 30),  # nor here: meal in the place of grain, 30 points more
    ],
)
def test_the_smallest_change_that_can_be_weighed(monkeypatch, least, crystal, changed):
    monkeypatch.setattr(smallest, "bare", lambda formula: formula)
    found = smallest_change(formula_of(least), (), WANTED)
    assert found[3] == pytest.approx(crystal, abs=1e-7)
    assert np.abs(found - np.array(WANTED)).sum() == pytest.approx(changed, rel=1e-4)
    assert found @ np.array([10, 40, 0, 100]) >= 16 - 1e-6 and found.sum() == pytest.approx(1)


def test_after_many_tries_the_nearest_is_taken(monkeypatch):
    monkeypatch.setattr(smallest, "bare", lambda formula: formula)
    monkeypatch.setattr(smallest, "PROGRAMS", 1)
    assert smallest_change(formula_of(0.005), (), WANTED)[3] in (
        pytest.approx(0.005, abs=1e-7),
        pytest.approx(0, abs=1e-7),
    )


def test_no_mix_keeps_the_rows(monkeypatch):
    none = SimpleNamespace(**vars(formula_of(0.005)))
    none.program = Program(FEEDS.columns, FEEDS.costs, (ProgramRow("air", (1.0,) * 4, "<="),), FEEDS.normalizer)
    monkeypatch.setattr(smallest, "bare", lambda formula: formula)
    assert smallest_change(none, (), WANTED) is None


def test_what_is_too_light_is_left_out_weighed_or_as_it_was():
    shares = np.array([0.79, 0.196, 0.01, 0.004])
    rows = _too_light(formula_of(0.005), shares, WANTED)
    assert [(row.key, row.sense, row.coefficients[3]) for row in rows] == [
        ("crystal left out", "<=", 1.0),
        ("crystal heavy enough", ">=", 0.995),
    ]
    held = _too_light(formula_of(0.005), shares, (0.80, 0.19, 0.01, 0.003))
    assert [(row.key, row.sense, row.coefficients[0]) for row in held][2:] == [("crystal as it was", "=", -0.003)]
    assert _too_light(formula_of(0.005), shares, (0.80, 0.19, 0.006, 0.004)) == (), "it was as light before"
    assert _too_light(formula_of(0.004), shares, WANTED) == ()
    assert _too_light(formula_of(0.005, min_share=0.001), shares, WANTED) == (), "asked for"
    assert _too_light(formula_of(0.005, premix_covers=("a",)), shares, WANTED) == (), "a dose"


def result(made=(), not_judged=(), harms=(), more_than_chance=False):
    """A Resample of changes with a new ration that may be fed or not, or None."""
    verdict = Verdict(tuple(Reason(Kind.SAFETY, severity, "x") for severity in harms))
    old = SimpleNamespace(ration=SimpleNamespace(verdict=verdict))
    changes = [SimpleNamespace(new=None if fed is None else SimpleNamespace(ration=fed), old_now=old) for fed in made]
    return Resample(SimpleNamespace(more_than_chance=more_than_chance), tuple(changes), tuple(not_judged))


@pytest.mark.parametrize(
    ("made", "not_judged", "stopped", "failed"),
    [
        ([True, True], [], False, False),
        ([True, False], [], True, False),
        ([True, None], [], True, False),
        ([True], [(False, False)], True, False),  # (can be met, failed)
        ([True], [(True, False)], False, False),
        ([True], [(False, True)], False, True),
    ],
)
def test_what_stops_and_what_failed(monkeypatch, made, not_judged, stopped, failed):
    monkeypatch.setattr(change, "_can_be_fed", lambda ration: ration)
    stages = [SimpleNamespace(can_be_met=met, failed=gone) for met, gone in not_judged]
    found = result(made, stages)
    assert (found.stopped, found.failed) == (stopped, failed)


def test_what_may_be_chance():
    assert result([True]).within_chance and result([True], harms=[Severity.ASK]).within_chance
    assert not result([True], harms=[Severity.ASK, Severity.STOP]).within_chance
    assert not result([True], more_than_chance=True).within_chance


def test_a_limit_is_broken_by_more_than_is_worth_naming():
    room = WORTH_NAMING_PCT / 100

    def line(gives, least=None, most=None):
        return SimpleNamespace(gives_pct=gives, min_pct=least, max_pct=most)

    assert _broken(line(20.1 * (1 + room), most=20.0)) and not _broken(line(20.0 * (1 + room / 2), most=20.0))
    assert _broken(line(19.9 * (1 - room), least=20.0)) and not _broken(line(20.0 * (1 - room / 2), least=20.0))
    assert not _broken(line(5.0)) and not _broken(line(0.0, most=20.0)) and not _broken(line(30.0, least=20.0))


def test_what_a_tonne_of_the_old_mix_would_save():
    """330 and 310 a tonne; 100 and 95 a Gcal of 3,300 kcal/kg: 5 x 3.3."""
    old = SimpleNamespace(stage="pig", cost_per_tonne=330.0, cost_per_gcal=100.0, energy_kcal_kg=3300.0)
    new = SimpleNamespace(stage="pig", cost_per_tonne=310.0, cost_per_gcal=95.0, energy_kcal_kg=3263.0)
    for objective, saved in (("per_tonne", 20.0), ("per_energy", 16.5)):
        case = SimpleNamespace(formula=SimpleNamespace(objective=objective))
        assert _saves(old, new, case) == pytest.approx(saved)
