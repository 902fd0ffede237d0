"""What the rations of a farm ask of the grain of one bin."""

from __future__ import annotations

from rationlp.errors import RationlpError
from rationlp.farm import Farm
from rationlp.rations.formulate import formulate


def asked_of_bin(farm: Farm, bin_id: str) -> tuple[dict[str, float], str]:
    """What the binding requirements of the farm's groups ask of the bin's grain: the least content as fed, by nutrient.

    Empty if there are no groups; empty with the reason, in a sentence, if no ration can be calculated.
    """
    if not farm.book.groups:
        return {}, ""
    try:
        rations = formulate(farm, bins=[bin_id])
    except RationlpError as error:
        return {}, f"Rations of bin {bin_id} cannot be calculated, so the usual nutrients are taken: {error}"
    asked: dict[str, float] = {}
    for ration in rations:
        share = next((line.share for line in ration.mix if line.offer == bin_id), 0.0)
        for line in ration.requirements:
            bound = line.minimum if line.binding == "minimum" else line.maximum
            if line.binding and bound and share > 0:
                asked[line.nutrient] = min(asked.get(line.nutrient, float("inf")), bound / share)
    return asked, ""
