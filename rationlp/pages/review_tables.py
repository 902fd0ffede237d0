"""The tables of the review copy: headings, widths and rows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rationlp.rations.studies.review import Review

Table = tuple[str, list["Column"], list[Sequence[object]]]


@dataclass(frozen=True, slots=True)
class Column:
    """A heading with its width in characters; `stays` of the first column says how many stay when one scrolls."""

    heading: str
    width: float = 10
    form: str = "General"
    stays: int = 0


MATRIX = "Matrix"
RATION = [Column("Ration", 11, stays=3), Column("Stage", 20), Column("Bin", 10)]
SOURCED = [Column("Source", 36), Column("How obtained", 14), Column("Note", 44)]


def tables_of(review: Review) -> list[Table]:
    """Title, columns and rows of every sheet behind the first."""
    return [
        ("Mixes", _mix_columns(review), list(_mixes(review))),
        ("Requirements", _requirement_columns(review), list(_requirements(review))),
        ("Ratios", _ratio_columns(review), list(_ratios(review))),
        ("Caps", _cap_columns(review), list(_caps(review))),
        ("Duals", _dual_columns(), list(_duals(review))),
        _matrix(review),
        ("Figures", _figure_columns(), list(_figures(review))),
        ("Memory and assumed", _weak_columns(), list(_weak(review))),
        ("Notes", [*RATION, Column("Kind", 12), Column("Text", 120)], list(_notes(review))),
        ("Sources", [Column("Source", 30), Column("Citation", 100), Column("Address", 60)], list(_sources(review))),
    ]


def _heads(review: Review) -> Iterator[tuple[list[str], object]]:
    for reviewed in review.rations:
        yield [reviewed.id, reviewed.ration.stage, reviewed.ration.bin], reviewed.ration


def _mix_columns(review: Review) -> list[Column]:
    currency = review.currency
    return [
        *RATION, Column("Feed", 34), Column("Offer", 16), Column("%", 9, "0.000"), Column(f"{currency}/t", 10, "0.00"),
        Column(f"{currency} in a tonne", 12, "0.00"), Column("Must fall by to come in", 12, "0.00"),
    ]  # fmt: skip


def _mixes(review: Review) -> Iterator[Sequence[object]]:
    for head, ration in _heads(review):
        for m in ration.mix:
            idle = None if m.share else m.reduced_cost
            yield [*head, m.label, m.offer, 100 * m.share, m.price_per_tonne, m.share * m.price_per_tonne, idle]


def _requirement_columns(review: Review) -> list[Column]:
    return [
        *RATION, Column("Nutrient", 30), Column("Unit", 9), Column("Least", 9), Column("Gives", 9), Column("Most", 9),
        Column("Meets", 8), Column("±", 8), Column("Chance %", 9, "0.0"), Column("Binds", 9),
        Column(f"{review.currency}/t a unit", 10), Column("Reckoned", 22), Column("Met by", 9), *SOURCED,
    ]  # fmt: skip


def _requirements(review: Review) -> Iterator[Sequence[object]]:
    for head, ration in _heads(review):
        for r in ration.requirements:
            chance = None if r.probability is None else 100 * r.probability
            yield [*head, r.label, r.unit, r.minimum, r.gives, r.maximum, r.meets, r.sd, chance, r.binding,
                   r.shadow_price or None, r.basis, r.met_by, r.source, r.how, r.note]  # fmt: skip


def _ratio_columns(review: Review) -> list[Column]:
    return [
        *RATION, Column("Ratio or digestible amount", 40), Column("In", 12), Column("Least", 9), Column("Gives", 9),
        Column("Most", 9), Column("Table's needs or published", 14), Column("Meets", 8), Column("Binds", 9),
        Column(f"{review.currency}/t a unit", 10), *SOURCED,
    ]  # fmt: skip


def _ratios(review: Review) -> Iterator[Sequence[object]]:
    for head, ration in _heads(review):
        for r in ration.ratios:
            yield [*head, r.label, r.unit, r.minimum, r.gives, r.maximum, r.table, r.meets, r.binding,
                   r.shadow_price or None, r.source, r.how, r.note]  # fmt: skip
        for d in ration.digestible:
            yield [*head, d.label, d.unit, None, d.gives, None, d.figure, d.meets, None, None, d.source, d.how, d.note]
        if ration.electrolyte_balance is not None:
            label = "Electrolyte balance (Na + K - Cl)"
            yield [*head, label, "mEq/kg", None, ration.electrolyte_balance, *(None,) * 5, "", "", ""]


def _cap_columns(review: Review) -> list[Column]:
    return [
        *RATION, Column("Feed or crop", 26), Column("Least %", 9), Column("Gives %", 9), Column("Most %", 9),
        Column("Binds", 8), Column(f"{review.currency}/t for one more %", 11), Column("Safety", 8),
        Column("Evidence", 14), Column("Source", 36), Column("How obtained", 14), Column("Reason", 50),
    ]  # fmt: skip


def _caps(review: Review) -> Iterator[Sequence[object]]:
    for head, ration in _heads(review):
        for c in ration.limits:
            yield [*head, c.label, c.min_pct, c.gives_pct, c.max_pct, c.binding, c.shadow_price or None, c.safety,
                   c.evidence, c.source, c.how, c.reason]  # fmt: skip


def _dual_columns() -> list[Column]:
    return [
        Column("Ration", 11, stays=1), Column("Row of the program", 70), Column("Kept by (row's own scale)", 14),
        Column("Dual", 12), Column("Money", 10), Column("Source", 36), Column("How obtained", 14),
    ]  # fmt: skip


def _duals(review: Review) -> Iterator[Sequence[object]]:
    for d in review.duals:
        slack = None if d.slack is None else round(d.slack, 9) + 0.0
        yield [d.ration, d.row, slack, d.dual or None, d.unit, d.source, d.how]


def _matrix(review: Review) -> Table:
    """Nutrients by feeds, as fed; feeds that are in a mix first."""
    used = {f.offer: f.in_a_mix for f in review.matrix}
    offers = sorted(used, key=lambda offer: not used[offer])
    labels = {f.offer: f.label for f in review.matrix}
    rows: dict[str, dict[str, object]] = {}
    for f in review.matrix:
        rows.setdefault(f.nutrient, {"label": f.nutrient_label, "unit": f.unit})[f.offer] = f.value
    columns = [Column("Nutrient, as fed", 30, stays=2), Column("Unit", 8)]
    columns += [Column(f"{labels[o]} ({o}){'' if used[o] else ', not in a mix'}", 11) for o in offers]
    return MATRIX, columns, [[row["label"], row["unit"], *(row.get(o) for o in offers)] for row in rows.values()]


def _figure_columns() -> list[Column]:
    return [
        Column("Offer or bin", 16, stays=1), Column("Feed", 28), Column("Nutrient, as fed", 30), Column("Unit", 9),
        Column("Value", 10), Column("±", 9), Column("In a mix", 8), *SOURCED,
    ]  # fmt: skip


def _figures(review: Review) -> Iterator[Sequence[object]]:
    for f in sorted(review.matrix, key=lambda f: not f.in_a_mix):
        yield [f.offer, f.label, f.nutrient_label, f.unit, f.value, f.sd or None, f.in_a_mix, f.source, f.how, f.note]


def _weak_columns() -> list[Column]:
    return [
        Column("What", 10), Column("Where", 40), Column("Figure", 40), Column("How obtained", 16), Column("Source", 44),
        Column("Note", 50),
    ]  # fmt: skip


def _weak(review: Review) -> Iterator[Sequence[object]]:
    for w in (*review.from_memory, *review.assumed):
        yield [w.what, w.where, w.value, w.how, w.source, w.note]


def _notes(review: Review) -> Iterator[Sequence[object]]:
    for head, ration in _heads(review):
        for kind in ("findings", "warnings", "conflict", "notes", "cautions"):
            for text in getattr(ration, kind):
                yield [*head, kind.removesuffix("s"), text]


def _sources(review: Review) -> Iterator[Sequence[object]]:
    for source in review.sources:
        yield [source.source, source.citation, source.url]
