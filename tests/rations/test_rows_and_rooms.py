"""Small parts of a ration's program, each by what it must say: mistakes put into them went unnoticed before."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.farm import Farm
from rationlp.library import load_library
from rationlp.rations.formulate import formula_of
from rationlp.rations.program.left_out import bin_rooms, premix_reasons
from rationlp.rations.program.only_here import CRYSTAL, LEAST, bare, with_rows
from rationlp.rations.program.program import ProgramRow

SEEDS = "raw_legumes"


@pytest.fixture(scope="module")
def farm(demo_book):
    return Farm(demo_book, load_library())


@pytest.fixture(scope="module")
def formula(farm):
    (stage,) = farm.stages(["hen_brown_110"])
    return formula_of(farm, stage, ("north", "south"))


@pytest.mark.parametrize(
    ("coefficients", "sense", "binds"),
    [
        ((-1.0, 0.0), "=", True),
        ((0.0, 0.0), "=", False),
        ((-1.0, 0.0), "<=", False),
        ((1.0, 0.0), "<=", True),
        ((-1.0, 0.0), ">=", True),
        ((1.0, 0.0), ">=", False),
    ],
)
def test_a_row_binds_where_some_amounts_break_it(coefficients, sense, binds):
    assert ProgramRow("row", coefficients, sense).can_bind is binds


@pytest.mark.slow
def test_what_keeps_crystals_and_dust_out_is_taken_out_again_and_nothing_else(formula):
    ones = (1.0,) * len(formula.candidates)
    more = [ProgramRow(f"{mark}lysine:none", ones, "<=") for mark in (CRYSTAL, LEAST)]
    assert bare(with_rows(formula, more)) == formula == bare(formula)


@pytest.mark.slow
def test_every_bin_has_its_room_wherever_it_stands_among_the_candidates(formula, farm):
    """A cap of a tenth on what is half of a bin leaves room for a fifth of it."""
    cap = next(cap for cap in formula.caps if cap.max_share and cap.feed == SEEDS)
    bins = [candidate for candidate in formula.candidates if candidate.group == "bin"]
    others = [candidate for candidate in formula.candidates if candidate.group != "bin"]
    feed = min(cap.members)
    half = [replace(bins[0], feeds={feed: 0.5, "corn": 0.5}), replace(bins[1], feeds={feed: 1.0})]
    for order in ([*half, *others], [half[0], *others, half[1]], [*others, *half]):
        rooms = bin_rooms(order, [replace(cap, max_share=0.1)], farm.library)
        assert [(room.bin, room.allows) for room in rooms] == [("north", pytest.approx(0.2)), ("south", 0.1)]


def test_a_stage_without_a_premix_names_one_that_is_made_for_it(formula, farm):
    bare_offers = [candidate for candidate in formula.candidates if not candidate.premix_covers]
    (reason,) = premix_reasons(formula.stage, bare_offers, farm.library)
    named = reason.text.partition("such as ")[2].removesuffix(", on the sheet supplements.")
    (feed,) = [feed for feed in farm.library.feeds.values() if feed.label == named]
    assert set(feed.premix_covers) == {"vitamins", "trace_minerals"} and "layer" in feed.premix_species
    assert not list(premix_reasons(formula.stage, formula.candidates, farm.library))
