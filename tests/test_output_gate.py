"""Whatever a command writes, it writes over nothing that a person wrote, and whole or not at all."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from openpyxl import load_workbook
from random_farms import read_sheets, write_sheets

from rationlp.actual.printed import filled_sheets, printed_sheets, work_in
from rationlp.cli.app import app
from rationlp.cli.overview import COMMANDS
from rationlp.errors import InputError, RequestError
from rationlp.files import may_write, write_whole, write_whole_text

OPTIONS = {
    "ration": ("--review",),
    "sheets": ("-o",),
    "offers": ("--sweep", "soy48_bulk:300:400:2", "-o"),
    "resample": ("--before", "n1", "--after", "n1", "-o"),
    "many": ("-o",),
    "year": ("-o",),
    "report": ("-o",),
    "trace": ("--group", "growers_early", "--statement", "-o"),
    "check": ("--format", "csv", "-o"),
    "bin": ("--format", "csv", "-o"),
    "actual": ("--format", "csv", "-o"),
}
"""The commands that write, with the option that names the file; one that is missing fails a test below."""
ENDINGS = {
    "ration": ".xlsx",
    "sheets": ".xlsx",
    "offers": ".csv",
    "resample": ".xlsx",
    "many": ".jsonl",
    "year": ".xlsx",
    "report": ".html",
    "trace": ".html",
    "check": "",
    "bin": "",
    "actual": "",
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A book of CSV files."""
    return write_sheets(read_sheets(), tmp_path / "book")


@pytest.fixture
def workbook(tmp_path: Path) -> Path:
    path = tmp_path / "farm.xlsx"
    path.write_bytes(b"a book")
    return path


def refused(path: Path, book: Path) -> bool:
    try:
        may_write(path, book, overwrite=True)
    except RequestError as error:
        (problem,) = error.problems
        assert problem.do and str(path) in problem.found
        return True
    return False


