"""Batches against those of the record under their numbers: entered before, put right, or under another's number."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from rationlp.book.records import Settings
from rationlp.errors import Problem
from rationlp.ledger.made_mix import MadeMix
from rationlp.ledger.shape import Batch

Key = tuple[object, ...]
IN_BOOK = "actual!"
"""How the place of a batch begins that stands in the book."""


@dataclass(frozen=True, slots=True)
class Against:
    """`fresh` are the keys of batches to enter, `withdrawn` the numbers that a batch was under before; `problems` are
    numbers of other batches (errors), and what was put right (warnings)."""

    fresh: frozenset[Key]
    withdrawn: tuple[int, ...]
    problems: tuple[Problem, ...]


def against(made: Sequence[MadeMix], known: Mapping[Key, Batch], farm: Settings) -> Against:
    """What of `made` is new to a record that has `known`.

    A number that the record has for another stage, bin or day is no correction but a slip, or an old sheet filled in
    again: the batch would take the other's place. It is one where the other stands now under its own number. A batch
    of the record whose weights are all 0 now was not made.
    """
    fresh, withdrawn, problems = set[Key](), list[int](), list[Problem]()
    numbers = {each.number for each in made}
    for each in made:
        before = known.get(each.key)
        if before is None:
            fresh.add(each.key)
            for other in _renumbered(each, known.values(), numbers):
                withdrawn.append(other.number)
                problems.append(_told(each, f"batch {other.batch}, entered before under that number", "its own number"))
        elif _alike(each, before.made):
            continue
        elif each.number and not each.total_kg:
            withdrawn.append(each.number)
            problems.append(_told(each, f"batch {each.batch} with nothing in it: it was not made", "what was made"))
        elif _corrects(each, before.made) or any(_alike(now, before.made) for now in made if now is not each):
            fresh.add(each.key)
            problems.append(_told(each, f"batch {each.batch}, entered before with other weights", "once"))
        else:
            problems.append(_taken(each, before.made, farm))
    return Against(frozenset(fresh), tuple(withdrawn), tuple(problems))


def same_weights(one: MadeMix, other: MadeMix) -> bool:
    """Whether the same went in: such a batch was judged by what was known when it was made, and stays so judged."""
    weights = one.weighed_kg
    return weights.keys() == other.weighed_kg.keys() and all(
        abs(weights[name] - mass) < 1e-6 for name, mass in other.weighed_kg.items()
    )


def _corrects(now: MadeMix, before: MadeMix) -> bool:
    """Whether this is the batch of before with its weights put right, or a day where there was none."""
    same = (now.stage, now.bins) == (before.stage, before.bins)
    return same and (now.made_on == before.made_on or before.made_on is None)


def _alike(one: MadeMix, other: MadeMix) -> bool:
    return (one.stage, one.bins, one.made_on) == (other.stage, other.bins, other.made_on) and same_weights(one, other)


def _renumbered(now: MadeMix, known: Iterable[Batch], numbers: set[int]) -> Iterable[MadeMix]:
    """The batch that stood in the same rows of the book under a number that is no batch's now."""
    for batch in known:
        before = batch.made
        if (
            before.number
            and before.number not in numbers
            and before.where == now.where
            and now.where.startswith(IN_BOOK)
            and _alike(now, before)
        ):
            yield before


def _told(now: MadeMix, found: str, expected: str) -> Problem:
    do = "What stands here now counts, and it counts once; nothing to do if it was put right."
    sheet, _, cell = now.where.partition("!")
    return Problem("warning", sheet or "actual", cell, found, expected, do)


def _taken(now: MadeMix, before: MadeMix, farm: Settings) -> Problem:
    day = f" of {farm.day(before.made_on)}" if before.made_on else ""
    sheet, _, cell = now.where.partition("!")
    return Problem(
        "error",
        sheet or "actual",
        cell,
        f"the number {now.number}, which in the farm's record is that of {before.stage} {before.bin}{day}",
        "the number on this batch's own label",
        "If it is the same batch, put its day back (each batch has its own, under its column). Another batch goes on a "
        "new sheet, or under its own number. An earlier entry that was wrong: correct it, or enter masses of 0 for it.",
    )
