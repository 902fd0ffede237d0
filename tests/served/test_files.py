"""Files for download: what the command makes, of a whitelist of commands, and nothing of the disk."""

from __future__ import annotations

import csv
import io
import re
import shutil

import pytest
from command_line import run
from openpyxl import load_workbook
from served_farm import served, small_book

from rationlp.files import record_of
from rationlp.served.offered import KINDS, Asked, in_words_of_the_page


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    return small_book(tmp_path_factory.mktemp("offered"))


@pytest.fixture(scope="module")
def visitor(book):
    with served(book) as visitor:
        visitor.rest()
        yield visitor


def made(visitor, kind, data=None):
    """The number and the name of a file, once it is there, and what the command said."""
    answer = visitor.post(f"/files/{kind}", data)
    assert answer.status_code == 200 and KINDS[kind].title in answer.text
    visitor.until(lambda _: "Working since" not in visitor.get("/files").text, "files")
    page = visitor.get("/files").text
    start = page.index('<h2 id="made">')
    newest = page[start : page.index("</li>", start)]
    return re.search(r'href="/file/(\d+)" download="([^"]+)"', newest), page


@pytest.mark.slow
def test_rations_as_a_table_are_those_of_the_command(visitor, book):
    found, _ = made(visitor, "ration")
    answer = visitor.get(f"/file/{found[1]}")
    assert found[2] == "rations.csv" and "attachment" in answer.headers["content-disposition"]
    assert answer.text == run("ration", str(book), "--format", "csv").stdout
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"


@pytest.mark.slow
def test_what_check_says_is_what_it_says(visitor, book):
    found, _ = made(visitor, "check")
    assert visitor.get(f"/file/{found[1]}").text == run("check", str(book)).stdout


@pytest.mark.slow
def test_mix_sheets_are_those_of_the_command_and_are_in_the_record(book, tmp_path):
    mine, its = (shutil.copytree(book, tmp_path / name / "book") for name in ("mine", "its"))
    with served(mine) as visitor:
        visitor.rest()
        before = sorted(path.name for path in mine.iterdir())
        found, _ = made(visitor, "sheets_print")
        shown = visitor.get(f"/file/{found[1]}?open=1")
        assert shown.headers["content-security-policy"].startswith("sandbox allow-modals; default-src 'none'")
        visitor.rest()  # the record is part of the page
    run("sheets", str(its), "-o", str(tmp_path / "mix_sheets.html"))
    assert shown.text == (tmp_path / "mix_sheets.html").read_text(encoding="utf-8")
    assert sorted(path.name for path in mine.iterdir()) == sorted([*before, record_of(mine).name])


@pytest.mark.long
@pytest.mark.parametrize("kind", ["sheets", "review", "year"])
def test_workbooks_open(visitor, kind):
    found, page = made(visitor, kind)
    assert found, page
    assert load_workbook(io.BytesIO(visitor.get(f"/file/{found[1]}").content)).sheetnames


@pytest.mark.slow
def test_a_statement_without_batches_says_why_there_is_none(visitor, book):
    with (book / "groups.csv").open(encoding="utf-8") as file:
        group = next(csv.DictReader(file))["group"]
    found, page = made(visitor, "statement", {"group": group})
    alone = run("trace", str(book), "--group", group, "--statement", "-o", str(book.parent / "s.html"))
    if alone.returncode:
        assert not found and "There is no file" in page
    else:
        assert visitor.get(f"/file/{found[1]}").text == (book.parent / "s.html").read_text(encoding="utf-8")


def test_what_a_command_says_names_the_field_and_no_option():
    told = "error: --group: found nothing mixed for hens; expected batches.\n1 problem to put right; nothing was done."
    asked = "error: Group: found nothing mixed for hens; expected batches.\n1 problem to put right; nothing was done."
    assert in_words_of_the_page(told) == asked
    assert (
        in_words_of_the_page("Ask rationlp ration --price OFFER=PRICE.") == "Ask rationlp ration --price OFFER=PRICE."
    )


@pytest.mark.slow
def test_only_groups_of_the_book_reach_a_command(visitor):
    for group in ("", "--library=/etc", "nobody", "x" * 10_000):
        assert visitor.post("/files/statement", {"group": group}).status_code == 400
    line = KINDS["statement"].line(*3 * (visitor.client.base_url.path,), "--export=/tmp/x")
    assert "--group=--export=/tmp/x" in line


@pytest.mark.parametrize(
    "address",
    [
        "/files/../../etc/passwd",
        "/files/%2e%2e%2fetc%2fpasswd",
        "/file/../farm.csv",
        "/file/%2e%2e/farm.csv",
        "/file//etc/passwd",
        "/file/-1",
        "/file/999999",
        "/file/1e3",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/..%5c..%5cfarm.csv",
        "/templates/page.html",
        "/open.css/../farm.csv",
        "//etc/passwd",
        "/farm.csv",
        "/file/farm.xlsx",
    ],
)
def test_no_path_leads_to_the_disk(visitor, address):
    answer = visitor.get(address)
    assert answer.status_code in (404, 405)
    assert "root:" not in answer.text and "setting" not in answer.text


def test_nothing_is_made_by_a_link(visitor):
    assert visitor.get("/files/sheets").status_code == 405
    assert visitor.client.post("/files/sheets").status_code == 403, "another site's form says no origin of ours"
    assert visitor.post("/files/nothing").status_code == 404


@pytest.mark.parametrize(
    ("group", "name"),
    [("sows", "statement_sows.html"), ("../../x", "statement_______x.html"), ('a"b\r\nc', "statement_a_b__c.html")],
)
def test_a_file_is_named_after_its_group_and_nothing_else(group, name):
    assert Asked(1, KINDS["statement"], group, None).name == name


def test_every_kind_is_of_a_command_that_takes_its_words(visitor):
    from rationlp.cli.overview import COMMANDS

    for kind in KINDS.values():
        assert kind.command in COMMANDS
        assert all(word.startswith("--") for word in kind.words)
