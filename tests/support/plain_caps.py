"""The caps on feeds of one stage, read from `trials.csv` and `feed_limits.csv` by the rules of feed_library/README.md.

For a farm that states no enzyme and no varieties. Written apart from rationlp/library/trial_caps.py and
which_limits.py, for `plain_check.py`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

Row = Mapping[str, str]
Words = Mapping[str, Sequence[Row]]
ADVICE = ("recommended", "rule_of_thumb", "practice", "joint")
CLEAR = ("loss", "toxic")
LENDERS = {"chick": "broiler", "pullet": "broiler", "breeder": "layer", "breeder_holding": "layer"}
"""By kind of animal the kind whose scope it only borrows."""


def caps(
    stage: Row, jurisdiction: str, families: Words, limits: Words, trials: Words
) -> Iterator[tuple[str, frozenset[str], float]]:
    """What each cap is, the feeds it speaks of, and percent of the mix at most, from the rows of each word."""
    found = []
    for word in dict.fromkeys((*limits, *trials)):
        members = frozenset(row["feed"] for row in families.get(word, ())) or frozenset({word})
        rows = [row for row in limits.get(word, ()) if _applies(row, stage, jurisdiction)]
        tried, any_loss = _of_trials(trials.get(word, ()), stage)
        for evidence, safety, most in _together(rows, tried, any_loss, stage):
            found.append((word, members, evidence, safety, most))
    own = [members for _, members, evidence, _, _ in found if evidence == "trial"]
    for word, members, evidence, safety, most in found:
        if evidence not in ("legal_max", "joint") and not safety:  # members with trials of their own go by these
            members = members.difference(*(narrow for narrow in own if narrow < members))
        if members:
            yield f"{word} ({evidence})", members, most


def _applies(row: Row, stage: Row, jurisdiction: str) -> bool:
    place = not row["jurisdiction"] or jurisdiction in row["jurisdiction"].split()
    variety = not row["variety"] or row["variety"].startswith("not:")
    return bool(row["max_pct"] and place and variety and not row["certification"] and row["scope"] in _scopes(stage))


def _scopes(stage: Row) -> list[str]:
    """The scopes whose caps count: turkeys and ducks take none from broilers."""
    scopes = stage["scopes"].split()
    return scopes if stage["species"] == "chicken" else [s for s in scopes if not s.startswith("broiler")]


def _own_scopes(stage: Row) -> set[str]:
    scopes = stage["scopes"].split()
    if stage["species"] in ("turkey", "duck"):
        return {scope for scope in scopes if scope.startswith(stage["species"])}
    lender = LENDERS.get(stage["kind"])
    return {scope for scope in scopes if lender is None or not scope.startswith(lender)}


def _together(
    rows: Sequence[Row], tried: float | None, any_loss: bool, stage: Row
) -> Iterator[tuple[str, bool, float]]:
    """Evidence, whether for safety, and percent of each cap on one word."""
    law = [
        ("legal_max", row["safety"] == "yes", float(row["max_pct"])) for row in rows if row["evidence"] == "legal_max"
    ]
    yield from law
    if tried is None:
        yield from _advice(rows, stage)
        return
    seen = [row for row in rows if row["how"] != "memory" or row["evidence"] == "legal_max"]
    further = list(_advice(seen, stage)) or law
    if not any_loss and further and min(most for *_, most in further) >= tried:
        yield from (cap for cap in further if cap not in law)
        return
    yield "trial", False, tried
    safe = [row for row in seen if row["safety"] == "yes" and row["evidence"] != "legal_max"]
    yield from (cap for cap in _advice(safe, stage) if cap[2] < tried)


def _advice(rows: Sequence[Row], stage: Row) -> Iterator[tuple[str, bool, float]]:
    """The lowest advice of the nearest scope that has any cap."""
    for scope in _scopes(stage):
        here = [row for row in rows if row["scope"] == scope]
        if here:
            advice = [row for row in here if row["evidence"] in ADVICE]
            for row in sorted(advice, key=lambda row: float(row["max_pct"]))[:1]:
                yield row["evidence"], row["safety"] == "yes", float(row["max_pct"])
            return


def _of_trials(rows: Sequence[Row], stage: Row) -> tuple[float | None, bool]:
    """The cap that trials of this kind of animal make, percent, None where they make none; whether one lost yield."""
    here = [
        (float(row["level_pct"]), row)
        for row in rows
        if row["use"] == "cap"
        and set(row["scopes"].split()) & _own_scopes(stage)
        and not row["variety"]
        and row["enzyme"] != "yes"
    ]
    good = {(level, row["source"]) for level, row in here if row["yield_kept"] == "yes"}
    bounds = []
    for source in {row["source"] for _, row in here}:
        clear = [level for level, row in here if row["source"] == source and row["outcome"] in CLEAR]
        if clear:
            below = {at for at in good if at[0] < min(clear)}
            bounds.append(max((level for level, of in below if of == source), default=None) or _top(below))
    for level, row in here:
        if row["outcome"] == "small_loss" and row["yield_kept"] == "no":
            lost = {r["source"] for at, r in here if r["yield_kept"] == "no" and at <= level}
            if len({of for at, of in good if at >= level} - lost) <= len(lost):
                below = {at for at in good if at[0] < level}
                bounds.append(round((_top(below) + level) / 2, 1) if below else -1.0)
    fits = [at for at in (*(at for at, _ in good), *bounds) if at <= min(bounds, default=at)]
    fits = [at for at in fits if any(level <= at for level, _ in good)]
    if not fits:
        return None, False
    cap = max(fits)
    lost_above = any(
        level > cap and (row["outcome"] in CLEAR or (row["outcome"] == "small_loss" and row["yield_kept"] == "no"))
        for level, row in here
    )
    return cap, bool(bounds) and lost_above


def _top(levels: set[tuple[float, str]]) -> float:
    return max((level for level, _ in levels), default=-1.0)
