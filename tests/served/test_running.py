"""`rationlp open` as it is started: a process on a free port, a browser, a book that is edited."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from http.cookiejar import CookieJar
from pathlib import Path

import pytest
from browser import chromium, logged, why_no_browser
from command_line import run
from openpyxl import load_workbook
from selenium.webdriver.common.by import By
from served_farm import until

from rationlp.book import new_book
from rationlp.served.server import _listening


@contextmanager
def opened(book: Path, *options: str, **env: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """The address that a running `rationlp open` tells, and its process."""
    line = [sys.executable, "-m", "rationlp", "open", str(book), "--no-browser", *options]
    own = {"env": os.environ | env} if env else {}
    with subprocess.Popen(
        line, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True, **own
    ) as process:
        try:
            told = process.stdout.readline()
            yield re.search(r"http://\S+", told)[0], process
        finally:
            if process.poll() is None:
                process.terminate()
            process.stdout.close()
            process.stderr.close()


@pytest.fixture
def workbook(tmp_path: Path) -> Path:
    """The demo with one group, as a workbook."""
    path = tmp_path / "farm.xlsx"
    new_book(path, demo=True)
    edit(path, lambda book: [_left(book[sheet], rows) for sheet, rows in (("groups", 1), ("herd", 0), ("arrivals", 0))])
    return path


def _left(sheet, rows):
    """So many rows are left under the heading and its explanation."""
    sheet.delete_rows(3 + rows, sheet.max_row)


def edit(path: Path, change) -> None:
    """Saves a change as spreadsheet programs do: another file takes the place of the book."""
    book = load_workbook(path)
    change(book)
    other = path.with_name("saving.tmp")
    book.save(other)
    other.replace(path)


def cell_of(sheet, value):
    return next(cell for row in sheet.iter_rows() for cell in row if cell.value == value)


@pytest.mark.slow
def test_it_serves_this_computer_only_and_ends_when_told(workbook):
    with opened(workbook) as (address, process):
        with pytest.raises(urllib.error.HTTPError, match="403"):
            urllib.request.urlopen(address.partition("?")[0])
        visitor = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
        assert visitor.open(address).status == 200
        port = int(re.search(r":(\d+)/", address)[1])
        others = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)}
        for other in others - {"127.0.0.1"} | {"127.0.0.2"}:
            with pytest.raises(OSError), socket.create_connection((other, port), timeout=5):
                pass
        process.send_signal(signal.SIGINT)
        assert process.wait(60) == 0
        assert "Traceback" not in process.stderr.read()
    assert [path.name for path in workbook.parent.iterdir()] == [workbook.name]


@pytest.mark.slow
def test_ctrl_c_in_the_middle_of_the_work_ends_it_quietly(workbook):
    with opened(workbook) as (address, process):
        visitor = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
        visitor.open(address)
        state = address.partition("?")[0] + "state"
        until(lambda: visitor.open(state).read().decode(), lambda told: '"farm":1' in told)  # the page itself is begun
        os.killpg(process.pid, signal.SIGINT)  # as at a terminal: every process of it gets it
        assert process.wait(60) == 0
        assert "Traceback" not in process.stderr.read()


@pytest.mark.slow
def test_a_port_that_is_taken_is_told(workbook):
    with opened(workbook) as (address, _):
        port = re.search(r":(\d+)/", address)[1]
        done = run("open", str(workbook), "--no-browser", "--port", port)
    assert done.returncode == 2 and f"--port: found {port}, which cannot be used" in done.stderr


def test_on_windows_no_other_program_can_listen_at_its_port(monkeypatch):
    monkeypatch.setattr(socket, "SO_EXCLUSIVEADDRUSE", socket.SO_KEEPALIVE, raising=False)  # an option known here
    with _listening(0) as listening:
        assert listening.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE) == 1
        assert listening.getsockname()[0] == "127.0.0.1"


def test_no_book_no_server(tmp_path):
    done = run("open", str(tmp_path / "none.xlsx"), "--no-browser")
    assert done.returncode == 1 and "no such file or folder" in done.stderr


@pytest.mark.slow
def test_without_the_server_it_says_what_to_install(workbook):
    code = (
        "import sys; sys.modules.update(uvicorn=None, starlette=None, anyio=None);"
        f"sys.argv = ['rationlp', 'open', {str(workbook)!r}];"
        "from rationlp.__main__ import main; main()"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 1 and "pip install 'rationlp[open]'" in done.stderr and "Traceback" not in done.stderr


@pytest.mark.slow
@pytest.mark.skipif(bool(why_no_browser()), reason=why_no_browser())
def test_a_browser_follows_the_book(workbook):
    with opened(workbook) as (address, _), chromium() as driver:
        driver.get(address)

        def text():
            return driver.execute_script("return document.body ? document.body.innerText : ''")

        until(text, lambda shown: "This page is of the book saved at" in shown)
        assert "key=" not in driver.current_url

        edit(workbook, lambda book: setattr(cell_of(book["supplements"], 389), "value", "nothing"))
        shown = until(text, lambda shown: "to put right in the book" in shown)
        assert "supplements D" in shown and "nothing" in shown
        driver.find_element(By.LINK_TEXT, "The last page").click()
        assert "of the book saved at" in until(text, lambda shown: "What stands here is" in shown)
        driver.find_element(By.LINK_TEXT, "Problems").click()

        edit(workbook, lambda book: setattr(cell_of(book["supplements"], "nothing"), "value", 389))
        edit(workbook, lambda book: setattr(cell_of(book["farm"], "name").offset(column=1), "value", "Followed Farm"))
        until(text, lambda shown: "Followed Farm" in shown and "This page is of the book" in shown)

        driver.find_element(By.LINK_TEXT, "Files to save or print").click()
        driver.find_element(By.XPATH, "//button[.='What check says of the book']").click()
        until(text, lambda shown: "Save check.txt" in shown)
        assert logged(driver) == []
