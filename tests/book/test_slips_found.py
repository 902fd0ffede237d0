"""Slips of the keyboard on sheets of the season and of deliveries, each at the cell that was mistyped."""

from __future__ import annotations

import pytest

from rationlp.book.checks.check import check_book


@pytest.mark.parametrize(
    ("sheet", "row", "column", "typed", "severity", "words"),
    [
        ("herd", 5, "feed_per_head_per_day", "25", "warning", "25 kg of feed per head and day"),
        ("herd", 5, "losses_pct", "98", "warning", "losses_pct 98"),
        ("lots", 2, "mass", "12", "error", "a mass of 12 kg of corn"),
        ("bins", 2, "mass", "42000 t", "warning", "42,000 t of grain in a bin"),
        ("supplements", 3, "freight", "100000", "error", "a freight of 100000, with which"),
    ],
)
def test_a_slip_is_told_at_its_cell(demo, tmp_path, library, sheet, row, column, typed, severity, words):
    path = demo.set(sheet, row, column, typed).write_csv(tmp_path / "book")
    (told,) = [p for p in check_book(path, library) if p.severity == severity]
    assert told.sheet == sheet and told.found.startswith(words) and told.do
    assert told.cell.endswith(str(row))


@pytest.mark.parametrize(
    ("sheet", "row", "column", "typed"),
    [
        ("lots", 2, "mass", "12 kg"),
        ("lots", 3, "mass", "5"),
        ("herd", 5, "losses_pct", "12"),
        ("bins", 2, "mass", "900 t"),
    ],
)
def test_what_may_well_be_is_no_question(demo, tmp_path, library, sheet, row, column, typed):
    assert check_book(demo.set(sheet, row, column, typed).write_csv(tmp_path / "book"), library) == []
