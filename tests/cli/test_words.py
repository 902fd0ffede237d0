"""What a missed bound is called, and how numbers stand in sentences."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

from rationlp.cautions import REVIEW
from rationlp.rations.answer.model import RequirementLine
from rationlp.show.text.ration import _gives

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(
    ("gives", "meets", "shown"),
    [
        (0.5, False, "0.5 SHORT"),
        (2200.0, False, "2,200 OVER"),
        (1.5, True, "1.5"),
        (None, None, "not known"),
    ],
)
def test_a_maximum_that_is_passed_is_over_and_not_short(gives, meets, shown):
    line = RequirementLine("calcium", "Calcium", "%", 1.0, 2.0, gives, meets, None, 0.0, "need", "per kg", "s", "page")
    assert _gives(line).replace("0.500", "0.5").replace("1.500", "1.5") == shown


def test_the_review_warning_is_true_without_a_bin():
    assert "where grain" in REVIEW and "nutritionist" in REVIEW


@pytest.mark.slow
def test_a_nearest_mix_far_off_is_told_without_an_exponent(tmp_path):
    """Salt alone for pigs that bear little sodium: thousands of percent, written out."""
    tables = {
        "farm": [("setting", "value"), ("name", "t")],
        "supplements": [("offer", "feed", "price"), ("salt", "salt", 100)],
        "own_stages": [("stage", "nutrient", "maximum", "unit", "per"), ("mine", "sodium", 0.4, "%", "kg")],
        "groups": [("group", "stage", "head"), ("pigs", "mine", 3)],
    }
    for name, rows in tables.items():
        with (tmp_path / f"{name}.csv").open("w", encoding="utf-8", newline="") as out:
            csv.writer(out).writerows(rows)
    arguments = [sys.executable, "-m", "rationlp", "ration", str(tmp_path), "--full"]
    done = subprocess.run(arguments, capture_output=True, text=True, cwd=ROOT, check=False)
    assert done.returncode == 3, done.stderr
    assert " OVER" in done.stdout and " SHORT" not in done.stdout
    assert "STOP: Sodium is 39.50 %; these animals should get at most 0.4 (9,775 % off)." in done.stdout
    assert "e+0" not in done.stdout
