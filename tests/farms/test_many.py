"""The rations of many books: the same as one by one, nothing lost, whatever happens to a book or a process."""

from __future__ import annotations

import csv
import json
import multiprocessing
import os
import shutil
import signal
import time
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import synchronize
from pathlib import Path

import pytest
from command_line import run

import rationlp
from rationlp.cli.commands import many as command
from rationlp.farms import results
from rationlp.farms.kept import kept_results, part_of
from rationlp.farms.processes import end_with_parent
from rationlp.farms.results import book_result, gathered, many
from rationlp.show.data.many import COLUMNS, BookResult, as_csv

DEMO = Path(__file__).parents[2] / "rationlp" / "book" / "demo_book"


def small_book(folder: Path, name: str) -> Path:
    """The demo with one group, so that it has a ration for each bin."""
    book = folder / name
    shutil.copytree(DEMO, book)
    for sheet in ("herd", "arrivals"):
        (book / f"{sheet}.csv").unlink(missing_ok=True)
    first, _, row, *_ = [*(book / "groups.csv").read_text().splitlines(), "", ""]
    (book / "groups.csv").write_text(f"{first}\n{row}\n")
    return book


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """Three good books and, second, one with a price that is none."""
    folder = tmp_path_factory.mktemp("farms")
    made = [small_book(folder, f"farm_{k}") for k in range(4)]
    offers = made[1] / "supplements.csv"
    offers.write_text(offers.read_text().replace("389", "nothing", 1))
    return [str(book) for book in made]


@pytest.fixture(scope="module")
def one_by_one(books: list[str]) -> list[BookResult]:
    return list(many(books))


@pytest.mark.slow
def test_each_book_has_its_rations_or_its_problems(books, one_by_one):
    assert [result.book for result in one_by_one] == books
    assert [result.ok for result in one_by_one] == [True, False, True, True]
    assert "supplements!D" in one_by_one[1].error and not one_by_one[1].rations
    alone = json.loads(run("ration", books[0], "--format", "json").stdout)["rations"]
    for mine, its in zip(one_by_one[0].rations, alone, strict=True):
        left_out = {"confidence_prices", "missing_offer"}  # which cost more solving than the rations
        assert {k: v for k, v in mine.items() if k not in left_out} == {
            k: v for k, v in its.items() if k not in left_out
        }


@pytest.mark.slow
@pytest.mark.parametrize("pool", [ThreadPoolExecutor, ProcessPoolExecutor])
def test_any_executor_gives_the_same(pool, books, one_by_one):
    with pool(2) as executor:
        found = {result.book: result for result in rationlp.many(books, executor)}
    assert found == {result.book: result for result in one_by_one}


@pytest.mark.slow
def test_a_line_says_it_all(one_by_one):
    for result in one_by_one:
        document = json.loads(result.line())
        assert document["schema_version"] == 1
        assert {"book", "ok", "rations", "error"} <= document.keys()
        assert BookResult.of_line(result.line()) == result


def test_who_is_stopped_leaves_nothing_to_be_done(books):
    """Of a run that was stopped the books that were handed over would be worked out all the same, for nobody."""
    begun = []

    def slow(book, library):
        begun.append(book)
        return BookResult(book, True)

    with ThreadPoolExecutor(1) as executor, pytest.MonkeyPatch.context() as patched:
        patched.setattr(results, "book_result", lambda book, library: time.sleep(0.05) or slow(book, library))
        found = gathered([f"book {k}" for k in range(60)], lambda _: executor, None)
        next(found)
        found.close()
    assert len(begun) < 5


def waits(mark: Path) -> None:
    """In a process of its own: has a worker, and is killed."""
    pool = ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("fork"), initializer=end_with_parent)
    mark.write_text(str(pool.submit(os.getpid).result()))
    os.kill(os.getpid(), signal.SIGKILL)


def test_a_worker_ends_with_the_process_that_began_it(tmp_path):
    mark = tmp_path / "worker"
    parent = multiprocessing.get_context("fork").Process(target=waits, args=(mark,))
    parent.start()
    parent.join()
    worker = int(mark.read_text())
    for _ in range(100):
        state = Path(f"/proc/{worker}/stat")
        if not state.exists() or ") Z" in state.read_text():
            return
        time.sleep(0.05)
    os.kill(worker, signal.SIGKILL)
    raise AssertionError("the worker waits for ever")


