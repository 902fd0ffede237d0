"""What people call the units of mass, length and test weight: `#`, `pounds`, `50 lb bag`, `lb per bu`."""

from __future__ import annotations

import re

from rationlp.units import COMPOSITION_UNITS, DAILY_UNITS

TYPED = {
    "metric": {"mass": "1.5 t or 800 g", "length": "6.2 m or 320 cm", "density": "72 kg/hl or 720 kg/m3"},
    "us": {"mass": "1.5 tons or 50 lb", "length": "20 ft or 14' 6\"", "density": "56 lb/bu or 45 lb/ft3"},
}
"""Measures with their units as people of each kind of book type them."""
BUSHEL = "bu"
BAG = "bag"

_MASS = {
    "kg": "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes",
    "g": "g gm gms gr gram grams gramme grammes",
    "t": "t tonne tonnes metricton metrictons metrictonne metrictonnes mt",
    "lb": "lb lbs # #s lb# pound pounds",
    "oz": "oz ounce ounces",
    "cwt": "cwt hundredweight hundredweights cwts",
    "quintal": "quintal quintals qtl qtls q",
    "ton": "ton tons tn tns shortton shorttons uston ustons stn",
    BUSHEL: "bu bus bushel bushels bsh bsh. bshl",
    BAG: "bag bags sack sacks package packages pkg pkgs tote totes pail pails drum drums",
}
_LENGTH = {
    "m": "m metre metres meter meters mtr mtrs",
    "cm": "cm cms centimetre centimetres centimeter centimeters",
    "mm": "mm",
    "ft": "ft foot feet '",
    "in": "in inch inches ins",
}
_DENSITY = {
    "kg/m3": "kg/m3 kg/m\u00b3 kg/m^3 kg/cum kgm-3 kgm3 kg/cubicmetre kg/cubicmeter g/l g/litre g/liter",
    "kg/hl": "kg/hl kgs/hl kghl hl kg/hectolitre kg/hectoliter",
    "kg/l": "kg/l kg/litre kg/liter t/m3 t/m\u00b3 t/m^3 g/ml g/cm3 g/cc",
    "lb/bu": "lb/bu lbs/bu #/bu lb/bushel lbs/bushel pounds/bushel pound/bushel lb lbs # pounds lbbu",
    "lb/ft3": "lb/ft3 lbs/ft3 lb/cuft lbs/cuft lb/ft\u00b3 lbs/ft\u00b3 pcf lb/cubicfoot",
}
_PRICED = re.compile(
    r"^(?:[^\w\s]|[A-Z]{3})?\s*(?:/|per |an? |one |each(?: |$)|ea\.?(?: |$))\s*",
    re.IGNORECASE,
)
"""What stands between a price and what it is for."""
PRICE_PER = re.compile(
    r"(?P<price>.*\d.*?)\s*(?:/|\bper\b|\bfor\b|\ban?\b|@|(?=\bea(?:ch|\.|$)))\s*(?P<per>[^\d/].*|\d.*[a-z#].*)",
    re.IGNORECASE,
)
"""A price and what it is for: `$365/ton`, `6.25 per 50 lb bag`."""
_PER = re.compile(r"\s*(?:/|\bper\b|\ba\b)\s*", re.IGNORECASE)


HEADS = re.compile(
    r"(?<=\d)\s*(?:head|hd|animals?|pigs?|hogs?|sows?|gilts?|boars?|piglets?|weaners?|growers?|finishers?|porkers?"
    r"|baconers?|birds?|hens?|layers?|chooks?|chickens?|pullets?|chicks?|broilers?|turkeys?|poults?|toms?|ducks?|ducklings?)\.?$",
    re.IGNORECASE,
)
"""What is counted, behind the number of head."""
_COMPOSITION = {
    "percent": "%",
    "pct": "%",
    "partspermillion": "ppm",
    "partsperbillion": "ppb",
}
_MICROGRAMS = re.compile(r"^(?:mcg|\u00b5g|\u03bcg)(?=/|$)")
_PER_MASS = re.compile(r"(?<=[a-z])per(?=(?:kg|lb|pound|tonne|ton|t)s?$)")


_OF_FIGURES = frozenset(unit.casefold() for unit in (*COMPOSITION_UNITS, *DAILY_UNITS))


def priced_for(text: str) -> str:
    """What a price is for with its number: `1 t` of `$/t`, `per t` and `t`, `50 lb` of `50 lb bag (1 bag)`; of a ton
    whose mass stands in brackets that mass."""
    text = _PRICED.sub("", text)
    in_brackets = re.fullmatch(r"(?P<before>[^()]+?)\s*\((?P<within>[^()]+)\)", text)
    if in_brackets:
        text = next((part for part in in_brackets.groups() if part[0].isdigit()), text)
    if not text:
        return f"1 {BAG}"  # a price each
    return text if any(letter.isdigit() for letter in text) else f"1 {text}"


def composition_unit(text: str) -> str:
    """The unit of a figure of composition in small letters, as the tables of units spell it; else the text."""
    word = _MICROGRAMS.sub("ug", _PER_MASS.sub("/", text.replace(" ", "").casefold()))
    if word.endswith(("/lb.", "/lbs", "/pound", "/pounds")):
        word = f"{word[: word.index('/')]}/lb"
    return _COMPOSITION.get(word, word)


def is_figure_unit(text: str) -> bool:
    """Whether `text` is a unit of a figure of composition or of a daily amount."""
    return composition_unit(text) in _OF_FIGURES


def mass_unit(text: str) -> str:
    """The unit of mass that `text` names, of rationlp.units or BUSHEL or BAG; `lb bag` is lb. Raises KeyError."""
    words = re.sub(r"[.\-/]", " ", text.casefold()).split()
    if len(words) > 1 and words[-1] in _MASS[BAG].split():
        words = words[:-1]
    return _unit("".join(words), _MASS)


def length_unit(text: str) -> str:
    """The unit of length that `text` names. Raises KeyError."""
    return _unit(_bare(text), _LENGTH)


def density_unit(text: str) -> str:
    """The unit of test weight that `text` names; pounds alone are per bushel. Raises KeyError."""
    return _unit(_bare(_PER.sub("/", text)), _DENSITY)


def _unit(word: str, units: dict[str, str]) -> str:
    for unit, words in units.items():
        if word in words.split():
            return unit
    raise KeyError(word)


def _bare(text: str) -> str:
    return text.casefold().replace(" ", "").replace(".", "")
