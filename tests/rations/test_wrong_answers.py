"""A solver that says what is not so: caught where its answers come in, looked for again, then refused alone."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from command_line import run
from lying_solver import Lie, Told, lie_about
from same_answers import differences

from rationlp.errors import SolverError
from rationlp.rations.program.program import LeftOut, Program, ProgramRow, SolverStatus
from rationlp.rations.solve import checked
from rationlp.rations.solve.general.linear import LiveLinear
from rationlp.rations.solve.general.whole import solve_whole
from rationlp.rations.solve.nearest import conflict
from rationlp.rations.solve.proved import solve_proved
from rationlp.rations.solve.solver import LiveProgram, Way, solve
from rationlp.rations.solve.verify import proves_none

DEMO = Path(__file__).parents[2] / "demo" / "stillwater_bend"
PROGRAM = Program(
    columns=("grain", "meal", "stone"),
    costs=(150.0, 400.0, 60.0),
    rows=(
        ProgramRow("protein", (10.0 - 18, 45.0 - 18, -18.0), ">=", relaxable=True),
        ProgramRow("lime", (-0.01, -0.01, 0.99), ">=", relaxable=True),
        ProgramRow("cap", (-0.3, 0.7, -0.3), "<="),
    ),
    normalizer=(1.0, 1.0, 1.0),
)
NONE = replace(PROGRAM, rows=(replace(PROGRAM.rows[0], coefficients=(10.0 - 50, 45.0 - 50, -50.0)), *PROGRAM.rows[1:]))
NUMBERS = [lie for lie in Lie if lie is not Lie.WRONG_BASIS]


@pytest.mark.parametrize("lie", NUMBERS)
def test_a_lie_told_once_is_found_out_and_the_answer_found(lie, monkeypatch):
    right = solve(PROGRAM)
    lie_about(monkeypatch, lie, of=lambda program, way: way is Way.USUAL)
    found = solve_proved(PROGRAM)
    assert (
        Told.told
        and found.amounts == pytest.approx(right.amounts)
        and found.objective == pytest.approx(right.objective)
    )


@pytest.mark.parametrize("lie", NUMBERS)
def test_a_lie_told_always_is_refused(lie, monkeypatch):
    lie_about(monkeypatch, lie)
    with pytest.raises(SolverError, match="did not stand up to the check"):
        solve_proved(PROGRAM)


def test_no_mix_called_the_cheapest_is_found_out(monkeypatch):
    """WRONG_DUAL says `optimal`, whatever there is."""
    lie_about(monkeypatch, Lie.WRONG_DUAL, of=lambda program, way: way is Way.USUAL and program is NONE)
    assert solve_proved(NONE).status is SolverStatus.INFEASIBLE


@pytest.mark.parametrize("lie", NUMBERS)
@pytest.mark.parametrize("left_out", [LeftOut(), LeftOut(columns=frozenset([2])), LeftOut(rows=frozenset([1]))])
def test_a_program_kept_in_the_solver_is_asked_again(lie, left_out, monkeypatch):
    """What is left out of it is left out when it is solved apart as well."""
    live = LiveProgram(PROGRAM)
    live.leave_out(left_out.columns, left_out.rows)
    right = checked.run_settled(live)
    lie_about(monkeypatch, lie, of=lambda program, way: way is Way.USUAL and program is PROGRAM)
    live = LiveProgram(PROGRAM)
    live.leave_out(left_out.columns, left_out.rows)
    found = checked.run_settled(live)
    assert Told.told and found.status == right.status
    assert found.amounts == pytest.approx(right.amounts) and found.row_duals == pytest.approx(right.row_duals)


def test_none_is_said_only_with_a_proof():
    assert solve(NONE).status is SolverStatus.INFEASIBLE
    assert proves_none(NONE, (1.0, 0.0, 0.0), 1.0)  # no feed has 50 % of protein
    assert proves_none(NONE, (-1.0, 0.0, 0.0), -1.0)  # the other sign of all
    assert not proves_none(NONE, (0.0, 1.0, 0.0), 1.0) and not proves_none(PROGRAM, (1.0, 0.0, 0.0), 1.0)
    assert not proves_none(NONE, (float("nan"), 0.0, 0.0), 1.0) and not proves_none(NONE, (0.0, 0.0, 0.0), 1.0)
    assert not proves_none(NONE, (1.0, 0.0, 0.0), 1.0, LeftOut(rows=frozenset([0])))
    rich = replace(NONE, rows=(replace(NONE.rows[0], coefficients=(-40.0, 5.0, -50.0)), *NONE.rows[1:]))
    assert not proves_none(rich, (1.0, 0.0, 0.0), 1.0)
    assert proves_none(rich, (1.0, 0.0, 0.0), 1.0, LeftOut(columns=frozenset([1])))


def test_a_conflict_that_is_not_proved_keeps_its_rows(monkeypatch):
    assert conflict(NONE) == ("protein",)
    lie_about(monkeypatch, Lie.TIME_LIMIT, of=lambda program, way: len(program.rows) < 3)
    assert set(conflict(NONE)) >= {"protein"}


def year_of(runs=0):
    """Ten tonnes for two groups from a cheap supply of six and a dear one without end."""
    live = LiveLinear([0.0, 999.0], [({0: 1.0}, 6.0), ({1: 1.0}, 10.0)])
    live.add_column(100.0, {0: 1.0, 1: 1.0})
    live.add_column(200.0, {1: 1.0})
    return live


@pytest.mark.parametrize("lie", [lie for lie in NUMBERS if lie is not Lie.OPTIMAL_CALLED_INFEASIBLE])
@pytest.mark.parametrize("runs", [2, 10**9])  # PuLP's own run, then the one that is asked
def test_the_year_is_checked(lie, runs, monkeypatch):
    assert year_of().run().cost == pytest.approx(1400)
    lie_about(monkeypatch, lie, whole=True, runs=runs)
    found = year_of().run()
    assert Told.told
    if runs == 2:
        assert found.cost == pytest.approx(1400) and found.row_duals == pytest.approx((-100, 200))
    else:
        assert found.status is not SolverStatus.OPTIMAL and not found.amounts


def test_a_mix_that_may_not_be_fed_any_more_counts_nothing_in_the_check_of_the_year():
    live = year_of()
    live.set_most(2, 0.0)
    assert live.run().cost == pytest.approx(2000)
    live.set_most(2, float("inf"))
    live.set_right(0, 3.0)
    live.set_cost(3, 150.0)
    assert live.run().cost == pytest.approx(3 * 100 + 7 * 150)


WHOLE = ([1.0, 2.0], [(0.0, 10.0, True), (0.0, 10.0, False)], [({0: 3.0, 1: 1.0}, 7.5, None)], 1e-9)


@pytest.mark.parametrize("lie", [Lie.WRONG_AMOUNTS, Lie.NAN, Lie.OPTIMAL_CALLED_INFEASIBLE, Lie.UNKNOWN])
@pytest.mark.parametrize("runs", [1, 10**9])
def test_whole_weights_are_checked(lie, runs, monkeypatch):
    right = solve_whole(*WHOLE)
    assert right.solution.amounts == pytest.approx((3.0, 0.0))
    lie_about(monkeypatch, lie, whole=True, runs=runs)
    found = solve_whole(*WHOLE)
    assert Told.told
    if runs == 1:
        assert found.solution.amounts == pytest.approx(right.solution.amounts)
    else:
        assert not found.found


def test_a_program_without_whole_numbers_has_no_bound_to_check():
    continuous = [(0.0, 10.0, False), (0.0, None, False)]
    for sign in (1.0, -1.0):
        found = solve_whole([sign, sign], continuous, [({0: 1.0, 1: 1.0}, 3.0, 7.5)], 1e-9)
        assert found.solution.objective == pytest.approx(3.0 if sign > 0 else -7.5)


def test_a_bound_above_the_answer_is_found_out(monkeypatch):
    from rationlp.rations.solve.general import whole

    real = whole._read

    class Bounded:
        def __init__(self, highs):
            self.highs = highs

        def getInfo(self):
            return type("Info", (), {"mip_dual_bound": 4.0, "primal_solution_status": 2})()

        def __getattr__(self, name):
            return getattr(self.highs, name)

    monkeypatch.setattr(whole, "_read", lambda highs, *asked: real(Bounded(highs), *asked))
    assert solve_whole(*WHOLE).solution.status is SolverStatus.FAILED


# The commands ----------------------------------------------------------------------------------

TWO = ("--stage", "sw_gro_25_50", "--stage", "hen_brown_110", "--bin", "north")
COMMANDS = {
    "ration": ("ration", *TWO, "--format", "json"),
    "sheets": ("sheets", *TWO, "-o", "OUT.csv", "--format", "json"),
    "offers": ("offers", *TWO, "--format", "json"),
}


def of_pigs(program, way):
    """The programs of the pigs' ration and what is made of them."""
    return any("ne_pig" in row.key for row in program.rows)


