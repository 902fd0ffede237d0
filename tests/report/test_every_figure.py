"""Every number on the page of a farm is one that a command says of the same book: tables cell by cell, sentences whole.

A table or a sentence that nothing here knows fails: what is added to the page is held against a command too. The
numbers of the sliders are held against prices put to the program (`test_browser.py`).
"""

from __future__ import annotations

import json
import re
from datetime import date, datetime

import pytest
from command_line import run
from demo_farms import few_groups, us_sheets
from page_tables import TABLES, Told, amount, batches, eaten, holds, idle, stock
from page_walk import Walk, numbers
from random_farms import read_sheets, write_sheets

from rationlp.api import open_farm
from rationlp.numbers import figure, money, percent, small_money
from rationlp.report.page import page_of, report_of
from rationlp.units import KG_PER_TONNE, Z90

pytestmark = pytest.mark.slow

BOOKS = {
    "us": lambda: us_sheets() | {"herd": [], "arrivals": []},
    "metric": few_groups,
    "demo": read_sheets,
}
LONG = [pytest.param(name, marks=pytest.mark.long) for name in ("metric", "demo")]
COMMANDS = ("ration", "bin", "offers", "year", "trace")


@pytest.fixture(scope="module", params=["us", *LONG])
def told(request, tmp_path_factory) -> Told:
    book = write_sheets(BOOKS[request.param](), tmp_path_factory.mktemp("page") / "farm")
    farm = open_farm(book)
    report = report_of(farm, on=date(2025, 10, 1))
    done = {name: run(name, book, "--format", "json") for name in COMMANDS}
    assert {each.returncode for each in done.values()} <= {0, 3}
    said = {name: json.loads(each.stdout) for name, each in done.items()}
    words = " ".join(text for document in said.values() for text in _strings(document))
    screens = " ".join(run(*asked).stdout for asked in (("year", book), ("ration", book)))
    return Told(farm, report, Walk(page_of(report)), said, re.sub(r"\s+", " ", f"{words} {screens}"))


def _strings(node):
    """Every text of a JSON answer."""
    if isinstance(node, str):
        yield node
    elif isinstance(node, (dict, list)):
        for each in node.values() if isinstance(node, dict) else node:
            yield from _strings(each)


@pytest.mark.slow
def test_every_cell_of_every_table_is_of_the_commands(told):
    seen = set()
    for table in told.walk.tables:
        if table.place == "ask":
            assert table.rows[1:] == []  # the script of the page fills it
            continue
        (rule,) = [rule for caption, rule in TABLES.items() if re.fullmatch(caption, table.caption)]
        seen.add(rule)
        expected = list(rule(told, table))
        if rule is holds:  # the four dearest, in the order of what a step of each costs
            assert len(table.rows) - 1 == min(len(expected), 4)
            assert {tuple(row) for row in table.rows[1:]} <= set(expected)
            continue
        assert len(table.rows) - 1 == len(expected), table.caption
        for row, cells in zip(table.rows[1:], expected, strict=True):
            for cell, wanted in zip(row, cells, strict=True):
                if wanted is not None:
                    assert cell == wanted or (numbers(cell) == numbers(wanted) and numbers(cell)), (
                        table.caption,
                        row,
                        cells,
                    )
    assert seen >= set(TABLES.values()) - {stock, idle, batches}


@pytest.mark.slow
def test_the_facts_of_every_card_are_of_the_commands(told):
    facts: dict[str, list[str]] = {}
    for tag, place, words in told.walk.sentences:
        if tag == "dd" and place.startswith("ration-"):
            facts.setdefault(place, []).append(words)
    assert {place.removeprefix("ration-") for place in facts} == {row["id"] for row in told.said["ration"]["rations"]}
    for place, (cost, head, grown) in facts.items():
        ration = told.ration(place)
        per_day, per_tonne = ration["feed_kg_per_head_per_day"], ration["cost_per_tonne"]
        per_head = per_day * per_tonne / KG_PER_TONNE
        assert cost == told.units.price(per_tonne) and grown == f"{percent(ration['home_grown_share'], 1)} %"
        assert head == f"{small_money(per_head)} in {told.units.weight(per_day, 3)}"


