"""The least share of a mix that is worth weighing into a batch."""

from __future__ import annotations

from rationlp.book.records import Settings

LEAST_STEPS = 20
"""Nothing lighter than so many steps of a scale belongs on it (memory:NIST Handbook 44, class III minimum load)."""


def least_kg(farm: Settings) -> float:
    """What the book says is worth weighing by hand, in kg, else LEAST_STEPS of the hand scale."""
    return LEAST_STEPS * farm.hand_scale_step_kg if farm.hand_least_kg is None else farm.hand_least_kg


def least_share(farm: Settings) -> float:
    """The same as a share of a batch, 0 to 1."""
    return min(least_kg(farm) / farm.batch_kg, 1.0)
