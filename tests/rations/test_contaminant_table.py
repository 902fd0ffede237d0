"""Every contaminant x jurisdiction x animals x source x unit x basis, against limits read anew from the tables.

Nothing of the code under test is used to say what is expected: the tables are read as text, and the rules are those of
the farm book ("a limit is that of the jurisdiction; where that sets none, the strictest published one") and of the rows
that forbid diluting.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from functools import cache
from pathlib import Path

import pytest

from rationlp.bins import estimate_bins
from rationlp.feeds.candidates import bin_candidate, offer_candidates
from rationlp.stages.contaminants import candidate_limits
from rationlp.stages.needs import stage_needs

pytestmark = pytest.mark.slow

TABLES = Path(__file__).parents[2] / "feed_library"
JURISDICTIONS = ("us", "eu", "canada")
TOXINS = {
    "deoxynivalenol": "mg/kg",
    "aflatoxin": "mg/kg",
    "aflatoxin_b1": "mg/kg",
    "fumonisin": "mg/kg",
    "fumonisin_b1": "mg/kg",
    "zearalenone": "mg/kg",
    "ochratoxin_a": "mg/kg",
    "t2_toxin": "mg/kg",
    "ht2_toxin": "mg/kg",
    "t2_ht2_toxin": "mg/kg",
    "ergot_alkaloids": "mg/kg",
    "ergot_sclerotia": "%",
}
COUNTS_AS = {
    "aflatoxin_b1": ["aflatoxin_b1", "aflatoxin"],
    "fumonisin_b1": ["fumonisin_b1", "fumonisin"],
    "t2_toxin": ["t2_toxin", "t2_ht2_toxin"],
    "ht2_toxin": ["ht2_toxin", "t2_ht2_toxin"],
    "t2_ht2_toxin": ["t2_toxin", "ht2_toxin", "t2_ht2_toxin"],
}
"""A part counts into its sum; of a sum given alone either part may be all."""
OWN_PIGS, OWN_BIRDS = "own_pigs", "own_birds"
ANIMALS = (
    "sw_nur_5_7",
    "sw_gro_25_50",
    "sw_fin_100_135",
    "sw_gilt_dev_75_100",
    "sw_gest_p1_early",
    "sw_lact_p2_230",
    "sw_boar",
    "layer_grower_6_12_white",
    "hen_brown_110",
    "broiler_0_3",
    "turkey_8_12",
    "duck_2_7",
    OWN_PIGS,
    OWN_BIRDS,
)
LONG = [pytest.mark.long]
MG_KG = {"mg/kg": 1.0, "ppm": 1.0, "ug/kg": 1e-3, "ppb": 1e-3, "%": 1e4, "g/kg": 1e3}
OWN_FEEDS = (
    "triticale",
    "barley_hulled",
    "barley_hulless",
    "oats_hulled",
    "rye",
    "soybean_meal_48_dehulled_solvent",
    "canola_meal_expeller",
    "wheat_bran",
    "corn_ddgs",
    "peas_field",
    "fish_meal_menhaden",
    "alfalfa_meal_17",
)
PREMIXES = (
    "premix_swine",
    "premix_poultry_growing",
    "layer_vitamin_mineral_premix",
    "swine_vitamin_premix",
    "swine_trace_mineral_premix",
    "poultry_vitamin_premix",
    "poultry_trace_mineral_premix",
    "limestone_fine",
    "salt",
    "monocalcium_phosphate",
    "dicalcium_phosphate",
    "l_lysine_hcl",
)
WRITTEN = [
    pytest.param(unit, basis, marks=[] if (unit, basis) in {("mg/kg", "as_fed"), ("ppb", "dry_matter")} else LONG)
    for unit in MG_KG
    for basis in ("as_fed", "dry_matter")
]
"""How a laboratory sheet may state a content: two ways always, all of them with --long."""

LEVELS = (0.04, 0.45, 3.0, 200.0)
"""Times the lowest limit above zero that is published on it: below all, between them, above nearly all."""


@cache
def rows(table):
    with (TABLES / f"{table}.csv").open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def mg_kg(toxin, value, unit):
    """In the unit the library keeps: mg/kg, of ergot bodies percent."""
    return value * MG_KG[unit] / MG_KG[TOXINS[toxin]]


@cache
def scopes(animals):
    if animals in (OWN_PIGS, OWN_BIRDS):
        mine = {"swine"} if animals == OWN_PIGS else {"chicken", "turkey", "duck"}
        return frozenset(s for row in rows("stages") if row["species"] in mine for s in row["scopes"].split())
    return frozenset(next(row for row in rows("stages") if row["stage"] == animals)["scopes"].split())


@cache
def speaks_of(words, feed):
    mapped = [row for row in rows("grain_words") if (row["table"], row["word"]) == ("contaminants", words)]
    if not mapped:
        return True
    names = {feed, "all", *(row["family"] for row in rows("families") if row["feed"] == feed)}
    names |= {row["group"] for row in rows("feeds") if row["feed"] == feed}
    return bool(names & set(mapped[0]["feeds"].split())) and not names & set(mapped[0]["other_than"].split())


def printed(row, column, toxin, dry_matter):
    value = mg_kg(toxin, float(row[column]), row["unit"])
    if "at 12 % moisture" in row["note"]:
        value *= min(1.0, dry_matter / 88)
    return value * dry_matter / 100 if "diet dry matter" in row["note"] else value


def expected(toxin, feed, dry_matter, animals, jurisdiction):
    """(limits on the feed itself, limit on the complete feed or None, whether thinning is forbidden)."""
    here = [r for r in rows("contaminants") if r["nutrient"] == toxin and r["kind"] != "grade limit"]
    whose = scopes(animals)
    feed_rows = [
        r
        for r in here
        if r["limit_in_ingredient"]
        and (not r["scopes"] or set(r["scopes"].split()) & {*whose, "all"})
        and speaks_of(r["applies_to"], feed)
    ]
    diet_rows = [r for r in here if r["limit_in_complete_diet"] and set(r["scopes"].split()) & {*whose, "all"}]
    own_feed = [r for r in feed_rows if r["jurisdiction"] == jurisdiction]
    own_diet = [r for r in diet_rows if r["jurisdiction"] == jurisdiction]
    if not own_feed and not own_diet:
        own_feed = feed_rows
    if own_diet:
        own_diet += [r for r in diet_rows if r["kind"] == "safe level of a sensitive species"]
    on_feed = [printed(r, "limit_in_ingredient", toxin, dry_matter) for r in own_feed]
    on_diet = [printed(r, "limit_in_complete_diet", toxin, dry_matter) for r in own_diet or diet_rows]
    forbidden = any(
        r["kind"] == "prohibition" and r["contaminant"].startswith("diluting") and r["nutrient"] in ("", toxin)
        for r in rows("contaminants")
        if r["jurisdiction"] == jurisdiction
    )
    return on_feed, min(on_diet, default=None), forbidden


def lowest_published(toxin):
    found = [
        mg_kg(name, float(r[column]), r["unit"])
        for name in COUNTS_AS.get(toxin, [toxin])
        for r in rows("contaminants")
        if r["nutrient"] == name
        for column in ("limit_in_ingredient", "limit_in_complete_diet")
        if r[column] and float(r[column])
    ]
    return min(found)


def sheets_of(unit, basis, level):
    """A book with every toxin in a bin, a bought lot, a certificate and a premix or mineral, each of its own."""
    found = defaultdict(list)
    found["farm"] = [{"setting": "name", "value": "table"}]
    for toxin, own, premix in zip(TOXINS, OWN_FEEDS, PREMIXES, strict=True):
        amount = level * lowest_published(toxin) * MG_KG[TOXINS[toxin]] / MG_KG[unit]
        figure = {"nutrient": toxin, "value": repr(amount), "unit": unit, "basis": basis}
        name = f"bin_{toxin}"
        found["bins"].append({"bin": name, "mass": "40 t", "moisture_pct": 14, "sale_price": 180})
        found["samples"].append({"sample": f"s_{toxin}", "bin": name, "taken_on": "2025-09-10"})
        found["sorted"].append({"sample": f"s_{toxin}", "crop": "wheat_hard", "mass_g": 500})
        found["assays"].append({**figure, "sample": f"s_{toxin}", "lot": ""})
        found["assays"].append({**figure, "sample": "", "lot": f"lot_{toxin}"})
        found["supplements"].append({"offer": f"bought_{toxin}", "feed": "corn", "price": 200})
        found["lots"].append({"lot": f"lot_{toxin}", "offer": f"bought_{toxin}", "delivered_on": "2025-09-16"})
        for feed in (own, premix):
            found["supplements"].append({"offer": f"{feed}_{toxin}", "feed": feed, "price": 300})
            found["own_feeds"].append({**figure, "feed": feed})
    for stage, energy in ((OWN_PIGS, "ne_pig"), (OWN_BIRDS, "amen_poultry")):
        need = {"stage": stage, "nutrient": energy, "minimum": 2300, "unit": "kcal/kg", "per": "kg"}
        found["own_stages"].append(need)
    return found


@pytest.mark.slow
@pytest.mark.parametrize(("unit", "basis"), WRITTEN)
def test_every_limit_holds_wherever_the_feed_comes_from(unit, basis, write_book, library):
    from rationlp.book.reading.read import read_book

    cases, refusals = 0, 0
    for level in LEVELS:
        book = read_book(write_book(sheets_of(unit, basis, level), f"book_{level:g}"), library.units)
        estimates = estimate_bins([row.bin for row in book.bins], book, library)
        candidates = [*(bin_candidate(estimate, book) for estimate in estimates), *offer_candidates(book, library)]
        needs = {animals: stage_needs(animals, book, library) for animals in ANIMALS}
        for candidate in candidates:
            toxin = next(name for name in sorted(TOXINS, key=len, reverse=True) if candidate.name.endswith(f"_{name}"))
            feed = "wheat_hard" if candidate.estimate else candidate.feed
            dry = (
                86.0
                if candidate.estimate
                else float(next(r["dry_matter_pct"] for r in rows("feeds") if r["feed"] == feed))
            )
            content = level * lowest_published(toxin) * (dry / 100 if basis == "dry_matter" else 1.0)
            for jurisdiction in JURISDICTIONS:
                for animals in ANIMALS:
                    refused, most = set(), {}
                    for name in COUNTS_AS.get(toxin, [toxin]):
                        on_feed, on_diet, forbidden = expected(name, feed, dry, animals, jurisdiction)
                        above_diet = on_diet is not None and content > on_diet and (forbidden or not on_diet)
                        if any(content > limit for limit in on_feed) or (above_diet and (not on_feed or not on_diet)):
                            refused.add(name)
                        if on_diet is not None:
                            most[name] = on_diet
                    found = candidate_limits(candidate, needs[animals], jurisdiction, library)
                    case = (candidate.name, jurisdiction, animals, level)
                    assert {limit.nutrient for limit in found if limit.refusal} == refused, case
                    rows_found = {limit.nutrient: limit.maximum for limit in found if limit.maximum is not None}
                    assert rows_found == pytest.approx(most), case
                    held = {limit.content.value for limit in found}
                    assert all(value == pytest.approx(content) for value in held), case
                    cases, refusals = cases + 1, refusals + bool(refused)
    assert cases == len(LEVELS) * 4 * len(TOXINS) * len(JURISDICTIONS) * len(ANIMALS)
    assert 0.2 < refusals / cases < 0.8  # both answers are tried
