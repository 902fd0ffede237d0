"""Right answers stand, wrong ones are caught, and one ration that fails takes no other with it."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from math import nan
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner

from rationlp.book.records import Bin, Place
from rationlp.cli.app import app
from rationlp.errors import SolverError
from rationlp.farm import Farm
from rationlp.rations.formulate import formulate, solve_rations
from rationlp.rations.program.program import Program, ProgramRow, Solution, SolverStatus
from rationlp.rations.solve import checked
from rationlp.rations.solve.general.whole import solve_whole
from rationlp.rations.solve.nearest import nearest_mix
from rationlp.rations.solve.proved import solve_proved
from rationlp.rations.solve.solver import LiveProgram, Way, solve
from rationlp.rations.solve.verify import row_holds, verify

DEMO = Path(__file__).parents[2] / "demo" / "stillwater_bend"


def one_feed(remake, content, energy, needs):
    """A book of one feed with the stage's needs: (bound, per), and another feed that is dearer and poorer."""
    means = np.array([[content, energy], [content / 2, energy]])
    rows = [(0, low, None, per) for low, per in needs] + [(1, energy * 0.9, None, "kg")]
    return remake(means, np.zeros_like(means), [100.0, 300.0], rows, "per_tonne")


@pytest.mark.parametrize(
    ("content", "energy", "need"),
    [(6.3, 3000, 2.1), (6.6, 3000, 2.2), (0.69, 2300, 0.3), (1.17, 3900, 0.3), (8.4, 1200, 7.0), (7.7, 1100, 7.0)],
)
def test_a_mix_that_sits_on_its_row_stands(remake, library, content, energy, need):
    """2.1 x 3 is 6.300000000000001: what is left of the row is rounding, and is judged by the size of 6.3."""
    (ration,) = formulate(Farm(one_feed(remake, content, energy, [(need, "mcal")]).book, library))
    assert ration.status == "optimal" and ration.cost_per_tonne == pytest.approx(100)


@pytest.mark.slow
def test_every_feed_on_the_row(remake, library):
    """Many feeds, each exactly at the need per Mcal: nothing but rounding is left of any coefficient."""
    rng = np.random.default_rng(3)
    for _ in range(40):
        need, energies = float(rng.integers(10, 90)) / 10, rng.integers(11, 39, 5) * 100.0
        means = np.column_stack([need * energies / 1000, energies])
        book = remake(
            means,
            np.zeros_like(means),
            rng.uniform(90, 400, 5),
            [(0, need, None, "mcal"), (1, float(energies.mean()), None, "kg")],
            "per_tonne",
        ).book
        (ration,) = formulate(Farm(book, library))
        assert ration.status == "optimal", need


def test_a_miss_beyond_rounding_is_still_refused():
    row = ProgramRow("need", (-9e-16, 0.5), ">=", sizes=(1.0, 1.0))
    program = Program(("a", "b"), (1.0, 2.0), (row,), (1.0, 1.0))
    assert row_holds(program, row, (1.0, 0.0))
    low = replace(row, coefficients=(-3e-6, 0.5))
    assert not row_holds(program, low, (1.0, 0.0))


def test_what_the_solver_calls_nothing_breaks_no_cap_of_nothing():
    row = ProgramRow("cap", (1.0, 0.0), "<=", sizes=(1.0, 0.0))
    program = Program(("a", "b"), (1.0, 2.0), (row,), (1.0, 1.0))
    assert row_holds(program, row, (1e-12, 1.0)) and not row_holds(program, row, (1e-6, 1.0))


def test_infeasible_by_rounding_alone_is_answered(monkeypatch):
    """Two needs that one feed meets exactly, moved apart by less than anything can be weighed."""
    apart = 3e-9
    rows = (
        ProgramRow("least", (-apart, -0.5), ">=", relaxable=True, sizes=(1.0, 1.0)),
        ProgramRow("most", (-apart / 2, 0.5), "<=", sizes=(1.0, 1.0)),
    )
    program = Program(("a", "b"), (100.0, 300.0), rows, (1.0, 1.0))
    found = solve_proved(program)
    assert found.status == SolverStatus.OPTIMAL and found.amounts == pytest.approx((1.0, 0.0), abs=1e-6)
    verify(program, found)
    far = Program(("a", "b"), (100.0, 300.0), (replace(rows[0], coefficients=(-1e-4, -0.5)), rows[1]), (1.0, 1.0))
    assert solve_proved(far).status == SolverStatus.INFEASIBLE