@pytest.fixture
def asked(tmp_path):
    """A command on the demo, as its exit code and its answer."""

    def ask(command):
        shutil.copytree(DEMO, tmp_path / "demo", dirs_exist_ok=True)
        shutil.rmtree(tmp_path / "demo.record", ignore_errors=True)
        words = [str(tmp_path / "out.csv") if word == "OUT.csv" else word for word in COMMANDS[command]]
        done = run(words[0], tmp_path / "demo", *words[1:])
        (tmp_path / "out.csv").unlink(missing_ok=True)
        assert "Traceback" not in done.stderr
        return done.returncode, json.loads(done.stdout)

    return ask


@pytest.mark.slow
@pytest.mark.parametrize("lie", [Lie.NAN, *(pytest.param(lie, marks=pytest.mark.long) for lie in NUMBERS)])
def test_the_others_are_printed_and_the_answer_is_the_same(lie, asked, monkeypatch):
    code, right = asked("ration")
    assert code == 0
    lie_about(monkeypatch, lie, of=of_pigs)
    code, found = asked("ration")
    assert code == 4
    pigs, hens = found["rations"]
    assert pigs["status"] == "failed" and pigs["verdict"]["verdict"] == "stop" and not pigs["mix"]
    assert "did not stand up" in json.dumps(pigs) and hens["mix"] == right["rations"][1]["mix"]


