"""The shipped tables by themselves: read through the row models, without the package's reader."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import fields
from functools import cache
from importlib.resources import files

import pytest

from rationlp.library.read import Library
from rationlp.library.records import LibraryRow, Requirement, Stage
from rationlp.library.stored.csv_tables import read_rows
from rationlp.library.tables import TABLES
from rationlp.library.trial_caps import Limit
from rationlp.library.which_limits import rows_that_cap
from rationlp.units import COMPOSITION_UNITS

MAIN_MINERALS = ("calcium", "phosphorus", "sodium", "chloride")
CEILINGS_EVERYWHERE = (*MAIN_MINERALS, "crude_fibre", "ether_extract")
KEYS = {
    "nutrients": ("nutrient",),
    "feeds": ("feed",),
    "composition": ("feed", "nutrient"),
    "premixes": ("feed", "nutrient"),
    "stages": ("stage",),
    "requirements": ("stage", "nutrient", "per", "source", "minimum"),
    "ceilings": ("scope", "nutrient", "use", "kind", "jurisdiction"),
    "ratios": ("scope", "numerator", "denominator"),
    "families": ("family", "feed"),
    "plausible": ("scope", "measure"),
    "cautions": ("caution",),
    "sources": ("source",),
    "trials": ("trial",),
    "prices": ("feed", "quoted_on", "certification"),
}
DAY_UNITS = {"g": ("%", 0.1), "mg": ("mg/kg", 1.0), "IU": ("IU/kg", 1.0), "kcal": ("kcal/kg", 1.0)}


@cache
def table(name: str) -> tuple[LibraryRow, ...]:
    return read_rows(files("feed_library") / f"{name}.csv", name, TABLES[name])


@cache
def units() -> dict[str, str]:
    return {row.nutrient: row.unit for row in table("nutrients")}


@cache
def stages() -> dict[str, Stage]:
    return {row.stage: row for row in table("stages")}


@cache
def families() -> dict[str, frozenset[str]]:
    found = {row.feed: {row.feed} for row in table("feeds")}
    for row in table("families"):
        found.setdefault(row.family, set()).add(row.feed)
    return {family: frozenset(members) for family, members in found.items()}


@cache
def scopes() -> frozenset[str]:
    return frozenset(scope for stage in stages().values() for scope in stage.scopes)


def nearest(rows: list, stage: Stage) -> list:
    """The rows of the nearest scope of the stage that has any."""
    for scope in stage.scopes:
        here = [row for row in rows if row.scope == scope]
        if here:
            return here
    return []


def concentration(row: Requirement) -> float:
    """The minimum of a row per kilogram of feed, in the nutrient's unit."""
    if row.per == "kg":
        return row.minimum
    unit, factor = DAY_UNITS[row.unit]
    amount = row.minimum / (stages()[row.stage].daily_feed_g / 1000) * factor
    if row.unit == "mg" and units()[row.nutrient] == "%":
        return amount / 10_000
    assert unit == units()[row.nutrient]
    return amount


def minimum(stage: str, nutrient: str) -> float | None:
    rows = [r for r in table("requirements") if (r.stage, r.nutrient, r.use) == (stage, nutrient, "row") and r.minimum]
    chosen = next((row for row in rows if row.per == "kg"), rows[0] if rows else None)
    return concentration(chosen) if chosen else None


def cap(feed: str, stage: Stage, *, jurisdiction: str = "", certification: str = "") -> float | None:
    """The cap on a feed in a stage: the least over the words that speak of it (trials: test_trial_caps.py)."""
    rows = caps_of_stage(stage.stage, jurisdiction, certification)
    return min((limit.row.max_pct for limit in rows if feed in limit.members), default=None)


@cache
def caps_of_stage(stage: str, jurisdiction: str, certification: str) -> list[Limit]:
    """What caps a feed in a stage, joint caps left out."""
    found = rows_that_cap(
        stages()[stage],
        shipped(),
        applies=lambda row: (
            (not row.jurisdiction or jurisdiction in row.jurisdiction)
            and (not row.certification or certification in row.certification)
        ),
    )
    return [limit for limit in found if limit.row.evidence != "joint"]


