"""Rows that keep crystals and what is too light out of one mix of a formula, put in and taken out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

from rationlp.rations.program.formula import Formula
from rationlp.rations.program.program import Program, ProgramRow

CRYSTAL, LEAST = "crystal:", "least:"
"""Before the offer in the keys of these rows."""
AT_LEAST = ":at least"
"""After the offer in the key of a row that lets it in only where it is worth weighing."""


def with_rows(formula: Formula, rows: Sequence[ProgramRow]) -> Formula:
    """`formula` with more rows at its end."""
    program = replace(formula.program, rows=(*formula.program.rows, *rows))
    return replace(formula, program=program, sources=(*formula.sources, *(None,) * len(rows)))


def none_of(formula: Formula, column: int, mark: str) -> ProgramRow:
    """The row that keeps a candidate out; `mark` says why, CRYSTAL or LEAST."""
    only = tuple(float(j == column) for j in range(len(formula.candidates)))
    return ProgramRow(f"{mark}{formula.candidates[column].name}:none", only, "<=")


def all_out(formula: Formula, columns: Iterable[int], mark: str) -> tuple[ProgramRow, ...]:
    """The rows that keep several candidates out."""
    return tuple(none_of(formula, column, mark) for column in columns)


def same_again(formula: Formula, column: int, rows: Sequence[ProgramRow]) -> list[int]:
    """Other offers of the same feed that none of the rows tells from this one, which is in the cheapest mix: none of
    them is cheaper, so that whatever they could do this one does."""
    feed, normalizer = formula.candidates[column].feed, formula.program.normalizer
    return [
        j
        for j, candidate in enumerate(formula.candidates)
        if j != column
        and candidate.feed == feed
        and normalizer[j] == normalizer[column]
        and all(row.coefficients[j] == row.coefficients[column] for row in rows)
    ]


def kept_to(formula: Formula, column: int, need: ProgramRow, allowance: float) -> ProgramRow:
    """The row that keeps a crystal to a need: the mix supplies no more than it and `allowance`, a part of it."""
    key = f"{CRYSTAL}{formula.candidates[column].name}:{need.key}"
    return ProgramRow(key, tuple(a - allowance for a in need.coefficients), "<=")


def bare(formula: Formula) -> Formula:
    """`formula` without the rows that keep crystals and what is too light out of one ration: a bought part, or another
    price, may want other ones."""
    return _without(formula, (CRYSTAL, LEAST))


def weighable(program: Program, least: float) -> Program:
    """`program` for whole steps of a scale, of a batch in which `least` (0 to 1) is worth weighing.

    No need can be met as closely there as a crystal is held to it. What came in with as much as is worth weighing into
    the book's batch may be as little as is worth weighing into a larger one, and anything in a smaller one.
    """
    found = (_of_batch(row, least) if of_shares(row) else row for row in program.rows)
    return replace(program, rows=tuple(row for row in found if row is not None))


def of_shares(row: ProgramRow) -> bool:
    """Whether a row is of the shares of the book's batch alone, and not of every batch that is weighed."""
    return row.key.startswith(CRYSTAL) or (row.key.startswith(LEAST) and row.key.endswith(AT_LEAST))


def _of_batch(row: ProgramRow, least: float) -> ProgramRow | None:
    """A row of shares as it is for another batch; None where there it is none."""
    of_book = -min(row.coefficients)
    if row.key.startswith(CRYSTAL) or least > of_book:
        return None
    return replace(row, coefficients=tuple(a + of_book - least for a in row.coefficients))


def without_rows_of(offers: Collection[str], formula: Formula) -> Formula:
    """`formula` without the rows that keep these offers out of the ration or above the least that can be weighed."""
    return _without(formula, tuple(f"{mark}{offer}:" for offer in offers for mark in (CRYSTAL, LEAST)))


def _without(formula: Formula, heads: tuple[str, ...]) -> Formula:
    kept = [i for i, row in enumerate(formula.program.rows) if not row.key.startswith(heads)]
    program = replace(formula.program, rows=tuple(formula.program.rows[i] for i in kept))
    return replace(formula, program=program, sources=tuple(formula.sources[i] for i in kept))