class Breaking(Executor):
    """Its worker dies of some books, each so many times; all that it has in hand is then lost."""

    def __init__(self, kills: dict[str, int]) -> None:
        self.kills, self.broken = kills, False
        self.lost: list[Future] = []

    def submit(self, fn, /, *args, **kwargs):
        if self.broken:
            raise BrokenExecutor
        future: Future = Future()
        if self.kills.get(args[0], 0) > 0:
            self.kills[args[0]] -= 1
            self.broken = True
            future.set_exception(BrokenExecutor())
        else:
            future.set_result(BookResult(args[0], True))
        return future


def test_books_of_a_worker_that_died_are_done_again():
    names = [f"book {k}" for k in range(200)]
    kills = {"book 3": 1, "book 90": 99}
    pools = []

    def pool(count):
        pools.append(count)
        return Breaking(kills)

    found = list(gathered(names, pool, None))
    assert sorted(result.book for result in found) == sorted(names)
    assert [result.book for result in found if not result.ok] == ["book 90"]
    assert pools[0] == 200 and pools.count(1) == 3  # it was one for each of up to 64 books in hand


def test_no_more_processes_than_were_asked_for(monkeypatch):
    """Each book of a worker that died was done in a pool of its own, and all stayed open: 64 processes of 70 MB."""
    opened, kills = [], {"book 3": 1, "book 9": 99}

    class Counted(Breaking):
        def __init__(self, jobs):
            super().__init__(kills)
            opened.append(self)
            self.jobs = jobs

        def __exit__(self, *raised):
            opened.remove(self)

    def made(jobs):
        found = Counted(jobs)
        assert sum(pool.jobs for pool in opened) <= 2
        return found

    monkeypatch.setattr("rationlp.farms.processes.processes", made)
    found = list(command._results([f"book {k}" for k in range(20)], 2, None))
    assert len(found) == 20 and [result.book for result in found if not result.ok] == ["book 9"] and not opened


def dies_once(book: str, library: str | None = None) -> BookResult:
    """In a process of its own: ends it the first time it sees the second book."""
    mark = Path(book).with_name("seen")
    if book.endswith("farm_1") and not mark.exists():
        mark.touch()
        os._exit(9)
    return BookResult(book, True)


def test_a_killed_process_loses_nothing(tmp_path, monkeypatch):
    monkeypatch.setattr(results, "book_result", dies_once)
    names = [str(tmp_path / f"farm_{k}") for k in range(6)]
    fork = multiprocessing.get_context("fork")
    found = list(gathered(names, lambda count: ProcessPoolExecutor(min(2, count), mp_context=fork), None))
    assert sorted(result.book for result in found) == names
    assert all(result.ok for result in found)


