"""Cells that hold the name of somebody who answers for something: who approved a limit, who released a bin."""

from __future__ import annotations

import re

NOBODY = frozenset({"no", "none", "nobody", "not", "yet", "na", "tbd", "tba", "pending", "waiting", "open", "unknown"})
NOBODY |= {"yes", "ok", "okay", "done", "released", "approved"}
"""Words that people write into such a cell and that name nobody (a judgement)."""


def names_somebody(text: str) -> bool:
    """Whether a cell names somebody: a word of at least two letters that is no word for nobody.

    `no` beside a bin on hold means that nobody released it, and `x` is nobody's name.
    """
    words = re.findall(r"[^\W\d_]{2,}", text)
    return any(word.casefold() not in NOBODY for word in words)
