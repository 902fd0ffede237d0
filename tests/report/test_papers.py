"""Mix sheets, statement and review copy as pages: in the look of the farm's page, on a screen and on paper."""

from __future__ import annotations

import os
import re
import subprocess
from datetime import date
from html import unescape
from pathlib import Path

import browser
import pytest

from rationlp.farm import Farm
from rationlp.rations.formulate import solve_rations
from rationlp.rations.studies.review import review_of
from rationlp.report.papers.mix_sheets import SIZES_PCT, sheets_page
from rationlp.report.papers.review import review_page
from rationlp.report.papers.statement import statement_page
from rationlp.sheets.pack import make_pack
from rationlp.sheets.request import SheetRequest
from rationlp.trace.statement import Statement, StatementLine

pytestmark = pytest.mark.slow  # in a browser

STAGES = ("turkey_8_12", "sw_nur_11_25")
PAPERS = ("sheets", "statement", "review")
NASTY = "<script>alert(1)</script>\"&'"
SMALLEST_PX = 10.66
"""8 points."""


@pytest.fixture(scope="module")
def farm(demo_book, library) -> Farm:
    return Farm(demo_book, library)


@pytest.fixture(scope="module")
def pack(farm):
    return make_pack(farm, SheetRequest(count=4), STAGES, ["north"])


@pytest.fixture(scope="module")
def review(farm):
    return review_of(solve_rations(farm, STAGES[1:], ["north"]), farm)


@pytest.fixture(scope="module")
def statement() -> Statement:
    lines = (
        StatementLine("North bin", "oats, peas", 800.0, 0.8, True, "yes", ()),
        StatementLine(NASTY, "", 200.0, 0.2, False, "not stated", ("L1", "L2")),
    )
    days = date(2025, 10, 1), date(2025, 10, 31)
    return Statement(NASTY, "2025", "hens", 200, *days, ("AAAA-BBBB #1",), 1000.0, 0.8, lines, (NASTY,), "metric")


@pytest.fixture(scope="module")
def papers(farm, pack, review, statement) -> dict[str, str]:
    return {
        "sheets": sheets_page(pack, farm),
        "statement": statement_page(statement, farm.settings),
        "review": review_page(review, farm.settings, on=date(2025, 10, 1)),
    }


@pytest.mark.parametrize("name", PAPERS)
def test_a_paper_stands_alone_and_what_people_type_is_text(papers, name):
    text = papers[name]
    assert not re.search(r"(href|src)=\"(?!#)|<script|<link|<img|url\(| style=", text)
    assert "default-src 'none'" in unescape(text) and "unsafe" not in text
    assert len(re.findall(r"<h1[ >]", text)) == 1 and text.count("<caption>") == text.count("<table")


def test_days_are_as_the_book_writes_them(farm, statement):
    text = statement_page(statement, farm.with_setting("date_format", "DD.MM.YYYY").settings)
    assert "from 01.10.2025 to 31.10.2025" in text and "2025-10" not in text


def test_the_review_page_says_what_the_review_copy_says(papers, review):
    text = papers["review"].replace("\N{NO-BREAK SPACE}", " ")
    for reviewed in review.rations:
        assert text.count(f'id="r-{reviewed.id}"') == 1
        assert reviewed.ration.verdict.headline in text and "NOT SIGNED" in text and "Signature" in text
    assert f"<h3>Figures</h3>: {len(review.matrix)} lines" in text
    assert f"<h3>Duals</h3>: {len(review.duals)} lines" in text
    assert text.count("<details>") == 11


# In a browser --------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def driver():
    if why := browser.why_no_browser():
        pytest.skip(why)
    with browser.chromium() as made:
        yield made


@pytest.fixture(scope="module")
def pictures(request, tmp_path_factory) -> Path:
    kept = request.config.getoption("--pictures") or os.environ.get("PICTURES")
    folder = Path(kept) if kept else tmp_path_factory.mktemp("pictures")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@pytest.fixture(scope="module")
def files(papers, tmp_path_factory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("papers")
    for name, text in papers.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return {name: folder / f"{name}.html" for name in papers}


@pytest.mark.parametrize(("size", "dark"), [("PHONE", False), ("DESKTOP", True)])
@pytest.mark.parametrize("name", PAPERS)
def test_nothing_is_wrong_with_it_on_a_screen(driver, files, pictures, name, size, dark):
    """No word in the console, no request, no sideways scroll."""
    browser.opened(driver, files[name], getattr(browser, size), dark)
    assert browser.logged(driver) == []
    assert browser.asked_for(driver) == [files[name].resolve().as_uri()]
    assert driver.execute_script("return document.documentElement.scrollWidth") <= getattr(browser, size)[0]
    browser.picture(driver, pictures / f"{name}-{size.lower()}.png")


@pytest.mark.parametrize(
    ("name", "size", "dark"),
    [
        (name, size, dark)
        if (PAPERS.index(name) % 2 == 0) == dark  # by default one of the two
        else pytest.param(name, size, dark, marks=pytest.mark.long)
        for name in PAPERS
        for size, dark in (("PHONE", False), ("DESKTOP", True))
    ],
)
def test_axe_has_nothing_to_say(driver, files, name, size, dark):
    browser.opened(driver, files[name], getattr(browser, size), dark)
    assert browser.axe_findings(driver) == []


@pytest.mark.parametrize("paper", ["A4", "LETTER"])
@pytest.mark.parametrize("name", PAPERS)
def test_every_sheet_prints_on_one_paper_and_no_letter_is_small(driver, files, pictures, name, paper):
    browser.opened(driver, files[name], browser.DESKTOP)
    pdf = pictures / f"{name}-{paper.lower()}.pdf"
    pdf.write_bytes(browser.printed(driver, getattr(browser, paper)))
    said = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout
    pages = int(re.search(r"Pages: +(\d+)", said)[1])
    assert pages == driver.execute_script("return document.querySelectorAll('.paper').length")
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    small = driver.execute_script(
        "return [...document.querySelectorAll('body *')].filter(e => e.innerText)"
        f".map(e => [parseFloat(getComputedStyle(e).fontSize), e.tagName]).filter(e => e[0] < {SMALLEST_PX})"
    )
    assert small == []


def test_a_statement_has_room_to_sign_on_paper(driver, files):
    browser.opened(driver, files["statement"], browser.DESKTOP)
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    room = driver.execute_script("return parseFloat(getComputedStyle(document.querySelector('.signing')).marginTop)")
    assert room > 45  # 12 mm


def test_a_paper_is_printed_in_a_size_its_style_has():
    style = Path("rationlp/report/templates/paper.css")
    text = (Path(__file__).parents[2] / style).read_text(encoding="utf-8")
    assert {int(size) for size in re.findall(r"\.size-(\d+) ", text)} == set(SIZES_PCT) - {100}