@cache
def shipped() -> Library:
    return Library(files("feed_library"))


@pytest.mark.parametrize("name", TABLES)
def test_header_is_the_fields_of_the_model_and_every_row_reads(name: str) -> None:
    raw = files("feed_library").joinpath(f"{name}.csv").read_bytes()
    assert b"\r" not in raw
    assert raw.decode("utf-8").splitlines()[0].split(",") == [field.name for field in fields(TABLES[name])]
    assert table(name)


@pytest.mark.parametrize("name", KEYS)
def test_no_row_stands_twice(name: str) -> None:
    counts = Counter(tuple(getattr(row, column) for column in KEYS[name]) for row in table(name))
    assert [key for key, times in counts.items() if times > 1] == []


def test_feed_limits_do_not_repeat_themselves() -> None:
    counts = Counter(table("feed_limits"))
    assert [row for row, times in counts.items() if times > 1] == []


def test_all_feeds_and_stages_of_the_reference_are_there() -> None:
    origins = Counter(row.origin for row in table("feeds"))
    assert origins == {"crop": 32, "purchased": 70}
    assert len(stages()) == 84


def test_every_source_is_named() -> None:
    known = {row.source for row in table("sources")}
    unknown = {
        (name, column, source)
        for name, model in TABLES.items()
        for column in {"source", "energy_floor_source"} & {field.name for field in fields(model)}
        for row in table(name)
        for source in getattr(row, column).split("; ")
        if source not in known
    }
    assert unknown == set()


def _feed_words() -> Iterator[tuple[str, str]]:
    yield from (("composition", row.feed) for row in table("composition"))
    yield from (("premixes", row.feed) for row in table("premixes"))
    yield from (("families", row.feed) for row in table("families"))
    yield from (("prices", row.feed) for row in table("prices"))
    yield from (("feed_limits", row.feed) for row in table("feed_limits"))
    yield from (("trials", row.feed) for row in table("trials"))
    yield from (
        ("cautions", word.removeprefix("feed:"))
        for row in table("cautions")
        for word in row.shown_with
        if word.startswith("feed:")
    )


def test_every_feed_or_family_resolves() -> None:
    assert {(where, word) for where, word in _feed_words() if word not in families()} == set()
    assert {r.measure for r in table("plausible") if r.measure not in families() and r.measure not in units()} == set()
    assert {row.family for row in table("families")} & {row.feed for row in table("feeds")} == set()


def test_every_nutrient_resolves_in_its_unit() -> None:
    for name in ("composition", "premixes", "ceilings"):
        wrong = [(name, row.nutrient, row.unit) for row in table(name) if units().get(row.nutrient) != row.unit]
        assert wrong == []
    for row in table("nutrients"):
        assert row.unit in COMPOSITION_UNITS or (row.kind, row.unit) == ("coefficient", "% of the nutrient")
        parts = {part for part in (*row.sum_of, row.part_of, row.coefficient) if part}
        assert parts <= set(units()), row.nutrient
        assert bool(row.part_of) == bool(row.coefficient), row.nutrient
    assert {r.nutrient for r in table("contaminants") if r.nutrient and r.nutrient not in units()} == set()
    assert {n for r in table("ratios") for n in (r.numerator, r.denominator) if units().get(n) != "%"} == set()


def test_parts_stand_above_what_is_made_of_them() -> None:
    order = [row.nutrient for row in table("nutrients")]
    for row in table("nutrients"):
        for part in (*row.sum_of, row.part_of):
            assert not part or order.index(part) < order.index(row.nutrient), row.nutrient


def test_every_requirement_is_in_a_unit_that_fits() -> None:
    for row in table("requirements"):
        assert row.stage in stages() and row.nutrient in units(), row
        assert row.minimum is not None or row.maximum is not None, row
        if row.per == "kg":
            assert row.unit == units()[row.nutrient], row
        else:
            assert row.unit in DAY_UNITS, row
            assert {DAY_UNITS[row.unit][0], units()[row.nutrient]} in (
                {"%"},
                {"mg/kg"},
                {"IU/kg"},
                {"kcal/kg"},
                {"mg/kg", "%"},
            ), row


