"""Caps from feeding trials: each recomputed from trials.csv by other code, and what may not overrule them."""

from __future__ import annotations

import csv
from importlib.resources import files

import pytest

from rationlp.library.read import Library
from rationlp.library.records import FeedLimit, Stage
from rationlp.library.trial_caps import (
    Circumstances,
    Trial,
    TrialCap,
    as_limit,
    cap_from_trials,
    own_scopes,
    three_figures,
    words,
)
from rationlp.library.which_limits import choose_rows, rows_that_cap

LIBRARY = Library(files("feed_library"))
STAGES = list(LIBRARY.stages.values())
LOSS = ("loss", "toxic")
with files("feed_library").joinpath("trials.csv").open(encoding="utf-8", newline="") as lines:
    RAW = list(csv.DictReader(lines))


def counted(feed: str, stage: Stage) -> list[dict[str, str]]:
    """The ordinary rows of a feed that count for a stage without an enzyme, read without the package."""
    own = stage.scopes if stage.species in ("swine", "chicken") else ()
    borrowed = {"chick": "broiler", "pullet": "broiler", "breeder": "layer", "breeder_holding": "layer"}.get(stage.kind)
    own = [scope for scope in own or stage.scopes if not borrowed or not scope.startswith(borrowed)]
    if stage.species in ("turkey", "duck"):
        own = [scope for scope in own if scope.startswith(stage.species)]
    return [
        row
        for row in RAW
        if (row["feed"], row["use"], row["variety"]) == (feed, "cap", "")
        and row["enzyme"] != "yes"
        and set(row["scopes"].split()) & set(own)
    ]


def by_hand(rows: list[dict[str, str]]) -> tuple[float, float, float] | None:
    """The rule of the README, word for word."""
    at = {id(row): float(row["level_pct"]) for row in rows}
    good = [row for row in rows if row["yield_kept"] == "yes"]
    bounds = []
    for row in rows:
        here = at[id(row)]
        below = [g for g in good if at[id(g)] < here]
        if row["outcome"] in LOSS:
            own = [g for g in below if g["source"] == row["source"]] or below
            bounds.append(max([at[id(g)] for g in own], default=-1))
        elif row["outcome"] == "small_loss" and row["yield_kept"] == "no":
            against = {r["source"] for r in rows if r["yield_kept"] == "no" and at[id(r)] <= here}
            favour = {r["source"] for r in good if at[id(r)] >= here} - against
            if len(favour) <= len(against):
                bounds.append(round((max(at[id(g)] for g in below) + here) / 2, 1) if below else -1)
    ceiling = min(bounds, default=None)
    if (ceiling is not None and ceiling < 0) or not good:
        return None
    levels = [at[id(g)] for g in good if ceiling is None or at[id(g)] <= ceiling]
    if not levels:
        return None
    cap = max(levels) if ceiling is None else max([*levels, *(b for b in bounds if b <= ceiling)])
    clear = [at[id(row)] for row in rows if row["outcome"] in LOSS]
    first = min([at[id(row)] for row in rows if row["outcome"] not in ("no_effect", "better")], default=1000)
    held = [row for row in rows if row["outcome"] in ("no_effect", "better") and at[id(row)] < first]
    twice = [at[id(h)] for h in held if len({g["source"] for g in held if at[id(g)] >= at[id(h)]}) > 1]
    noted = max(twice) if twice else min([at[id(h)] for h in held], default=0)
    return min(noted, cap), cap, min(clear) if clear else max(at.values())


CASES = sorted(
    {
        (feed, stage.stage)
        for feed in {row["feed"] for row in RAW if row["use"] == "cap"}
        for stage in STAGES
        if counted(feed, stage)
    }
)


@pytest.mark.parametrize(("feed", "stage_id"), CASES)
def test_each_cap_is_recomputed_from_its_trial_rows(feed: str, stage_id: str) -> None:
    stage = LIBRARY.stages[stage_id]
    cap = cap_from_trials(LIBRARY.trials[feed], stage, feed=feed)
    found = cap and (cap.noted_above_pct, cap.cap_pct, cap.never_above_pct)
    assert found == by_hand(counted(feed, stage))
    if cap:
        assert 0 <= cap.noted_above_pct <= cap.cap_pct <= cap.never_above_pct
        assert cap.decided and all(row.yield_kept == "yes" for row in cap.decided)


def trial(level: float, outcome: str, kept: str = "", source: str = "a", **more: str) -> Trial:
    kept = kept or ("yes" if outcome in ("no_effect", "better") else "no")
    return Trial(
        trial=f"{source}{level}",
        feed="rye",
        scopes=("layer",),
        level_pct=level,
        outcome=outcome,
        yield_kept=kept,
        what="eggs",
        enzyme=more.pop("enzyme", "no"),
        processing="raw",
        use="cap",
        source=source,
        how="page",
        **more,
    )


