"""Mix sheets of a week of the plan, printed, weighed and entered for all the animals that eat them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from click.testing import CliRunner
from crew import fill_in

from rationlp.actual.judge import judge
from rationlp.actual.known import Known
from rationlp.actual.numbers import keep_printed, numbered
from rationlp.actual.report import as_batch, judged_for_all, report_of
from rationlp.api import OpenFarm
from rationlp.cli.app import app
from rationlp.errors import RequestError
from rationlp.ledger.kept import printed_by_id
from rationlp.ledger.weighed import SheetName, sheet_name, weighed_mix
from rationlp.pages.workbook import write_workbook
from rationlp.rations.formulate import solve_rations
from rationlp.reasons import Kind
from rationlp.show.year.decisions import decisions
from rationlp.year.plan import YearRequest, plan_year
from rationlp.year.week import mixes_of

DEMO = "demo/stillwater_bend"


@pytest.fixture(scope="module")
def farm(demo_book, library, tmp_path_factory):
    """The demo farm with two groups of pigs that one mix can serve, and its record in a folder of its own."""
    wanted = [row for row in demo_book.groups if row.group in ("growers_early", "growers_late")]
    stages = ("sw_gro_50_75", "sw_fin_75_100")
    groups = tuple(
        replace(row, stage=stage, from_date=None, to_date=None) for row, stage in zip(wanted, stages, strict=True)
    )
    path = tmp_path_factory.mktemp("week") / "book"
    bins = tuple(replace(row, mass_kg=1e6, moisture_pct=12.0) for row in demo_book.bins[:1])
    samples = tuple(row for row in demo_book.samples if row.bin == bins[0].bin)
    book = replace(demo_book, path=path, bins=bins, samples=samples, groups=groups, herd=(), arrivals=())
    return OpenFarm(book, library)


@pytest.fixture(scope="module")
def year(farm):
    return plan_year(farm, YearRequest(most_mixes=1))


@pytest.fixture(scope="module")
def pack(farm, year):
    from rationlp.sheets.request import SheetRequest
    from rationlp.year.week import week_sheets

    day = year.season.first + timedelta(days=7)
    return numbered(week_sheets(farm, year, SheetRequest(on=day)), farm)


@pytest.mark.slow
def test_a_week_is_mixed_as_the_plan_says(farm, year, pack):
    weeks = {week.mix.mix: week for week in mixes_of(year, year.season.first + timedelta(days=7))}
    assert pack.complete
    assert any(sheet.also_for for sheet in pack.sheets)
    for sheet in pack.sheets:
        name = next(name for name in weeks if sheet.name.startswith(f"{name} "))
        week, planned = weeks[name], dict(weeks[name].mix.found.shares)
        of_it = [other for other in pack.sheets if other.name.startswith(f"{name} ")]
        made = sum(float(other.batch) * other.count for other in of_it)
        assert week.kg <= made <= week.kg + farm.settings.batch_kg / 20 + 1
        assert sheet.also_for == week.stages[1:]
        assert set(sheet.eaten_by) == {group for group, _ in week.kg_by_group}
        weighed = {line.offer: line.share for line in sheet.ration.mix if line.share}
        assert weighed == pytest.approx(planned, abs=20 * float(sheet.scale.step / sheet.batch))
        assert sheet.bin == "+".join(week.mix.bins)


@pytest.mark.slow
def test_weeks_add_up_to_the_year(year):
    days = range(0, year.season.days, 7)
    eaten = [mixes_of(year, year.season.day(day)) for day in days]
    assert sum(week.kg for weeks in eaten for week in weeks) == pytest.approx(1000 * year.tonnes, rel=1e-9)


@pytest.mark.slow
def test_a_day_outside_the_plan_is_refused(year):
    with pytest.raises(RequestError, match="a day of the plan"):
        mixes_of(year, date(2020, 1, 1))


@pytest.mark.slow
def test_a_batch_of_a_shared_mix_is_judged_and_kept_for_all_that_eat_it(farm, pack):
    keep_printed(pack, farm.book)
    sheet, known = next(s for s in pack.sheets if s.also_for), Known(farm, printed_by_id(farm.book))
    kg = {line.offer: line.share * 500 for line in sheet.ration.mix if line.share}
    name = SheetName(sheet.stage, tuple(sheet.bin.split("+")), sheet.id)
    made = known.as_printed(weighed_mix(name, "", sheet.made_on, kg, farm.book))
    assert made.also_for == sheet.also_for
    found = judged_for_all(made, known)
    assert set(as_batch(found, farm.book).groups) == {"growers_early", "growers_late"}
    alone = judged_for_all(replace(made, also_for=()), known)
    assert set(alone.verdict.reasons) <= set(found.verdict.reasons)
    assert sheet_name(sheet.name, farm, {}).stage == sheet.stage


@pytest.mark.slow
def test_a_mix_of_the_plan_is_not_said_to_be_of_another_ration(farm, pack, library, tmp_path):
    """Every sheet of a plan was called older than the ration of today, which it never was."""
    shared = next(sheet for sheet in pack.sheets if sheet.also_for)
    keep_printed(pack, farm.book)
    path = tmp_path / "week.xlsx"
    write_workbook(pack, library, path)
    fill_in(path, [shared.made_on], stage=shared.stage)
    report = report_of(farm, path)
    assert report.judgements and not any("the ration of today" in each.expected for each in report.warnings)


@pytest.mark.parametrize("more", [["--stage", "sw_boar"], ["--on", "2025-10-01"], ["--together"], ["--batches", "2"]])
def test_what_the_plan_decides_cannot_be_asked_beside_it(more, tmp_path):
    asked = ["sheets", DEMO, "-o", str(tmp_path / "w.xlsx"), "--week", "2025-10-08", *more]
    answer = CliRunner().invoke(app, asked)
    assert answer.exit_code == 2
    assert "--week takes" in answer.stderr


@pytest.mark.slow
def test_weights_hold_no_more_of_a_bin_than_the_plan_whatever_it_seems_to_cost(farm, monkeypatch):
    """Where few mixes left a pound in a bin, its grain had no price of scarcity, and a sheet was 97 % of it."""
    from rationlp.sheets.request import SheetRequest
    from rationlp.year import week

    scarce = OpenFarm(
        replace(
            farm.book, bins=tuple(replace(row, mass_kg=20_000.0, sale_price_per_tonne=120.0) for row in farm.book.bins)
        ),
        farm.library,
    )
    short = plan_year(scarce, YearRequest(most_mixes=1))
    plain = {name: supply.price_per_tonne for name, supply in short.search.master.supplies.items()}
    monkeypatch.setattr(week, "worth_in_plan", lambda planned: plain | {"north": 1.0})
    (mix,) = short.mixes
    fed = mix.tonnes * dict(mix.found.shares)["north"]  # a mix for all that needs a little more of it stood back once
    assert fed == pytest.approx(20.0, abs=0.01)
    for sheet in week.week_sheets(scarce, short, SheetRequest(on=short.season.first)).sheets:
        held = {line.offer: line.share for line in sheet.ration.mix}
        assert held["north"] <= dict(mix.found.shares)["north"] + 2.5 * float(sheet.scale.step / sheet.batch)
    kg = {name: 1000 * share for name, share in mix.found.shares}
    (today,) = solve_rations(scarce, mix.stages[:1], ["north"])
    made = weighed_mix(SheetName(mix.stages[0], ("north",)), "", short.season.first, kg, scarce.book)
    told = judge(made, today, kg, scarce).verdict.reasons
    assert not [
        reason for reason in told if reason.kind is Kind.LAW
    ]  # weighed as asked; today's ration is another feed


@pytest.mark.slow
def test_every_mix_of_the_first_week_is_named_where_its_figures_differ_in_the_last_digit(farm, year):
    """A mix made for one of its stages a second time was told without a name: `Mix 1.1 ton of  (pigs)`."""
    first, *others = year.portions
    shares = tuple((name, share + 1e-12) for name, share in first.mix.shares)
    again = replace(year, portions=[replace(first, mix=replace(first.mix, shares=shares)), *others])
    assert f"of {year.mixes[0].mix} (" in decisions(again, farm.book)[0]
    assert "of  (" not in decisions(again, farm.book)[0]
