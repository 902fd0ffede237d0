"""Where there is no ration that is proved from the tables alone (tests/support/plain_proof.py), and truly said why.

The bin is one of tests/benchmarks/no_ration.py: 28 % of it is vetch, of which pigs and hens may eat little, and nothing
else on offer fills a mix but crystals that nothing needs. Every figure of the book is invented.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from plain_check import Part, Setting
from plain_proof import prove

from rationlp.book.reading.read import read_book
from rationlp.farm import Farm
from rationlp.rations.formulate import solve_rations
from rationlp.rations.program.only_here import CRYSTAL
from rationlp.rations.program.rows import PRICED_RANKS, USUAL_RANK
from rationlp.rations.solve.nearest import misses_a_need
from rationlp.reasons import Severity

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))


@pytest.fixture(scope="module")
def farm(library, tmp_path_factory):
    from no_ration import write

    books = tmp_path_factory.mktemp("books")
    write(books)
    return Farm(read_book(books / "no_grain", library.units), library)


@pytest.mark.slow
@pytest.mark.parametrize("stage", ["sw_fin_75_100", "hen_white_80"])
def test_no_ration_is_proved_from_the_tables_and_its_reason_is_the_true_one(stage, farm):
    (made,) = solve_rations(farm, [stage], ["oats_vetch"])
    assert made.ration.status == "nearest" and made.verdict.severity is Severity.STOP

    estimate, feeds = farm.bin("oats_vetch"), {offer.offer: offer.feed for offer in farm.book.supplements}
    grain = Part("oats_vetch", 0.0, estimate.values, {crop.crop: crop.share for crop in estimate.crops})
    offers = [Part(c.name, 0.0, c.values, {feeds[c.name]: 1.0}) for c in farm.candidates]
    proof = prove([grain, *offers], Setting(stage, farm.settings.jurisdiction), made.formula.least_share)
    assert proof is not None and proof.none

    ranks = {row.key: row.rank for row in made.formula.program.rows if row.relaxable}
    gives_way = {key for key in made.answer.conflict if ranks.get(key) in (*PRICED_RANKS, USUAL_RANK)}
    assert not gives_way  # what is missed before any requirement is no reason
    assert any(key.startswith(CRYSTAL) for key in made.answer.conflict)
    assert any("only as far as it is needed" in words for words in made.ration.conflict)
    assert made.ration.remedies


@pytest.mark.slow
def test_a_crystal_is_held_or_left_out_by_the_way_that_misses_no_need(farm):
    """Step by step the nearer way ended 1 % short of energy and was refused; with 13 % fat all needs are met."""
    (made,) = solve_rations(farm, ["hen_brown_start_19_25"], ["oilseeds"])
    assert made.ration.status == "nearest" and made.verdict.severity is Severity.ASK
    assert not misses_a_need(made.formula.program, made.column_shares)
