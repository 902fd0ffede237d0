"""Bins for the tests: published examples by id, and books with a bin or two."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

EXAMPLES = {
    example["id"]: example
    for example in json.loads((Path(__file__).parents[1] / "published" / "bins.json").read_text(encoding="utf-8"))
}


@pytest.fixture(scope="session")
def examples() -> dict[str, dict]:
    """The published examples of sampling, bins and mixtures by id; each carries its source."""
    return EXAMPLES


MIX = {"triticale": 250.0, "oats_naked": 110.0, "faba_low_tannin": 90.0, "camelina_seed": 50.0}


@pytest.fixture
def bin_book(make_book):
    """Writes a book with the bin `north`; `sorts` and `assays` are by sample, `bin_` adds to the bin's row.

    An assay is (nutrient, value, unit, basis, lab_sd, method), as many of them as are needed.
    """

    def make(sorts=None, assays=None, bin_=None, farm=None, groups=(), samples=None, own_feeds=(), name="book"):
        sorts = {"n1": MIX} if sorts is None else sorts
        assays = assays or {}
        settings = {"name": "test", **(farm or {})}
        names = list(dict.fromkeys([*sorts, *assays]))
        rows = {
            "farm": [{"setting": key, "value": value} for key, value in settings.items()],
            "bins": [{"bin": "north", "sale_price": 180, **(bin_ or {"mass": "40 t", "moisture_pct": 12.0})}],
            "samples": [
                {
                    "sample": s,
                    "bin": "north",
                    "taken_on": f"2025-09-{10 + i:02d}",
                    "note": "",
                    **(samples or {}).get(s, {}),
                }
                for i, s in enumerate(names)
            ],
            "sorted": [{"sample": s, "crop": c, "mass_g": g} for s, masses in sorts.items() for c, g in masses.items()],
            "assays": [
                dict(zip(("sample", "nutrient", "value", "unit", "basis", "lab_sd", "method"), (s, *row), strict=False))
                for s, found in assays.items()
                for row in found
            ],
            "groups": list(groups),
            "own_feeds": list(own_feeds),
        }
        return make_book({sheet: lines for sheet, lines in rows.items() if lines}, name)

    return make
