"""A stage of which a new sample says nothing, and why."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class NotJudged:
    """A stage whose old mix cannot be judged, and why; `can_be_met` says whether the bin makes a ration for it now,
    `failed` that its calculation did not stand up to the check."""

    stage: str
    why: str
    can_be_met: bool
    failed: bool = False

    @property
    def now(self) -> str:
        """What can be fed now, in words."""
        if self.failed:
            return "nothing is known of it now"
        return "a ration can be made now" if self.can_be_met else "no ration may be fed now"
