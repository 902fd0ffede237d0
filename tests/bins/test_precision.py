"""How much to sort and analyse: what is promised is what the estimate then gives."""

from __future__ import annotations

import numpy as np
import pytest

from rationlp.bins import estimate_bin
from rationlp.bins.evidence import gather
from rationlp.bins.precision import _last_sample, sampling_advice
from rationlp.units import Z90

MIX = {"triticale": 0.5, "oats_naked": 0.22, "faba_low_tannin": 0.18, "camelina_seed": 0.1}


@pytest.fixture
def sorted_bin(bin_book, library):
    book = bin_book({"n1": {crop: 200 * share for crop, share in MIX.items()}})
    return book, estimate_bin("north", book, library)


def plan_of(advice, nutrient):
    return next(plan for plan in advice.plans if plan.nutrient == nutrient)


@pytest.mark.slow
def test_what_a_bin_is_known_by_now_is_its_own_interval(sorted_bin, library):
    book, estimate = sorted_bin
    plan = plan_of(sampling_advice(estimate, book, library, 5.0), "crude_protein")
    expected = 100 * Z90 * estimate.sd("crude_protein") / estimate.values["crude_protein"]
    assert plan.now_pct == pytest.approx(expected, rel=1e-6)
    assert plan.level == pytest.approx(estimate.values["crude_protein"])


@pytest.mark.parametrize("wanted", [2.5, 3.0, 5.0])
def test_the_plan_done_gives_what_it_promised(bin_book, sorted_bin, library, wanted):
    """Sort the grams of the plan, analyse as often as it says, and look at the bin again."""
    book, estimate = sorted_bin
    plan = plan_of(
        sampling_advice(estimate, book, library, wanted, {"crude_protein": estimate.values["crude_protein"]}),
        "crude_protein",
    )
    assert plan.reached
    assert plan.after_pct <= wanted < plan.now_pct
    value = estimate.values["crude_protein"]
    found = [("dry_matter", 88.0, "%", "as_fed")] * plan.analyses["crude_protein"]
    found += [("crude_protein", value / 0.88, "%", "dry_matter")] * plan.analyses["crude_protein"]
    done = bin_book(
        {"n1": {crop: plan.grams * share for crop, share in MIX.items()}},
        {"n1": found},
        {"mass": "40 t"},
        samples={"n1": {"probes": plan.probes}},
        name=f"done{wanted}",
    )
    again = estimate_bin("north", done, library)
    half = 100 * Z90 * again.sd("crude_protein") / plan.level
    assert half == pytest.approx(plan.after_pct, rel=0.06)


def test_fewer_analyses_and_less_sorting_do_not_reach_it(sorted_bin, library):
    book, estimate = sorted_bin
    tight, loose = (
        plan_of(
            sampling_advice(estimate, book, library, pct, {"crude_protein": estimate.values["crude_protein"]}),
            "crude_protein",
        )
        for pct in (2.0, 4.0)
    )
    assert sum(tight.analyses.values()) > sum(loose.analyses.values())


def test_a_level_of_the_ration_counts_not_the_trace_in_the_grain(sorted_bin, library):
    """The calcium of grain is known badly, but limestone brings nearly all that the ration asks for."""
    book, estimate = sorted_bin
    own = plan_of(sampling_advice(estimate, book, library, 5.0, {"calcium": estimate.values["calcium"]}), "calcium")
    asked = plan_of(sampling_advice(estimate, book, library, 5.0, {"calcium": 0.66 / 0.8}), "calcium")
    assert own.now_pct > 20
    assert asked.now_pct == pytest.approx(own.now_pct * estimate.values["calcium"] / (0.66 / 0.8))


def test_what_no_laboratory_sees_is_called_so(sorted_bin, library):
    book, estimate = sorted_bin
    advice = sampling_advice(estimate, book, library, 1.0, {"ne_pig": estimate.values["ne_pig"]})
    plan = plan_of(advice, "ne_pig")
    assert not plan.reached
    assert plan.after_pct > 1
    assert "cannot be reached" in plan.line()
    assert advice.analyses == {}  # nothing is ordered that does not help


@pytest.mark.slow
def test_only_what_laboratories_measure_is_ordered(sorted_bin, library):
    book, estimate = sorted_bin
    levels = {
        n: estimate.values[n] for n in ("sid_lysine_pig", "methionine_cystine", "nonphytate_phosphorus", "amen_poultry")
    }
    for pct in (3.0, 6.0, 9.0):
        for plan in sampling_advice(estimate, book, library, pct, levels).plans:
            for nutrient in plan.analyses:
                assert not nutrient.startswith("sid_")
                assert nutrient not in ("methionine_cystine", "nonphytate_phosphorus", "amen_poultry")


def test_where_to_probe_and_how_often(sorted_bin, library):
    book, estimate = sorted_bin
    advice = sampling_advice(estimate, book, library, 5.0)
    assert advice.increments == 29  # sqrt(20 x 40 t), de_feed_sampling
    stream, standing, toxins = advice.where
    assert "5 times" in stream
    assert "11 times" in standing
    assert "100 times" in toxins
    assert advice.grams >= 2500 * np.dot(list(MIX.values()), [0.042, 0.025, 0.4, 0.0012]) - 10


def test_no_precision_is_refused(sorted_bin, library):
    book, estimate = sorted_bin
    with pytest.raises(ValueError, match="precision"):
        sampling_advice(estimate, book, library, 0.0)


def test_what_more_probes_and_more_sorting_bring_is_what_the_bin_then_shows(bin_book, library):
    """Each step by itself, against the estimate of a bin sampled so."""
    protein = [("crude_protein", 16.5, "%", "dry_matter", 0.3)]

    def sampled(grams, probes, name):
        masses = {"n1": {crop: grams * share for crop, share in MIX.items()}}
        return bin_book(masses, {"n1": protein}, {"mass": "40 t"}, samples={"n1": {"probes": probes}}, name=name)

    book = sampled(400, 4, "last")
    estimate = estimate_bin("north", book, library)
    level = estimate.values["crude_protein"]
    plan = plan_of(sampling_advice(estimate, book, library, 1.0, {"crude_protein": level}), "crude_protein")
    assert plan.like_last_pct == pytest.approx(plan.now_pct, rel=0.15)
    steps = {step.what: step for step in plan.steps}
    assert steps["probes"].amount == 29  # sqrt(20 x 40 t), de_feed_sampling
    assert steps["sorting"].amount == 800
    shown = {
        "probes": sampled(400, 29, "probes"),
        "sorting": sampled(800, 4, "sorting"),
    }
    for what, done in shown.items():
        half = 100 * Z90 * estimate_bin("north", done, library).sd("crude_protein") / level
        assert steps[what].after_pct / plan.like_last_pct == pytest.approx(half / plan.now_pct, rel=0.05)
    assert steps["probes"].after_pct < 0.8 * plan.like_last_pct
    assert steps["sorting"].after_pct > 0.95 * plan.like_last_pct
    assert "29 probes" in plan.steps_line()


@pytest.mark.parametrize(("probes", "ladder"), [(80, (80, 160)), (5, (5, 29, 58)), (29, (29, 58))])
def test_how_many_probes_the_next_sample_may_be_of(probes, ladder, bin_book, library):
    """29 of 40 t (German feed sampling ordinance: the root of 20 times the tonnes, rounded up), or twice as many."""
    book = bin_book({"n1": {crop: 200 * share for crop, share in MIX.items()}}, samples={"n1": {"probes": probes}})
    last = _last_sample(gather("north", book, library), 40.0)
    assert last.ladder == ladder and last.probes == probes and last.grams == pytest.approx(200.0)
