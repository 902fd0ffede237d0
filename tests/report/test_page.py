"""The page of a farm: one file that says what the commands say, and asks for nothing else."""

from __future__ import annotations

import itertools
import json
import re
from dataclasses import replace
from datetime import date
from functools import cached_property
from html.parser import HTMLParser

import pytest
from click.testing import CliRunner
from random_farms import read_sheets

from rationlp.book_units import units_of
from rationlp.cli.app import app
from rationlp.farm import Farm
from rationlp.numbers import figure, money, percent, plain, small_money
from rationlp.rations.formulate import solve_rations
from rationlp.report.page import Report, farm_page, page_of, report_of
from rationlp.report.plots import columns
from rationlp.report.render import language_of
from rationlp.report.season import month_words
from rationlp.served.work import BAR, under_the_bar
from rationlp.units import Z90

ON = date(2025, 10, 1)
VOID = ("meta", "input", "br", "link", "img", "rect", "line", "path")


class Tree(HTMLParser):
    """Every element with its attributes, and the text between; faults in the nesting."""

    def __init__(self, text: str):
        super().__init__()
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None], tuple[str, ...]]] = []
        self.faults: list[str] = []
        self.words: list[str] = []
        self.feed(text)
        self.faults += [f"{name} is not closed" for name in self.open]

    def handle_starttag(self, tag, attrs):
        self._apart(tag)
        self.elements.append((tag, dict(attrs), tuple(self.open)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        self._apart(tag)
        if tag in VOID:
            return
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"{tag} closes something else")

    def handle_data(self, data):
        if not {"script", "style"} & set(self.open):
            self.words.append(data)

    @cached_property
    def text(self) -> str:
        return re.sub(r"\s+", " ", "".join(self.words))

    def _apart(self, tag):
        """What stands in two elements is two words, but for those that stand within a line."""
        if tag != "span":
            self.words.append(" ")

    def all(self, tag):
        return [(attributes, above) for name, attributes, above in self.elements if name == tag]


@pytest.fixture(scope="session")
def two_groups(demo_book):
    """The demo with its boar and sows alone: a small year."""
    groups = tuple(row for row in demo_book.groups if row.stage in ("sw_boar", "sw_gest_p2_early"))
    return replace(demo_book, groups=groups, herd=(), arrivals=())


@pytest.fixture(scope="session")
def report(demo_book, library) -> Report:
    """The page of a few stages of the demo, both bins, with its year."""
    return report_of(Farm(demo_book, library), ["sw_gro_25_50", "sw_nur_11_25", "hen_peak"], on=ON)


@pytest.fixture(scope="session")
def page(report) -> str:
    return page_of(report)


@pytest.fixture(scope="session")
def tree(page) -> Tree:
    return Tree(page)


@pytest.mark.slow
def test_it_is_sound_html_that_stands_alone(tree):
    assert tree.faults == []
    for tag, attributes, _ in tree.elements:
        for name in ("src", "href", "action", "data", "poster", "srcset"):
            if name in attributes:
                assert (attributes[name] or "").startswith("#"), (tag, attributes)
        assert not [name for name in attributes if name.startswith("on") or name == "style"], (tag, attributes)
    (policy,) = [a["content"] for a, _ in tree.all("meta") if a.get("http-equiv")]
    assert "default-src 'none'" in policy and "unsafe" not in policy


@pytest.mark.slow
def test_everything_is_named(tree):
    ids = [a["id"] for _, a, _ in tree.elements if "id" in a]
    assert sorted(ids) == sorted(set(ids))
    for tag, a, _ in tree.elements:
        named = [*(a.get("aria-labelledby") or "").split(), *(a.get("for") or "").split()]
        assert set(named) <= set(ids), (tag, a)
        if tag == "a":
            assert a["href"][1:] in ids, a
    assert all("scope" in a for a, _ in tree.all("th"))
    assert len(tree.all("caption")) == len(tree.all("table"))
    for a, above in tree.all("svg"):
        assert "figure" in above and a["role"] == "img"
    assert len(tree.all("title")) == len(tree.all("svg")) + 1
    assert len(tree.all("desc")) == len(tree.all("svg"))
    heads = [int(tag[1]) for tag, _, _ in tree.elements if re.fullmatch("h[1-6]", tag)]
    assert heads[0] == 1 and heads.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(heads))
    assert tree.all("html")[0][0]["lang"] == "en" and len(tree.all("main")) == 1


@pytest.mark.parametrize(
    ("units", "jurisdiction", "language"),
    [("us", "us", "en-US"), ("metric", "canada", "en-CA"), ("metric", "eu", "en")],
)
def test_pages_are_in_the_english_of_the_farm(demo_book, units, jurisdiction, language):
    assert language_of(replace(demo_book.farm, units=units, jurisdiction=jurisdiction)) == language


