"""The page in a real browser: on the phone, on the desk, in the dark, printed, and what its prices say."""

from __future__ import annotations

import os
import random
import subprocess
from dataclasses import replace
from datetime import date
from pathlib import Path

import browser
import pytest

from rationlp.book.records import Book
from rationlp.farm import Farm
from rationlp.numbers import money, percent, plain, small_money
from rationlp.rations.formulate import solve_rations
from rationlp.report.page import Report, page_of, report_of

pytestmark = pytest.mark.slow

if why := browser.why_no_browser():
    pytest.skip(why, allow_module_level=True)

ON = date(2025, 10, 1)
STAGES = ("sw_gro_25_50", "sw_lact_p2_230", "hen_peak")
PAGES_BEFORE_SIGNING = 6


@pytest.fixture(scope="module")
def pictures(request, tmp_path_factory) -> Path:
    kept = request.config.getoption("--pictures") or os.environ.get("PICTURES")
    folder = Path(kept) if kept else tmp_path_factory.mktemp("pictures")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@pytest.fixture(scope="module")
def report(demo_book, library) -> Report:
    return report_of(Farm(demo_book, library), STAGES, on=ON)


@pytest.fixture(scope="module")
def page(report, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("page") / "farm.html"
    path.write_text(page_of(report), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def driver():
    with browser.chromium() as made:
        yield made


@pytest.mark.slow
@pytest.mark.parametrize(
    ("size", "dark", "name"),
    [("PHONE", False, "phone"), ("DESKTOP", False, "desktop"), ("PHONE", True, "phone-dark")],
)
def test_nothing_is_wrong_with_it(driver, page, pictures, size, dark, name):
    """No word in the console, no request, no sideways scroll, every plot drawn."""
    browser.opened(driver, page, getattr(browser, size), dark)
    assert browser.logged(driver) == []
    assert browser.asked_for(driver) == [page.resolve().as_uri()]
    wide, window = driver.execute_script("return [document.documentElement.scrollWidth, document.body.clientWidth]")
    assert wide <= max(window, getattr(browser, size)[0])
    drawn = "return [...document.querySelectorAll('svg')].map(s => s.getBoundingClientRect().height)"
    heights = driver.execute_script(drawn)
    assert heights and min(heights) > 5
    browser.picture(driver, pictures / f"{name}.png")


@pytest.fixture(scope="module")
def short_page(demo_book, library, tmp_path_factory) -> Path:
    """The page of a farm with two groups: every kind of part, few rows of each."""
    groups = tuple(row for row in demo_book.groups if row.stage in ("sw_gro_25_50", "hen_peak"))[:2]
    path = tmp_path_factory.mktemp("short") / "farm.html"
    farm = Farm(replace(demo_book, groups=groups, herd=(), arrivals=()), library)
    path.write_text(page_of(report_of(farm, on=ON)), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("size", "dark", "whole"),
    [
        ("PHONE", True, False),
        pytest.param("PHONE", False, True, marks=pytest.mark.long),
        pytest.param("PHONE", True, True, marks=pytest.mark.long),
        pytest.param("DESKTOP", False, True, marks=pytest.mark.long),
    ],
)
def test_folded_out_axe_has_nothing_to_say(driver, page, short_page, size, dark, whole):
    browser.opened(driver, page if whole else short_page, getattr(browser, size), dark)
    driver.execute_script("document.querySelectorAll('details').forEach(each => { each.open = true; })")
    assert driver.execute_script("return document.documentElement.scrollWidth") <= getattr(browser, size)[0]
    assert browser.axe_findings(driver) == []


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["A4", "LETTER"])
def test_it_prints_in_a_few_pages_and_no_letter_is_small(driver, page, pictures, paper):
    browser.opened(driver, page, browser.DESKTOP)
    pdf = pictures / f"{paper.lower()}.pdf"
    pdf.write_bytes(browser.printed(driver, getattr(browser, paper)))
    text = subprocess.run(["pdftotext", pdf, "-"], capture_output=True, text=True, check=True).stdout
    first_to_sign = next(place for place, words in enumerate(text.split("\f")) if "To sign" in words)
    assert first_to_sign <= PAGES_BEFORE_SIGNING
    assert "Signature" in text and "What if a price moves" not in text
    assert _front_pages(text) <= 1
    sizes = "return [...document.querySelectorAll('main *')].filter(e => e.innerText || e.tagName === 'text')"
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    small = driver.execute_script(
        f"{sizes}.map(e => [parseFloat(getComputedStyle(e).fontSize), e.tagName, e.className.baseVal || e.className])"
        ".filter(e => e[0] < 10.66 && e[1] !== 'text')"  # 8 pt; words of pictures are in their own units
    )
    assert small == []
    assert driver.execute_script(CUT_OFF) == []


@pytest.mark.slow
def test_the_cards_of_a_large_farm_print_behind_the_rest(driver, report, tmp_path, monkeypatch):
    monkeypatch.setattr("rationlp.report.page.MOST_CARDS", 2)
    path, pdf = tmp_path / "many.html", tmp_path / "many.pdf"
    path.write_text(page_of(report), encoding="utf-8")
    browser.opened(driver, path, browser.DESKTOP)
    pdf.write_bytes(browser.printed(driver, browser.A4))
    text = subprocess.run(["pdftotext", pdf, "-"], capture_output=True, text=True, check=True).stdout
    heads = ("Now", "Rations", "The year", "What it rests on", "The cards of the rations", "To sign")
    pages = [next(at for at, words in enumerate(text.split("\f")) if f"\n{head}\n" in f"\n{words}") for head in heads]
    assert pages == sorted(pages) and pages[-3] < pages[-2] < pages[-1]


CUT_OFF = """
return [...document.querySelectorAll('svg text')].filter(each => {
  const box = each.getBBox(), room = each.ownerSVGElement.viewBox.baseVal;
  return box.x < 0 || box.x + box.width > room.width || box.y + box.height > room.height;
}).map(each => each.textContent);
"""
"""Words of pictures that run over their edge."""


def _front_pages(text: str) -> int:
    """Pages that the front takes whole: the rations begin on the one after them, or on its last."""
    return next(place for place, words in enumerate(text.split("\f")) if "\nRations\n" in f"\n{words}")


def _many_groups(book: Book, count: int) -> Book:
    times = 1 + count // len(book.groups)
    groups = [replace(row, group=f"{row.group}_{time}") for time in range(times) for row in book.groups]
    return replace(book, groups=tuple(groups[:count]), herd=(), arrivals=())


@pytest.mark.long
@pytest.mark.parametrize("groups", [0, 60])
@pytest.mark.parametrize("paper", ["A4", "LETTER"])
def test_a_whole_farm_prints_in_six_pages(driver, demo_book, library, pictures, tmp_path, paper, groups):
    book = _many_groups(demo_book, groups) if groups else demo_book
    path = tmp_path / "demo.html"
    path.write_text(page_of(report_of(Farm(book, library), on=ON)), encoding="utf-8")
    assert path.stat().st_size < 1.5e6
    browser.opened(driver, path, browser.DESKTOP)
    pdf = pictures / f"demo{groups or ''}-{paper.lower()}.pdf"
    pdf.write_bytes(browser.printed(driver, getattr(browser, paper)))
    text = subprocess.run(["pdftotext", pdf, "-"], capture_output=True, text=True, check=True).stdout
    first_to_sign = next(place for place, words in enumerate(text.split("\f")) if "To sign" in words)
    assert _front_pages(text) <= 1
    assert first_to_sign <= PAGES_BEFORE_SIGNING


ASK = """
const [ration, offer, price] = arguments;
const select = document.getElementById('ask-ration');
if (select.value !== ration) { select.value = ration; select.dispatchEvent(new Event('change')); }
const fields = [...document.querySelectorAll('#ask-sliders .slider')];
const field = fields.find(each => each.querySelector('label').textContent.startsWith(offer + ' ('));
if (!field) return null;
const number = field.querySelector('input[type=number]');
if (price === null) return [Number(number.min), Number(number.max)];
number.value = price;
number.dispatchEvent(new Event('input'));
const rows = [...document.querySelectorAll('#ask-mix tr')].map(row => [...row.children].map(cell => cell.textContent));
const told = name => document.getElementById(name).textContent;
return [told('ask-cost'), told('ask-head'), told('ask-grown'), rows, field.querySelector('input').value];
"""


def _asked(driver, report: Report, draw: random.Random, count: int) -> int:
    """So many prices put to the page and to the program: the same words in both."""
    farm, answered = report.farm, 0
    while answered < count:
        card = draw.choice(report.cards).first
        offer = draw.choice(farm.book.supplements).offer
        ends = driver.execute_script(ASK, card.id, offer, None)
        if ends is None:
            continue
        price = round(draw.uniform(*ends), 2)
        cost, head, grown, rows, _ = driver.execute_script(ASK, card.id, offer, f"{price:.2f}")
        (made,) = solve_rations(farm.with_price(offer, price), [card.ration.stage], card.ration.bins)
        ration = made.ration
        assert cost.split(" (")[0] == money(ration.cost_per_tonne), (card.id, offer, price)
        assert grown == f"{percent(ration.home_grown_share, 1)} %"
        assert head == small_money(ration.cost_per_tonne * ration.feed_kg_per_head_per_day / 1000)
        batch = farm.settings.batch_kg
        mix = {line.offer: plain(line.share * batch, 4) for line in ration.mix if line.share}
        assert {name: kg for name, kg, _ in rows if kg != "out"} == mix
        answered += 1
    return answered


@pytest.mark.parametrize("count", [12, pytest.param(200, marks=pytest.mark.long)])
def test_a_price_moved_on_the_page_says_what_the_program_says(driver, page, report, count):
    browser.opened(driver, page, browser.DESKTOP)
    assert _asked(driver, report, random.Random(f"prices {count}"), count) == count
    assert browser.logged(driver) == []


@pytest.mark.slow
def test_keys_move_a_price_and_a_button_puts_it_back(driver, page, report):
    from selenium.webdriver.common.by import By
    from selenium.webdriver.common.keys import Keys

    browser.opened(driver, page, browser.DESKTOP)
    today = driver.find_element(By.ID, "ask-cost").text
    assert today == money(report.cards[0].first.ration.cost_per_tonne)
    sliders = driver.find_elements(By.CSS_SELECTOR, "#ask-sliders input[type=range]")
    names = [each.text for each in driver.find_elements(By.CSS_SELECTOR, "#ask-sliders label")]
    place = next(i for i, name in enumerate(names) if name.startswith("soy48_bulk"))
    sliders[place].send_keys(Keys.ARROW_RIGHT, Keys.ARROW_RIGHT)
    assert "instead of 389.00" in driver.find_element(By.ID, "ask-what").text
    assert today in driver.find_element(By.ID, "ask-cost").text != today
    driver.find_element(By.ID, "ask-back").click()
    assert driver.find_element(By.ID, "ask-cost").text == today
    assert driver.find_element(By.ID, "ask-what").text == "Today's prices"


@pytest.mark.slow
def test_a_level_of_certainty_moved_on_the_page_says_what_the_program_says(driver, demo_book, library, tmp_path):
    from selenium.webdriver.common.by import By

    farm, path = Farm(demo_book, library), tmp_path / "levels.html"
    path.write_text(page_of(report_of(farm, STAGES[:1], ["north"], on=ON, frontiers=True)), encoding="utf-8")
    browser.opened(driver, path, browser.PHONE)
    move = "const s = document.getElementById('ask-l-0'); s.value = 4; s.dispatchEvent(new Event('input'))"
    driver.execute_script(move)
    (made,) = solve_rations(farm.with_setting("confidence_pct", 90), STAGES[:1], ["north"])
    told = {name: driver.find_element(By.ID, f"ask-{name}").text for name in ("what", "verdict", "cost", "grown")}
    assert told["what"].startswith("Confidence, %: 90, ration ") and told["verdict"] == made.ration.verdict.headline
    assert told["cost"].startswith(f"{money(made.ration.cost_per_tonne)} (today ")
    assert told["grown"] == f"{percent(made.ration.home_grown_share, 1)} %"
    assert browser.logged(driver) == []


@pytest.mark.slow
def test_without_scripts_the_numbers_stand_in_tables(driver, page):
    browser.opened(driver, page, browser.DESKTOP)
    driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        driver.get(page.resolve().as_uri())
        hidden = {"expression": "document.getElementById('ask').hidden"}
        told = driver.execute_cdp_cmd("Runtime.evaluate", hidden)["result"].get("value")
        assert told in (None, True)
    finally:
        driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
    assert page.read_text(encoding="utf-8").count('<table class="steps">') == len(STAGES)


@pytest.mark.slow
def test_hostile_names_do_nothing(driver, demo_book, library, tmp_path):
    nasty = "<img src=x onerror=alert(1)></script><script>alert(2)</script>"
    book = replace(
        demo_book,
        groups=tuple(row for row in demo_book.groups if row.stage == "sw_boar"),
        herd=(),
        arrivals=(),
        farm=replace(demo_book.farm, name=nasty),
        supplements=tuple(replace(row, label=nasty) for row in demo_book.supplements),
    )
    path = tmp_path / "nasty.html"
    path.write_text(page_of(report_of(Farm(book, library), on=ON)), encoding="utf-8")
    browser.opened(driver, path, browser.PHONE)
    assert browser.logged(driver) == [] and browser.asked_for(driver) == [path.resolve().as_uri()]
    assert driver.execute_script("return document.images.length") == 0