@pytest.mark.parametrize(
    ("rows", "figures"),
    [
        ([trial(10, "no_effect"), trial(30, "no_effect")], (10, 30, 30)),
        ([trial(20, "no_effect"), trial(30, "no_effect", source="b")], (20, 30, 30)),
        ([trial(10, "no_effect"), trial(20, "small_loss", "yes"), trial(40, "loss")], (10, 20, 40)),
        # trials disagree: the last good step of the one that saw the loss
        ([trial(20, "no_effect"), trial(40, "loss"), trial(36, "no_effect", source="b")], (20, 20, 40)),
        # the trial that saw a loss had no good step: what another fed below it
        ([trial(10, "loss"), trial(5, "no_effect", source="b"), trial(16, "no_effect", source="c")], (5, 5, 10)),
        # a small loss of yield leaves half of the way
        ([trial(40, "no_effect"), trial(80, "small_loss", "no")], (40, 60, 80)),
        # it is outvoted by two trials, not by one
        (
            [trial(10, "small_loss", "no"), trial(30, "no_effect", source="b"), trial(39, "no_effect", source="c")],
            (0, 39, 39),
        ),
        ([trial(10, "small_loss", "no"), trial(5, "no_effect"), trial(30, "no_effect", source="b")], (5, 7.5, 30)),
        ([trial(10, "small_loss", "no"), trial(30, "no_effect", source="b")], None),
        ([trial(22, "loss")], None),
    ],
)
def test_the_rule_on_plain_cases(rows: list[Trial], figures: tuple[float, float, float] | None) -> None:
    cap = three_figures(rows)
    assert (cap and (cap.noted_above_pct, cap.cap_pct, cap.never_above_pct)) == figures


HEN = LIBRARY.stages["hen_white_100"]


def test_an_enzyme_mends_a_loss_and_never_makes_one() -> None:
    rows = [trial(20, "no_effect"), trial(40, "loss"), trial(60, "no_effect", source="b", enzyme="yes")]
    assert cap_from_trials(rows, HEN).cap_pct == 20
    assert cap_from_trials(rows, HEN, Circumstances(enzyme=True)).cap_pct == 60
    without = [trial(20, "no_effect"), trial(40, "loss")]
    assert cap_from_trials(without, HEN, Circumstances(enzyme=True)).cap_pct == 20


def test_a_variety_counts_only_where_the_farm_states_it() -> None:
    rows = [trial(5, "no_effect"), trial(10, "loss"), trial(20, "no_effect", source="b", variety="low_vicine")]
    stated = Circumstances(varieties={"rye": "low_vicine"})
    assert cap_from_trials(rows, HEN, feed="rye").cap_pct == 5
    assert cap_from_trials(rows, HEN, stated, "rye").cap_pct == 20
    assert cap_from_trials(rows, HEN, Circumstances(varieties={"rye": "other"}), "rye").cap_pct == 5


def cap_of(feed: str, stage: str, **said: object) -> float:
    found = rows_that_cap(LIBRARY.stages[stage], LIBRARY, Circumstances(**said))
    return min(limit.row.max_pct for limit in found if feed in limit.members and limit.row.evidence != "joint")


@pytest.mark.parametrize(
    ("feed", "stage", "without", "said", "stated"),
    [
        ("barley_hulled", "hen_white_100", 35.4, {"enzyme": True}, 55),
        ("wheat_hard", "broiler_0_3", 20, {"enzyme": True}, 56),
        ("rye", "broiler_3_6", 5, {"enzyme": True}, 20),
        ("faba_coloured", "hen_brown_110", 5, {"varieties": {"faba_beans": "low_vicine"}}, 15),
        ("peas_field", "hen_brown_110", 40, {"varieties": {"field_peas": "white"}}, 40),
        ("faba_low_tannin", "broiler_3_6", 25, {}, 25),
        ("faba_coloured", "broiler_3_6", 23, {}, 23),
    ],
)
def test_enzyme_and_variety_of_the_shipped_library(
    feed: str, stage: str, without: float, said: dict[str, object], stated: float
) -> None:
    assert cap_of(feed, stage) == without
    assert cap_of(feed, stage, **said) == stated


@pytest.mark.parametrize("stage", [s for s in STAGES if s.species in ("turkey", "duck")], ids=lambda stage: stage.stage)
def test_turkeys_and_ducks_take_no_cap_of_chickens(stage: Stage) -> None:
    for limit in rows_that_cap(stage, LIBRARY):
        assert not limit.row.scope.startswith("broiler"), limit.row
        for row in limit.trials.decided if limit.trials else ():
            assert any(scope.startswith(stage.species) for scope in row.scopes), row
    assert not any(scope.startswith(("broiler", "layer")) for scope in own_scopes(stage))


