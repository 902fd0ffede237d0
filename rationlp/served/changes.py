"""What a saved book changes in the rations, in the words of the page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rationlp.book.records import Settings
from rationlp.book_units import units_of
from rationlp.rations.answer.model import Ration
from rationlp.reasons import HEADLINES, Severity


@dataclass(frozen=True, slots=True)
class RationTold:
    """A ration as far as a change of it is told: its verdict, what it costs as printed, what is in it."""

    stage: str
    bin: str
    label: str
    severity: Severity
    cost: str
    feeds: tuple[str, ...]

    @property
    def name(self) -> str:
        """The animals, and the bin where there is one."""
        return f"{self.label} from {self.bin}" if self.bin else self.label


def told(rations: Iterable[Ration], settings: Settings) -> tuple[RationTold, ...]:
    """The rations as they may be told later; those whose calculation failed are left out."""
    units = units_of(settings)
    return tuple(
        RationTold(
            made.stage,
            made.bin,
            made.stage_label,
            made.verdict.severity,
            f"{units.price(made.cost_per_tonne)} {units.per_mass}",
            tuple(line.label for line in made.mix if line.share > 0),
        )
        for made in rations
        if not made.failure
    )


def changes(before: Sequence[RationTold], now: Sequence[RationTold]) -> tuple[str, ...]:
    """A sentence for each ration that is not as it was, those first whose verdict is another."""
    old = {(each.stage, each.bin): each for each in before}
    new = {(each.stage, each.bin): each for each in now}
    verdicts, others = [], []
    for key, each in new.items():
        was = old.get(key)
        if was is None:
            others.append(f"{each.name}: a new ration, {each.cost}.")
        elif was.severity != each.severity:
            verdicts.append(_changed(was, each))
        elif (was.cost, sorted(was.feeds)) != (each.cost, sorted(each.feeds)):
            others.append(_changed(was, each))
    gone = [f"{each.name}: not asked for any more." for key, each in old.items() if key not in new]
    return (*verdicts, *others, *gone)


def _changed(was: RationTold, now: RationTold) -> str:
    parts = []
    if was.severity != now.severity:
        parts.append(f"{HEADLINES[now.severity]} (before: {HEADLINES[was.severity]})")
    if was.cost != now.cost:
        parts.append(f"{now.cost} (before: {was.cost})")
    if more := [feed for feed in now.feeds if feed not in was.feeds]:
        parts.append(f"now with {', '.join(more)}")
    if less := [feed for feed in was.feeds if feed not in now.feeds]:
        parts.append(f"without {', '.join(less)}")
    return f"{now.name}: {'; '.join(parts)}."