@pytest.mark.slow
def test_the_server_shows_the_same_page_under_its_bar(page):
    served = under_the_bar(page)
    assert served.replace(f"{BAR}\n", "") == re.sub("<meta http-equiv.*\n", "", page)
    assert "http-equiv" in page and "http-equiv" not in served  # the server sends a policy of its own
    assert served.index('class="skip"') < served.index(BAR) < served.index("<h1>")


@pytest.mark.slow
def test_what_is_long_is_folded(tree):
    long_ = [above for a, above in tree.all("caption")]
    assert sum("details" in above for above in long_) >= 12


def test_the_rations_are_those_of_the_command(report, tree):
    """The figures of the page are those of `rationlp ration --format json` (the same objects, written once)."""
    units = units_of(report.farm.settings)
    assert len(report.cases) == 6
    for card in (each for stage in report.cards for each in (stage.first, *stage.others)):
        ration = card.ration
        assert card.id in tree.text and ration.verdict.headline in tree.text
        assert units.price(ration.cost_per_tonne) in tree.text
        assert f"{percent(ration.home_grown_share, 1)} %" in tree.text
        for part in card.mix:
            assert f"{plain(part.kg / units.mass_kg, 4)} {percent(part.share, 2)}" in tree.text, part
        for reason in ration.verdict.reasons:
            if reason.severity != "feed":
                assert reason.text in tree.text
    for stage in report.cards:
        for hold in stage.first.holds:
            assert f"{hold.words} {units.price(hold.per_tonne)}" in tree.text
        for need in stage.first.ration.requirements:
            assert f"{need.label} {need.unit}".strip() in tree.text


def test_the_first_ration_is_the_mildest_then_the_cheapest(report):
    for stage in report.cards:
        first = stage.first.ration
        for other in (card.ration for card in stage.others):
            assert first.verdict.severity.rank <= other.verdict.severity.rank
            if first.verdict.severity is other.verdict.severity:
                assert first.cost_per_gcal <= other.cost_per_gcal
    assert {stage.stage: stage.first.ration.bin for stage in report.cards}["hen_peak"] == "south"  # north: ask


def test_bins_offers_and_year_are_those_of_the_commands(report, tree):
    units = units_of(report.farm.settings)
    for part in report.bins:
        bin_ = part.estimate
        assert units.bulk(bin_.tonnes) in tree.text
        for crop in bin_.crops:
            assert f"{percent(crop.share)} {percent(Z90 * crop.sd)}" in tree.text
        for line in bin_.nutrients:
            assert f"{figure(line.value)} {figure(Z90 * line.sd, 2)} {line.origin}".replace("  ", " ") in tree.text
    for line in report.offers.bought:
        mine = [w for s in report.cards for w in s.first.worths if w.offer == line.offer]
        assert line.stays_to == min((w.mix_stays_to for w in mine if w.mix_stays_to is not None), default=None)
        assert f"{units.price(line.price)} {units.amount(line.tonnes)}" in tree.text
    year = report.year.year
    assert money(year.cost, "USD") in tree.text
    for row in year.purchases:
        assert f"{row.packages or ''} {money(row.cost)}".strip() in tree.text
    for row in year.stocks:
        assert f"{month_words(row.month)} {units.bulk(row.tonnes)}" in tree.text
    assert round(sum(month.cost for month in report.year.months), 6) == round(year.bought_cost, 6)


def test_every_stop_and_ask_stands_on_the_front(report, page):
    """Of all rations, also those that fold out, and of the mixes of the year: in the words of the commands."""
    front = Tree(page[page.index('<section id="now"') : page.index('<section id="rations"')]).text
    verdicts = [case.ration.verdict for case in report.cases] + [mix.verdict for mix in report.year.year.mixes]
    asked = {reason.text for verdict in verdicts for reason in verdict.reasons if reason.severity != "feed"}
    told = [line for line in (*report.front.asked, *report.front.asked_of_year)]
    assert asked and told
    for line in told:
        assert line.reason.text in front or (line.letter and not line.text)
        assert line.reason.severity.value.upper() in front
        assert front.count(line.reason.text) <= 1  # what the rations have under a letter is told by it
    named = {name for line in told for name in line.names}
    for case in report.cases:
        weighs = case.ration.verdict.severity != "feed"
        assert (case.ration.name in named) == weighs
    assert len(report.front.decisions) == 3 and all(text in front for text in report.front.decisions)


