"""Answers as pandas frames: for CSV, and for people who go on in Python."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rationlp.bins import BinEstimate
from rationlp.rations.model import Ration

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = ["stage", "bin", "status", "part", "name", "label", "unit", "value", "minimum", "maximum", "meets", "price"]


def ration_frame(rations: Sequence[Ration]) -> pd.DataFrame:
    """Every ration in long form.

    `part` says what a row is: cost, mix (value is the share in %, price per tonne), requirement (price is the shadow
    price), limit, shortfall (value is what the mix gives), finding or caution (the text is the label).
    """
    import pandas as pd

    return pd.DataFrame([row for ration in rations for row in _rows(ration)], columns=COLUMNS)


def _rows(ration: Ration) -> list[list]:
    head = [ration.stage, ration.bin, ration.status]
    rows = [
        [*head, "cost", "cost_per_tonne", "Cost per tonne", "", ration.cost_per_tonne, None, None, None, None],
        [*head, "cost", "cost_per_gcal", "Cost per Gcal", "", ration.cost_per_gcal, None, None, None, None],
        [*head, "cost", "home_grown_share", "Home-grown share", "", ration.home_grown_share, None, None, None, None],
    ]
    for m in ration.mix:
        rows.append([*head, "mix", m.offer, m.label, "%", 100 * m.share, None, None, None, m.price_per_tonne])
    for r in ration.requirements:
        rows.append([*head, "requirement", r.nutrient, r.label, r.unit, r.gives, r.minimum, r.maximum, r.meets, r.shadow_price])
    for c in ration.limits:
        rows.append([*head, "limit", c.feed, c.reason, "%", c.gives_pct, c.min_pct, c.max_pct, None, c.shadow_price])
    for s in ration.shortfalls:
        bounds = (s.needs, None) if s.side == "minimum" else (None, s.needs)
        rows.append([*head, "shortfall", s.nutrient, s.label, s.unit, s.gives, *bounds, False, None])
    for part, texts in (("finding", ration.findings), ("note", ration.notes), ("caution", ration.cautions)):
        rows += [[*head, part, "", text, "", None, None, None, None, None] for text in texts]
    return rows


def bin_frame(estimates: Sequence[BinEstimate]) -> pd.DataFrame:
    """Every bin in long form: its crops (shares) and its nutrients as fed."""
    import pandas as pd

    rows = []
    for estimate in estimates:
        rows += [[estimate.bin, "crop", c.crop, c.label, "share", c.share, "hand sort"] for c in estimate.crops]
        rows += [[estimate.bin, "nutrient", n.nutrient, n.label, n.unit, n.value, n.origin] for n in estimate.nutrients]
    return pd.DataFrame(rows, columns=["bin", "part", "name", "label", "unit", "value", "from"])
