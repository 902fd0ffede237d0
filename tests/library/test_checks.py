"""The checks on load: the shipped library has no fault; each kind of fault is found and placed."""

from __future__ import annotations

import csv
import shutil
import subprocess
import sys
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import pytest

from rationlp.errors import LibraryError, Problem, column_letter
from rationlp.library import Library, load_library
from rationlp.library.checks import check_library
from rationlp.library.tables import TABLES

SHIPPED = Path(str(files("feed_library")))


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    return Path(shutil.copytree(SHIPPED, tmp_path / "library"))


@pytest.fixture
def spoil(copy: Path) -> Callable[..., str]:
    """Changes one cell of a table of the copy; returns the cell's address."""

    def change(table: str, key: dict[str, str], column: str, value: str) -> str:
        path = copy / f"{table}.csv"
        rows = list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))
        index = next(i for i, row in enumerate(rows) if all(row[k] == v for k, v in key.items()))
        rows[index][column] = value
        with path.open("w", encoding="utf-8", newline="") as out:
            writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)
        return f"{column_letter(list(rows[0]).index(column))}{index + 2}"

    return change


def problems_of(directory: Path) -> list[Problem]:
    with pytest.raises(LibraryError) as caught:
        load_library(directory)
    return caught.value.problems


@pytest.mark.slow
def test_the_shipped_library_has_no_fault(library: Library) -> None:
    assert [problem.line() for problem in check_library(library)] == []


@pytest.mark.slow
def test_a_copy_of_it_loads_without_a_warning(copy: Path) -> None:
    assert load_library(copy).warnings == []


def figure(feed: str, nutrient: str) -> dict[str, str]:
    return {"feed": feed, "nutrient": nutrient}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("table", "key", "column", "value", "words"),
    [
        ("composition", figure("corn", "crude_protein"), "value", "96", "at most 100 % of dry matter"),
        ("composition", figure("corn", "starch"), "value", "95", "at most 100 % of dry matter"),
        ("composition", figure("lentils", "lysine"), "value", "25", "at most the crude protein"),
        ("composition", figure("corn", "me_pig"), "value", "4100", "at most de_pig"),
        ("composition", figure("corn", "de_pig"), "value", "4900", "at most gross_energy"),
        ("composition", figure("corn", "ne_pig"), "value", "1500", "net to metabolizable energy"),
        ("composition", figure("corn", "amen_poultry"), "value", "4900", "at most gross_energy"),
        ("composition", figure("corn", "phytate_phosphorus"), "value", "0.9", "at most the phosphorus"),
        ("composition", figure("corn", "linoleic_acid"), "value", "9", "at most ether_extract"),
        ("composition", figure("corn", "lysine_sid_pig"), "value", "175", "at most 100 %"),
        ("composition", figure("corn", "lysine"), "source", "hearsay", "a source of sources.csv"),
        ("composition", figure("corn", "lysine"), "unit", "mg/kg", "'%'"),
        ("composition", figure("corn", "lysine"), "nutrient", "lysin", "an id of nutrients.csv"),
        ("composition", figure("corn", "lysine"), "feed", "maize", "an id that this library knows"),
        ("composition", figure("corn", "methionine"), "nutrient", "lysine", "once (it stands in row"),
        ("nutrients", {"nutrient": "iron"}, "unit", "grains per bushel", "one of"),
        ("requirements", {"stage": "sw_gro_50_75", "nutrient": "calcium"}, "minimum", "", "at least one of the two"),
        ("requirements", {"stage": "sw_gro_50_75", "nutrient": "calcium"}, "maximum", "0.1", "the minimum below"),
        (
            "requirements",
            {"stage": "sw_gro_50_75", "nutrient": "calcium"},
            "stage",
            "sw_grow",
            "an id that this library",
        ),
        ("stages", {"stage": "hen_peak"}, "energy_floor_source", "hearsay", "a source of sources.csv"),
        ("feeds", {"feed": "corn"}, "feed", "rye", "once (it stands in row"),
        ("estimates", {"feeds": "corn", "nutrient": "amino_acids"}, "equation", "maize", "one of wheat"),
        ("estimates", {"feeds": "corn", "nutrient": "amen_poultry"}, "equation", "amen_maize()", "an expression"),
        ("composition", figure("corn", "lysine"), "value", "much", "valid number"),
        ("composition", figure("corn", "lysine"), "value", "-0.2", "greater than or equal to 0"),
    ],
)
def test_a_fault_is_found_and_its_cell_named(
    copy: Path, spoil: Callable[..., str], table: str, key: dict[str, str], column: str, value: str, words: str
) -> None:
    cell = spoil(table, key, column, value)
    found = problems_of(copy)
    assert all(
        problem.found and problem.expected and problem.do and problem.sheet.endswith(".csv") for problem in found
    )
    mine = [problem for problem in found if words in problem.expected or words in problem.found]
    assert mine, [problem.line() for problem in found]
    assert any(problem.sheet == f"{table}.csv" and problem.cell[1:] == cell[1:] for problem in mine), (cell, mine)


