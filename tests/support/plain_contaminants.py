"""The limits on contaminants of a mix from the tables as they stand in the files; a part of `plain_check.py`.

Of the feed itself and of the complete feed, in the farm's jurisdiction, else the strictest published; a sum binds what
its parts add up to; where the law forbids thinning, a feed above the limit of the complete feed is none at all.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

TABLES = Path(__file__).parents[2] / "feed_library"
NINETY_FIVE = 1.6448536269514722
"""Standard deviations above the mean below which 95 of 100 draws lie."""
MG_KG = {"mg/kg": 1.0, "ug/kg": 0.001, "%": 1e4, "g/kg": 1000.0}
Row = dict[str, str]


@dataclass(frozen=True)
class Bound:
    """A limit on a contaminant, mg/kg. `barred` are the places of parts that may not be in the mix because of it."""

    what: str
    held: tuple[float, ...]
    most: float | None
    barred: tuple[int, ...] = ()


@cache
def _table(name: str) -> tuple[Row, ...]:
    with (TABLES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


def bounds(
    results: Sequence[Mapping[str, Sequence[float]]],
    feeds: Sequence[Iterable[str]],
    scopes: Sequence[str],
    jurisdiction: str,
    room: float,
) -> list[Bound]:
    """Every limit on parts with these results (mg/kg as fed), each made of these feeds, for animals of these scopes."""
    known = [_with_sums(one) for one in results]
    found = []
    for nutrient in dict.fromkeys(name for one in known for name in one):
        rows = [row for row in _table("contaminants") if row["nutrient"] == nutrient and row["kind"] != "grade limit"]
        about = [row for row in rows if set(row["scopes"].split()) & {*scopes, "all"}]
        diets = _of(jurisdiction, [row for row in about if row["limit_in_complete_diet"]])
        most = min((_mg_kg(row, "limit_in_complete_diet") for row in diets), default=None)
        found.append(Bound(f"{nutrient} of the mix", tuple(_surely(one, nutrient) for one in known), most))
        for place, (one, of) in enumerate(zip(known, feeds, strict=True)):
            least = min(one.get(nutrient, ()), default=0.0)
            limit = _most_of_feed(nutrient, rows, about, set(of), jurisdiction, most)
            if limit is not None and least > limit * (1 + room):
                what = f"{nutrient} of a feed {least} mg/kg, above {limit}"
                found.append(Bound(what, (0.0,) * len(known), None, (place,)))
    return found


def _most_of_feed(
    nutrient: str, rows: list[Row], about: list[Row], feeds: set[str], jurisdiction: str, most: float | None
) -> float | None:
    """The most of a contaminant in the feed itself: its own limit, or the mix's where thinning is forbidden."""
    material = [row for row in rows if row["limit_in_ingredient"] and (row in about or not row["scopes"])]
    material = [row for row in material if _speaks_of(row["applies_to"], feeds)]
    own = [row for row in material if row["jurisdiction"] == jurisdiction]
    if not own and not any(row["jurisdiction"] == jurisdiction and row["limit_in_complete_diet"] for row in about):
        own = sorted(material, key=lambda row: _mg_kg(row, "limit_in_ingredient"))[:1]
    limits = [_mg_kg(row, "limit_in_ingredient") for row in own]
    if not own and most is not None and _no_thinning(nutrient, jurisdiction):
        limits = [most]
    return min(limits, default=None)


def _of(jurisdiction: str, rows: list[Row]) -> list[Row]:
    """The rows of a jurisdiction with those of sensitive species, all where it has none."""
    if not any(row["jurisdiction"] == jurisdiction for row in rows):
        return rows
    return [row for row in rows if row["jurisdiction"] == jurisdiction or "sensitive" in row["kind"]]


def _no_thinning(nutrient: str, jurisdiction: str) -> bool:
    return any(
        row["kind"] == "prohibition"
        and row["contaminant"].startswith("diluting")
        and row["jurisdiction"] == jurisdiction
        and row["nutrient"] in ("", nutrient)
        for row in _table("contaminants")
    )


def _speaks_of(words: str, feeds: set[str]) -> bool:
    """Whether what a source calls a feed is one of these; words that no table maps speak of every feed."""
    mapped = [row for row in _table("grain_words") if (row["table"], row["word"]) == ("contaminants", words)]
    return not mapped or any(
        _names(feed) & set(mapped[0]["feeds"].split()) and not _names(feed) & set(mapped[0]["other_than"].split())
        for feed in feeds
    )


@cache
def _names(feed: str) -> frozenset[str]:
    groups = {row["group"] for row in _table("feeds") if row["feed"] == feed}
    families = {row["family"] for row in _table("families") if row["feed"] == feed}
    return frozenset({feed, "all", *groups, *families})


def _with_sums(results: Mapping[str, Sequence[float]]) -> dict[str, Sequence[float]]:
    """The results with every sum at least what its parts surely add up to."""
    found = dict(results)
    for row in _table("nutrients"):
        parts = [name for name in row["sum_of"].split() if row["kind"] == "toxin" and results.get(name)]
        if parts:
            added = sum(min(results[name]) for name in parts)
            stated = [value for value in results.get(row["nutrient"], ()) if value >= added]
            found[row["nutrient"]] = stated or [added, added]  # twice: its error is not that of one result
    return found


def _surely(results: Mapping[str, Sequence[float]], nutrient: str) -> float:
    """What a part holds, mg/kg: a single result with its ± (lab_variation.csv), the least of several."""
    of = results.get(nutrient, ())
    if len(of) != 1:
        return min(of, default=0.0)
    return of[0] * (1 + NINETY_FIVE * _error_pct(nutrient) / 100)


def _error_pct(nutrient: str) -> float:
    """Coefficient of variation of one result: of the toxin, of the sum it is part of, of any toxin."""
    sums = [row["nutrient"] for row in _table("nutrients") if nutrient in row["sum_of"].split()]
    rows = [row for row in _table("lab_variation") if not row["method"] and row["cv_pct"]]
    by_name = {row["nutrient"]: float(row["cv_pct"]) for row in rows}
    return next(by_name[name] for name in (nutrient, *sums, "toxin") if name in by_name)


def _mg_kg(row: Row, column: str) -> float:
    return float(row[column]) * MG_KG[row["unit"]]