def test_every_scope_belongs_to_a_stage() -> None:
    for name in ("ceilings", "ratios", "feed_limits", "plausible"):
        assert {row.scope for row in table(name)} <= scopes(), name
    for name in ("contaminants", "trials"):
        assert {scope for row in table(name) for scope in row.scopes} <= scopes(), name
    words = {w for row in table("cautions") for w in row.shown_with if not w.startswith("feed:")}
    assert words <= scopes() | {"always", "ration", "sheet", "bin"}
    for stage in stages().values():
        assert stage.scopes[0] == stage.stage and stage.scopes[-1] == "all"
        assert ("swine" in stage.scopes) == (stage.species == "swine")
        assert ("poultry" in stage.scopes) == (stage.species != "swine")


@pytest.mark.parametrize("stage", stages().values(), ids=lambda stage: stage.stage)
def test_a_stage_has_what_a_ration_cannot_do_without(stage: Stage) -> None:
    rows = [row for row in table("requirements") if row.stage == stage.stage]
    reference = [r for r in rows if (r.use, r.per, r.nutrient) == ("reference_energy", "kg", stage.energy)]
    assert len(reference) == 1
    swine = stage.species == "swine"
    lysines = ("sid_lysine_pig",) if swine else ("lysine", "sid_lysine_poultry")
    assert any(minimum(stage.stage, lysine) for lysine in lysines)
    for nutrient in (
        "calcium",
        "sttd_phosphorus_pig" if swine else "nonphytate_phosphorus",
        "sodium",
    ):
        assert minimum(stage.stage, nutrient), nutrient
    assert stage.daily_feed_g
    assert any(set(stage.premix.split()) & set(row.premix_species) for row in table("feeds"))


@pytest.mark.parametrize("stage", stages().values(), ids=lambda stage: stage.stage)
def test_ceilings_leave_room_above_the_need(stage: Stage) -> None:
    for nutrient in CEILINGS_EVERYWHERE:
        rows = [row for row in table("ceilings") if row.nutrient == nutrient and row.use == "row"]
        (ceiling,) = nearest(rows, stage)
        need = minimum(stage.stage, nutrient)
        if need is not None:
            assert need < ceiling.maximum, nutrient
            if 1.1 * need > ceiling.maximum + 1e-9:
                assert stage.stage in ceiling.note, f"{nutrient}: tight for {stage.stage} and the note does not say so"


@pytest.mark.parametrize("stage", stages().values(), ids=lambda stage: stage.stage)
def test_a_maximum_is_above_the_minimum_of_the_same_row(stage: Stage) -> None:
    for row in table("requirements"):
        if row.stage == stage.stage and None not in (row.minimum, row.maximum):
            assert row.minimum < row.maximum


def test_ratios_leave_room_for_the_calcium_of_the_table() -> None:
    """The table's calcium over the table's total phosphorus lies within the bounds."""
    totals = {
        (row.stage, row.nutrient): row.minimum
        for row in table("requirements")
        if row.per == "kg" and row.nutrient in ("calcium", "phosphorus")
    }
    for stage in stages().values():
        for ratio in nearest([row for row in table("ratios") if row.numerator == "calcium"], stage):
            printed = totals[stage.stage, "calcium"] / totals[stage.stage, "phosphorus"]
            assert ratio.minimum <= printed <= ratio.maximum, stage.stage


@pytest.mark.parametrize("stage", stages().values(), ids=lambda stage: stage.stage)
def test_no_stage_lets_limestone_fill_its_mix(stage: Stage) -> None:
    """Common practice (feed_library/README.md, Decisions); 0.01 for rounding."""
    need = max(
        concentration(row) for row in table("requirements") if (row.stage, row.nutrient) == (stage.stage, "calcium")
    )
    (ceiling,) = nearest([row for row in table("ceilings") if row.nutrient == "calcium"], stage)
    times = 1.2 if stage.fed == "by_weight" else 1.35 if need >= 1.8 else 1.5  # birds in lay need more than that
    assert ceiling.maximum <= need * times + 0.01