@pytest.mark.slow
def test_a_farm_of_many_groups_has_a_calendar_of_its_stages(two_groups, library):
    """So that it prints in a few pages; every group and its days still stand in the table."""
    groups = [replace(row, group=f"{row.group}_{place}") for place in range(13) for row in two_groups.groups]
    report = report_of(Farm(replace(two_groups, groups=tuple(groups)), library), ["sw_boar"], ["north"], on=ON)
    labels = {shape.words for shape in report.year.animals.shapes if shape.look == "name"}
    assert labels == {"sw_boar", "sw_gest_p2_early"}
    tree = Tree(page_of(report))
    assert all(group.group in tree.text for group in groups) and "and 12 more" in tree.text


def test_a_card_names_the_steps_of_the_herd_that_eat_it(report, tree):
    """A farm that keeps its animals in the sheet `herd` saw cards without animals."""
    groups, cards = {row.group for row in report.farm.book.groups}, {card.stage for card in report.cards}
    steps = [fed for fed in report.year.year.animals if fed.group not in groups and fed.stage in cards]
    assert steps
    for fed in steps:
        assert f"{fed.group}: up to {fed.head.max():.0f} head" in tree.text


@pytest.mark.slow
def test_a_page_of_many_cards_has_a_table_of_the_rations_first(report, monkeypatch):
    monkeypatch.setattr("rationlp.report.page.MOST_CARDS", 2)
    made, units = page_of(report), units_of(report.farm.settings)
    tree, table = Tree(made), Tree(made[made.index('<section id="rations"') : made.index('<section id="cards"')]).text
    assert tree.faults == []
    for stage in report.cards:
        first, verdict = stage.first.ration, stage.first.mark
        cost, grown = units.price(first.cost_per_tonne), percent(first.home_grown_share, 1)
        told = f"{first.bin} {verdict} {cost} {small_money(stage.first.per_head_cost)} {grown}"
        assert stage.first.id in table and told in table and f"{stage.label}: {stage.groups[0].group}" in table


def test_sums_above_narrow_columns_are_short_enough_to_stand_side_by_side():
    """Above eleven columns 4,268, 4,691 and 4,684 ran into each other."""
    months = [str(place) for place in range(11)]
    told = {
        shape.words for shape in columns("Bought", "Told", [4691.0, 12345.0, 9.0] + [0.0] * 8, months, "USD").shapes
    }
    assert {"4.7k", "12k", "9"} <= told and "4,691" not in told
    assert "4,691" in {shape.words for shape in columns("Bought", "Told", [4691.0] * 3, months[:3], "USD").shapes}


def test_the_review_warning_and_each_caution_stand_once(report, tree):
    for text in report.cautions:
        assert tree.text.count(text) == 1, text


def test_the_data_of_the_questions_say_what_the_ration_says(report, page):
    """Every mix sums to one, and today's has today's cost."""
    data = json.loads(re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.DOTALL)[1])
    feeds = data["feeds"]
    by_id = {stage.first.id: stage.first for stage in report.cards}
    assert {each["id"] for each in data["rations"]} == set(by_id)
    for each in data["rations"]:
        ration = by_id[each["id"]].ration
        for mix in each["mixes"]:
            assert sum(share for _, share in mix["parts"]) == pytest.approx(1, abs=1e-6)
        today = each["mixes"][each["today"]]
        cost = sum(share * feeds[feed]["price"] for feed, share in today["parts"])
        assert cost == pytest.approx(ration.cost_per_tonne, abs=1e-6)
        assert today["feed"] == pytest.approx(ration.feed_kg_per_head_per_day, abs=1e-9)
        grown = sum(share for feed, share in today["parts"] if feeds[feed]["grown"])
        assert grown == pytest.approx(ration.home_grown_share, abs=1e-9)
        for question in each["questions"]:
            assert question["ends"] == sorted(question["ends"])
            assert len(question["ends"]) == len(question["mixes"]) + 1


@pytest.mark.slow
def test_what_people_type_is_text(two_groups, library):
    """Names of the book that are HTML, script and quotes stand on the page as they were typed, and do nothing."""
    nasty = "<script>alert('x')</script>\"&amp;'"
    book = two_groups
    bins = tuple(replace(row, label=nasty) for row in book.bins)
    offers = tuple(replace(row, label=nasty, supplier=nasty) for row in book.supplements)
    groups = tuple(replace(row, group=f"{nasty}{place}") for place, row in enumerate(book.groups))
    farm = replace(book.farm, name=nasty, season=nasty)
    book = replace(book, bins=bins, supplements=offers, groups=groups, farm=farm)
    made = Tree(farm_page(Farm(book, library), ["sw_boar"], ["north"], on=ON))
    assert made.faults == []
    assert len(made.all("script")) == 2  # the data and the script of the page
    assert nasty in made.text