@pytest.mark.parametrize(
    ("what", "jobs", "words"),
    [
        ((synchronize.SemLock, "__init__"), 2, "error: --jobs: found 2 processes, which cannot share memory here"),
        ((os, "fsync"), 1, "farms.csv cannot be written"),
    ],
)
def test_what_the_machine_refuses_is_told_as_what_it_is(books, one_by_one, tmp_path, monkeypatch, what, jobs, words):
    """No shared memory was told as a file that cannot be written."""

    def refused(*_args, **_kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(*what, refused)
    monkeypatch.setattr(results, "book_result", lambda book, library: one_by_one[0])
    answer = run("many", *books[:2], "-o", tmp_path / "farms.csv", "--jobs", jobs)
    assert answer.returncode in (1, 2) and words in answer.stderr
    assert not (tmp_path / "farms.csv").exists()


def test_a_defect_is_told_with_its_book(books, monkeypatch):
    monkeypatch.setattr(results, "_document", lambda farm: 1 / 0)
    result = book_result(books[0])
    assert not result.ok and "ZeroDivisionError" in result.error


@pytest.mark.slow
def test_an_interrupted_run_goes_on(books, one_by_one, tmp_path, monkeypatch):
    output = tmp_path / "farms.jsonl"
    with pytest.raises(KeyboardInterrupt), kept_results(output, books) as found:
        for result in one_by_one[:2]:
            found.keep(result)
        raise KeyboardInterrupt
    with part_of(output).open("a") as file:
        file.write(one_by_one[2].line()[:100])  # the machine went down in the middle of a line
    done = []
    monkeypatch.setattr(results, "book_result", lambda book, library: done.append(book) or book_result(book, library))
    answer = run("many", *books, "-o", output, "--jobs", 1)
    assert done == books[2:]
    assert answer.returncode == 1 and not list(tmp_path.glob("*.bak*"))
    assert "Going on: 2 of 4 books" in answer.stderr
    assert [json.loads(line)["book"] for line in output.read_text().splitlines()] == books
    assert not part_of(output).exists()


@pytest.mark.slow
def test_a_run_that_is_stopped_tells_what_is_kept(books, one_by_one, tmp_path, monkeypatch):
    results_of = dict(zip(books, one_by_one, strict=True))

    def stopped(book, library=None):
        if book == books[2]:
            raise KeyboardInterrupt
        return results_of[book]

    monkeypatch.setattr(results, "book_result", stopped)
    answer = run("many", *books, "-o", tmp_path / "farms.jsonl", "--jobs", 1)
    assert answer.returncode == 1 and "Stopped: 2 of 4 books are done. The same command goes on." in answer.stderr
    kept = part_of(tmp_path / "farms.jsonl").read_text().splitlines()
    assert [json.loads(line)["book"] for line in kept] == books[:2]


def test_the_memory_has_the_short_of_a_result(one_by_one):
    """A hundred farms of forty rations would be gigabytes."""
    whole, short = one_by_one[0], one_by_one[0].short()
    assert as_csv([short]) == as_csv([whole]) and len(short.line()) < len(whole.line()) / 40


@pytest.mark.slow
def test_a_book_that_changed_is_done_again(books, one_by_one, tmp_path):
    mine = shutil.copytree(books[0], tmp_path / "mine")
    result = book_result(str(mine))
    output = tmp_path / "farms.csv"
    with pytest.raises(KeyboardInterrupt), kept_results(output, [str(mine)]) as found:
        found.keep(result)
        raise KeyboardInterrupt
    with pytest.raises(KeyboardInterrupt), kept_results(output, [str(mine)]) as found:
        assert found.done == {str(mine): result.short()}
        raise KeyboardInterrupt
    with (mine / "supplements.csv").open("a") as file:
        file.write("\n")
    with kept_results(output, [str(mine)]) as found:
        assert not found.done


def test_a_table_has_a_row_a_ration(books, one_by_one, tmp_path):
    with kept_results(tmp_path / "farms.csv", books) as found:
        for result in one_by_one:
            found.keep(result)
        found.finish(tmp_path / "farms.csv", books)
    rows = list(csv.DictReader((tmp_path / "farms.csv").read_text().splitlines()))
    assert len(rows) == sum(len(result.rations) or 1 for result in one_by_one)
    assert tuple(rows[0]) == COLUMNS
    (bad,) = [row for row in rows if row["error"]]
    assert bad["book"] == one_by_one[1].book and not bad["stage"]


@pytest.mark.slow
def test_the_command(books, tmp_path):
    output = tmp_path / "farms.jsonl"
    told = run("many", *books, books[0], "-o", output, "--format", "json", "--jobs", 1)
    assert told.returncode == 1
    assert [json.loads(line)["book"] for line in told.stdout.splitlines()] == books
    again = run("many", *books, "-o", output)
    assert again.returncode == 2 and "--overwrite" in again.stderr
    assert run("many", *books, "-o", tmp_path / "farms.txt").returncode == 2
    screen = run("many", *books[:2], "-o", output, "--overwrite", "--jobs", 1).stdout
    lines = screen.splitlines()
    assert len(lines) <= 40 and max(map(len, lines)) <= 100
    assert "2 books, 1 of them with problems" in lines[0]
    assert "nutritionist should review" in screen


@pytest.mark.slow
def test_spawned_processes_do_the_same(books, one_by_one, tmp_path):
    output = tmp_path / "farms.jsonl"
    run("many", *books, "-o", output, "--jobs", 2)
    assert [BookResult.of_line(line) for line in output.read_text().splitlines()] == one_by_one


@pytest.mark.long
def test_a_distributed_engine(books, one_by_one):
    """By an engine that gives a `concurrent.futures.Executor`: two workers on this machine."""
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        found = {result.book: result for result in many(books, client.get_executor())}
    assert found == {result.book: result for result in one_by_one}
