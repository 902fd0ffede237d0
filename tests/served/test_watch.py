"""When a book counts as saved: whole and standing still."""

from __future__ import annotations

import os
import shutil

import pytest
from random_farms import DEMO, read_sheets, write_sheets

from rationlp.book import new_book
from rationlp.files import record_of
from rationlp.served.watch import PATIENCE, STILL, Seen, Watch, is_whole, stamp_of


@pytest.fixture(scope="module")
def workbook(tmp_path_factory):
    path = tmp_path_factory.mktemp("watched") / "farm.xlsx"
    new_book(path, demo=True)
    return path


@pytest.fixture
def book(workbook, tmp_path):
    return shutil.copy(workbook, tmp_path / "farm.xlsx")


def looks(watch, book, count):
    return [watch.look(stamp_of(book), is_whole(book)) for _ in range(count)]


def settle(watch, book):
    assert looks(watch, book, STILL)[-1] is Seen.READY
    watch.done = stamp_of(book)


def test_a_book_that_stands_still_is_worked_on_once(book):
    watch = Watch()
    assert looks(watch, book, STILL) == [Seen.MOVING] * (STILL - 1) + [Seen.READY]
    watch.done = stamp_of(book)
    assert set(looks(watch, book, PATIENCE + 2)) == {Seen.SAME}


def test_saving_by_another_file_that_takes_its_name(book, tmp_path):
    watch = Watch()
    settle(watch, book)
    other = tmp_path / "lu8kx2.tmp"
    shutil.copy(book, other)
    assert looks(watch, book, 3) == [Seen.SAME] * 3, "what lies beside the book does not matter"
    other.replace(book)
    assert looks(watch, book, STILL)[-1] is Seen.READY


def test_a_book_that_is_gone_for_a_moment_is_no_news(book, tmp_path):
    watch = Watch()
    settle(watch, book)
    away = book.rename(tmp_path / "away.xlsx")
    assert set(looks(watch, book, PATIENCE - 1)) == {Seen.MOVING}
    away.rename(book)
    assert looks(watch, book, 2) == [Seen.SAME] * 2


def test_a_book_that_stays_away_is_told(book):
    watch = Watch()
    settle(watch, book)
    book.unlink()
    assert looks(watch, book, PATIENCE)[-1] is Seen.READY
    assert stamp_of(book).saved is None


@pytest.mark.parametrize("share", [0.0, 0.5, 0.999])
def test_a_half_written_book_is_waited_for(book, share):
    watch, data = Watch(), book.read_bytes()
    settle(watch, book)
    book.write_bytes(data[: int(share * len(data))])
    assert not is_whole(book)
    assert set(looks(watch, book, PATIENCE - 1)) == {Seen.MOVING}
    assert looks(watch, book, 1) == [Seen.READY], "one that stays so is told"
    book.write_bytes(data + b"")
    assert looks(watch, book, STILL)[-1] is Seen.READY


def test_while_it_grows_it_is_never_ready(book):
    watch = Watch()
    settle(watch, book)
    with book.open("ab") as file:
        for _ in range(3 * PATIENCE):
            file.write(b"x")
            file.flush()
            assert watch.look(stamp_of(book), whole=True) is Seen.MOVING


def test_a_folder_counts_by_its_tables(tmp_path):
    folder = write_sheets(read_sheets(), tmp_path / "book")
    watch = Watch()
    settle(watch, folder)
    (folder / ".~lock.bins.csv#").write_text("open")
    (folder / "notes.txt").write_text("mine")
    assert looks(watch, folder, 2) == [Seen.SAME] * 2
    (folder / "lots.csv").unlink()
    assert looks(watch, folder, STILL)[-1] is Seen.READY


def test_the_record_is_part_of_what_the_page_says(book):
    before = stamp_of(book)
    record_of(book).write_bytes(b"entries")
    after = stamp_of(book)
    assert after != before and after.saved == before.saved


def test_saved_is_the_time_of_the_newest_table(tmp_path):
    folder = shutil.copytree(DEMO, tmp_path / "book")
    for file in folder.iterdir():
        os.utime(file, (1_000_000_000, 1_000_000_000))
    os.utime(folder / "lots.csv", (1_000_000_500, 1_000_000_500))
    assert stamp_of(folder).saved.timestamp() == 1_000_000_500