def test_a_workbook_is_spared_by_whatever_name_it_is_given(workbook: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(workbook.parent)
    link, twin = workbook.with_name("link.xlsx"), workbook.with_name("twin.xlsx")
    link.symlink_to(workbook)
    os.link(workbook, twin)
    for path in (workbook, Path("farm.xlsx"), Path("../", workbook.parent.name, "farm.xlsx"), link, twin):
        assert refused(path, workbook), path
    assert refused(workbook, link)


def test_no_file_of_a_folder_is_written_and_none_is_added_to_it(folder: Path, tmp_path: Path):
    link = tmp_path / "link"
    link.symlink_to(folder, target_is_directory=True)
    outside = tmp_path / "prices.csv"
    outside.symlink_to(folder / "supplements.csv")
    for path in (folder / "supplements.csv", folder / "mix.csv", link / "mix.csv", outside):
        assert refused(path, folder), path
    assert refused(folder / "mix.csv", link)


def test_another_file_beside_the_book_is_free(folder: Path, workbook: Path, tmp_path: Path):
    for book in (folder, workbook):
        assert not refused(tmp_path / "mix.xlsx", book)
    assert not refused(tmp_path / "farm.csv", workbook)
    assert not refused(tmp_path / "no" / "such" / "mix.xlsx", folder)


@pytest.mark.parametrize("command", OPTIONS)
def test_no_command_writes_over_its_book(command: str, folder: Path):
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    target = folder / f"answer{ENDINGS[command]}"
    done = CliRunner().invoke(app, [command, str(folder), *OPTIONS[command], str(target)])
    assert done.exit_code == 2 and "the book" in done.stderr, done.output
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_every_command_that_writes_has_the_gate():
    writing = {}
    for name in COMMANDS:
        command = app.get_command(click.Context(app), name)
        names = {option for param in command.params for option in param.opts}
        if names & {"-o", "--review"}:
            writing[name] = names
    assert set(writing) == {*OPTIONS, "library"}
    assert [name for name, names in writing.items() if "--overwrite" not in names] == []


@pytest.mark.parametrize("command", OPTIONS)
def test_a_file_that_is_there_needs_overwrite(command: str, folder: Path, tmp_path: Path):
    target = tmp_path / f"answer{ENDINGS[command]}"
    target.write_text("a year of notes", encoding="utf-8")
    done = CliRunner().invoke(app, [command, str(folder), *OPTIONS[command], str(target)])
    assert done.exit_code == 2 and "--overwrite" in done.stderr, done.output
    assert target.read_text(encoding="utf-8") == "a year of notes"
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == [target.name]


def test_what_was_there_is_kept(tmp_path: Path):
    """The same sheets written twice, the weights of the first gone."""
    path = tmp_path / "mix.csv"
    for text in ("one", "two", "three", "three"):
        write_whole_text(path, text)
    assert path.read_text() == "three"
    kept = [file for file in tmp_path.iterdir() if file != path]
    assert sorted(file.read_text() for file in kept) == ["one", "two"]
    assert all(file.suffix == ".csv" and ".before-" in file.name for file in kept)


@pytest.mark.slow
def test_filled_in_sheets_and_other_books_are_never_written_over(folder: Path, tmp_path: Path):
    target = tmp_path / "mix.xlsx"
    arguments = ["sheets", str(folder), "--stage", "sw_boar", "--bin", "north", "-o", str(target)]
    assert CliRunner().invoke(app, arguments).exit_code == 0
    assert work_in(target) == ""
    workbook = load_workbook(target)
    first = next(iter(printed_sheets(filled_sheets(target))[0]))
    workbook[first.tab][f"{first.first_box}{first.rows[0].row}"] = 117.5
    workbook.save(target)
    before = target.read_bytes()
    done = CliRunner().invoke(app, [*arguments, "--overwrite"])
    assert done.exit_code == 2 and "weights" in done.stderr
    assert target.read_bytes() == before
    other = tmp_path / "other.xlsx"
    assert CliRunner().invoke(app, ["new", str(other)]).exit_code == 0
    assert CliRunner().invoke(app, [*arguments[:-1], str(other), "--overwrite"]).exit_code == 2


def test_a_link_to_another_file_is_written_through(tmp_path: Path):
    (tmp_path / "share").mkdir()
    link = tmp_path / "mix.csv"
    link.symlink_to(tmp_path / "share" / "mix.csv")
    write_whole_text(link, "one")
    assert link.is_symlink() and (tmp_path / "share" / "mix.csv").read_text() == "one"


def test_a_run_that_fails_or_was_killed_leaves_nothing_behind(tmp_path: Path):
    path = tmp_path / "mix.csv"
    write_whole_text(path, "one")

    def full(temporary: Path) -> None:
        temporary.write_text("tw")
        raise OSError(errno.ENOSPC, "No space left on device")

    with pytest.raises(InputError, match="No space left"):
        write_whole(path, full)
    assert [(file.name, file.read_text()) for file in tmp_path.iterdir()] == [("mix.csv", "one")]
    (tmp_path / ".mix-x3k2.csv.part").write_text("hal")  # of a run that was killed outright
    (tmp_path / ".mixer-x3k2.csv.part").write_text("another file's")
    write_whole_text(path, "two")
    assert not (tmp_path / ".mix-x3k2.csv.part").exists() and (tmp_path / ".mixer-x3k2.csv.part").exists()


def test_a_run_asked_to_end_clears_away_its_half_written_file(tmp_path: Path):
    code = (
        "import sys, time, signal, pathlib;"
        "from rationlp import files, __main__ as m;"
        "signal.signal(signal.SIGTERM, m._ended);"
        "files.write_whole(pathlib.Path(sys.argv[1]), lambda part: (part.write_text('h'), print('now', flush=True),"
        " time.sleep(60)))"
    )
    with subprocess.Popen([sys.executable, "-c", code, str(tmp_path / "mix.csv")], stdout=subprocess.PIPE) as run:
        assert run.stdout and run.stdout.readline()
        run.send_signal(signal.SIGTERM)
    assert run.returncode == 143 and list(tmp_path.iterdir()) == []


def test_two_writers_wait_for_each_other(tmp_path: Path):
    path, inside, most = tmp_path / "mix.csv", [0], [0]

    def slow(temporary: Path) -> None:
        inside[0] += 1
        most[0] = max(most[0], inside[0])
        time.sleep(0.02)
        temporary.write_text(threading.current_thread().name)
        inside[0] -= 1

    writers = [threading.Thread(target=write_whole, args=(path, slow)) for _ in range(4)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert most == [1] and len(list(tmp_path.iterdir())) == 4  # the last one's file, and the three it took the place of


SHEET = "book --stage sw_boar --bin north"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "room", "code", "said"),
    [
        ("new a.xlsx", 4, 1, ("a.xlsx", "too large")),
        pytest.param(f"sheets {SHEET} -o mix.xlsx", 24, 2, ("mix.xlsx", "too large"), marks=pytest.mark.long),
        pytest.param(f"sheets {SHEET} -o mix.xlsx", 4, 1, ("farm.record", "Free some room"), marks=pytest.mark.long),
    ],
)
def test_a_full_disk_is_one_line_that_names_the_file(words, room, code, said, folder: Path, tmp_path: Path):
    """Openpyxl's own temporary files meet the end of the disk, and said so in tracebacks. The record, of 20 kB, comes
    before the sheets that are entered in it; `room` is in kB."""
    line = f"ulimit -f {room}; exec {sys.executable} -m rationlp {words}"
    done = subprocess.run(["bash", "-c", line], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == code and all(word in done.stderr for word in said), done.stderr
    assert "Traceback" not in done.stderr and "Exception" not in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == [folder.name]


def test_lock_files_do_not_gather(tmp_path, monkeypatch):
    """There are PLACES lock files at most; one write inside another does not wait for itself."""
    from rationlp import files

    (tmp_path / "temporary").mkdir()
    monkeypatch.setattr(files.tempfile, "gettempdir", lambda: str(tmp_path / "temporary"))
    monkeypatch.setattr(files, "PLACES", 3)
    for number in range(20):
        write_whole_text(tmp_path / f"{number}.txt", "x")
    assert len(list((tmp_path / "temporary").iterdir())) <= 3
    monkeypatch.setattr(files, "PLACES", 1)
    with files.alone(tmp_path / "a", long=True), files.alone(tmp_path / "b"), files.alone(tmp_path / "c"):
        write_whole_text(tmp_path / "d.txt", "x")
    assert (tmp_path / "d.txt").read_text() == "x"
