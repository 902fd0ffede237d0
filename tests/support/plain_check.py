"""A second opinion on a finished mix: plain sums over its ingredients against the tables as they stand in the files.

Written apart from the rations of the program: nothing of rationlp/stages, rationlp/rations or rationlp/offers is used.
It knows the shares of a mix, what each ingredient is made of as fed, and the CSV files of the feed library. What a mix
passes is a list of sentences; an empty list means that nothing speaks against it.

The rules are those of feed_library/README.md: scopes nearest first, requirements in ratio to the energy of the table,
the least of the evidence of the nearest scope as the cap of a feed, every legal maximum.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

TABLES = Path(__file__).parents[2] / "feed_library"
ROOM = 2e-6
"""Part of a bound that the last digits of a solver may be off by."""
ADVICE = ("recommended", "rule_of_thumb", "practice")
AMINO_ACIDS = ("amino_acid", "digestible_amino_acid")
Row = dict[str, str]


@dataclass(frozen=True)
class Part:
    """An ingredient of a mix: its share (0 to 1), its figures as fed, the library feeds it is made of (shares).

    What might have been in the mix and is not has the share 0: a limit speaks of a feed that is there to be fed.

    `contaminants` holds every result there is of it, as fed in mg/kg; the least of several counts here, so that what is
    found to be passed is passed whichever of them is right.
    """

    name: str
    share: float
    values: Mapping[str, float]
    feeds: Mapping[str, float]
    contaminants: Mapping[str, Sequence[float]] = field(default_factory=dict)
    on_hold: bool = False
    least_pct: float | None = None
    most_pct: float | None = None


@dataclass(frozen=True)
class Setting:
    """What of the book decides: stage, jurisdiction, margin on amino acids, kg a head and day, limits of its own."""

    stage: str
    jurisdiction: str
    margin_pct: float = 0.0
    feed_kg: float | None = None
    own_limits: Sequence[Mapping[str, str]] = ()


@cache
def table(name: str) -> tuple[Row, ...]:
    with (TABLES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


@cache
def by_id(name: str, key: str) -> dict[str, Row]:
    return {row[key]: row for row in table(name)}


@cache
def members(word: str) -> frozenset[str]:
    """The feeds that a word of the tables means."""
    return frozenset(row["feed"] for row in table("families") if row["family"] == word) or frozenset({word})


def passed(mix: Sequence[Part], farm: Setting) -> list[str]:
    """Everything that the mix passes or misses."""
    stage = by_id("stages", "stage")[farm.stage]
    scopes = stage["scopes"].split()
    used = [part for part in mix if part.share > 0]
    return [
        *_whole(used),
        *_needs(used, farm, stage),
        *_ceilings(used, farm, scopes),
        *_ratios(used, scopes),
        *_caps(mix, farm, scopes),
        *_usual(used, scopes),
        *_premix(used, stage),
        *_contaminants(used, farm, scopes),
    ]


def brings(mix: Sequence[Part], nutrient: str) -> float:
    """What the mix holds of a nutrient, an ingredient without a figure counting nothing."""
    return sum(part.share * part.values.get(nutrient, 0.0) for part in mix)


def holds(mix: Sequence[Part], feeds: frozenset[str]) -> float:
    """Percent of the mix that these feeds are, inside the grain of a bin too."""
    return 100 * sum(part.share * part.feeds.get(feed, 0.0) for part in mix for feed in feeds)


def _over(value: float, most: float) -> bool:
    return value > most * (1 + ROOM) + 1e-9


def _under(value: float, least: float) -> bool:
    return value < least * (1 - ROOM) - 1e-9


def _whole(mix: Sequence[Part]) -> list[str]:
    total = sum(part.share for part in mix)
    found = [] if abs(total - 1) < 1e-5 else [f"the shares add up to {total}"]
    for part in mix:
        if part.on_hold:
            found.append(f"{part.name} is on hold")
        if part.most_pct is not None and _over(100 * part.share, part.most_pct):
            found.append(f"{part.name} at {100 * part.share} %, at most {part.most_pct}")
        if part.least_pct is not None and _under(100 * part.share, part.least_pct):
            found.append(f"{part.name} at {100 * part.share} %, at least {part.least_pct}")
    return found


def _needs(mix: Sequence[Part], farm: Setting, stage: Row) -> list[str]:
    """Energy and every requirement of the stage's table."""
    rows = [row for row in table("requirements") if row["stage"] == farm.stage]
    energy = next(
        float(row["minimum"])
        for row in rows
        if row["use"] == "reference_energy" and row["nutrient"] == stage["energy"] and row["per"] == "kg"
    )
    eaten = float(stage["daily_feed_g"]) / 1000 if stage["daily_feed_g"] else None
    given = brings(mix, stage["energy"])
    least = energy * float(stage["energy_floor_pct"]) / 100
    if stage["fed"] == "by_weight" and farm.feed_kg and eaten:
        least = energy * eaten / farm.feed_kg
    found = [f"energy {given}, at least {least}"] if _under(given, least) else []
    wanted = [row for row in rows if row["use"] == "row"]
    for nutrient in dict.fromkeys(row["nutrient"] for row in wanted):
        of = {row["per"]: row for row in wanted if row["nutrient"] == nutrient}
        kind = by_id("nutrients", "nutrient")[nutrient]
        if kind["met_by"] == "not_tabled":
            continue
        row = of.get("kg") or of["day"]
        factor = given / energy
        if "day" in of and farm.feed_kg and eaten:
            factor = eaten / farm.feed_kg
        factor_low = factor * (1 + farm.margin_pct / 100) if kind["kind"] in AMINO_ACIDS else factor
        held = brings(mix, nutrient)
        if kind["met_by"] == "premix" and not any(nutrient in part.values for part in mix):
            continue  # nothing is known of it; the premix is dosed for it
        low, high = (_bound(row[side], row, eaten, kind["unit"]) for side in ("minimum", "maximum"))
        if low is not None and _under(held, low * factor_low):
            found.append(f"{nutrient} {held}, at least {low * factor_low}")
        if high is not None and _over(held, high * factor):
            found.append(f"{nutrient} {held}, at most {high * factor}")
    return found