@pytest.mark.slow
def test_all_faults_are_told_at_once(copy: Path, spoil: Callable[..., str]) -> None:
    spoil("composition", figure("corn", "lysine"), "source", "hearsay")
    spoil("composition", figure("rye", "lysine"), "source", "gossip")
    spoil("stages", {"stage": "hen_peak"}, "source", "rumour")
    assert {"hearsay", "gossip", "rumour"} <= {problem.found.split("'")[1] for problem in problems_of(copy)}


@pytest.mark.slow
def test_a_computed_figure_that_no_longer_follows_is_a_warning_with_the_new_figure(
    copy: Path, spoil: Callable[..., str]
) -> None:
    """Net energy of corn was computed from its DE and starch: with less starch the warning says what it would be."""
    spoil("composition", figure("corn", "starch"), "value", "60")
    (warning,) = load_library(copy).warnings
    assert warning.severity == "warning"
    assert warning.found.startswith("corn: ne_pig 3031") and "net_energy_from_de()" in warning.expected
    assert 2950 < float(warning.expected.split()[0]) < 3000


@pytest.mark.slow
def test_a_feed_without_a_figure_that_stages_ask_for_is_a_warning(copy: Path) -> None:
    path = copy / "composition.csv"
    kept = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("rye,sodium,")]
    path.write_text("\n".join(kept) + "\n", encoding="utf-8")
    (warning,) = load_library(copy).warnings
    assert "rye has no figure for sodium" in warning.found


@pytest.mark.slow
def test_the_equations_of_a_library_of_ones_own_may_be_left_to_the_shipped_one(copy: Path) -> None:
    (copy / "estimates.csv").unlink()
    assert load_library(copy).estimates == load_library().estimates


@pytest.mark.slow
def test_a_missing_table_is_told(copy: Path) -> None:
    (copy / "stages.csv").unlink()
    (problem,) = problems_of(copy)
    assert (problem.sheet, problem.found) == ("stages.csv", "no such file")


@pytest.mark.slow
def test_the_command_line_tells_the_same(copy: Path, spoil: Callable[..., str]) -> None:
    cell = spoil("composition", figure("corn", "me_pig"), "value", "4100")
    done = subprocess.run(
        [sys.executable, "-m", "rationlp", "library", "feeds", "corn", "--library", str(copy)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert f"composition.csv!{cell}: found corn: me_pig 4100" in done.stderr
    assert "Traceback" not in done.stderr


# What a library of the farm's own must have ---------------------------------------------------------------------


def test_every_table_needs_its_header_and_a_row(copy: Path) -> None:
    for name in TABLES:
        path = copy / f"{name}.csv"
        path.write_text(path.read_text(encoding="utf-8").splitlines()[0] + "\n", encoding="utf-8")
    assert [p.sheet for p in problems_of(copy)] == [f"{name}.csv" for name in TABLES]
    for name in TABLES:
        (copy / f"{name}.csv").write_bytes(b"")
    empty = problems_of(copy)
    assert [(p.sheet, p.found) for p in empty] == [(f"{name}.csv", "an empty file") for name in TABLES]


@pytest.mark.slow
def test_a_column_that_is_not_there_is_told_once(copy: Path) -> None:
    path = copy / "stages.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("scopes,", "scope,", 1), encoding="utf-8")
    (problem,) = problems_of(copy)
    assert (problem.sheet, problem.cell, problem.found) == ("stages.csv", "A1", "no column scopes")


@pytest.mark.slow
def test_a_column_that_nobody_knows_is_told_once(copy: Path) -> None:
    """Each of 1,145 rows was told to be wrong in it."""
    path = copy / "sources.csv"
    head, *rows = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([f"{head},colour", *(f"{row}," for row in rows)]), encoding="utf-8")
    (problem,) = problems_of(copy)
    assert (problem.sheet, problem.found) == ("sources.csv", "a column named 'colour'")
    assert problem.cell == f"{column_letter(head.count(',') + 1)}1"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("data", "found"),
    [
        ("feed,label\ncorn,Corn\n".encode("utf-16"), "not UTF-8"),
        (bytes(range(256)), "not UTF-8"),
        (b'source,citation\nx,"' + b"a" * 140_000 + b'"\n', "no CSV"),
    ],
)
def test_a_table_that_is_no_text_is_a_problem(copy: Path, data: bytes, found: str) -> None:
    (copy / "sources.csv").write_bytes(data)
    (problem,) = problems_of(copy)
    assert problem.sheet == "sources.csv" and found in problem.found


