"""No figure of the shipped library changes silently."""

from __future__ import annotations

import shutil
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import pytest

from rationlp.library import Library
from rationlp.library.checksums import changed, checksum, corrections, main, refresh, stands, stored
from rationlp.library.stored.csv_tables import read_rows
from rationlp.library.stored.packed import packed_table
from rationlp.library.tables import TABLES

SHIPPED = Path(str(files("feed_library")))
REMOVED = "removed"  # in the column `new` of a row that no longer stands in its table


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    directory = Path(shutil.copytree(SHIPPED, tmp_path / "library"))
    refresh(directory)  # so that these tests do not hang on the shipped tables
    return directory


@pytest.mark.slow
def test_every_table_is_as_its_checksum_says() -> None:
    assert changed(SHIPPED) == [], (
        "a table changed: if that was meant, enter each figure in corrections.csv (old, new, source) and run "
        "python -m rationlp.library.checksums --refresh"
    )
    assert set(stored(SHIPPED)) == set(TABLES)


@pytest.mark.slow
def test_a_changed_figure_is_told_and_refreshed(copy: Path) -> None:
    table = copy / "composition.csv"
    text = table.read_text(encoding="utf-8")
    table.write_text(
        text.replace("triticale,crude_protein,12.66", "triticale,crude_protein,12.76", 1), encoding="utf-8"
    )
    (sentence,) = changed(copy)
    assert sentence.startswith("composition.csv: rows")
    before, after = stored(copy)["composition"], checksum("composition", copy)
    assert float(after.sum) - float(before.sum) == pytest.approx(0.1, abs=1e-6)
    refresh(copy)
    assert changed(copy) == []


@pytest.mark.slow
def test_a_lost_row_is_told(copy: Path) -> None:
    table = copy / "families.csv"
    table.write_text("".join(table.read_text(encoding="utf-8").splitlines(keepends=True)[:-1]), encoding="utf-8")
    (sentence,) = changed(copy)
    assert sentence.startswith("families.csv: rows")


@pytest.mark.parametrize("name", TABLES)
def test_a_packed_table_is_its_csv(name: str) -> None:
    file = SHIPPED / f"{name}.csv"
    packed = packed_table(file, name, TABLES[name])
    assert packed is not None, "run python -m rationlp.library.checksums --refresh"
    assert packed.all_rows() == read_rows(file, name, TABLES[name])
    rows = [row for key in packed.keys for row in packed.rows(key)]
    assert sorted(map(repr, rows)) == sorted(map(repr, packed.all_rows()))


@pytest.mark.slow
def test_a_table_that_was_edited_is_read_from_its_csv(copy: Path) -> None:
    """A figure that somebody corrected counts at once, packed anew or not; a damaged pack serves no one."""
    table = copy / "composition.csv"
    before = Library(copy).figures["triticale"]["crude_protein"].value
    text = table.read_text(encoding="utf-8")
    table.write_text(
        text.replace("triticale,crude_protein,12.66", "triticale,crude_protein,12.76", 1), encoding="utf-8"
    )
    assert packed_table(table, "composition", TABLES["composition"]) is None
    assert Library(copy).figures["triticale"]["crude_protein"].value == pytest.approx(before + 0.1)
    refresh(copy)
    assert Library(copy).figures["triticale"]["crude_protein"].value == pytest.approx(before + 0.1)
    packed = copy / "packed" / "composition.jsonl"
    whole = packed.read_bytes()
    assert b"12.76" in whole
    for damaged in (whole[:1000], whole.replace(b"12.76", b"92.76")):
        packed.write_bytes(damaged)
        assert packed_table(table, "composition", TABLES["composition"]) is None
    assert Library(copy).figures["triticale"]["crude_protein"].value == pytest.approx(before + 0.1)


def test_the_shipped_library_is_read_without_its_csv_reader() -> None:
    """Packed tables need no pydantic: it would take a third of the time of a short command."""
    line = (
        "import sys; from rationlp.library import load_library; found = load_library();"
        "found.figures['corn'], found.requirements['sw_boar'], found.sources, found.trials;"
        "print('pydantic' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", line], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


@pytest.mark.slow
def test_every_correction_says_old_new_and_source_and_still_stands() -> None:
    found = corrections(SHIPPED)
    assert found
    latest = {(row.table, row.key): row for row in found}
    for row in found:
        assert row.date and row.source and row.old != row.new, row
    for row in latest.values():
        assert (stands(row, SHIPPED) or REMOVED) == row.new, (
            f"{row.table} {row.key} was changed again without a line in corrections.csv"
        )


@pytest.mark.slow
def test_the_command_says_what_it_found(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == (1 if changed(SHIPPED) else 0)
    assert capsys.readouterr().out
    assert main(["nonsense"]) == 2