@pytest.mark.slow
def test_a_plan_whose_days_are_over_says_so(report, two_groups, library):
    told = "The plan ends on 2026-08-14, before the day of this page."
    assert told not in Tree(page_of(report)).text
    assert told in Tree(farm_page(Farm(two_groups, library), ["sw_boar"], ["north"], on=date(2026, 8, 15))).text


def test_how_a_figure_was_obtained_stands_in_words(tree):
    about = tree.text[tree.text.index("What it rests on") : tree.text.index("Cautions")]
    assert "recalled" in about and "page+memory" not in about
    assert "recalled: memory:" not in about and ": rule:fill" not in about


def test_every_reason_stands_on_the_page_letter_for_letter(demo_book, library, tree):
    """Whoever looks for the words of a command finds them: no other letters stand for a space."""
    assert "\xa0" not in tree.text
    made = Farm(demo_book, library)
    told = [reason.text for one in solve_rations(made, ["hen_peak"], ["north"]) for reason in one.verdict.reasons]
    assert told and all(" ".join(text.split()) in " ".join(tree.text.split()) for text in told)


@pytest.mark.slow
def test_a_page_without_a_year_says_why(demo_book, library):
    book = replace(demo_book, groups=(), herd=(), arrivals=())
    made = Tree(farm_page(Farm(book, library), ["sw_gro_25_50"], ["north"], on=ON))
    assert made.faults == [] and "There is no plan of the year" in made.text
    assert "All groups" not in made.text


@pytest.mark.slow
def test_a_book_without_bins_and_a_ration_that_cannot_be_met(demo_book, library):
    """No grain, one offer: the page says that it must not be fed, why, and what it misses."""
    offers = tuple(row for row in demo_book.supplements if row.offer in ("corn_bought", "limestone", "salt"))
    none = dict.fromkeys(("groups", "herd", "arrivals", "bins", "samples", "sorted", "assays", "sown", "lots"), ())
    book = replace(demo_book, supplements=offers, **none)
    found = report_of(Farm(book, library), ["sw_gro_25_50"], on=ON)
    assert found.severity == "stop"
    made = Tree(page_of(found))
    assert made.faults == [] and "DO NOT FEED" in made.text
    for reason in found.cards[0].first.ration.verdict.weighing("stop"):
        assert reason.text in made.text


@pytest.mark.slow
@pytest.mark.slow
def test_where_nobody_can_be_fed_the_year_costs_nothing_and_no_bin_lasts(two_groups, library):
    """It told 0.00 USD for 0 t of feed, bins that last to the harvest, nothing to do, and every feed that helps."""
    offers = tuple(row for row in two_groups.supplements if row.offer in ("corn_bought", "limestone", "salt"))
    book = replace(two_groups, supplements=offers, lots=())
    found = report_of(Farm(book, library), ["sw_boar"], ["north"], on=ON)
    front = Tree(page_of(found)).text
    assert found.front.unfed and found.front.money == () and not found.front.bins[0].planned
    assert "not planned" in front and "for 0 t of feed" not in front
    assert ("to do now" in front) == bool(found.front.decisions)
    helps = list(dict.fromkeys(each.label for each in found.cards[0].first.ration.remedies))
    assert len(helps) > 6 and f"{' or '.join(helps[:6])} and {len(helps) - 6} others." in front


@pytest.mark.slow
def test_with_a_confidence_the_page_sends_questions_to_the_command(demo_book, library):
    book = replace(demo_book, groups=(), herd=(), arrivals=())
    made = Tree(farm_page(Farm(book, library).with_setting("confidence_pct", 80), ["sw_boar"], ["north"], on=ON))
    assert "The book asks for more than plain averages" in made.text


@pytest.mark.slow
def test_the_command_writes_the_page_and_tells_what_stops(write_book, tmp_path):
    sheets = read_sheets()
    sheets["groups"] = [row for row in sheets["groups"] if row["stage"] == "sw_boar"]
    sheets |= {"herd": [], "arrivals": []}
    path, run, target = str(write_book(sheets)), CliRunner(), tmp_path / "farm.html"
    asked = ["report", path, "-o", str(target), "--bin", "north"]
    done = run.invoke(app, asked)
    assert done.exit_code == 0, done.output
    assert target.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert run.invoke(app, ["report", path, "-o", str(tmp_path / "farm.pdf")]).exit_code == 2
    assert run.invoke(app, [*asked, "--stage", "nobody", "--overwrite"]).exit_code == 2
    done = run.invoke(app, [*asked, "--overwrite", "--price", "premix_sows=7000", "--format", "json"])
    assert done.exit_code == 0
    (ration,) = json.loads(done.stdout)["rations"]
    assert ration["id"] in target.read_text(encoding="utf-8")
