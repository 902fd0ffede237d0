"""How numbers look, and what arrays of them are called."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Floats: TypeAlias = "NDArray[np.float64]"
Places: TypeAlias = "NDArray[np.intp]"
Flags: TypeAlias = "NDArray[np.bool_]"


def largest_first(value: float) -> float:
    """What to sort by for the largest first; what differs by rounding alone stays in its order, on every machine."""
    return -round(value, 9)


def figure(value: float | None, digits: int = 4) -> str:
    """A number with so many significant digits and no exponent; a blank for none."""
    if value is None or not math.isfinite(value):
        return ""
    if value == 0:
        return "0"
    places = max(digits - 1 - math.floor(math.log10(abs(value))), 0)
    text = f"{value:,.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text and places > 2 else text


def plain(value: float | None, digits: int = 4) -> str:
    """The same without zeros behind a decimal point: 14, 0.95, 2,250."""
    text = figure(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def as_typed(value: float) -> str:
    """A number as it may be typed into a cell: six digits, nothing between thousands, no exponent."""
    return plain(value, 6).replace(",", "")


def money(value: float | None, currency: str = "") -> str:
    """Two decimals, thousands apart; no minus before a nought."""
    return "" if value is None else f"{round(value, 2) + 0.0:,.2f} {currency}".rstrip()


def small_money(value: float | None) -> str:
    """What a head costs a day: two decimals, below a tenth two digits (0.0071 for a chick)."""
    return money(value) if value is None or value == 0 or abs(value) >= 0.1 else figure(value, 2)


def p_words(p_value: float) -> str:
    """How likely chance alone goes so far: `p 0.82`, `p under 0.001`."""
    return "p under 0.001" if p_value < 0.001 else f"p {p_value:.2g}"


def percent(share: float | None, places: int = 2) -> str:
    """A share of 0 to 1 in percent."""
    return "" if share is None else f"{100 * share:.{places}f}"