@pytest.mark.parametrize("seed", range(40))
def test_a_nearest_mix_misses_something_and_lists_nothing_it_meets(random_book, library, seed):
    for room in (-0.25, -1e-7, -1e-9):
        (ration,) = formulate(Farm(random_book(seed, room=room).book, library))
        assert ration.status in ("optimal", "nearest")
        assert bool(ration.shortfalls) == (ration.status == "nearest")
        assert all(short.short_pct > 1e-4 for short in ration.shortfalls)
        assert all(line.meets for line in ration.requirements) == (ration.status == "optimal")


def test_shortfalls_of_rounding_are_none():
    """What one step may add to the total is never spent on a row that was met."""
    rng = np.random.default_rng(11)
    for _ in range(60):
        n, m = 6, 8
        amounts, bounds = rng.uniform(0, 2, (m, n)), rng.uniform(1.0, 2.2, m)
        rows = tuple(
            ProgramRow(f"r{i}", tuple(a / bounds[i] - 1), ">=", relaxable=True, rank=int(i == 0) + 1, sizes=(1.0,) * n)
            for i, a in enumerate(amounts)
        )
        program = Program(tuple("abcdef"), tuple(rng.uniform(80, 900, n)), rows, (1.0,) * n)
        mix = nearest_mix(program)
        missed = [-program.value(row, mix) for row in rows]
        assert not [x for x in missed if 1e-7 < x < 2e-6]


# A solver that errs ----------------------------------------------------------------------------

PROGRAM = Program(
    ("grain", "meal", "stone"),
    (150.0, 420.0, 60.0),
    (
        ProgramRow("requirement:protein:minimum", (10 - 16, 45 - 16, -16.0), ">=", relaxable=True, sizes=(16.0,) * 3),
        ProgramRow("limit:stone:at most", (-0.02, -0.02, 0.98), "<=", sizes=(0.02,) * 3),
    ),
    (1.0, 1.0, 1.0),
)
RIGHT = solve(PROGRAM)
NONSENSE = {
    "says failed": Solution(SolverStatus.FAILED),
    "says unbounded": Solution(SolverStatus.UNBOUNDED),
    "stopped": Solution(SolverStatus.LIMIT_REACHED),
    "no figures": Solution(SolverStatus.OPTIMAL),
    "not a number": replace(RIGHT, amounts=(nan,) * 3, objective=nan, norm_dual=nan),
    "price not a number": replace(RIGHT, row_duals=(nan, RIGHT.row_duals[1])),
    "wrong dual": replace(RIGHT, norm_dual=1.01 * RIGHT.norm_dual),
    "breaks a row": replace(RIGHT, amounts=(0.8, 0.1, 0.1)),
    "wrong cost": replace(RIGHT, objective=1.0),
}


@pytest.mark.parametrize("kind", NONSENSE)
def test_nonsense_is_caught_and_a_second_way_tried(kind, monkeypatch):
    answers = [NONSENSE[kind], RIGHT]
    monkeypatch.setattr(checked, "solve", lambda program, way: answers.pop(0))
    assert solve_proved(PROGRAM) == RIGHT and not answers


@pytest.mark.parametrize("kind", NONSENSE)
def test_nonsense_twice_is_refused(kind, monkeypatch):
    monkeypatch.setattr(checked, "solve", lambda program, way: NONSENSE[kind])
    with pytest.raises(SolverError, match="did not stand up to the check"):
        solve_proved(PROGRAM)


def test_an_answer_called_infeasible_is_found_all_the_same(monkeypatch):
    first = Solution(SolverStatus.INFEASIBLE)
    real = checked.solve
    monkeypatch.setattr(checked, "solve", lambda p, way: first if p is PROGRAM else real(p, way))
    found = solve_proved(PROGRAM)
    assert found.status == SolverStatus.OPTIMAL and found.objective == pytest.approx(RIGHT.objective)


def test_infeasible_called_optimal_is_refused(monkeypatch):
    high = replace(PROGRAM.rows[0], coefficients=(10 - 50, 45 - 50, -50.0))
    program = replace(PROGRAM, rows=(high, PROGRAM.rows[1]))
    assert solve(program).status == SolverStatus.INFEASIBLE
    monkeypatch.setattr(checked, "solve", lambda p, way: RIGHT)
    with pytest.raises(SolverError, match="requirement:protein:minimum is broken"):
        solve_proved(program)


