"""What the farm's own rows ask less of than the library does: told by what the mix then holds."""

from __future__ import annotations

from collections.abc import Iterator

from rationlp.figures import nutrient_label
from rationlp.library.read import Library
from rationlp.numbers import figure
from rationlp.rations.answer.mix import Mix
from rationlp.reasons import Kind, Reason, Severity
from rationlp.stages.own_rows import is_far_under


def far_under_the_table(mix: Mix, library: Library) -> Iterator[Reason]:
    """A question for each nutrient of which the mix meets the farm's own minimum and lies far under the library's."""
    for need in mix.formula.stage.lowered:
        low, _ = mix.bounds(need)
        gives = sum(share * candidate.values.get(need.nutrient, 0.0) for share, candidate in mix.used)
        if low is None or not is_far_under(gives, need, low):
            continue
        yield Reason(
            Kind.REQUIREMENT,
            Severity.ASK,
            f"{nutrient_label(need.nutrient, library)} is {figure(gives)} {need.unit}: the farm's own minimum is met, "
            f"but the library's is {figure(low)}. Look at the decimal point on own_stages, or have a nutritionist "
            "confirm it.",
            nutrient=need.nutrient,
            unit=need.unit,
            value=gives,
            limit=low,
            source=need.source,
        )
