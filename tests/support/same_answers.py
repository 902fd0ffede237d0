"""Where two answers in JSON are not the same: numbers to a millionth, everything else word for word."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

CLOSE = 1e-6


def differences(one: Any, other: Any, where: str = "") -> Iterator[str]:
    """Where two answers are not the same."""
    if isinstance(one, dict) and isinstance(other, dict) and one.keys() == other.keys():
        for key in one:
            yield from differences(one[key], other[key], f"{where}/{key}")
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for place, (a, b) in enumerate(zip(one, other, strict=True)):
            yield from differences(a, b, f"{where}/{place}")
    elif isinstance(one, int | float) and isinstance(other, int | float):
        if abs(one - other) > CLOSE * max(1.0, abs(one)):
            yield f"{where}: {one} and {other}"
    elif one != other:
        yield f"{where}: {str(one)[:80]!r} and {str(other)[:80]!r}"