def test_a_program_in_the_solver_is_asked_again_from_cold():
    live = LiveProgram(PROGRAM)
    live.solution = NONSENSE["wrong dual"]
    assert checked.settle(live).objective == pytest.approx(RIGHT.objective)


def test_a_program_that_fails_in_the_solver_from_cold_too_is_solved_by_itself(monkeypatch):
    live = LiveProgram(PROGRAM)
    right = live.solution
    live.solution = Solution(SolverStatus.FAILED)
    monkeypatch.setattr(live, "run_cold", lambda: live.solution)
    assert checked.settle(live).objective == pytest.approx(right.objective, rel=1e-9)


def test_rows_of_one_size_give_the_answer_and_its_prices():
    """A row of vitamins counts in tens of thousands, one of calcium in hundredths; the duals stay those of the rows."""
    rows = tuple(
        replace(
            row, coefficients=tuple(1e6 * a for a in row.coefficients), sizes=tuple(1e6 * a for a in row.magnitudes)
        )
        for row in PROGRAM.rows
    )
    for program in (PROGRAM, replace(PROGRAM, rows=rows)):
        even = solve(program, Way.EVEN)
        verify(program, even)
        assert even.amounts == pytest.approx(solve(program).amounts)
        assert even.row_duals == pytest.approx(solve(program).row_duals)
    high = replace(PROGRAM.rows[0], coefficients=(10 - 50, 45 - 50, -50.0))
    assert solve(replace(PROGRAM, rows=(high,)), Way.EVEN).status == SolverStatus.INFEASIBLE


def test_every_way_is_tried_before_an_answer_is_refused(monkeypatch):
    tried: list[Way] = []

    def nonsense(program, way):
        tried.append(way)
        return RIGHT if way is Way.EVEN else NONSENSE["says failed"]

    monkeypatch.setattr(checked, "solve", nonsense)
    assert solve_proved(PROGRAM) == RIGHT and tried == list(Way)


@pytest.mark.parametrize("lost", [0, 1, 2])
def test_a_program_in_the_solver_that_leads_nowhere_is_solved_from_cold_then_plainly(monkeypatch, lost):
    """HiGHS sometimes ends with `unknown` from a good basis; a price asked about must not end the command for it."""
    live = LiveProgram(PROGRAM)
    live.set_costs((150.0, 400.0, 60.0))
    runs: list[object] = []
    real = live._highs

    class Lost:
        """The solver, whose first runs end with `unknown`."""

        def run(self):
            runs.append(real.getOptionValue("simplex_strategy")[1])
            return real.run()

        def getModelStatus(self):
            return SimpleNamespace(name="kUnknown") if len(runs) <= lost else real.getModelStatus()

        def __getattr__(self, name):
            return getattr(real, name)

    monkeypatch.setattr(live, "_highs", Lost())
    status, basis = live.run_for_basis()
    assert status == SolverStatus.OPTIMAL and basis is not None
    assert runs == [1, 1, 4][: lost + 1] and real.getOptionValue("simplex_strategy")[1] == 1


# One ration alone ------------------------------------------------------------------------------


def two_stage_book(folder: Path) -> Path:
    """Ordinary numbers, three stages of the farm's own."""
    folder.mkdir()
    sheets = {
        "farm": [("setting", "value"), ("name", "two"), ("units", "metric"), ("currency", "USD")],
        "supplements": [("offer", "feed", "price"), ("a", "feed_a", 100), ("b", "feed_b", 300)],
        "own_feeds": [("feed", "nutrient", "value", "unit", "basis", "source")]
        + [
            (f, n, v, u, "as_fed", "x")
            for f, z in (("feed_a", 6.3), ("feed_b", 3.0))
            for n, v, u in (("me_pig", 3000, "kcal/kg"), ("zx1", z, "%"))
        ],
        "own_stages": [
            ("stage", "nutrient", "minimum", "unit", "per", "source"),
            ("s1", "me_pig", 2900, "kcal/kg", "kg", "x"),
            ("s1", "zx1", 2.1, "%", "mcal", "x"),
            ("s2", "me_pig", 2900, "kcal/kg", "kg", "x"),
            ("s2", "zx1", 2.0, "%", "mcal", "x"),
            ("s3", "me_pig", 2900, "kcal/kg", "kg", "x"),
            ("s3", "zx1", 2.05, "%", "mcal", "x"),
        ],
    }
    for name, rows in sheets.items():
        with (folder / f"{name}.csv").open("w", newline="") as file:
            csv.writer(file).writerows(rows)
    return folder


