"""Answers as pandas frames: for CSV, and for people who go on in Python."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from rationlp.files import csv_text
from rationlp.numbers import figure
from rationlp.rations.answer.model import Ration

if TYPE_CHECKING:
    import pandas as pd

    from rationlp.bins import BinEstimate
    from rationlp.bins.precision import SamplingAdvice

BIN_COLUMNS = [
    "bin",
    "part",
    "name",
    "label",
    "unit",
    "value",
    "sd",
    "sorted",
    "sorted_sd",
    "assay",
    "assay_sd",
    "from",
]


def ration_frames(rations: Sequence[Ration]) -> dict[str, pd.DataFrame]:
    """Rations as tidy tables, one for each question. Shares are 0 to 1, money is per metric tonne.

    summary : a row a ration; mix : a row an ingredient; requirements, limits, ratios : a row a bound; reasons : a row a
    thing said of a ration (`kind` finding, warning, note, caution, shortfall, conflict, remedy).
    """
    import pandas as pd

    tables = {
        "summary": _summary,
        "mix": _mix,
        "requirements": _requirements,
        "limits": _limits,
        "ratios": _ratios,
        "reasons": _reasons,
    }
    frames = {}
    for name, rows_of in tables.items():
        rows = [{**_head(ration), **row} for ration in rations for row in rows_of(ration)]
        frames[name] = pd.DataFrame(rows, columns=None if rows else list(_HEAD))
    return frames


_HEAD = ("stage", "bin", "bins")


def _head(ration: Ration) -> dict[str, Any]:
    return {"stage": ration.stage, "bin": ration.bin, "bins": ration.bins}


def _summary(ration: Ration) -> Iterator[dict[str, Any]]:
    yield {
        "stage_label": ration.stage_label,
        "status": str(ration.status),
        "verdict": str(ration.verdict.severity),
        "probability_all": ration.verdict.probability_all,
        "objective": ration.objective,
        "cost_per_tonne": ration.cost_per_tonne,
        "cost_per_gcal": ration.cost_per_gcal,
        "home_grown_share": ration.home_grown_share,
        "energy_kcal_kg": ration.energy_kcal_kg,
        "feed_kg_per_head_per_day": ration.feed_kg_per_head_per_day,
    }


def _mix(ration: Ration) -> Iterator[dict[str, Any]]:
    for line in ration.mix:
        yield {
            "offer": line.offer,
            "feed": line.feed,
            "label": line.label,
            "share": line.share,
            "kg_per_tonne": 1000 * line.share,
            "price_per_tonne": line.price_per_tonne,
            "cost_per_tonne": line.share * line.price_per_tonne,
            "reduced_cost": line.reduced_cost,
        }


def _requirements(ration: Ration) -> Iterator[dict[str, Any]]:
    for line in ration.requirements:
        yield {
            "nutrient": line.nutrient,
            "label": line.label,
            "unit": line.unit,
            "minimum": line.minimum,
            "maximum": line.maximum,
            "supplied": line.gives,
            "meets": line.meets,
            "binding": line.binding and str(line.binding),
            "shadow_price": line.shadow_price,
            "shadow_price_of": line.shadow_price_of,
            "sd": line.sd,
            "probability": line.probability,
            "kind": line.kind,
            "basis": line.basis,
            "source": line.source,
        }


def _limits(ration: Ration) -> Iterator[dict[str, Any]]:
    for line in ration.limits:
        yield {
            "feed": line.feed,
            "label": line.label,
            "minimum_share": _share(line.min_pct),
            "maximum_share": _share(line.max_pct),
            "share": line.gives_pct / 100,
            "binding": line.binding,
            "shadow_price_of_percent": line.shadow_price,
            "shadow_price_of": line.shadow_price_of,
            "safety": line.safety,
            "reason": line.reason,
            "source": line.source,
        }


def _ratios(ration: Ration) -> Iterator[dict[str, Any]]:
    for line in ration.ratios:
        yield {
            "numerator": line.numerator,
            "denominator": line.denominator,
            "label": line.label,
            "unit": line.unit,
            "minimum": line.minimum,
            "maximum": line.maximum,
            "supplied": line.gives,
            "meets": line.meets,
            "table": line.table,
            "shadow_price": line.shadow_price,
            "shadow_price_of": line.shadow_price_of,
            "source": line.source,
        }


def _reasons(ration: Ration) -> Iterator[dict[str, Any]]:
    for reason in ration.verdict.reasons:
        yield {
            "kind": str(reason.kind),
            "verdict": str(reason.severity),
            "text": reason.text,
            "nutrient": reason.nutrient,
            "feed": reason.feed,
            "unit": reason.unit,
            "value": reason.value,
            "limit": reason.limit,
            "source": reason.source,
        }
    for kind, texts in (
        ("finding", ration.findings),
        ("warning", ration.warnings),
        ("conflict", ration.conflict),
        ("note", ration.notes),
        ("caution", ration.cautions),
    ):
        yield from ({"kind": kind, "text": text} for text in texts)
    for short in ration.shortfalls:
        side = "at least" if short.side == "minimum" else "at most"
        text = f"{short.label} supplies {figure(short.gives)} {short.unit}; {side} {figure(short.needs)} is needed."
        yield {
            "kind": "shortfall",
            "text": text,
            "nutrient": short.nutrient,
            "unit": short.unit,
            "value": short.gives,
            "limit": short.needs,
        }
    for remedy in ration.remedies:
        yield {"kind": "remedy", "text": remedy.label, "feed": remedy.feed, "limit": remedy.share}


def _share(percent: float | None) -> float | None:
    return None if percent is None else percent / 100


def ration_frame(rations: Sequence[Ration]) -> pd.DataFrame:
    """The tables of `ration_frames` one below the other, `table` saying which; what a table lacks is empty."""
    import pandas as pd

    frames = [frame.assign(table=name) for name, frame in ration_frames(rations).items() if len(frame)]
    if not frames:
        return pd.DataFrame(columns=["table", *_HEAD])
    columns = list(dict.fromkeys(column for frame in frames for column in frame.columns))
    rows = [row for frame in frames for row in frame.to_dict("records")]
    first = ["table", *(column for column in columns if column != "table")]
    return pd.DataFrame(rows, columns=first).drop(columns="bins")


def csv_of(frame: pd.DataFrame) -> str:
    """A frame as CSV whose texts a spreadsheet program reads as text (see `csv_text`); numbers stay as they are."""
    texts = frame.select_dtypes(include=["object", "string"]).columns
    safe = {name: frame[name].map(lambda value: csv_text(value) if isinstance(value, str) else value) for name in texts}
    return frame.assign(**safe).to_csv(index=False)


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


def _bin_rows(estimate: BinEstimate) -> list[list[object]]:
    head = estimate.bin
    rows: list[list[object]] = [
        [
            head,
            "bin",
            "tonnes",
            "Tonnes",
            "t",
            estimate.tonnes,
            estimate.tonnes_sd,
            None,
            None,
            None,
            None,
            estimate.tonnes_from,
        ],
        [
            head,
            "bin",
            "dry_matter",
            "Dry matter",
            "%",
            estimate.dry_matter_pct,
            estimate.dry_matter_sd,
            None,
            None,
            None,
            None,
            estimate.moisture_from,
        ],
    ]
    for c in estimate.crops:
        found = [c.share, c.sd, c.sorted_share, c.sorted_sd, None, None, ""]
        rows.append([head, "crop", c.crop, c.label, "share", *found])
    for n in estimate.nutrients:
        rows.append(
            [
                head,
                "nutrient",
                n.nutrient,
                n.label,
                n.unit,
                n.value,
                n.sd,
                n.from_sort,
                n.from_sort_sd,
                n.assay,
                n.assay_sd,
                n.origin,
            ]
        )
    a = estimate.agreement
    rows.append([head, "agreement", str(a.verdict), a.sentence, "", a.p_value, None, None, None, None, None, a.sample])
    for f in estimate.notices_by_weight:
        rows.append([head, "finding", str(f.severity), f.text, "", None, None, None, None, None, None, f.source])
    return rows
