"""The commands `sheets` and `actual`: files that appear whole or not at all, exit codes, three formats."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
import sys

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from rationlp import files
from rationlp.book import read_book
from rationlp.cli.app import app
from rationlp.cli.overview import COMMANDS
from rationlp.ledger.kept import record_for
from rationlp.ledger.shape import batches_of

from ..conftest import DEMO_BOOK
from .test_actual import NAME

ONE = ("--stage", "sw_gro_25_50", "--bin", "north")


@pytest.fixture
def book(tmp_path):
    """A copy of the demo book that a test may change."""
    return shutil.copytree(DEMO_BOOK, tmp_path / "farm")


def change(book, sheet, edit):
    """Rewrite one CSV of a book; `edit` gets the rows and returns those to keep."""
    path = book / f"{sheet}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        rows, names = list(reader), reader.fieldnames
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, names)
        writer.writeheader()
        writer.writerows(edit(rows))


def without(*offers):
    return lambda rows: [row for row in rows if row["offer"] not in offers]


@pytest.fixture
def call(monkeypatch, tmp_path):
    """The command line in this process: exit code, stdout and stderr apart."""
    monkeypatch.setitem(COMMANDS, "actual", COMMANDS.get("actual", "what was really weighed"))
    monkeypatch.chdir(tmp_path)

    def run_it(*words):
        full = ["--full"] if words[0] in ("sheets", "actual") else []
        return CliRunner().invoke(app, [str(word) for word in (*words, *full)])

    return run_it


@pytest.mark.slow
@pytest.mark.parametrize("ending", ["xlsx", "html", "csv", "XLSX"])
def test_a_file_by_its_ending(ending, book, call, tmp_path):
    answer = call("sheets", book, "-o", tmp_path / f"mix.{ending}", *ONE)
    assert answer.exit_code == 0, answer.output
    assert f"mix.{ending}" in answer.stdout and NAME in answer.stdout
    assert (tmp_path / f"mix.{ending}").stat().st_size > 3000
    assert [path.name for path in tmp_path.iterdir() if path.name.endswith(".tmp")] == []


@pytest.mark.slow
def test_json_says_what_was_written_and_carries_the_id_of_the_ration(book, call, tmp_path):
    answer = call("sheets", book, "-o", tmp_path / "mix.xlsx", *ONE, "--format", "json", "--batches", 2)
    found = json.loads(answer.stdout)
    (sheet,) = found["sheets"]
    assert sheet["batch"] == 500 and sheet["batches"] == 2 and sheet["status"] == "optimal"
    assert sum(line["mass"] for line in sheet["mixer"]) == pytest.approx(500)
    tab = load_workbook(tmp_path / "mix.xlsx")[NAME]
    assert sheet["id"] in {cell.value for row in tab.iter_rows(max_row=1) for cell in row}
    assert sheet["labels"][1].endswith(f"{sheet['id']} #2")


@pytest.mark.slow
def test_a_ration_that_cannot_be_met_gets_a_page_that_says_why(book, call, tmp_path):
    change(book, "supplements", without("limestone", "limestone_grit", "oyster", "dical", "monocal"))
    answer = call("sheets", book, "-o", tmp_path / "mix.xlsx", *ONE)
    assert answer.exit_code == 3
    assert "DO NOT FEED: no sheet" in answer.stdout and "Calcium" in answer.stdout
    made = load_workbook(tmp_path / "mix.xlsx")
    words = " ".join(str(cell.value) for row in made[NAME].iter_rows() for cell in row if cell.value)
    assert "NOTHING TO WEIGH" in words and "Calcium" in words
    assert "To buy" not in made.sheetnames, "nothing to weigh, nothing to buy"


@pytest.mark.slow
def test_weights_too_coarse_for_the_ration_are_said_on_the_sheet_and_in_the_exit_code(book, call, tmp_path):
    def coarse(rows):
        new = {"scale_step": "5", "hand_scale_step": "1", "hand_weigh_below": "5", "batch_mass": "100"}
        return [row | {"value": new.get(row["setting"], row["value"])} for row in rows]

    change(book, "farm", coarse)
    answer = call("sheets", book, "-o", tmp_path / "mix.xlsx", *ONE)
    assert answer.exit_code == 3, answer.output
    assert "DO NOT FEED: no sheet" in answer.stdout and "at 0 % of its dose" in answer.stdout
    words = " ".join(
        str(cell.value) for row in load_workbook(tmp_path / "mix.xlsx")[NAME].iter_rows() for cell in row if cell.value
    )
    assert "NOTHING TO WEIGH" in words and "at 0 % of its dose" in words and "Sodium" in words


@pytest.mark.slow
def test_weights_a_little_off_are_asked_about_in_the_headline_and_on_the_sheet(book, call, tmp_path):
    """Half a kilogram is the least step: 2.08 kg of premix become 2 kg, 96 % of its dose."""

    def coarse(rows):
        new = {"scale_step": "5", "hand_scale_step": "0.5", "hand_weigh_below": "5", "batch_mass": "520"}
        return [row | {"value": new.get(row["setting"], row["value"])} for row in rows]

    change(book, "farm", coarse)
    answer = call("sheets", book, "-o", tmp_path / "mix.xlsx", *ONE)
    assert answer.exit_code == 0, answer.output
    words = load_workbook(tmp_path / "mix.xlsx")[NAME]["A7"].value
    for said in (answer.stdout, words):
        assert "ASK A NUTRITIONIST FIRST" in said and "at 96.15 % of its dose" in said
        assert "may be fed" not in said and "meets all" not in said and "One dose of" not in said


@pytest.mark.slow
def test_a_premix_a_hair_off_its_dose_is_told_and_asks_nobody(book, call, tmp_path):
    """1.668 kg of premix on a hand scale of 0.05 kg: 1.65 kg, 98.9 % of the dose, within what every crew weighs off."""

    def fine(rows):
        new = {"hand_scale_step": "0.05", "batch_mass": "417"}
        return [row | {"value": new.get(row["setting"], row["value"])} for row in rows]

    change(book, "farm", fine)
    answer = call("sheets", book, "-o", tmp_path / "mix.xlsx", *ONE, "--format", "json")
    assert answer.exit_code == 0, answer.output
    (sheet,) = json.loads(answer.stdout)["sheets"]
    reasons = [each for each in sheet["verdict"]["reasons"] if each["kind"] == "premix"]
    assert {each["verdict"] for each in reasons} == {"feed"}
    assert any("98.9 % of it in weights the scale can show" in each["text"] for each in reasons)
    assert sheet["verdict"]["verdict"] == "feed"


@pytest.mark.slow
def test_both_kinds_in_one_file(book, call, tmp_path):
    """Layers without any coarse or fine calcium source beside pigs that have theirs."""
    change(
        book,
        "own_limits",
        lambda rows: [
            {"stage": "hen_peak", "feed": feed, "min_pct": "", "max_pct": "0.1", "reason": "none left"}
            for feed in ("limestone_fine", "limestone_coarse", "oyster_shell")
        ],
    )
    answer = call("sheets", book, "-o", tmp_path / "mix.html", "--stage", "hen_peak", *ONE)
    assert answer.exit_code == 3
    text = (tmp_path / "mix.html").read_text(encoding="utf-8")
    assert "THERE IS NOTHING TO WEIGH" in text and "Early grower" in text


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("-o", "mix.doc"), 2),
        (("-o", "no/such/folder/mix.xlsx"), 2),
        (("-o", "mix.xlsx", "--batch", "much"), 2),
        (("-o", "mix.xlsx", "--group", "nobody"), 2),
        (("-o", "mix.xlsx", "--stage", "dragon"), 2),
        (("-o", "mix.xlsx", "--bin", "nowhere"), 2),
        (("-o", "mix.xlsx", "--on", "monday"), 2),
    ],
)
def test_bad_requests_write_nothing(words, code, book, call, tmp_path):
    before = {path for path in tmp_path.rglob("*")}
    answer = call("sheets", book, *words)
    assert answer.exit_code == code and answer.stdout == ""
    assert "error: " in answer.stderr and "expected" in answer.stderr
    assert {path for path in tmp_path.rglob("*")} == before


def test_a_bad_book_leaves_the_old_file_as_it_was(book, call, tmp_path):
    old = tmp_path / "mix.xlsx"
    old.write_text("yesterday's sheets")
    change(
        book,
        "supplements",
        lambda rows: [row | {"price": "" if row["offer"] == "salt" else row["price"]} for row in rows],
    )
    answer = call("sheets", book, "-o", old, "--overwrite", *ONE)
    assert answer.exit_code == 1 and "price" in answer.stderr
    assert old.read_text() == "yesterday's sheets"


@pytest.mark.slow
def test_a_failure_while_writing_leaves_nothing_half_written(book, call, tmp_path, monkeypatch):
    old = tmp_path / "mix.xlsx"
    old.write_text("yesterday's sheets")

    def full_disk(temporary):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files, "_flush", full_disk)
    answer = call("sheets", book, "-o", old, "--overwrite", *ONE)
    assert answer.exit_code == 2 and "No space left" in answer.stderr
    assert old.read_text() == "yesterday's sheets"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["farm", "mix.xlsx"]


@pytest.mark.slow
def test_solver_talk_never_reaches_stdout(book, run, tmp_path):
    """In a process of its own, because the solver greets only once."""
    answer = run("sheets", book, "-o", tmp_path / "mix.xlsx", *ONE, "--format", "json")
    assert answer.returncode == 0, answer.stderr
    json.loads(answer.stdout)


@pytest.mark.slow
def test_csv_on_stdout_is_the_table(book, call, tmp_path):
    answer = call("sheets", book, "-o", tmp_path / "mix.csv", *ONE, "--format", "csv")
    assert answer.stdout == (tmp_path / "mix.csv").read_text(encoding="utf-8")


def test_help_of_sheets_loads_no_workbook_library():
    code = (
        "import sys; from rationlp.cli.commands.sheets import command; "
        "heavy = {'openpyxl', 'pulp', 'numpy', 'pandas'} & set(sys.modules);"
        "sys.exit(', '.join(heavy) or 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=DEMO_BOOK.parents[2]
    )
    assert done.returncode == 0, done.stderr


# actual -----------------------------------------------------------------------------------------


@pytest.fixture
def weighed(book, call, tmp_path):
    """A book whose sheet `actual` holds one batch as printed, changed by what it is given."""
    call("sheets", book, "-o", tmp_path / "mix.csv", *ONE)
    with (tmp_path / "mix.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["part"] == "weigh" and row["name"]]

    def write(**instead):
        with (book / "actual.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(["sheet", "made_on", "feed", "mass"])
            for row in rows:
                writer.writerow([NAME, "2025-11-20", row["name"], instead.get(row["name"], row["value"])])
        return book

    return write


@pytest.mark.slow
def test_actual_from_the_book(weighed, call):
    answer = call("actual", weighed())
    assert answer.exit_code == 0, answer.output
    assert (
        "may be fed after review (meets all on average; all at once" in answer.stdout and "Drawn down" in answer.stdout
    )


@pytest.mark.slow
def test_actual_exits_3_on_what_should_not_be_fed(weighed, call):
    answer = call("actual", weighed(premix_pigs="0"), "--format", "json")
    assert answer.exit_code == 3
    (batch,) = json.loads(answer.stdout)["batches"]
    assert batch["verdict"]["verdict"] == "stop" and batch["verdict"]["words"] == "DO NOT FEED" and batch["remedies"]
    cause, *consequences = batch["verdict"]["reasons"]
    assert "left out" in cause["text"] and cause["verdict"] == "stop"
    wanted = {"kind": "premix", "verdict": "stop", "value": 0, "limit": 100}
    assert any(wanted.items() <= reason.items() for reason in consequences)
    assert {"nutrient", "gives", "meets", "minimum"} <= set(batch["ration"]["requirements"][0])


@pytest.mark.slow
def test_actual_reads_the_workbook_that_sheets_wrote(book, call, tmp_path):
    call("sheets", book, "-o", tmp_path / "mix.xlsx", *ONE, "--on", "2025-11-20")
    filled, box = load_workbook(tmp_path / "mix.xlsx"), ""
    for row in filled["record"].iter_rows(min_row=2, values_only=True):
        box = row[13] or box  # of the whole sheet: told on its first line
        filled[row[0]][f"{box}{row[12]}"] = row[17]
    filled.save(tmp_path / "mix.xlsx")
    answer = call(
        "actual",
        book,
        tmp_path / "mix.xlsx",
        "--uniformity",
        "salt: 0.3 0.31 0.29",
    )
    assert answer.exit_code == 0, answer.output
    for words in ("may be fed after review (", "Mixer test, salt: CV 3.3 %"):
        assert words in answer.stdout
    rows = call("actual", book, tmp_path / "mix.xlsx", "--rows")
    assert rows.stdout.startswith("sheet,made_on,batch,feed,lot,mass\n")
    assert f"{NAME},2025-11-20,1,north,,439" in rows.stdout
    again = call("actual", book, tmp_path / "mix.xlsx")
    assert again.exit_code == 0 and len(batches_of(record_for(read_book(book)))) == 1
    told = call("trace", book, "--group", "growers_early", "--from", "2025-11-21")
    assert "#1" in told.stdout and "North bin" in told.stdout


@pytest.mark.slow
def test_actual_as_a_table(weighed, call):
    answer = call("actual", weighed(), "--format", "csv")
    rows = list(csv.DictReader(answer.stdout.splitlines()))
    assert {"batch", "weighed", "requirement", "label", "stock"} <= {row["part"] for row in rows}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "code"),
    [(("--uniformity", "salt"), 2), (("missing.xlsx",), 1)],
)
def test_bad_requests_of_actual(words, code, weighed, call):
    answer = call("actual", weighed(), *words)
    assert answer.exit_code == code and answer.stdout == "" and "error: " in answer.stderr


def test_a_mixer_that_misses_its_target_exits_3(book, call):
    answer = call("actual", book, "--uniformity", "salt: 0.81 0.75 0.61 0.76 0.68 0.8")
    assert answer.exit_code == 3 and "CV 10.4 %" in answer.stdout
