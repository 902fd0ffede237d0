"""Nutrients that follow from others: digestible parts and sums."""

from __future__ import annotations

from collections.abc import Mapping

from rationlp.library.records import Nutrient


def with_derived(stored: Mapping[str, float], nutrients: Mapping[str, Nutrient]) -> dict[str, float]:
    """`stored` and every nutrient that its parts determine; a stored figure beats a derived one.

    A digestible amount is the nutrient times its coefficient (SID amino acids and STTD phosphorus: NRC Nutrient
    Requirements of Swine 2012, definitions); a sum is that of its parts, each times its weight. A nutrient of which a
    part is missing stays missing. All values are on one basis, coefficients in percent of the nutrient.
    """
    values = dict(stored)
    for nutrient in nutrients.values():  # table order: parts stand above what is made of them
        if nutrient.nutrient in values:
            continue
        if nutrient.part_of and nutrient.part_of in values and nutrient.coefficient in values:
            values[nutrient.nutrient] = values[nutrient.part_of] * values[nutrient.coefficient] / 100
        elif nutrient.sum_of and all(part in values for part in nutrient.sum_of):
            values[nutrient.nutrient] = sum(weight * values[part] for part, weight in nutrient.parts.items())
    return values


def depends_on(nutrient_id: str, nutrients: Mapping[str, Nutrient]) -> set[str]:
    """The nutrients whose figures a nutrient is made of, itself included."""
    found = {nutrient_id}
    nutrient = nutrients.get(nutrient_id)
    if nutrient is not None:
        for part in (*nutrient.sum_of, nutrient.part_of, nutrient.coefficient):
            if part:
                found |= depends_on(part, nutrients)
    return found