def test_a_ceiling_per_day_is_of_one_stage_and_below_what_is_safe_in_a_kg() -> None:
    """feed_library/README.md, "Scopes, caps and ceilings"."""
    rows = [row for row in table("ceilings") if row.per == "day"]
    assert rows
    for row in rows:
        assert stages()[row.scope].daily_feed_g, row
        assert row.safe_maximum is None or row.maximum <= row.safe_maximum, row
    for row in table("ceilings"):
        if row.per == "kg":
            assert row.safe_maximum is None, row


def test_the_guard_against_limestone_is_per_day_where_the_need_is() -> None:
    """A multiple of a need per day that stood per kg would stay where the need moves with the feed a group eats."""
    a_day = {
        row.stage for row in table("requirements") if (row.nutrient, row.per, row.use) == ("calcium", "day", "row")
    }
    for row in table("ceilings"):
        if row.nutrient == "calcium" and "times the need" in row.note and row.scope in a_day:
            assert row.per == "day" and row.safe_maximum is not None, row.scope
            assert f"below the safe {row.safe_maximum:g} %" in row.note, row.scope


@pytest.mark.parametrize("stage", stages().values(), ids=lambda stage: stage.stage)
@pytest.mark.parametrize("jurisdiction", ["us", "eu", "canada"])
def test_every_feed_has_a_cap(stage: Stage, jurisdiction: str) -> None:
    caps = {row.feed: cap(row.feed, stage, jurisdiction=jurisdiction) for row in table("feeds")}
    assert [feed for feed, pct in caps.items() if pct is None] == []
    for row in table("feeds"):
        if row.premix_covers:
            serves = bool(set(stage.premix.split()) & set(row.premix_species))
            assert (caps[row.feed] >= row.premix_inclusion_pct) if serves else True, row.feed


@pytest.mark.parametrize(
    ("feed", "stage", "jurisdiction", "pct"),
    [
        ("flaxseed", "hen_white_100", "", 10),
        ("camelina_meal_expeller", "sw_gro_25_50", "us", 2),
        ("camelina_meal_expeller", "hen_white_100", "us", 10),
        ("canola_meal_solvent", "sw_nur_5_7", "", 5),  # trials began at 7.3 kg
        ("canola_meal_solvent", "sw_nur_7_11", "", 18),
        ("corn_ddgs", "sw_nur_5_7", "", 5),  # ddgs_swine2008 gives 30 % for pigs over 7 kg
        ("corn_ddgs", "sw_nur_7_11", "", 30),
        ("canola_meal_solvent", "hen_brown_110", "", 20),
        ("wheat_hard", "hen_white_100", "", 69),
        ("peas_field", "hen_white_100", "", 40),
        ("peas_field", "turkey_8_12", "", 20),
        ("wheat_hard", "turkey_8_12", "", 30),
        ("soybeans_raw", "broiler_0_3", "", 0),
        ("vetch_common", "sw_gest_p1_late", "", 0),
        ("rye", "sw_gro_50_75", "", 67),
        ("salt", "sw_fin_100_135", "", 0.5),
        ("limestone_fine", "hen_white_100", "", 11),
        ("premix_swine", "broiler_0_3", "", 0),
    ],
)
def test_caps_by_the_rule(feed: str, stage: str, jurisdiction: str, pct: float) -> None:
    assert cap(feed, stages()[stage], jurisdiction=jurisdiction) == pct


@pytest.mark.parametrize(
    ("stage", "pct"),
    [
        ("sw_gro_25_50", 0),
        ("hen_white_100", 0.1),
        ("broiler_slow_starter", 0.125),
        ("turkey_8_12", 0.15),
        ("duck_2_7", 0.15),
    ],
)
def test_synthetic_methionine_on_a_us_organic_farm(stage: str, pct: float) -> None:
    """7 CFR 205.603(d)(1): 2, 2.5 and 3 lb per short ton for layers, broilers and other poultry, none for pigs."""
    assert cap("dl_methionine", stages()[stage], certification="us_organic") == pct
    assert cap("dl_methionine", stages()[stage]) >= 0.3


