"""Answers as pandas frames: for CSV, and for people who go on in Python."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rationlp.rations.answer.model import Ration

if TYPE_CHECKING:
    import pandas as pd

    from rationlp.bins import BinEstimate, SamplingAdvice

BIN_COLUMNS = [
    "bin", "part", "name", "label", "unit", "value", "sd", "sorted", "sorted_sd", "assay", "assay_sd", "from",
]  # fmt: skip

COLUMNS = ["stage", "bin", "status", "part", "name", "label", "unit", "value", "minimum", "maximum", "meets", "price"]


def ration_frame(rations: Sequence[Ration]) -> pd.DataFrame:
    """Every ration in long form.

    `part` says what a row is: cost, mix (value is the share in %, price per tonne), requirement (price is the shadow
    price), limit, shortfall (value is what the mix gives), ratio, digestible, finding, warning, note or
    caution (the text is the label).
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
        bounds = (r.minimum, r.maximum, r.meets)
        rows.append([*head, "requirement", r.nutrient, r.label, r.unit, r.gives, *bounds, r.shadow_price])
    for c in ration.limits:
        rows.append([*head, "limit", c.feed, c.reason, "%", c.gives_pct, c.min_pct, c.max_pct, None, c.shadow_price])
    for s in ration.shortfalls:
        bounds = (s.needs, None) if s.side == "minimum" else (None, s.needs)
        rows.append([*head, "shortfall", s.nutrient, s.label, s.unit, s.gives, *bounds, False, None])
    for q in ration.ratios:
        name = f"{q.numerator}:{q.denominator}"
        rows.append([*head, "ratio", name, q.label, q.unit, q.gives, q.minimum, q.maximum, q.meets, q.shadow_price])
    for d in ration.digestible:
        rows.append([*head, "digestible", d.nutrient, d.label, d.unit, d.gives, d.figure, None, d.meets, None])
    for part, texts in (
        ("finding", ration.findings), ("warning", ration.warnings),
        ("note", ration.notes), ("caution", ration.cautions),
    ):  # fmt: skip
        rows += [[*head, part, "", text, "", None, None, None, None, None] for text in texts]
    return rows


def bin_frame(estimates: Sequence[BinEstimate], advice: Sequence[SamplingAdvice] = ()) -> pd.DataFrame:
    """Every bin in long form, as fed.

    `part` says what a row is: bin (tonnes, dry matter), crop (share), nutrient, agreement (value is the p-value), plan
    (value is the half-width in percent that the work in `label` leaves) or finding (the text is the label). `sd` is one
    standard deviation; `sorted` and `sorted_sd` are what hand sort and library say without the assay.
    """
    import pandas as pd

    rows = [row for estimate in estimates for row in _bin_rows(estimate)]
    rows += [
        [found.bin, "plan", plan.nutrient, plan.line(), "%", plan.after_pct, None, plan.now_pct, None, None, None, ""]
        for found in advice
        for plan in found.plans
    ]
    return pd.DataFrame(rows, columns=BIN_COLUMNS)


def _bin_rows(estimate: BinEstimate) -> list[list]:
    head = estimate.bin
    rows: list[list] = [
        [head, "bin", "tonnes", "Tonnes", "t", estimate.tonnes, estimate.tonnes_sd, None, None, None, None,
         estimate.tonnes_from],
        [head, "bin", "dry_matter", "Dry matter", "%", estimate.dry_matter_pct, estimate.dry_matter_sd, None, None,
         None, None, estimate.moisture_from],
    ]  # fmt: skip
    for c in estimate.crops:
        found = [c.share, c.sd, c.sorted_share, c.sorted_sd, None, None, ""]
        rows.append([head, "crop", c.crop, c.label, "share", *found])
    for n in estimate.nutrients:
        rows.append([head, "nutrient", n.nutrient, n.label, n.unit, n.value, n.sd, n.from_sort, n.from_sort_sd, n.assay,
                     n.assay_sd, n.origin])  # fmt: skip
    if estimate.agreement is not None:
        a = estimate.agreement
        rows.append([head, "agreement", a.verdict, a.sentence, "", a.p_value, None, None, None, None, None, a.sample])
    for f in estimate.notices_by_weight:
        rows.append([head, "finding", f.severity, f.text, "", None, None, None, None, None, None, f.source])
    return rows
