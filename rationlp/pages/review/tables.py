"""The tables of the review copy: headings, widths and rows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rationlp.book_units import units_in
from rationlp.library.cited import short_words
from rationlp.rations.answer.model import Ration
from rationlp.rations.studies.review import ReviewCopy

Table = tuple[str, list["Heading"], list[Sequence[object]]]


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading with its width in characters; `stays` of the first column says how many stay when one scrolls."""

    heading: str
    width: float = 10
    form: str = "General"
    stays: int = 0


MATRIX = "Matrix"
RATION = [Heading("Ration", 11, stays=3), Heading("Stage", 20), Heading("Bin", 10)]
SOURCED = [Heading("Source", 36), Heading("How obtained", 14), Heading("Note", 44)]
SOURCES = [Heading("Source", 30), Heading("In sentences", 40), Heading("Citation", 100), Heading("Address", 60)]


def tables_of(review: ReviewCopy) -> list[Table]:
    """Title, columns and rows of every sheet behind the first."""
    return [
        ("Recalled that move most", _recalled_columns(review), list(_recalled(review))),
        ("Mixes", _mix_columns(review), list(_mixes(review))),
        ("Requirements", _requirement_columns(review), list(_requirements(review))),
        ("Ratios", _ratio_columns(review), list(_ratios(review))),
        ("Caps", _cap_columns(review), list(_caps(review))),
        ("Duals", _dual_columns(), list(_duals(review))),
        _matrix(review),
        ("Figures", _figure_columns(review), list(_figures(review))),
        ("Memory and assumed", _weak_columns(review), list(_weak(review))),
        ("Notes", [*RATION, Heading("Kind", 12), Heading("Text", 120)], list(_notes(review))),
        ("Sources", SOURCES, list(_sources(review))),
    ]


def _heads(review: ReviewCopy) -> Iterator[tuple[list[str], Ration]]:
    for reviewed in review.rations:
        yield [reviewed.id, reviewed.ration.stage, reviewed.ration.bin], reviewed.ration


def _mix_columns(review: ReviewCopy) -> list[Heading]:
    units = units_in(review.units, review.currency)
    return [
        *RATION,
        Heading("Feed", 34),
        Heading("Offer", 16),
        Heading("%", 9, "0.000"),
        Heading(units.per_mass, 10, "0.00"),
        Heading(f"{units.currency} in a {units.word}", 12, "0.00"),
        Heading("Must fall by to come in", 12, "0.00"),
    ]


def _mixes(review: ReviewCopy) -> Iterator[Sequence[object]]:
    money = units_in(review.units, review.currency).price_value
    for head, ration in _heads(review):
        for m in ration.mix:
            idle = None if m.share else money(m.reduced_cost) if m.enters_at is not None else "not at any price"
            price = m.price_per_tonne
            yield [*head, m.label, m.offer, 100 * m.share, money(price), money(m.share * price), idle]


def _requirement_columns(review: ReviewCopy) -> list[Heading]:
    return [
        *RATION,
        Heading("Nutrient", 30),
        Heading("Unit", 9),
        Heading("Minimum", 9),
        Heading("Supplies", 9),
        Heading("Maximum", 9),
        Heading("Meets", 8),
        Heading("±", 8),
        Heading("Chance %", 9, "0.0"),
        Heading("Binds", 9),
        Heading(f"{review.currency} a unit", 10),
        Heading("Price of", 8),
        Heading("Calculated", 22),
        Heading("Met by", 9),
        *SOURCED,
    ]


def _requirements(review: ReviewCopy) -> Iterator[Sequence[object]]:
    for head, ration in _heads(review):
        for r in ration.requirements:
            chance = None if r.probability is None else 100 * r.probability
            yield [
                *head,
                r.label,
                r.unit,
                r.minimum,
                r.gives,
                r.maximum,
                r.meets,
                r.sd,
                chance,
                r.binding,
                r.shadow_price or None,
                r.shadow_price_of if r.shadow_price else None,
                r.basis,
                r.met_by,
                r.source,
                r.how,
                r.note,
            ]


def _ratio_columns(review: ReviewCopy) -> list[Heading]:
    return [
        *RATION,
        Heading("Ratio or digestible amount", 40),
        Heading("In", 12),
        Heading("Minimum", 9),
        Heading("Supplies", 9),
        Heading("Maximum", 9),
        Heading("Table's needs or published", 14),
        Heading("Meets", 8),
        Heading("Binds", 9),
        Heading(f"{review.currency} a unit", 10),
        Heading("Price of", 8),
        *SOURCED,
    ]


def _ratios(review: ReviewCopy) -> Iterator[Sequence[object]]:
    for head, ration in _heads(review):
        for r in ration.ratios:
            yield [
                *head,
                r.label,
                r.unit,
                r.minimum,
                r.gives,
                r.maximum,
                r.table,
                r.meets,
                r.binding,
                r.shadow_price or None,
                r.shadow_price_of if r.shadow_price else None,
                r.source,
                r.how,
                r.note,
            ]
        for d in ration.digestible:
            yield [
                *head,
                d.label,
                d.unit,
                None,
                d.gives,
                None,
                d.figure,
                d.meets,
                None,
                None,
                None,
                d.source,
                d.how,
                d.note,
            ]
        if ration.electrolyte_balance is not None:
            label = "Electrolyte balance (Na + K - Cl)"
            yield [*head, label, "mEq/kg", None, ration.electrolyte_balance, *(None,) * 6, "", "", ""]


