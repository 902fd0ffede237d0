"""The signature and the record of the demo farm are what it would have today."""

from __future__ import annotations

import csv

import pytest
import write_demo

import rationlp
from rationlp.ledger.store import COLUMNS

pytestmark = pytest.mark.slow

DO = "python tests/support/write_demo.py writes the demo anew"


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as lines:
        return list(csv.reader(lines))


def test_the_signed_ration_is_the_one_of_today():
    today = write_demo.signed_today(rationlp.open_farm(write_demo.DEMO_BOOK))
    assert rows_of(write_demo.DEMO_BOOK / "signed.csv")[1:] == [today], DO


@pytest.mark.long
def test_the_record_is_what_the_farm_would_write_today(tmp_path):
    """Numbers, days, mixes and weights; the last digits of a chance may differ between machines."""
    head, *shipped = rows_of(write_demo.DEMO_RECORD)
    again = [[str(cell) for cell in row] for row in write_demo.recorded(tmp_path)]
    assert head == list(COLUMNS)
    assert [row[:6] for row in shipped] == [row[:6] for row in again], DO
    assert [row[6][:200] for row in shipped] == [row[6][:200] for row in again], DO