def _bound(text: str, row: Row, eaten: float | None, unit: str) -> float | None:
    """A bound of the table in the nutrient's unit of the feed; a day's amount is spread over what is eaten."""
    if not text:
        return None
    if row["per"] == "kg":
        return float(text)
    grams = {"g": 1.0, "mg": 0.001}.get(row["unit"], 1.0)
    scale = {"%": 0.1, "mg/kg": 1000.0}.get(unit, 1.0)
    return float(text) * grams * scale / eaten


def _nearest(rows: Sequence[Row], scopes: Sequence[str], key: str) -> list[Row]:
    """Of each `key` the rows of the nearest scope."""
    place = {scope: number for number, scope in enumerate(scopes)}
    near: dict[str, int] = {}
    for row in rows:
        near[row[key]] = min(near.get(row[key], 99), place[row["scope"]])
    return [row for row in rows if place[row["scope"]] == near[row[key]]]


def _ceilings(mix: Sequence[Part], farm: Setting, scopes: Sequence[str]) -> list[str]:
    here = [
        row
        for row in table("ceilings")
        if row["scope"] in scopes
        and row["maximum"]
        and (not row["jurisdiction"] or farm.jurisdiction in row["jurisdiction"].split())
        and (row["use"] == "row" or row["kind"] in ("safety", "legal"))
    ]
    legal = [row for row in here if row["kind"] == "legal"]
    of_kind = [[row for row in here if row["kind"] == kind] for kind in ("safety", "practice")]
    rows = [*legal, *(row for kind in of_kind for row in _nearest(kind, scopes, "nutrient"))]
    groups = by_id("feeds", "feed")
    found = []
    for row in rows:
        counted = mix
        if row["use"] == "added":
            counted = [
                p for p in mix if any(groups[f]["group"] in ("premix", "mineral") for f in p.feeds if f in groups)
            ]
        held = brings(counted, row["nutrient"])
        if _over(held, float(row["maximum"])):
            found.append(f"{row['kind']} {row['nutrient']} {held}, at most {row['maximum']} ({row['scope']})")
    return found


def _ratios(mix: Sequence[Part], scopes: Sequence[str]) -> list[str]:
    rows = [row for row in table("ratios") if row["use"] == "row" and row["scope"] in scopes]
    found = []
    for row in _nearest(rows, scopes, "numerator"):
        top, below = brings(mix, row["numerator"]), brings(mix, row["denominator"])
        if row["minimum"] and _under(top, float(row["minimum"]) * below):
            found.append(f"{row['numerator']} to {row['denominator']} {top / below}, at least {row['minimum']}")
        if row["maximum"] and _over(top, float(row["maximum"]) * below):
            found.append(f"{row['numerator']} to {row['denominator']} {top / below}, at most {row['maximum']}")
    return found


