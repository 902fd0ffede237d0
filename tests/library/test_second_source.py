"""A second source for every figure that has one.

`data/check_values.csv` and `data/requirement_checks.csv` are figures of other tables, data sets and trials than the
ones the library rests on, each with its source. A pair is compared on the basis of the check. Pairs that are not the
same thing (kernels against seed in the hull, apparent against standardized digestibility, what follows the soil) stand
in `data/not_comparable.csv` with the reason. Every other pair that differs by more than the tolerance stands in
`data/known_differences.csv` or `data/requirement_differences.csv` with a judgement; a new one fails.

Tolerance: 15 percent. The difference between two single lots has a standard deviation of 1.41 times the spread between
lots, and the library's spreads of protein, starch, amino acids and energy lie between 3 and 11 percent of the figure:
15 percent is one such deviation at the wide end. Amino acids agree if either the content or the share of protein does,
for protein itself differs between lots. Requirements of a second print of the same table must agree within 5 percent.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path
from statistics import median

import pytest

from rationlp.library import Library
from rationlp.library.records import Requirement

DATA = Path(__file__).parent / "data"
TOLERANCE = 0.15
SAME_TABLE = 0.05
TRACE_OF_SODIUM_PCT = 0.03
EATEN = {"swine": 0.95}  # daily feed of pigs includes 5 % waste


def rows_of(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((DATA / name).read_text(encoding="utf-8").splitlines()))


EXCLUDED = rows_of("not_comparable.csv")


def not_the_same_thing(check: dict[str, str], library: Library) -> str:
    """Why a check value cannot be compared; empty if it can."""
    for row in EXCLUDED:
        fits = all(row[key] in ("*", check[key]) for key in ("feed", "source", "nutrient"))
        if fits and row["only"] in check["note"] + check["source"]:
            return row["reason"]
    figure = library.figures.get(check["feed"], {}).get(check["nutrient"])
    if figure is None:
        return "the library has no such figure"
    if check["basis"] in ("apparent", "not_stated"):
        return f"basis: {check['basis']}"
    value = float(check["value"])
    if value == 0:
        return "not detected in the check"
    if check["nutrient"] == "sodium" and max(value, figure.value) <= TRACE_OF_SODIUM_PCT:
        return "a trace beside salt"
    return ""


def difference(check: dict[str, str], library: Library) -> float:
    """The library's figure over the check's, less one; of an amino acid the better of content and share of protein."""
    figures, feed = library.figures[check["feed"]], library.feeds[check["feed"]]
    kind = library.nutrients[check["nutrient"]].kind
    dry = 1.0
    if check["basis"] == "as_fed" and kind != "coefficient":
        dry = float(check["dry_matter_pct"] or feed.dry_matter_pct) / 100
    ours, theirs = figures[check["nutrient"]].value * dry, float(check["value"])
    content = ours / theirs - 1
    if kind != "amino_acid" or not check["protein_pct"]:
        return content
    share = (ours / (figures["crude_protein"].value * dry)) / (theirs / float(check["protein_pct"])) - 1
    return min(content, share, key=abs)


def pairs(library: Library) -> list[tuple[dict[str, str], float]]:
    checks = rows_of("check_values.csv")
    return [(check, difference(check, library)) for check in checks if not not_the_same_thing(check, library)]


def key_of(row: dict[str, str]) -> tuple[str, str, str, float]:
    value = row.get("check_value") or row.get("per_kg") or row["value"]
    return row.get("feed") or row["stage"], row["nutrient"], row["source"], float(value)


def test_composition_agrees_with_second_sources(library: Library) -> None:
    compared = pairs(library)
    near = [pair for pair in compared if abs(pair[1]) <= TOLERANCE]
    wider = [pair for pair in compared if abs(pair[1]) <= lot_tolerance(pair[0], library)]
    print(
        f"\n{len(compared)} pairs; {100 * len(near) / len(compared):.1f} % within 15 %, "
        f"{100 * len(wider) / len(compared):.1f} % within 15 % or the spread between two lots; "
        f"median difference {100 * median(abs(d) for _, d in compared):.1f} %"
    )
    assert len(compared) > 850
    assert len(near) / len(compared) >= 0.85


def lot_tolerance(check: dict[str, str], library: Library) -> float:
    """15 percent, or one standard deviation of the difference between two lots where the library knows the spread."""
    figure = library.figures[check["feed"]][check["nutrient"]]
    return max(TOLERANCE, math.sqrt(2) * figure.sd / figure.value if figure.sd and figure.value else 0.0)


def test_every_difference_in_composition_is_known_and_judged(library: Library) -> None:
    known = {key_of(row): row for row in rows_of("known_differences.csv")}
    assert all(row["judgement"] for row in known.values())
    found = {key_of(check): gap for check, gap in pairs(library) if abs(gap) > TOLERANCE}
    fresh = {key: f"{100 * gap:+.0f} %" for key, gap in found.items() if key not in known}
    assert fresh == {}, "a new difference: judge it and enter it in known_differences.csv"
    assert set(known) - set(found) == set(), "no difference any more: take it out of known_differences.csv"
    moved = {
        key: (known[key]["difference_pct"], 100 * gap)
        for key, gap in found.items()
        if abs(float(known[key]["difference_pct"]) - 100 * gap) > 1.0
    }
    assert moved == {}, "a known difference has another size now: judge it again"


def test_exclusions_say_why_and_are_used(library: Library) -> None:
    checks = rows_of("check_values.csv")
    for row in EXCLUDED:
        assert row["reason"]
        assert any(
            all(row[key] in ("*", check[key]) for key in ("feed", "source", "nutrient"))
            and row["only"] in check["note"] + check["source"]
            for check in checks
        ), f"nothing is excluded by {row}"


def need(row: Requirement, library: Library) -> float:
    """A minimum per kilogram of feed as eaten, in the nutrient's unit."""
    if row.per == "kg":
        return row.minimum
    stage = library.stages[row.stage]
    per_kg = row.minimum / (stage.daily_feed_g / 1000 * EATEN.get(stage.species, 1.0))
    return per_kg * {("g", "%"): 0.1, ("mg", "%"): 1e-4}.get((row.unit, library.units[row.nutrient]), 1.0)