TRAPS = [  # the silly rations of a bare linear program on these tables: (stage, share of feeds in percent)
    ("sw_fin_75_100", {"salt": 8.0}),
    ("hen_white_100", {"salt": 10.0}),
    ("breeder_meat_hen", {"limestone_fine": 89.0}),
    ("sw_nur_11_25", {"canola_meal_solvent": 45.0}),
    ("sw_fin_100_135", {"limestone_fine": 2.3}),
    ("layer_developer_12_18_white", {"limestone_coarse": 4.0}),
]
SANE = [
    ("hen_white_100", {"limestone_fine": 9.5, "salt": 0.3, "layer_vitamin_mineral_premix": 1.0, "soybean_oil": 3.0}),
    ("sw_nur_5_7", {"salt": 0.8, "limestone_fine": 1.2, "dried_whey": 25.0, "monocalcium_phosphate": 1.3}),
    ("sw_fin_75_100", {"salt": 0.4, "limestone_fine": 1.0, "premix_swine": 0.4, "l_lysine_hcl": 0.4}),
    ("turkey_0_4", {"soybean_meal_48_dehulled_solvent": 46.0, "limestone_fine": 1.9, "dicalcium_phosphate": 2.2}),
]


def implausible(stage: str, mix: dict[str, float]) -> list[str]:
    bounds = {row.measure: row for row in table("plausible") if row.scope == "all"}
    for scope in reversed(stages()[stage].scopes):
        bounds |= {row.measure: row for row in table("plausible") if row.scope == scope}
    return [
        measure
        for measure, bound in bounds.items()
        if measure in families() and sum(p for f, p in mix.items() if f in families()[measure]) > bound.at_most_pct
    ]


@pytest.mark.parametrize(("stage", "mix"), TRAPS)
def test_the_silly_rations_of_the_trial_are_implausible(stage: str, mix: dict[str, float]) -> None:
    assert implausible(stage, mix)


@pytest.mark.parametrize(("stage", "mix"), SANE)
def test_sane_rations_are_not(stage: str, mix: dict[str, float]) -> None:
    assert implausible(stage, mix) == []


def test_a_stage_of_unknown_kind_is_still_guarded() -> None:
    widest = {row.measure: row.at_most_pct for row in table("plausible") if row.scope == "all"}
    for row in table("plausible"):
        assert row.at_most_pct <= widest[row.measure], row
    assert widest["salt"] < 8 and widest["limestone"] < 89


def test_composition_is_possible() -> None:
    by_feed: dict[str, dict[str, float]] = {}
    for row in table("composition"):
        by_feed.setdefault(row.feed, {})[row.nutrient] = row.value
    for feed, has in by_feed.items():
        proximates = sum(has[n] for n in ("crude_protein", "ether_extract", "ndf", "starch", "sugars", "ash"))
        assert proximates <= 100.5, feed
        assert has["me_pig"] <= has["de_pig"] <= has["gross_energy"], feed
        assert abs(has["phytate_phosphorus"] + has["nonphytate_phosphorus"] - has["phosphorus"]) < 0.02, feed
        assert has["linoleic_acid"] + has["alpha_linolenic_acid"] <= has["ether_extract"] + 1e-9, feed


def test_premix_figures_are_not_counted_twice() -> None:
    """Trace minerals and vitamins of a premix stand in premixes.csv only, calcium and salt in composition.csv only."""
    premixes = {row.feed for row in table("feeds") if row.premix_covers}
    kinds = {row.nutrient: row.kind for row in table("nutrients")}
    for row in table("composition"):
        if row.feed in premixes and kinds[row.nutrient] in ("trace_mineral", "vitamin"):
            assert row.value == 0, row
    assert {kinds[row.nutrient] for row in table("premixes")} == {"trace_mineral", "vitamin"}


def test_legal_rows_say_whom_they_bind() -> None:
    ceilings = [row for row in table("ceilings") if row.kind == "legal"]
    limits = [row for row in table("feed_limits") if row.evidence.startswith("legal")]
    assert ceilings and all(row.jurisdiction for row in ceilings)
    assert limits and all(row.jurisdiction or row.certification for row in limits)
    assert {word for row in (*ceilings, *limits) for word in row.jurisdiction} <= {"us", "eu", "canada"}
    assert {word for row in limits for word in row.certification} <= {"us_organic", "eu_organic"}