def _caps(mix: Sequence[Part], farm: Setting, scopes: Sequence[str]) -> list[str]:
    """Caps of the library on feeds and families, and the farm's own limits, which replace a cap on the same word."""
    own = [row for row in farm.own_limits if row["stage"] in ("all", farm.stage)]
    found = []
    for row in own:
        held = holds(mix, members(row["feed"]))
        if row.get("max_pct") and _over(held, float(row["max_pct"])):
            found.append(f"own limit on {row['feed']}: {held}, at most {row['max_pct']}")
        if row.get("min_pct") and _under(held, float(row["min_pct"])):
            found.append(f"own limit on {row['feed']}: {held}, at least {row['min_pct']}")
    named = [members(row["feed"]) for row in own if row.get("max_pct")]
    for word in dict.fromkeys(row["feed"] for row in table("feed_limits")):
        of = members(word)
        if any(of == own_feeds or (len(own_feeds) == 1 and _present(mix, of) <= own_feeds) for own_feeds in named):
            continue
        for row in _cap_rows(word, farm.jurisdiction, scopes):
            if _over(holds(mix, of), float(row["max_pct"])):
                found.append(f"{word} {holds(mix, of)} %, at most {row['max_pct']} ({row['evidence']}, {row['scope']})")
    return found


def _present(mix: Sequence[Part], feeds: frozenset[str]) -> frozenset[str]:
    return frozenset(feed for part in mix for feed in part.feeds if feed in feeds)


def _cap_rows(word: str, jurisdiction: str, scopes: Sequence[str]) -> list[Row]:
    rows = [
        row
        for row in table("feed_limits")
        if row["feed"] == word
        and row["max_pct"]
        and row["scope"] in scopes
        and (not row["jurisdiction"] or jurisdiction in row["jurisdiction"].split())
        and not row["certification"]
    ]
    chosen = [row for row in rows if row["evidence"] == "legal_max"]
    for scope in scopes:
        here = [row for row in rows if row["scope"] == scope]
        advice = [row for row in here if row["evidence"] in ADVICE]
        tested = [row for row in here if row["evidence"] == "trial_ok"]
        if advice:
            return [*chosen, min(advice, key=lambda row: float(row["max_pct"]))]
        if tested:
            return [*chosen, max(tested, key=lambda row: float(row["max_pct"]))]
        if any(row["evidence"] == "legal_max" for row in here):
            return chosen
    return chosen


def _usual(mix: Sequence[Part], scopes: Sequence[str]) -> list[str]:
    """What the trade feeds at most."""
    found = []
    nutrients = by_id("nutrients", "nutrient")
    for row in _nearest([row for row in table("plausible") if row["scope"] in scopes], scopes, "measure"):
        word = row["measure"]
        families = {line["family"] for line in table("families")}
        is_feed = word in families or word not in nutrients
        held = holds(mix, members(word)) if is_feed else brings(mix, word)
        if _over(held, float(row["at_most_pct"])):
            found.append(f"{word} {held} %, the trade feeds at most {row['at_most_pct']} ({row['scope']})")
    return found


def _premix(mix: Sequence[Part], stage: Row) -> list[str]:
    """One full dose of vitamins and of trace minerals, of premixes made for these animals."""
    found = []
    for part in ("vitamins", "trace_minerals"):
        dose = 0.0
        for line in mix:
            for feed in line.feeds:
                row = by_id("feeds", "feed").get(feed)
                fits = row and set(row["premix_species"].split()) & set(stage["premix"].split())
                if fits and part in row["premix_covers"].split() and row["premix_inclusion_pct"]:
                    dose += 100 * line.share / float(row["premix_inclusion_pct"])
        if abs(dose - 1) > 1e-5:
            found.append(f"{dose} doses of {part}")
    return found


def _contaminants(mix: Sequence[Part], farm: Setting, scopes: Sequence[str]) -> list[str]:
    """Levels of the farm's own jurisdiction, of the feed itself and of the complete feed; else the strictest level."""
    found = []
    for nutrient in dict.fromkeys(name for part in mix for name in part.contaminants):
        rows = [row for row in table("contaminants") if row["nutrient"] == nutrient and row["kind"] != "grade limit"]
        about = [row for row in rows if set(row["scopes"].split()) & {*scopes, "all"}]
        own = [row for row in about if row["jurisdiction"] == farm.jurisdiction]
        for row in own:
            for part in mix:
                if row["limit_in_ingredient"] and part.contaminants.get(nutrient):
                    held, most = min(part.contaminants[nutrient]), _mg_kg(row["limit_in_ingredient"], row["unit"])
                    if _over(held, most):
                        found.append(f"{nutrient} of {part.name} {held} mg/kg, at most {most}")
        diets = [row for row in own if row["limit_in_complete_diet"]]
        diets = diets or [row for row in about if row["limit_in_complete_diet"]]
        if diets:
            most = min(_mg_kg(row["limit_in_complete_diet"], row["unit"]) for row in diets)
            held = sum(p.share * min(p.contaminants[nutrient]) for p in mix if p.contaminants.get(nutrient))
            if _over(held, most):
                found.append(f"{nutrient} of the mix {held} mg/kg, at most {most}")
    return found


def _mg_kg(text: str, unit: str) -> float:
    return float(text) * {"mg/kg": 1.0, "ug/kg": 0.001, "%": 1e4, "g/kg": 1000.0}[unit]
