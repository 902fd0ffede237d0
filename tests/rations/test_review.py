"""The review copy: everything the rations rest on, where it comes from, and a place to sign."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from rationlp.cli.app import app
from rationlp.farm import Farm
from rationlp.rations.formulate import solve_rations
from rationlp.rations.studies.review import review_of

STAGES = ["sw_gro_25_50", "hen_brown_110"]


@pytest.fixture(scope="module")
def makes(demo_book, library):
    return solve_rations(Farm(demo_book, library), STAGES)


@pytest.fixture(scope="module")
def review(makes, demo_book, library):
    return review_of(makes, Farm(demo_book, library))


@pytest.mark.slow
def test_the_matrix_is_the_one_that_was_solved(review, makes):
    figures = {(f.offer, f.nutrient): f for f in review.matrix}
    for one in makes:
        for need in one.formula.stage.needs:
            for candidate in one.formula.candidates:
                figure = figures.get((candidate.name, need.nutrient))
                if figure is None:  # counts with nothing: in a ceiling, or where premixes are there to bring it
                    assert need.nutrient not in candidate.values and (need.gives_way or not need.needs_figure)
                    continue
                assert figure.value == candidate.values[need.nutrient]
                assert figure.how and figure.source, (candidate.name, need.nutrient)


@pytest.mark.slow
def test_from_the_matrix_alone_the_ration_can_be_recomputed(review, library):
    figures = {(f.offer, f.nutrient): f.value for f in review.matrix}
    added = 0
    for reviewed in review.rations:
        for line in reviewed.ration.requirements:
            if line.met_by == "ration":
                parts = [m for m in reviewed.ration.mix if m.share]
                if line.label.endswith("that is added"):  # what feeds hold by themselves is not added
                    groups = {m.offer: library.feeds[m.feed].group for m in parts if m.feed in library.feeds}
                    parts = [m for m in parts if groups.get(m.offer) in ("premix", "mineral")]
                    added += 1
                # in a ceiling, and of what premixes bring, a feed without a figure counts with nothing
                all_known = line.minimum is not None and library.nutrients[line.nutrient].met_by == "ration"
                bound = figures.__getitem__ if all_known else lambda key: figures.get(key, 0.0)
                gives = sum(m.share * bound((m.offer, line.nutrient)) for m in parts)
                assert gives == pytest.approx(line.gives, rel=1e-9), line.label
    assert added >= len(review.rations)  # selenium, of every ration


def test_sources_and_hows_are_those_of_the_library(review, library):
    for f in review.matrix:
        if f.offer == "corn_bought" and f.nutrient in library.figures["corn"]:
            row = library.figures["corn"][f.nutrient]
            assert (f.source, f.how) == (row.source, row.how)
    own = [f for f in review.matrix if f.feed == "peas_field" and f.nutrient == "crude_protein"]
    assert own and own[0].how == "own" and "Laboratory sheet" in own[0].source
    digestible = next(f for f in review.matrix if f.offer == "soy48_bulk" and f.nutrient == "sid_lysine_pig")
    parts = [library.figures[digestible.feed][n].how for n in ("lysine", "lysine_sid_pig")]
    assert digestible.how in parts and "lysine x lysine_sid_pig" in digestible.note
    blend = next(f for f in review.matrix if f.offer == "north" and f.nutrient == "sid_lysine_pig")
    assert blend.source.startswith("sample n0, n1") and blend.sd > 0
    known = {source.source for source in review.sources}
    assert {s for f in review.matrix for s in f.source.split("; ")} & set(library.sources) <= known


def test_what_is_from_memory_and_what_is_assumed_is_listed(review):
    used = [f for f in review.matrix if f.in_a_mix and "memory" in f.how]
    listed = [w for w in review.from_memory if w.what == "figure"]
    assert len(listed) == len(used) > 50
    assert any(w.what == "bound" and "SID lysine" in w.where for w in review.from_memory)
    assert all("memory" not in w.how for w in review.assumed) and review.assumed
    assert sum(review.how_counts["figures in the mixes"].values()) == sum(f.in_a_mix for f in review.matrix)


@pytest.mark.slow
def test_the_ten_recalled_figures_that_move_each_ration_most_are_named(review, makes, library):
    from rationlp.rations.studies.figure_weights import RECALLED, figure_weights, handed_down

    for reviewed, made in zip(review.rations, makes, strict=True):
        weights = [row.weight for row in reviewed.recalled]
        assert len(weights) == 10 and weights == sorted(weights, reverse=True)
        every = [row for row in handed_down(figure_weights([made], library), library) if row.how in RECALLED]
        assert reviewed.recalled == tuple(every[:10])


def test_the_heaviest_come_first_and_what_weighs_nothing_last(review, makes):
    """1,090 figures stood in the order of the book; the weight of a content is share x content x price of its rows."""
    weights = [f.weight for f in review.matrix]
    assert weights == sorted(weights, reverse=True) and weights[0] > 0 and weights[-1] == 0
    assert all(f.in_a_mix for f in review.matrix if f.weight)
    for rows in (review.from_memory, review.assumed, review.weakest):
        assert [row.weight for row in rows] == sorted((row.weight for row in rows), reverse=True)
    assert sum(review.evidence.values()) == pytest.approx(1)
    bound = {(r.ration.stage, line.label): line for r in review.rations for line in r.ration.requirements}
    heavy = next(row for row in review.from_memory if row.what == "bound" and "SID lysine" in row.where and row.weight)
    assert bound[tuple(heavy.where.split(": "))].shadow_price


def test_what_the_farm_put_in_place_of_the_library_is_named(review):
    (cap,) = [each for each in review.overrides if each.where.startswith("own_limits")]
    assert cap.what.startswith("hen_brown_110: Triticale") and cap.says == "most 45 %"
    assert "approved by nobody" in cap.why
    assert any("Crude protein" in each.what for each in review.overrides if each.where.startswith("own_feeds"))


def test_the_duals_add_up_to_the_cost(review, makes):
    """Strong duality: every right side is zero, so the rows' duals price each offer in the mix to its cost."""
    for one, reviewed in zip(makes, review.rations, strict=True):
        prices = {d.row: d.dual for d in review.duals if d.ration == reviewed.id}
        assert len(prices) == len(one.formula.program.rows) and any(prices.values())
        own = dict(zip((row.key for row in one.answer.program.rows), one.answer.solution.row_duals, strict=True))
        assert sorted(v for v in prices.values() if v) == pytest.approx(sorted(v for v in own.values() if v))
        for d in review.duals:
            if d.ration == reviewed.id:
                assert d.slack >= -1e-6
                assert not (abs(d.dual) > 1e-6 and d.slack > 1e-6), d.row  # complementary slackness


