"""A second opinion on a mix: plain sums over its ingredients against the tables as they stand in the files.

Written apart from the rations of the program: nothing of rationlp/stages, rationlp/rations or rationlp/offers is used.
It knows the shares of a mix, what each ingredient is made of as fed, and the CSV files of the feed library. Every limit
is a `Line`, a sum over the ingredients: of a finished mix `passed` says which lines it passes, in sentences, and
whether any mix keeps them all is for a linear program of their own (`plain_proof.py`).

The rules are those of feed_library/README.md: scopes nearest first, requirements in ratio to the energy of the table,
the least of the evidence of the nearest scope as the cap of a feed, every legal maximum.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from plain_caps import caps
from plain_contaminants import bounds

TABLES = Path(__file__).parents[2] / "feed_library"
ROOM = 2e-6
"""Part of a bound that the last digits of a solver may be off by."""
AMINO_ACIDS = ("amino_acid", "digestible_amino_acid")
Row = dict[str, str]


@dataclass(frozen=True)
class Part:
    """An ingredient of a mix: its share (0 to 1), its figures as fed, the library feeds it is made of (shares).

    What might have been in the mix and is not has the share 0: a limit speaks of a feed that is there to be fed.

    `contaminants` holds every result there is of it, as fed in mg/kg, with the error of a laboratory; the least of
    several counts here, so that what is found to be passed is passed whichever of them is right. What the ± of a single
    result may be counts as well: 95 of 100 draws lie below it.
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
    """What of the book decides: stage, jurisdiction, margin on amino acids, kg a head and day, limits of its own.

    `own_kind` is `swine` or `poultry` for a stage of the farm's own, whose needs are the book's: it is held to the
    ceilings of its kind, and to the contaminants of the strictest class of it.
    """

    stage: str
    jurisdiction: str
    margin_pct: float = 0.0
    feed_kg: float | None = None
    own_limits: Sequence[Mapping[str, str]] = ()
    own_kind: str = ""