@pytest.mark.long
@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("lie", NUMBERS)
def test_a_lie_told_once_changes_nothing(command, lie, asked, monkeypatch):
    code, right = asked(command)
    lie_about(monkeypatch, lie, of=lambda program, way: way is Way.USUAL, runs=1)
    lied, found = asked(command)
    assert lied == code == 0 and Told.told
    if command != "sheets":
        assert not unlike(found, right)


@pytest.mark.slow
@pytest.mark.parametrize("command", ["sheets", pytest.param("offers", marks=pytest.mark.long)])
def test_sheets_and_offers_show_what_stood_up(command, asked, monkeypatch):
    lie_about(monkeypatch, Lie.WRONG_DUAL, of=of_pigs)
    code, found = asked(command)
    assert code == 4
    if command == "sheets":
        assert [sheet["stage"] for sheet in found["sheets"]] == ["hen_brown_110"]
        assert [one["stage"] for one in found["unmade"]] == ["sw_gro_25_50"]


EACH = [Lie.NAN, *(pytest.param(lie, marks=pytest.mark.long) for lie in NUMBERS if lie is not Lie.NAN)]


@pytest.fixture(scope="module")
def two_groups(tmp_path_factory):
    """The demo with its record, and of its animals the young pigs and the hens alone."""
    book = tmp_path_factory.mktemp("two") / "farm"
    run("new", book, "--demo")
    for sheet in ("herd", "arrivals"):
        (book / f"{sheet}.csv").unlink()
    head, *rows = (book / "groups.csv").read_text().splitlines()
    kept = [row for row in rows if ",sw_gro_25_50," in row or ",hen_brown_110," in row]
    (book / "groups.csv").write_text("\n".join([head, *kept, ""]))
    return book


