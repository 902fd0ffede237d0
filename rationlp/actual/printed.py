"""A mix sheet as its workbook's hidden record tells of it."""

from __future__ import annotations

from dataclasses import dataclass, field

from rationlp.actual.readings import Place


@dataclass(frozen=True, slots=True)
class PrintedRow:
    """A line of the hidden record: what stands in a row of a mix sheet, masses in the sheet's unit. `reads` is what the
    mixer scale (or the bucket's running sum) shows once it is in, None on sheets that do not say."""

    row: int
    offer: str
    part: str
    label: str
    mass: float
    in_bucket: bool = False
    reads: float | None = None
    scale_step: float = 0.0

    def place(self, factor: float) -> Place:
        """Where it is weighed in a batch `factor` times as large."""
        return Place(self.in_bucket, None if self.reads is None else self.reads * factor, self.scale_step)


@dataclass(slots=True)
class Printed:
    """A mix sheet as it was printed."""

    tab: str
    name: str
    id: str
    stage: str
    bin: str
    unit: str
    batch: float
    first_batch: int
    boxes: int
    batch_cell: str
    date_cell: str
    first_box: str
    ration: str = ""
    lot_column: str = ""
    rows: list[PrintedRow] = field(default_factory=list)
