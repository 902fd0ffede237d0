"""The page follows the book, whatever the farmer does with it."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import datetime
from types import SimpleNamespace

import pytest
from served_farm import plain_page, served, small_book, until

from rationlp.book.records import usual_settings
from rationlp.errors import SolverError
from rationlp.files import clean
from rationlp.served.changes import told
from rationlp.served.render import line_of
from rationlp.served.state import Desk, Now, Page, Task
from rationlp.served.watch import stamp_of
from rationlp.served.work import BAR, farm_report


def rename(book, name):
    """Saves another name of the farm, as a spreadsheet program does: a new file takes the place of the old one."""
    lines = (book / "farm.csv").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line.startswith("name,")]
    new = book / ".saving.tmp"
    new.write_text("\n".join([kept[0], f"name,{name}", *kept[1:]]) + "\n", encoding="utf-8")
    new.replace(book / "farm.csv")


def break_price(book):
    offers = book / "supplements.csv"
    text = offers.read_text(encoding="utf-8")
    offers.write_text(text.replace("389", "nothing", 1), encoding="utf-8")
    return lambda: offers.write_text(text, encoding="utf-8")


@pytest.fixture
def book(tmp_path):
    return small_book(tmp_path)


@pytest.mark.slow
def test_a_saved_book_is_a_new_page(book):
    with served(book) as visitor:
        first = visitor.rest()["farm"]
        rename(book, "Second farm")
        after = visitor.until(lambda state: state["farm"] != first)
        assert "<h1>Second farm</h1>" in visitor.get("/").text
        assert "This page is of the book saved at" in after["line"] and not after["old"]
        assert "Second farm" in visitor.get("/farm.html").text


def test_a_page_is_made_once_for_the_server_and_for_the_file(monkeypatch):
    made = []

    class Farm:
        settings = usual_settings()

        def report(self):
            return SimpleNamespace(cases=())

    def page_of(report):
        made.append(report)
        return '<meta http-equiv="Content-Security-Policy" content="none">\n<header>\n<h1>A farm</h1>'

    monkeypatch.setattr("rationlp.report.page.page_of", page_of)
    found = farm_report(Farm())
    assert len(made) == 1
    assert found.page == f"{BAR}\n<header>\n<h1>A farm</h1>" and found.file == page_of(None)


@pytest.mark.slow
def test_two_browsers_see_the_same(book):
    with served(book) as visitor:
        visitor.rest()
        pages = []

        def read():
            pages.append(visitor.client.get("/").text)

        threads = [threading.Thread(target=read) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert len(pages) == 8 and len(set(pages)) == 1


@pytest.mark.slow
def test_problems_stand_with_their_cells_and_the_last_page_is_marked(book):
    with served(book) as visitor:
        first = visitor.rest()["farm"]
        mend = break_price(book)
        visitor.until(lambda state: state["farm"] != first)
        page = visitor.get("/").text
        assert "1 problem to put right" in page and "supplements D" in page and "nothing" in page
        last = visitor.get("/last").text
        assert "<h1>Stillwater" in last and "follow-old" in last
        assert "has 1 problem to put right" in last
        mend()
        visitor.until(lambda state: state["farm"] > first + 1)
        assert "<h1>Stillwater" in visitor.get("/").text
        assert visitor.client.get("/last", follow_redirects=False).headers["location"] == "/"


@pytest.mark.slow
def test_what_a_price_changes_is_told(book):
    def with_rations(farm):
        return replace(plain_page(farm), rations=told([made.ration for made in farm.rations()], farm.settings))

    with served(book, with_rations) as visitor:
        first = visitor.rest()["farm"]
        assert "changed since the book" not in visitor.get("/").text
        rename(book, "The same rations")
        second = visitor.until(lambda state: state["farm"] != first)["farm"]
        assert "The rations are as of the book saved at" in visitor.get("/").text
        offers = book / "supplements.csv"
        offers.write_text(offers.read_text(encoding="utf-8").replace("389", "420", 1), encoding="utf-8")
        visitor.until(lambda state: state["farm"] != second)
        page = visitor.get("/").text
        assert "changed since the book saved at" in page and "USD/t (before: " in page and " from north: " in page


@pytest.mark.slow
def test_a_book_with_problems_from_the_start(book):
    mend = break_price(book)
    with served(book) as visitor:
        visitor.rest()
        assert "supplements D" in visitor.get("/").text and "/last" not in visitor.get("/").text
        mend()
        visitor.until(lambda state: "This page is" in state["line"])


@pytest.mark.slow
def test_a_book_that_is_gone_and_comes_back(book, tmp_path):
    with served(book) as visitor:
        first = visitor.rest()["farm"]
        away = book.rename(tmp_path / "renamed")
        visitor.until(lambda state: state["farm"] != first)
        assert "no such file or folder" in visitor.get("/").text
        away.rename(book)
        visitor.until(lambda state: "This page is" in state["line"])


def test_what_is_waited_for_is_told_as_it_is(tmp_path):
    """At the start the book is read; later it is being saved, or it is not there."""
    now = datetime(2025, 10, 1, 8)
    start = Now(task=Task(now, now, waits=True))
    page = Page("", "", now, 1.0)
    later = replace(start, shown=page, page=page)
    gone = replace(later, task=Task(now, None, waits=True))
    assert line_of(start, "farm") == "The book is being read."
    assert line_of(later, "farm").startswith("The book is being saved. ")
    assert line_of(gone, "farm").startswith("The book is not there;")
    desk = Desk(tmp_path, None, plain_page, plain_page)
    desk._wait(stamp_of(tmp_path / "none"))
    desk._wait(stamp_of(small_book(tmp_path)))
    assert desk.now.task.saved is not None and desk.now.task.waits


@pytest.mark.slow
def test_the_wait_is_told_and_a_save_in_the_middle_starts_anew(book):
    entered, go_on, names = threading.Event(), threading.Event(), []

    def slow(farm):
        names.append(farm.settings.name)
        if len(names) == 1:
            entered.set()
            go_on.wait(60)
        return plain_page(farm)

    with served(book, slow) as visitor:
        assert until(lambda: entered.is_set(), bool)
        state = visitor.state()
        assert "Working since" in state["line"] and not state["old"]
        assert "is being worked out" in visitor.get("/").text and "1 group of animals" in visitor.get("/").text
        rename(book, "Saved meanwhile")
        visitor.until(lambda state: "This page is" in state["line"])
        assert "<h1>Saved meanwhile</h1>" in visitor.get("/").text
        go_on.set()
    assert names[1:] == ["Saved meanwhile"]


@pytest.mark.slow
def test_while_the_next_is_made_the_old_page_stays_and_says_so(book):
    go_on = threading.Event()

    def second_is_slow(farm):
        if farm.settings.name == "Second":
            go_on.wait(60)
        return plain_page(farm)

    with served(book, second_is_slow) as visitor:
        visitor.rest()
        rename(book, "Second")
        state = visitor.until(lambda state: "Working since" in state["line"])
        assert state["old"] and "What stands here is of the book saved at" in state["line"]
        assert "<h1>Stillwater" in visitor.get("/").text and "follow-old" in visitor.get("/").text
        go_on.set()
        assert not visitor.until(lambda state: "This page is" in state["line"])["old"]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("raised", "told"),
    [(SolverError("The answer did not stand up."), "did not stand up"), (KeyError("x"), "defect of the program")],
)
def test_a_calculation_that_fails_is_told(book, raised, told):
    def fails(farm):
        raise raised

    with served(book, fails) as visitor:
        visitor.rest()
        page = visitor.get("/").text
        assert "There is no page of the book as it stands" in page and told in page and "Traceback" not in page


@pytest.mark.slow
def test_labels_cannot_speak_html(book):
    hostile = "<script>alert(1)</script><!--rationlp: the bar of the server--> \"'"
    offers = book / "supplements.csv"
    rename(book, '"' + hostile.replace('"', '""') + '"')
    with served(book) as visitor:
        visitor.rest()
        assert "<script>alert" not in visitor.get("/").text
        text = offers.read_text(encoding="utf-8")
        offers.write_text(text.replace("389", "<img src=x onerror=alert(1)>", 1), encoding="utf-8")
        visitor.until(lambda state: "put right" in state["line"])
        page = visitor.get("/").text
        assert "<img" not in page and "&lt;img src=x" in page
        assert clean(page) == page


@pytest.mark.slow
def test_the_check_shows_warnings(book):
    bins = book / "groups.csv"
    lines = bins.read_text(encoding="utf-8").splitlines()
    heads, row = lines[0].split(","), lines[1].split(",")
    row[heads.index("feed_per_head_per_day")] = "0.01"
    bins.write_text("\n".join([lines[0], ",".join(row)]) + "\n", encoding="utf-8")
    with served(book) as visitor:
        visitor.rest()
        page = visitor.get("/check").text
        assert "groups" in page and "Warnings: they stop nothing" in page