PRICES_OF_BOUNDS = ("/binding", "/shadow_price", "/driver")


def unlike(found, right):
    """Where an answer is not the right one to a millionth.

    Where two bounds say the same of a mix (the caps on vicine and on faba beans) either may have its price: which one,
    a solver that began elsewhere says otherwise, and both are proved.
    """
    return [where for where in differences(right, found) if not where.split(":")[0].endswith(PRICES_OF_BOUNDS)]


def said(*words):
    """Exit code and JSON of a command."""
    done = run(*words, "--format", "json")
    assert "Traceback" not in done.stderr
    return done.returncode, json.loads(done.stdout)


@pytest.mark.slow
@pytest.mark.parametrize("lie", EACH)
def test_resample_judges_the_others(lie, two_groups, monkeypatch):
    words = ("resample", two_groups, *TWO[:4])
    code, right = said(*words)
    assert code == 0
    lie_about(monkeypatch, lie, of=of_pigs)
    code, found = said(*words)
    assert code == 4 and Told.told
    assert found["rations"] == [each for each in right["rations"] if each["stage"] == "hen_brown_110"]
    (pigs,) = found["not_judged"]
    assert pigs["stage"] == "sw_gro_25_50" and pigs["failed"] and "did not stand up" in pigs["why"]


@pytest.mark.slow
@pytest.mark.parametrize("lie", EACH)
def test_the_year_feeds_the_others(lie, two_groups, monkeypatch):
    """A failed calculation is exit code 4, not the 3 of animals for which there is no feed."""
    lie_about(monkeypatch, lie, of=of_pigs)
    code, found = said("year", two_groups)
    assert code == 4 and Told.told
    assert [each["group"] for each in found["unfed"]] == ["growers_early"] and found["unfed"][0]["unverified"]
    assert "stood up to the check" in found["unfed"][0]["why"] and found["verdict"]["verdict"] == "stop"
    assert {group for mix in found["mixes"] for group in mix["groups"]} == {"hens"}


@pytest.mark.long
@pytest.mark.parametrize("lie", EACH)
def test_the_page_shows_the_others(lie, two_groups, tmp_path, monkeypatch):
    lie_about(monkeypatch, lie, of=of_pigs)
    code, found = said("report", two_groups, "-o", tmp_path / "farm.html")
    assert code == 4 and Told.told
    stood = {ration["stage"]: ration["status"] for ration in found["rations"]}
    assert stood == {"sw_gro_25_50": "failed", "hen_brown_110": "optimal"}
    assert "did not stand up to" in (tmp_path / "farm.html").read_text()


@pytest.mark.slow
def test_what_was_weighed_is_judged_without_the_solver(two_groups, monkeypatch):
    right = said("actual", two_groups)
    lie_about(monkeypatch, Lie.NAN)
    assert said("actual", two_groups) == right and not Told.told


@pytest.mark.long
@pytest.mark.parametrize("words", [("resample", *TWO[:4]), ("year",)])
@pytest.mark.parametrize("lie", NUMBERS)
def test_a_lie_told_once_changes_no_study(words, lie, two_groups, monkeypatch):
    right = said(words[0], two_groups, *words[1:])
    lie_about(monkeypatch, lie, of=lambda program, way: way is Way.USUAL, runs=1)
    code, found = said(words[0], two_groups, *words[1:])
    assert code == right[0] and Told.told
    if words[0] == "resample":
        assert not unlike(found, right[1])
    else:
        assert found["cost"] == pytest.approx(right[1]["cost"], rel=1e-6) and not found["unfed"]