def _cap_columns(review: ReviewCopy) -> list[Heading]:
    return [
        *RATION,
        Heading("Feed or crop", 26),
        Heading("Minimum %", 9),
        Heading("Supplies %", 9),
        Heading("Maximum %", 9),
        Heading("Binds", 8),
        Heading(f"{review.currency} for one more %", 11),
        Heading("Price of", 8),
        Heading("Safety", 8),
        Heading("Evidence", 14),
        Heading("Source", 36),
        Heading("How obtained", 14),
        Heading("Reason", 50),
    ]


def _caps(review: ReviewCopy) -> Iterator[Sequence[object]]:
    for head, ration in _heads(review):
        for c in ration.limits:
            yield [
                *head,
                c.label,
                c.min_pct,
                c.gives_pct,
                c.max_pct,
                c.binding,
                c.shadow_price or None,
                c.shadow_price_of if c.shadow_price else None,
                c.safety,
                c.evidence,
                c.source,
                c.how,
                c.reason,
            ]


def _dual_columns() -> list[Heading]:
    return [
        Heading("Ration", 11, stays=1),
        Heading("Row of the program", 70),
        Heading("Kept by (row's own scale)", 14),
        Heading("Dual", 12),
        Heading("Money", 10),
        Heading("Source", 36),
        Heading("How obtained", 14),
    ]


def _duals(review: ReviewCopy) -> Iterator[Sequence[object]]:
    for d in review.duals:
        slack = None if d.slack is None else round(d.slack, 9) + 0.0
        yield [d.ration, d.row, slack, d.dual or None, d.unit, d.source, d.how]


def _matrix(review: ReviewCopy) -> Table:
    """Nutrients by feeds, as fed; feeds that are in a mix first."""
    used = {f.offer: f.in_a_mix for f in review.matrix}
    offers = sorted(used, key=lambda offer: not used[offer])
    labels = {f.offer: f.label for f in review.matrix}
    rows: dict[str, dict[str, object]] = {}
    for f in review.matrix:
        rows.setdefault(f.nutrient, {"label": f.nutrient_label, "unit": f.unit})[f.offer] = f.value
    columns = [Heading("Nutrient, as fed", 30, stays=2), Heading("Unit", 8)]
    columns += [Heading(f"{labels[o]} ({o}){'' if used[o] else ', not in a mix'}", 11) for o in offers]
    return MATRIX, columns, [[row["label"], row["unit"], *(row.get(o) for o in offers)] for row in rows.values()]


def _figure_columns(review: ReviewCopy) -> list[Heading]:
    return [
        Heading("Offer or bin", 16, stays=1),
        Heading("Feed", 28),
        Heading("Nutrient, as fed", 30),
        Heading("Unit", 9),
        Heading("Value", 10),
        Heading("±", 9),
        Heading("In a mix", 8),
        Heading(_ten_percent(review), 12, "0.00"),
        *SOURCED,
    ]


def _figures(review: ReviewCopy) -> Iterator[Sequence[object]]:
    money = units_in(review.units, review.currency).price_value
    for f in review.matrix:
        yield [
            f.offer,
            f.label,
            f.nutrient_label,
            f.unit,
            f.value,
            f.sd or None,
            f.in_a_mix,
            money(f.weight) or None,
            f.source,
            f.how,
            f.note,
        ]


def _recalled_columns(review: ReviewCopy) -> list[Heading]:
    return [
        *RATION,
        Heading("Feed", 34),
        Heading("Figure", 30),
        Heading(_ten_percent(review), 14, "0.00"),
        *SOURCED[:2],
    ]


def _ten_percent(review: ReviewCopy) -> str:
    """The heading of the weight: what an error of a tenth in the figure does to the cost of a tonne."""
    return f"{units_in(review.units, review.currency).per_mass} for 10 % off"


def _recalled(review: ReviewCopy) -> Iterator[Sequence[object]]:
    money = units_in(review.units, review.currency).price_value
    for (head, _), reviewed in zip(_heads(review), review.rations, strict=True):
        for row in reviewed.recalled:
            yield [*head, row.feed, row.nutrient, money(row.weight), row.source, row.how]


def _weak_columns(review: ReviewCopy) -> list[Heading]:
    return [
        Heading("What", 10),
        Heading("Where", 40),
        Heading("Figure", 40),
        Heading(_ten_percent(review), 12, "0.00"),
        Heading("How obtained", 16),
        Heading("Source", 44),
        Heading("Note", 50),
    ]


def _weak(review: ReviewCopy) -> Iterator[Sequence[object]]:
    money = units_in(review.units, review.currency).price_value
    for w in sorted((*review.from_memory, *review.assumed), key=lambda row: -row.weight):
        yield [w.what, w.where, w.value, money(w.weight) or None, w.how, w.source, w.note]


def _notes(review: ReviewCopy) -> Iterator[Sequence[object]]:
    for head, ration in _heads(review):
        for kind in ("findings", "warnings", "conflict", "notes", "cautions"):
            for text in getattr(ration, kind):
                yield [*head, kind.removesuffix("s"), text]


def _sources(review: ReviewCopy) -> Iterator[Sequence[object]]:
    for source in review.sources:
        yield [source.source, short_words(source), source.citation, source.url]