def _of_the_page(told, place, text):
    """Sentences that the page puts together: their numbers, from the answers; None for the others."""
    units = told.units
    if match := re.fullmatch(r"From (.+): (?:feed|ASK|STOP).*, ([\d.,]+) \S+", text):
        return [*numbers(match[1]), units.price(told.ration(place)["cost_per_tonne"]), *numbers(units.per_mass)]
    if match := re.match(r"(\S+): (\d+) head", text):
        (group,) = [each for each in told.farm.book.groups if each.group == match[1]]
        days = f"{told.day(group.from_date.isoformat())} to {told.day(group.to_date.isoformat())}"
        fed = f"{match[1]} {group.head} {days} {amount(told, eaten(group, told.ration(place)))}"
        return numbers(f"{fed} {_behind(told, place, text)}")
    if match := re.match(r"(.+): up to (\d+) head, ", text):
        rows = [
            row for table in told.walk.tables if table.caption.startswith("Animals: most head") for row in table.rows
        ]
        (there,) = [row for row in rows if row[0] == match[1]]  # held against `year` as a table
        return numbers(f"{match[1]} {there[1]} {there[2]} {there[3]} {_behind(told, place, text)}")
    if match := re.match(r"(\w{3} \d{4}): \d+ to buy", text):
        rows = told.of("year", "purchases", month=f"{datetime.strptime(match[1], '%b %Y'):%Y-%m}")
        cost, by = sum(row["cost"] for row in rows), told.day(min(row["order_by"] for row in rows))
        return numbers(f"{match[1]} {len(rows)} {money(cost)} {by}")
    return None


def _behind(told, place, text) -> str:
    """How many groups stand below the first of a card, where its line tells so for a printed page."""
    (card,) = [card for card in told.report.cards if card.first.place == place]
    return str(len(card.groups) - 1) if text.endswith(" more") else ""


def _pictures(told):
    """What pictures tell, from the answers: sorts, stocks, money by month; and the mixes to sign."""
    for bin_ in told.said["bin"]["bins"]:
        rows = bin_["crops"]
        yield " ".join(f"{percent(row['share'], 1)} {percent(Z90 * row['sd'], 1)}" for row in rows)
        rows = [row for row in told.said["year"]["stocks"] if row["bin"] == bin_["bin"]]
        yield "9 10 " + " ".join(f"{row['month'][:4]} {told.units.bulk(row['tonnes'])}" for row in rows)
    months = {row["month"]: 0.0 for row in told.said["year"]["stocks"]}
    for row in told.said["year"]["purchases"]:
        months[row["month"]] += row["cost"]
    yield " ".join(f"{month[:4]} {cost:,.0f}" for month, cost in sorted(months.items()))
    for ration in told.said["ration"]["rations"]:
        yield " ".join(f"{row['label']} {figure(100 * row['share'])}" for row in ration["mix"] if row["share"])


KNOWN = (
    r"Page of .* Book version \S+, rationlp \S+\. Money in \w+; .*",
    r"(Every requirement of|Every offer in|Every crop and nutrient of) \S+",
    r"(\d+ lighter ones|\d+ sources|\d+ older batches)",
    r"In no mix: \d+ offers, and the price at which each comes in",
    r"How sure, and how much home-grown: .*|.*\(\w{4}-\w{4}\)|Ration \w{4}-\w{4}(: .*)?",
    r"\w+ from [\w ]+, ration \w{4}-\w{4}",
    r"\d+ batches on record\. Days are the widest that the record allows\.",
    r".*, book version \S+, page of \S+|NOT SIGNED.*|Ration \S+: signed by .*",
    r"Figures in the mixes: .* the heaviest first\.",
)
"""Sentences whose numbers are of the page itself, or of the book as it was typed."""


def test_every_sentence_with_a_number_is_of_the_commands(told):
    lost = []
    pictures = [numbers(text) for text in _pictures(told)]
    tonnes = {f"{told.units.bulk(row['tonnes'])}; " for row in told.said["bin"]["bins"]}
    tonnes |= {f"Sample {row['sample']} of {told.day(row['taken_on'])}. " for row in told.said["bin"]["bins"]}
    for tag, place, text in told.walk.sentences:
        if not numbers(text) or tag in ("dd", "h1", "h2", "h3") or (place == "sources" and tag == "li"):
            continue
        if any(re.fullmatch(known, text) for known in KNOWN):
            continue
        made = _of_the_page(told, place, text)
        if made is not None:
            assert numbers(text) == made, text
        elif numbers(text) in pictures:
            continue
        elif not all(part in tonnes or part.strip(" .") in told.words for part in _parts(text)):
            lost.append((tag, place, text))
    assert lost == [], "\n".join(map(str, lost))


def _parts(text: str) -> list[str]:
    """A sentence of the page without what it puts before and behind those of the commands."""
    text = re.sub(r"^(?:[a-z]{1,2} )?(?:feed|ASK|STOP|Note|Look at this|DANGER)(?: [a-z,-]+)?:? ", "", text)
    text = re.sub(r"(?:^| )\((?:the worst of \d+: )?[^()]*(?:\([^()]*\))?[^()]*\)$", "", text)
    return [part for part in re.split(r"(?<=[.;:] )", text) if numbers(part)]