def test_ordinary_numbers_from_the_command_line(tmp_path):
    answer = CliRunner().invoke(app, ["ration", str(two_stage_book(tmp_path / "two")), "--format", "json"])
    assert answer.exit_code == 0
    assert [r["status"] for r in json.loads(answer.stdout)["rations"]] == ["optimal"] * 3


@pytest.fixture
def second_fails(monkeypatch):
    """The solver errs in every ration that asks for 2.0 per Mcal."""
    from rationlp.rations.solve import optimum

    real = optimum.solve_proved

    def solve_or_fail(program, live=None):
        if any(
            row.key.startswith("requirement:zx1") and abs(row.coefficients[0] - 0.15) < 1e-9 for row in program.rows
        ):
            raise SolverError("simulated")
        return real(program, live)

    monkeypatch.setattr(optimum, "solve_proved", solve_or_fail)


def test_one_failing_ration_leaves_the_others(tmp_path, second_fails):
    answer = CliRunner().invoke(app, ["ration", str(two_stage_book(tmp_path / "two")), "--format", "json"])
    assert answer.exit_code == 4
    rations = json.loads(answer.stdout)["rations"]
    assert [r["status"] for r in rations] == ["optimal", "failed", "optimal"]
    assert any("simulated" in finding for finding in rations[1]["findings"])


@pytest.mark.slow
@pytest.mark.parametrize("command", ["sheets", "offers"])
def test_other_commands_go_on_too(tmp_path, second_fails, command):
    book = two_stage_book(tmp_path / "two")
    more = ["-o", str(tmp_path / "out.xlsx"), "--batch", "500"] if command == "sheets" else []
    answer = CliRunner().invoke(app, [command, str(book), "--format", "json", *more])
    assert answer.exit_code == 4 and "s3" in answer.stdout


# Limits by work --------------------------------------------------------------------------------


def hard_program():
    """A market split program: known to take far more branches than allowed here (Cornuejols and Dawande 1998)."""
    rng = np.random.default_rng(5)
    weights = rng.integers(1, 99, (3, 24))
    columns = [(0.0, 1.0, True)] * 24 + [(0.0, 1e4, False)] * 6
    rows = [
        (
            {**{j: float(w) for j, w in enumerate(line)}, 24 + 2 * i: 1.0, 25 + 2 * i: -1.0},
            float(line.sum() // 2),
            float(line.sum() // 2),
        )
        for i, line in enumerate(weights)
    ]
    return [0.0] * 24 + [1.0] * 6, columns, rows


def test_a_limit_is_told_apart_from_infeasible_and_gives_the_same_answer_each_time():
    first, second = (solve_whole(*hard_program(), 1e-6, 5) for _ in range(2))
    assert first.solution.status == SolverStatus.LIMIT_REACHED
    assert repr(first) == repr(second)  # to the last digit; a dual there is none of is no number
    assert first.unproven > 1e-6


@pytest.mark.slow
def test_the_demo_stands_for_broilers_on_barley_and_lentils_with_a_margin(tmp_path, demo_book, library):
    for barley in (150, 250, 400):
        book = replace(
            demo_book,
            farm=replace(demo_book.farm, requirement_margin_pct=4.0),
            bins=(Bin(Place(), "b", mass_kg=5e4, sale_price_per_tonne=170.0),),
            samples=(replace(demo_book.samples[0], sample="s", bin="b"),),
            sorted=tuple(
                replace(demo_book.sorted[0], sample="s", crop=crop, mass_g=float(mass))
                for crop, mass in (("barley_hulled", barley), ("lentils", 500 - barley))
            ),
            assays=(),
            sown=(),
            groups=(),
        )
        for recipe in solve_rations(Farm(book, library), ["broiler_0_3", "broiler_3_6", "broiler_6_8"]):
            assert not recipe.ration.failure
            assert (recipe.ration.status == "optimal") == (not recipe.ration.shortfalls)