@pytest.mark.slow
def test_json_and_workbook_have_a_place_to_sign(demo_book, tmp_path):
    paths = tmp_path / "review.json", tmp_path / "review.xlsx"
    for path in paths:
        done = CliRunner().invoke(app, ["ration", str(demo_book.path), "--stage", STAGES[0], "--review", str(path)])
        assert done.exit_code == 0, done.output
    told = json.loads(paths[0].read_text(encoding="utf-8"))
    assert {"name", "licence_number", "date", "valid_until", "signature"} <= set(told["rations"][0]["sign_off"])
    assert len(told["rations"]) == 2 and told["matrix"] and told["duals"] and told["from_memory"] and told["sources"]
    book = load_workbook(paths[1])
    assert book.sheetnames[0] == "Sign-off"
    assert {"Mixes", "Requirements", "Caps", "Duals", "Matrix", "Figures", "Memory and assumed", "Sources"} <= set(
        book.sheetnames
    )
    assert book["Recalled that move most"].max_row == 21  # ten of each of two rations
    first = [str(cell.value) for row in book["Sign-off"].iter_rows() for cell in row if cell.value]
    for words in (
        "What is signed for",
        "Evidence: ",
        "What the farm put in place",
        "The weakest first",
        "Bounds that bind",
    ):
        assert any(text.startswith(words) for text in first), words
    printed = book["Figures"].print_area.split(":")[-1]
    assert int("".join(filter(str.isdigit, printed))) == 1 + sum(f["weight"] > 0 for f in told["matrix"])
    titles = [f"Sign {reviewed['id']}" for reviewed in told["rations"]]
    assert book.sheetnames[1:3] == titles
    for title in titles:
        words = {str(cell.value): cell for row in book[title].iter_rows() for cell in row if cell.value}
        assert any("NOT SIGNED" in text for text in words) and any("make it void" in text for text in words)
        for label in ("Name", "Licence number", "Date", "Valid until", "Signature"):
            box = book[title].cell(words[label].row, 2)
            assert box.value in (None, "") and not box.protection.locked and box.border.left.style == "medium"
        assert book[title].page_setup.fitToHeight == 1
    heads = {cell.value: cell.column for cell in book["Figures"][1]}
    values = {
        (row[heads["Offer or bin"] - 1].value, row[heads["Nutrient, as fed"] - 1].value): row[heads["Value"] - 1].value
        for row in book["Figures"].iter_rows(min_row=2)
    }
    for f in told["matrix"]:
        assert values[f["offer"], f["nutrient_label"]] == pytest.approx(f["value"], rel=1e-3, abs=1e-9)


@pytest.mark.slow
def test_a_review_that_cannot_be_written_is_a_problem(demo_book, tmp_path):
    base = ["ration", str(demo_book.path), "--stage", STAGES[0], "--review"]
    done = CliRunner().invoke(app, [*base, str(tmp_path / "no" / "such.xlsx")])
    assert done.exit_code == 2 and "--review" in done.output and "Traceback" not in done.output
    assert CliRunner().invoke(app, [*base, str(tmp_path / "x.pdf")]).exit_code == 2


@pytest.mark.slow
def test_a_nearest_ration_can_be_reviewed_too(demo_book, library, tmp_path):
    from dataclasses import replace

    from rationlp.report.papers.write import write_review

    kept = {"corn", "limestone_fine", "salt", "premix_swine"}
    book = replace(demo_book, supplements=tuple(o for o in demo_book.supplements if o.feed in kept))
    poor = solve_rations(Farm(book, library), ["sw_gro_25_50"], ["north"])
    review = review_of(poor, Farm(book, library))
    assert poor[0].ration.status == "nearest" and review.rations[0].ration.shortfalls
    assert not any(d.dual for d in review.duals) and any(d.slack < -1e-3 for d in review.duals)
    for name in ("r.json", "r.xlsx", "r.html"):
        write_review(review, book.farm, tmp_path / name)
        assert (tmp_path / name).stat().st_size > 10_000


def test_a_figure_that_follows_from_the_farms_own_says_so(review):
    """The demo's peas have their own protein; lysine and energy follow it by published equations."""
    moved = {f.nutrient: f for f in review.matrix if f.feed == "peas_field"}
    for nutrient in ("lysine", "ne_pig"):
        assert "moved to" in moved[nutrient].note and "Crude protein" in moved[nutrient].note
        assert moved[nutrient].how not in ("page", "dataset")