@pytest.mark.parametrize("stage", STAGES, ids=lambda stage: stage.stage)
def test_nothing_recalled_wins_over_a_trial(stage: Stage) -> None:
    """Where trials make a cap, no row from memory but a law stands lower, and none stands in its place."""
    limits = rows_that_cap(stage, LIBRARY)
    for word, rows in LIBRARY.trials.items():
        if cap_from_trials(rows, stage, feed=word) is None:
            continue
        for limit in limits:
            if limit.row.feed == word and limit.row.how == "memory":
                assert limit.row.evidence == "legal_max", limit.row


def advice(max_pct: float, how: str = "common practice", safety: str = "no", scope: str = "layer") -> FeedLimit:
    return FeedLimit(
        feed="rye", scope=scope, max_pct=max_pct, evidence="practice", safety=safety, reason="", source="x", how=how
    )


@pytest.mark.parametrize(
    ("rows", "only_raises", "most"),
    [
        ([advice(5)], False, [20]),  # practice does not lower what was seen
        ([advice(50)], False, [20]),  # nor raise it where a loss was seen
        ([advice(50)], True, [50]),  # it may go further than trials that saw no loss
        ([advice(50, "memory")], True, [20]),  # memory may not
        ([advice(5, "memory", "yes")], False, [20]),
        ([advice(5, safety="yes")], False, [20, 5]),  # safety holds beside a trial
        ([advice(5, safety="yes", scope="poultry")], False, [20, 5]),
    ],
)
def test_what_stands_beside_a_cap_from_trials(rows: list[FeedLimit], only_raises: bool, most: list[float]) -> None:
    cap = TrialCap(10, 20, 40, (trial(20, "no_effect"),), (trial(40, "loss"),), (trial(40, "loss"),))
    chosen = choose_rows(rows, HEN, as_limit("rye", cap, "layer"), only_raises=only_raises)
    assert [row.max_pct for row in chosen] == most


@pytest.mark.parametrize("stage", STAGES, ids=lambda stage: stage.stage)
def test_no_cap_from_trials_lets_a_ration_into_the_net_for_implausible_ones(stage: Stage) -> None:
    nets = {row.measure: row for row in LIBRARY.plausible if row.scope == "all"}
    for scope in reversed(stage.scopes):
        nets |= {row.measure: row for row in LIBRARY.plausible if row.scope == scope}
    caps: dict[str, float] = {}
    for limit in rows_that_cap(stage, LIBRARY):
        caps[limit.row.feed] = min(limit.row.max_pct, caps.get(limit.row.feed, 100.0))
    made = {limit.row.feed for limit in rows_that_cap(stage, LIBRARY) if limit.trials}
    assert [word for word in made & set(nets) if caps[word] > nets[word].at_most_pct] == []


def test_rows_that_count_have_a_level_and_a_source_and_were_read() -> None:
    for row in RAW:
        assert row["source"] in LIBRARY.sources, row["trial"]
        assert LIBRARY.sources[row["source"]].citation
        assert row["how"] in ("page", "abstract", "memory")
        if row["use"] == "cap":
            assert float(row["level_pct"]) > 0 and row["how"] != "memory", row["trial"]
        else:
            assert row["note"], f"{row['trial']} does not count and does not say why"
        if row["outcome"] in ("loss", "toxic"):
            assert row["yield_kept"] == "no", row["trial"]
    assert not any(row.evidence == "trial" for rows in LIBRARY.feed_limits.values() for row in rows)


def test_the_words_of_a_cap_say_what_the_next_step_brings() -> None:
    cap = cap_from_trials(LIBRARY.trials["field_peas"], LIBRARY.stages["broiler_3_6"], feed="field_peas")
    assert cap.cap_pct == 25
    assert "36 % no effect" in words(cap) and "40 % loss" in words(cap)


@pytest.mark.parametrize("stage", STAGES, ids=lambda stage: stage.stage)
def test_raw_legumes_together_are_capped_and_leave_room_for_what_two_trials_held(stage: Stage) -> None:
    limits = rows_that_cap(stage, LIBRARY)
    joint = [limit for limit in limits if limit.row.feed == "raw_legumes"]
    assert len(joint) == 1 and joint[0].row.evidence == "joint"
    for limit in limits:
        if limit.trials and limit.members < joint[0].members:
            noted = limit.trials.noted_above_pct
            rows = [row for row in counted(limit.row.feed, stage) if row["yield_kept"] == "yes"]
            if len({row["source"] for row in rows if float(row["level_pct"]) >= noted}) > 1:
                assert joint[0].row.max_pct >= noted, limit.row.feed
