"""What moved from one sample to the next, and the smallest change of a mix: every figure calculated by hand."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest

from rationlp.errors import RequestError
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.reasons import Kind, Reason, Severity, Verdict
from rationlp.resample import change, smallest
from rationlp.resample.change import WORTH_NAMING_PCT, MixAt, Resample, _advice, _broken, _in_use, _saves, mix_at
from rationlp.resample.moved import Moved, _chance, _crops, _figure, _nutrients, newest_pair, share_chance
from rationlp.resample.smallest import _too_light, smallest_change
from rationlp.stages.model import ALL


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


BEFORE, BETWEEN, AFTER = date(2025, 9, 1), date(2025, 10, 1), date(2025, 11, 1)


@pytest.mark.parametrize(
    ("made_on", "taken_on", "samples", "in_use"),
    [
        (BETWEEN, AFTER, ("n1",), True),
        (AFTER, AFTER, ("n1",), True),  # on the day of the new sample
        (AFTER, BETWEEN, ("n1",), False),  # later: it is not what was fed until then
        (None, BETWEEN, ("n1",), True),
        (AFTER, None, ("n1",), True),
        (BEFORE, BETWEEN, ("n2",), False),  # of the new sample
        (BEFORE, BETWEEN, ("n1", "n2"), True),  # of both
        (BEFORE, BETWEEN, (), True),  # nobody knows of which
    ],
)
def test_which_mix_was_in_use_until_the_new_sample(monkeypatch, made_on, taken_on, samples, in_use):
    monkeypatch.setattr(change, "in_order", lambda mixes: mixes)
    mix = SimpleNamespace(stage="sow", bins=("north",), made_on=made_on, samples=samples)
    old, new = SimpleNamespace(sample="n1", bin="north"), SimpleNamespace(sample="n2", taken_on=taken_on)
    assert _in_use([mix], old, new) == ({("sow", ("north",)): mix} if in_use else {})
    assert _in_use([SimpleNamespace(**vars(mix) | {"bins": ("south",)})], old, new) == {}


def test_of_several_mixes_the_first_in_order_counts(monkeypatch):
    monkeypatch.setattr(change, "in_order", lambda mixes: mixes)
    first, second = (SimpleNamespace(stage="sow", bins=("north",), made_on=None, samples=(), n=n) for n in (1, 2))
    old, new = SimpleNamespace(sample="n1", bin="north"), SimpleNamespace(sample="n2", taken_on=None)
    assert _in_use([first, second], old, new)["sow", ("north",)] is first


def shortfall(label: str, short_pct: float):
    return SimpleNamespace(label=label, short_pct=short_pct)


def test_what_a_mix_misses(monkeypatch):
    """Requirements by more than is worth naming, caps, and at a confidence the rows whose chance is below it."""
    ration = SimpleNamespace(
        shortfalls=(shortfall("Lysine", WORTH_NAMING_PCT + 0.1), shortfall("Salt", WORTH_NAMING_PCT - 0.1)),
        limits=(
            SimpleNamespace(label="Peas", gives_pct=30.0, min_pct=None, max_pct=20.0),
            SimpleNamespace(label="Oats", gives_pct=10.0, min_pct=None, max_pct=20.0),
        ),
    )
    formula = SimpleNamespace(program=None, sources=("a", "b"), candidates=(), stage=SimpleNamespace(energy="ne_pig"))
    rows = (SimpleNamespace(index=0, probability=0.9), SimpleNamespace(index=1, probability=0.9))
    monkeypatch.setattr(change, "describe", lambda *args: ration)
    monkeypatch.setattr(change, "chance_of_all", lambda *args: 0.85)
    monkeypatch.setattr(change, "chance_rows", lambda *args: rows)
    monkeypatch.setattr(change, "achieved", lambda program, row, shares: (0.95, 0.5)[row.index])
    monkeypatch.setattr(change, "_label", lambda source, library: f"row {source}")

    def missed(of: str, pct: float) -> tuple[str, ...]:
        farm = SimpleNamespace(settings=SimpleNamespace(confidence_of=of, confidence_pct=pct), library=None)
        return mix_at(formula, (1.0,), farm).missed

    assert missed("each", 50.0) == ("Lysine", "Peas (cap)")
    assert missed("each", 90.0) == ("Lysine", "Peas (cap)", "row b")
    assert missed(ALL, 90.0) == ("Lysine", "Peas (cap)"), "what is missed anyway is not missed all at once as well"
    ration.shortfalls, ration.limits = (), ()
    assert missed(ALL, 90.0) == ("all at once",) and missed(ALL, 80.0) == ()


def advice(missed=(), short=(), saves=None, gone=(), severity=Severity.FEED, priced=True) -> str:
    verdict = Verdict((Reason(Kind.SAFETY, severity, "Too much salt."),))
    ration = SimpleNamespace(
        stage="sow", cost_per_tonne=200.0, shortfalls=[shortfall("x", pct) for pct in short], verdict=verdict
    )
    now_at = MixAt(ration, tuple(missed), None)
    case = SimpleNamespace(priced=SimpleNamespace() if priced else None)
    settings = SimpleNamespace(currency="USD", units="metric")
    offers = [SimpleNamespace(offer=name) for name in gone]
    return _advice(now_at, None, case, offers, saves, settings)


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({"priced": False}, "There is no ration with the grain as it is now: "),
        ({"missed": "abc", "short": (3.0, 7.25)}, "Print the sheet again: the old mix misses a, b, c, by up to 7.2 %."),
        ({"missed": "abcd"}, "Print the sheet again: the old mix misses a, b, c, d."),
        ({"missed": "abcdef"}, "Print the sheet again: the old mix misses a, b, c, d and 2 more."),
        ({"gone": ("meal",), "missed": "a"}, "Print the sheet again: meal is no longer on offer."),
        ({"gone": ("meal", "bran")}, "Print the sheet again: meal, bran are no longer on offer."),
        (
            {"severity": Severity.STOP, "gone": ("meal",)},
            "DO NOT FEED the old mix: Too much salt. Beside that meal is no longer on offer. Print the sheet again.",
        ),
        ({"saves": 0.9}, "The old mix may stay."),  # less than half a percent of 200
        ({"saves": 1.1}, "The old mix may stay; a new sheet would save USD 1.10 "),
        ({}, "The old mix may stay."),
    ],
)
def test_what_to_do_with_the_old_mix(asked, told):
    found = advice(**asked)
    assert found == told if told.endswith(".") else found.startswith(told), found


@pytest.mark.parametrize(("moved_by", "told"), [(0.4e-5, "of today"), (3e-5, "found")])
def test_a_new_mix_that_no_scale_tells_from_todays_is_todays(monkeypatch, moved_by, told):
    """Amounts are of any sum; shares are held against those of today's ration."""
    amounts = 2.0 * np.array([0.7 + moved_by, 0.3 - moved_by])
    monkeypatch.setattr(change, "steadiest", lambda case, shares: amounts)
    monkeypatch.setattr(change, "mix_at", lambda formula, shares, farm: MixAt("found", (), 50.0))
    case = SimpleNamespace(formula=None, ration="of today", shares=np.array([0.7, 0.3]))
    found = change._new_mix(case, {}, None)
    assert (found.ration, found.chance_pct) == (told, 50.0)


def test_nutrients_known_of_both_samples_and_by_chance():
    """3 and 4 hundredths are 5; what one sample alone knows, or what chance cannot move, is no line."""

    def value(nutrient: str, amount: float, sd: float):
        names = {"nutrient": nutrient, "label": nutrient.title(), "unit": "%", "origin": "assay"}
        return SimpleNamespace(**names, value=amount, sd=sd)

    old = SimpleNamespace(crops=(), nutrients=(value("lysine", 0.5, 0.03), value("ash", 3, 0), value("fat", 2, 0.1)))
    new = SimpleNamespace(crops=(), nutrients=(value("ash", 4, 0), value("lysine", 0.6, 0.04)))
    (line,) = _nutrients(old, new, None)
    assert (line.kind, line.name, line.before, line.after) == ("nutrient", "lysine", 0.5, 0.6)
    assert line.sd == pytest.approx(0.05)
