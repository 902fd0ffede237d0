"""Which units of the other system stand in a text that a person reads."""

from __future__ import annotations

import re

METRIC = re.compile(r"\d\s?(?:kg|t|tonnes?|km|m|m3|cm|°C|C|mg a day)\b(?!/)|\b(?:USD/t|tonnes?|kg)\b")
US = re.compile(r"\d\s?(?:lb|tons?|ft|ft3|bu|°F|oz)\b|\b(?:USD/ton|short tons?|pounds?|bushels?)\b")
BOTH = re.compile(
    r"\d[\d.,]*(?: to \d[\d.,]*)? (?:kg|g|t) \(\d[\d.,]*(?: to \d[\d.,]*)? (?:lb|oz|short tons?)\)"
    r"|\d+ °C \(\d+ °F\)|450 g \(1 lb\)"
)
"""A measure in both systems may stand anywhere."""
CONCENTRATIONS = re.compile(r"\b(?:mg|g|kcal|Mcal|IU|mEq|ug)/kg\b|per_kg")
"""As laboratories and tables print them, in every book."""


def found(text: str, units: re.Pattern[str]) -> list[str]:
    """Places in a text where a unit stands that this book does not use."""
    plain = CONCENTRATIONS.sub("", BOTH.sub("", text))
    return [plain[max(match.start() - 30, 0) : match.end() + 15] for match in units.finditer(plain)]