def without(path: Path, table: str, drop: Callable[[dict[str, str]], bool]) -> None:
    rows = list(csv.DictReader((path / f"{table}.csv").read_text(encoding="utf-8").splitlines()))
    with (path / f"{table}.csv").open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, list(rows[0]))
        writer.writeheader()
        writer.writerows(row for row in rows if not drop(row))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("table", "drop", "stages", "words"),
    [
        ("ceilings", lambda row: row["nutrient"] == "calcium" and "boar" in row["scope"] + row["nutrient"], 0, ""),
        ("ceilings", lambda row: row["nutrient"] == "calcium", 84, "no ceiling of calcium"),
        ("ceilings", lambda row: row["nutrient"] == "sodium", 84, "no ceiling of sodium"),
        ("feed_limits", lambda row: row["feed"] == "salt", 84, "no cap on salt"),
    ],
)
def test_every_stage_keeps_its_safeguards(copy: Path, table: str, drop: Callable, stages: int, words: str) -> None:
    without(copy, table, drop)
    if not stages:  # the ceiling of all swine still serves the boar
        assert load_library(copy)
        return
    problems = [problem for problem in problems_of(copy) if problem.sheet == "stages.csv"]
    assert len(problems) == stages
    assert all(words in problem.found for problem in problems)


@pytest.mark.slow
def test_a_premix_needs_its_inclusion(copy: Path, spoil: Callable[..., str]) -> None:
    cell = spoil("feeds", {"feed": "premix_swine"}, "premix_inclusion_pct", "")
    assert [(p.sheet, p.cell) for p in problems_of(copy) if p.severity == "error"] == [("feeds.csv", cell)]


@pytest.mark.slow
@pytest.mark.parametrize("nutrient", ["lysine", "methionine", "threonine", "tryptophan", "valine"])
def test_ten_times_an_amino_acid_of_corn_is_found(
    copy: Path, spoil: Callable[..., str], library: Library, nutrient: str
) -> None:
    ten_times = 10 * library.figures["corn"][nutrient].value
    cell = spoil("composition", figure("corn", nutrient), "value", f"{ten_times:.4g}")
    assert ("composition.csv", cell) in [(p.sheet, p.cell) for p in problems_of(copy) if p.severity == "error"]


def test_of_a_large_table_only_what_is_asked_for_is_read_and_a_fault_keeps_its_cell(
    copy: Path, spoil: Callable[..., str]
) -> None:
    """Figures by feed and requirements by stage are those of the whole table; a fault of another feed waits."""
    whole = Library(copy).table("composition", TABLES["composition"])
    cell = spoil("composition", figure("corn", "lysine"), "value", "a lot")
    later = Library(copy)
    assert list(later.figures) == list(dict.fromkeys(row.feed for row in whole))
    assert tuple(later.figures["lentils"].values()) == tuple(row for row in whole if row.feed == "lentils")
    with pytest.raises(LibraryError) as caught:
        later.figures["corn"]
    (problem,) = caught.value.problems
    assert problem.cell == cell
    stages = later.table("requirements", TABLES["requirements"])
    assert later.requirements["sw_boar"] == [row for row in stages if row.stage == "sw_boar"]
