"""Every kind of row a ration's program can hold, written out for three invented feeds and held against a listing.

The listing (`data/program_listing.txt`) is for people: what a bound becomes in numbers. To write it anew after a change
that is meant: `python -m pytest tests/rations/test_program_listing.py --write-listing`.
"""

from __future__ import annotations

import inspect
from dataclasses import replace
from pathlib import Path

import pytest

from rationlp.feeds.candidates import Candidate
from rationlp.feeds.spread import LaterSpread, Spread
from rationlp.rations.program import rows
from rationlp.rations.program.program import ProgramRow
from rationlp.reasons import Severity
from rationlp.stages.model import Cap, ContaminantNeed, Need, NeedKind, RatioNeed

LISTING = Path(__file__).parent / "data" / "program_listing.txt"
ENERGY = "ne_pig"


def _no_spread() -> Spread:
    raise AssertionError("no row of plain averages asks for a spread")


NO_SPREAD = LaterSpread(_no_spread)


def feed(name: str, lysine: float, calcium: float, phosphorus: float, energy: float, **more: object) -> Candidate:
    """A feed of 100 money a tonne; figures in percent and kcal/kg, as fed."""
    values = {"lysine": lysine, "calcium": calcium, "phosphorus": phosphorus, ENERGY: energy}
    plain = Candidate(name, name, name, "cereal", 100.0, values, {name: 1.0}, False, NO_SPREAD)
    return replace(plain, **more)


GRAIN = feed("grain", 0.4, 0.05, 0.3, 2500.0, group="bin", feeds={"oats": 0.6, "beans": 0.4}, home_grown=True)
BEANS = feed("beans", 1.6, 0.1, 0.5, 2300.0, min_share=0.05, max_share=0.3)
PREMIX = feed(
    "premix", 0.0, 20.0, 5.0, 0.0, group="premix", premix_covers=("vitamins", "trace_minerals"), premix_inclusion=0.02
)
FIXED = feed("salt", 0.0, 0.0, 0.0, 0.0, group="mineral", min_share=0.004, max_share=0.004)
FEEDS = (GRAIN, BEANS, PREMIX, FIXED)

NEEDS = {
    "a requirement, least and most": Need("lysine", "%", 0.9, 1.4),
    "a requirement that follows the energy of the mix": Need("lysine", "%", 0.9, reference_energy=2400.0),
    "the least energy": Need(ENERGY, "kcal/kg", 2200.0, kind=NeedKind.ENERGY_FLOOR),
    "a safe maximum": Need("calcium", "%", maximum=1.0, kind=NeedKind.CEILING, safety=True),
    "what is added at most": Need(
        "calcium", "%", maximum=0.5, kind=NeedKind.CEILING, safety=True, of_groups=("premix", "mineral")
    ),
    "what the trade uses at most": Need("calcium", "%", maximum=1.2, kind=NeedKind.USUAL, usual=Severity.ASK),
    "a vitamin, the first to give way": Need("phosphorus", "%", 0.4, gives_way=True),
}
BEANS_CAP = Cap("beans", frozenset({"beans"}), 0.25, 0.1, "", "", evidence="own")
OATS_CAP = Cap("oats", frozenset({"oats"}), 0.5, None, "", "", evidence="usual", usual=Severity.ASK)


def rows_of(needs: list[Need]) -> list[ProgramRow]:
    return [row for row, _ in rows.need_rows(needs, FEEDS, ENERGY)]


def rows_of_cap(cap: Cap) -> list[ProgramRow]:
    return [row for row, _ in rows.cap_rows([cap], FEEDS)]


MADE = {
    "need_rows": {words: lambda need=need: rows_of([need]) for words, need in NEEDS.items()},
    "contaminant_rows": {
        "a contaminant of the whole mix": lambda: rows.contaminant_rows(
            ContaminantNeed("deoxynivalenol", "DON", "mg/kg", 1.0, {"grain": 1.1}, {}, {"grain": 1.4}, "", "", ""),
            FEEDS,
        )
    },
    "ratio_rows": {
        "a range of one nutrient over another": lambda: rows.ratio_rows(
            RatioNeed("calcium", "phosphorus", 1.0, 2.0, True, "", ""), FEEDS
        )
    },
    "cap_rows": {
        "a cap and a floor, the crop inside the bin counted": lambda: rows_of_cap(BEANS_CAP),
        "what the trade feeds at most": lambda: rows_of_cap(OATS_CAP),
    },
    "offer_rows": {
        "the range of an offer": lambda: rows.offer_rows(BEANS, 1, len(FEEDS)),
        "an offer that is fixed": lambda: rows.offer_rows(FIXED, 3, len(FEEDS)),
    },
    "home_grown_rows": {"the least home-grown share": lambda: rows.home_grown_rows(FEEDS, 0.7)},
    "premix_rows": {"one dose of each part of a premix": lambda: rows.premix_rows(FEEDS)},
}
KINDS = {name: make for name, make in inspect.getmembers(rows, inspect.isfunction) if name.endswith("_rows")}


def listing() -> str:
    """The feeds, then every kind of row: coefficient by feed, sense, and how it may give way."""
    lines = [f"columns: {', '.join(c.name for c in FEEDS)}"]
    for kind, cases in MADE.items():
        for words, make in cases.items():
            lines += ["", f"{kind}: {words}"]
            for row in make():
                terms = "  ".join(f"{coefficient:+.6f}" for coefficient in row.coefficients)
                gives = f"gives way, rank {row.rank}" if row.relaxable else "never given up"
                lines.append(f"  {terms}  {row.sense} 0   {row.key}   ({gives})")
    return "\n".join(lines) + "\n"


def test_every_row_is_as_the_listing_says(request: pytest.FixtureRequest) -> None:
    if request.config.getoption("--write-listing"):
        LISTING.write_text(listing(), encoding="utf-8")
    assert listing() == LISTING.read_text(encoding="utf-8")


def test_no_kind_of_row_is_without_a_listing() -> None:
    assert set(MADE) == set(KINDS)
    assert {need.kind for need in NEEDS.values()} == set(NeedKind)


@pytest.mark.parametrize("kind", MADE)
def test_a_row_is_linear_and_homogeneous_by_hand(kind: str) -> None:
    """A mix of equal parts, worked out by hand from the feeds: 0.5 % lysine, 5.0375 % calcium, 1.45 % phosphorus."""
    assert all(
        len(row.coefficients) == len(FEEDS) and any(row.coefficients) for case in MADE[kind].values() for row in case()
    )
    if kind == "need_rows":
        least, most = rows_of([NEEDS["a requirement, least and most"]])
        assert sum(least.coefficients) / 4 == pytest.approx((0.5 - 0.9) / rows.need_scale(0.9))
        assert sum(most.coefficients) / 4 == pytest.approx((0.5 - 1.4) / rows.need_scale(1.4))
    if kind == "ratio_rows":
        low, high = MADE[kind]["a range of one nutrient over another"]()
        assert sum(low.coefficients) / 4 == pytest.approx(5.0375 - 1.45)
        assert sum(high.coefficients) / 4 == pytest.approx(5.0375 - 2 * 1.45)