def our_need(check: dict[str, str], library: Library) -> float:
    """The library's own row for a check: per kg before per day, requirement before reference energy before check."""
    order = ("row", "reference_energy", "check")
    rows = [
        r for r in library.requirements[check["stage"]] if r.nutrient == check["nutrient"] and r.minimum is not None
    ]
    rows = [r for r in rows if r.note.startswith(("table figure", "older table"))] or rows  # not the share of it
    return need(min(rows, key=lambda r: (r.per != "kg", order.index(r.use))), library)


def requirement_pairs(library: Library) -> list[tuple[dict[str, str], float]]:
    checks = [row for row in rows_of("requirement_checks.csv") if not row["not_comparable"]]
    return [(check, our_need(check, library) / float(check["per_kg"]) - 1) for check in checks]


def test_second_prints_of_the_same_table_agree(library: Library) -> None:
    same = [(check, gap) for check, gap in requirement_pairs(library) if check["same_table"] == "yes"]
    assert len(same) > 100
    assert [(key_of(check), gap) for check, gap in same if abs(gap) > SAME_TABLE] == []


def test_every_difference_in_requirements_is_known_and_judged(library: Library) -> None:
    known = {key_of(row): row for row in rows_of("requirement_differences.csv")}
    assert all(row["judgement"] for row in known.values())
    compared = requirement_pairs(library)
    found = {key_of(check): gap for check, gap in compared if abs(gap) > TOLERANCE}
    near = len(compared) - len(found)
    print(f"\n{len(compared)} requirements compared, {100 * near / len(compared):.0f} % within 15 %")
    assert {key: f"{100 * gap:+.0f} %" for key, gap in found.items() if key not in known} == {}, "a new difference"
    assert set(known) - set(found) == set(), "no difference any more: take it out"


def test_every_check_has_a_source_that_can_be_looked_up(library: Library) -> None:
    sources = {row["source"] for name in ("check_values.csv", "requirement_checks.csv") for row in rows_of(name)}
    listed = {row["source"] for row in rows_of("check_sources.csv")} | set(library.sources)
    assert {part for source in sources for part in source.split(" + ")} - listed == set()


@pytest.mark.parametrize("name", ["known_differences.csv", "requirement_differences.csv"])
def test_no_difference_stands_twice(name: str) -> None:
    keys = [key_of(row) for row in rows_of(name)]
    assert len(keys) == len(set(keys))