@cache
def table(name: str) -> tuple[Row, ...]:
    with (TABLES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


@cache
def by_id(name: str, key: str) -> dict[str, Row]:
    return {row[key]: row for row in table(name)}


@cache
def by_word(name: str, column: str) -> dict[str, list[Row]]:
    """The rows of a table by what stands in a column."""
    found: dict[str, list[Row]] = {}
    for row in table(name):
        found.setdefault(row[column], []).append(row)
    return found


@cache
def caps_of(stage: str, jurisdiction: str) -> tuple[tuple[str, frozenset[str], float], ...]:
    """What each cap of a stage is, the feeds it speaks of, and percent of the mix at most."""
    words = (by_word("families", "family"), by_word("feed_limits", "feed"), by_word("trials", "feed"))
    return tuple(caps(by_id("stages", "stage")[stage], jurisdiction, *words))


@cache
def members(word: str) -> frozenset[str]:
    """The feeds that a word of the tables means."""
    return frozenset(row["feed"] for row in table("families") if row["family"] == word) or frozenset({word})


@dataclass(frozen=True)
class Line:
    """A limit as a sum over the parts of a mix: what a share of each counts, against what a share of each may or must.

    With `sense` `<=` the sum of share x `counts` is at most that of share x `against`, with `>=` at least, with `=` the
    same. `kind` says what sort of limit it is, `what` names it.
    """

    kind: str
    what: str
    counts: tuple[float, ...]
    sense: str
    against: tuple[float, ...]

    def sentence(self, mix: Sequence[Part]) -> str | None:
        """What the mix passes, in words; None where it keeps to the line."""
        held, bound = (sum(p.share * x for p, x in zip(mix, side, strict=True)) for side in (self.counts, self.against))
        over, under = held > bound * (1 + ROOM) + 1e-9, held < bound * (1 - ROOM) - 1e-9
        if (over and self.sense != ">=") or (under and self.sense != "<="):
            return f"{self.kind}: {self.what} {held}, {'at most' if over else 'at least'} {bound}"
        return None


def passed(mix: Sequence[Part], farm: Setting) -> list[str]:
    """Everything that the mix passes or misses."""
    total = sum(part.share for part in mix)
    found = [] if abs(total - 1) < 1e-5 else [f"the shares add up to {total}"]
    return found + [text for line in lines(mix, farm) if (text := line.sentence(mix))]


def lines(mix: Sequence[Part], farm: Setting) -> list[Line]:
    """Every limit on a mix of these parts."""
    if farm.own_kind:
        return _of_own_stage(mix, farm)
    stage = by_id("stages", "stage")[farm.stage]
    scopes = stage["scopes"].split()
    return [
        *_of_parts(mix, stage),
        *_needs(mix, farm, stage),
        *_ceilings(mix, farm, scopes),
        *_ratios(mix, scopes),
        *_caps(mix, farm),
        *_usual(mix, scopes),
        *_premix(mix, stage),
        *_contaminants(mix, farm, scopes),
    ]


def _of_own_stage(mix: Sequence[Part], farm: Setting) -> list[Line]:
    """What holds whatever a stage of the farm's own asks for."""
    classes = [row["scopes"].split() for row in table("stages") if farm.own_kind in row["scopes"].split()]
    every = list(dict.fromkeys(scope for scopes in classes for scope in scopes))
    kind = {"premix": "swine" if farm.own_kind == "swine" else "poultry layer"}
    return [
        *_of_parts(mix, kind),
        *_ceilings(mix, farm, [farm.own_kind, "all"]),
        *_contaminants(mix, farm, every),
    ]


def _each(mix: Sequence[Part], of: Callable[[Part], float]) -> tuple[float, ...]:
    return tuple(of(part) for part in mix)


def _brings(mix: Sequence[Part], nutrient: str, times: float = 1.0) -> tuple[float, ...]:
    """What a share of each part brings of a nutrient, one without a figure nothing."""
    return _each(mix, lambda part: times * part.values.get(nutrient, 0.0))


def _holds(mix: Sequence[Part], feeds: frozenset[str]) -> tuple[float, ...]:
    """Percent of each part that these feeds are, inside the grain of a bin too."""
    return _each(mix, lambda part: 100 * sum(part.feeds.get(feed, 0.0) for feed in feeds))


def _flat(mix: Sequence[Part], bound: float) -> tuple[float, ...]:
    """The same bound for every part."""
    return (bound,) * len(mix)


def _only(mix: Sequence[Part], named: Part) -> tuple[float, ...]:
    return _each(mix, lambda part: 100.0 if part is named else 0.0)


def _of_parts(mix: Sequence[Part], stage: Row) -> Iterator[Line]:
    """Holds, premixes of other animals, and the shares that the book sets."""
    for part in mix:
        if part.on_hold or _of_others(part, stage):
            why = "on hold" if part.on_hold else "a premix of other animals"
            yield Line("part", f"{part.name}, {why},", _only(mix, part), "<=", _flat(mix, 0.0))
        if part.most_pct is not None:
            yield Line("part", part.name, _only(mix, part), "<=", _flat(mix, part.most_pct))
        if part.least_pct is not None:
            yield Line("part", part.name, _only(mix, part), ">=", _flat(mix, part.least_pct))


def _of_others(part: Part, stage: Row) -> bool:
    made_for = [
        by_id("feeds", "feed")[feed]["premix_species"].split() for feed in part.feeds if feed != "foreign_matter"
    ]
    return any(species and not set(species) & set(stage["premix"].split()) for species in made_for)


def _needs(mix: Sequence[Part], farm: Setting, stage: Row) -> Iterator[Line]:
    """Energy and every requirement of the stage's table."""
    rows = [row for row in table("requirements") if row["stage"] == farm.stage]
    energy = next(
        float(row["minimum"])
        for row in rows
        if row["use"] == "reference_energy" and row["nutrient"] == stage["energy"] and row["per"] == "kg"
    )
    eaten = float(stage["daily_feed_g"]) / 1000 if stage["daily_feed_g"] else None
    least = energy * float(stage["energy_floor_pct"]) / 100
    if stage["fed"] == "by_weight" and farm.feed_kg and eaten:
        least = energy * eaten / farm.feed_kg
    yield Line("energy", stage["energy"], _brings(mix, stage["energy"]), ">=", _flat(mix, least))
    wanted = [row for row in rows if row["use"] == "row"]
    for nutrient in dict.fromkeys(row["nutrient"] for row in wanted):
        of = {row["per"]: row for row in wanted if row["nutrient"] == nutrient}
        known = by_id("nutrients", "nutrient")[nutrient]
        if known["met_by"] == "not_tabled":
            continue
        if known["met_by"] == "premix" and not any(part.share and nutrient in part.values for part in mix):
            continue  # nothing is known of it; the premix is dosed for it
        row = of.get("kg") or of["day"]
        follows = _brings(mix, stage["energy"], 1 / energy)
        if "day" in of and farm.feed_kg and eaten:
            follows = _flat(mix, eaten / farm.feed_kg)
        margin = 1 + farm.margin_pct / 100 if known["kind"] in AMINO_ACIDS else 1.0
        kind = "vitamin" if known["kind"] == "vitamin" or known["met_by"] == "premix" else "requirement"
        low, high = (_bound(row[side], row, eaten, known["unit"]) for side in ("minimum", "maximum"))
        if low is not None:
            yield Line(kind, nutrient, _brings(mix, nutrient), ">=", tuple(low * margin * x for x in follows))
        if high is not None:
            yield Line(kind, nutrient, _brings(mix, nutrient), "<=", tuple(high * x for x in follows))


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


def _ceilings(mix: Sequence[Part], farm: Setting, scopes: Sequence[str]) -> Iterator[Line]:
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
    for row in [*legal, *(row for kind in of_kind for row in _nearest(kind, scopes, "nutrient"))]:
        counts = _brings(mix, row["nutrient"])
        if row["use"] == "added":
            counts = tuple(x if _is_added(part) else 0.0 for x, part in zip(counts, mix, strict=True))
        what = f"{row['kind']} {row['nutrient']} ({row['scope']})"
        kind = "practice" if row["kind"] == "practice" else "ceiling"
        yield Line(kind, what, counts, "<=", _flat(mix, _most(row, farm)))


def _most(row: Row, farm: Setting) -> float:
    """The maximum of a ceiling; of one per day that of the table's daily feed in what the group eats, safe in a kg."""
    if row["per"] != "day" or not farm.feed_kg:
        return float(row["maximum"])
    table_kg = float(by_id("stages", "stage")[row["scope"]]["daily_feed_g"]) / 1000
    moved = float(row["maximum"]) * table_kg / farm.feed_kg
    return min(moved, float(row["safe_maximum"])) if row["safe_maximum"] else moved


def _is_added(part: Part) -> bool:
    feeds = by_id("feeds", "feed")
    return any(feeds[feed]["group"] in ("premix", "mineral") for feed in part.feeds if feed in feeds)


def _ratios(mix: Sequence[Part], scopes: Sequence[str]) -> Iterator[Line]:
    rows = [row for row in table("ratios") if row["use"] == "row" and row["scope"] in scopes]
    for row in _nearest(rows, scopes, "numerator"):
        top, what = _brings(mix, row["numerator"]), f"{row['numerator']} to {row['denominator']}"
        kind = "practice" if row["kind"] == "practice" else "ratio"
        for side, sense in (("minimum", ">="), ("maximum", "<=")):
            if row[side]:
                yield Line(kind, what, top, sense, _brings(mix, row["denominator"], float(row[side])))


def _caps(mix: Sequence[Part], farm: Setting) -> Iterator[Line]:
    """Caps of the library on feeds and families, and the farm's own limits, which replace a cap on the same word."""
    own = [row for row in farm.own_limits if row["stage"] in ("all", farm.stage)]
    for row in own:
        held, what = _holds(mix, members(row["feed"])), f"own limit on {row['feed']}"
        if row.get("max_pct"):
            yield Line("cap", what, held, "<=", _flat(mix, float(row["max_pct"])))
        if row.get("min_pct"):
            yield Line("cap", what, held, ">=", _flat(mix, float(row["min_pct"])))
    named = [members(row["feed"]) for row in own if row.get("max_pct")]
    for what, of, most in caps_of(farm.stage, farm.jurisdiction):
        present = _present(mix, of)
        if not any(of == own_feeds or (len(own_feeds) == 1 and present <= own_feeds) for own_feeds in named):
            yield Line("cap", what, _holds(mix, of), "<=", _flat(mix, most))


def _present(mix: Sequence[Part], feeds: frozenset[str]) -> frozenset[str]:
    return frozenset(feed for part in mix for feed in part.feeds if feed in feeds)


def _usual(mix: Sequence[Part], scopes: Sequence[str]) -> Iterator[Line]:
    """What the trade feeds at most."""
    nutrients = by_id("nutrients", "nutrient")
    families = {line["family"] for line in table("families")}
    for row in _nearest([row for row in table("plausible") if row["scope"] in scopes], scopes, "measure"):
        word = row["measure"]
        is_feed = word in families or word not in nutrients
        counts = _holds(mix, members(word)) if is_feed else _brings(mix, word)
        yield Line("usual", f"{word} ({row['scope']})", counts, "<=", _flat(mix, float(row["at_most_pct"])))


def _premix(mix: Sequence[Part], stage: Row) -> Iterator[Line]:
    """One full dose of vitamins and of trace minerals, of premixes made for these animals."""
    for half in ("vitamins", "trace_minerals"):
        yield Line("premix", half, _each(mix, lambda part, half=half: _doses(part, half, stage)), "=", _flat(mix, 1.0))


def _doses(part: Part, half: str, stage: Row) -> float:
    """How many doses a share of one is."""
    found = 0.0
    for feed in part.feeds:
        row = by_id("feeds", "feed").get(feed)
        fits = row and set(row["premix_species"].split()) & set(stage["premix"].split())
        if fits and half in row["premix_covers"].split() and row["premix_inclusion_pct"]:
            found += 100 / float(row["premix_inclusion_pct"])
    return found


def _contaminants(mix: Sequence[Part], farm: Setting, scopes: Sequence[str]) -> Iterator[Line]:
    """Levels of the feed itself and of the complete feed (`plain_contaminants.py`)."""
    results, feeds = [part.contaminants for part in mix], [part.feeds for part in mix]
    for bound in bounds(results, feeds, scopes, farm.jurisdiction, ROOM):
        for place in bound.barred:
            part = mix[place]
            yield Line("contaminant", f"{part.name}: {bound.what}:", _only(mix, part), "<=", _flat(mix, 0.0))
        if bound.most is not None:
            yield Line("contaminant", f"{bound.what}, mg/kg,", bound.held, "<=", _flat(mix, bound.most))
