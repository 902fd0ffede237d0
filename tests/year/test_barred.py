"""A mix that is a stop for some animals is kept from these alone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.reasons import Kind, Reason, Severity, Verdict
from rationlp.year.plan import YearRequest, plan_year
from rationlp.year.program.kitchen import same_mix
from rationlp.year.program.search import Search

STOP = Reason(Kind.SAFETY, Severity.STOP, "Must not be fed.")


@pytest.mark.parametrize("most", [None, 2])
def test_a_mix_that_is_a_stop_for_one_stage_feeds_the_others(small_year, library, monkeypatch, most):
    """It was barred for all of them."""
    year = small_year(3)
    alike = replace(
        year,
        needs=[year.needs[0], year.needs[0]],
        groups=[(0, 20.0, 0, 99), (1, 30.0, 0, 99)],
        stocks=[None] * len(year.stocks),
        until=[99] * len(year.until),
    )
    ration = Search.ration

    def judged(search, mix, stage):
        found = ration(search, mix, stage)
        return replace(found, verdict=Verdict((STOP,))) if stage == "stage_0" else found

    before = plan_year(alike.farm(library))
    monkeypatch.setattr(Search, "ration", judged)
    plan = plan_year(alike.farm(library), YearRequest(most_mixes=most))
    assert len(before.mixes) == 1  # one mix is the cheapest for both
    assert {each.stage for each in plan.unfed} == {"stage_0"} and plan.unfed[0].why == STOP.text
    assert [same_mix(mix.found.shares) for mix in plan.mixes] == [same_mix(before.mixes[0].found.shares)]
    assert plan.mixes[0].stages == ("stage_1",) and plan.tonnes == pytest.approx(30.0)
