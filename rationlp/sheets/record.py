"""The sheets by which a filled-in workbook is read back: what is written and what is read, in one place."""

from __future__ import annotations

RECORD = "record"
"""The hidden sheet that says what stands where, so that a filled-in workbook can be read back."""
RECORD_COLUMNS = (
    "tab",
    "name",
    "id",
    "book_version",
    "stage",
    "bin",
    "unit",
    "batch",
    "first_batch",
    "boxes",
    "batch_cell",
    "date_cell",
    "row",
    "first_box",
    "offer",
    "part",
    "label",
    "mass",
    "in_bucket",
)
LATER_COLUMNS = ("ration", "lot_column", "reads", "scale_step")
"""Columns of the record that sheets printed before these were added do not have: the id of the ration, where lots are
written, what the scale (of the mixer, or the running sum of the bucket) reads once the line is in, the mixer scale's
step."""
OF_A_LINE = frozenset({"tab", "row", "offer", "part", "label", "mass", "in_bucket", "reads", "scale_step"})
"""What every line of the record says; the rest is of the whole sheet and stands on its first line alone."""
PURCHASES, MIXER_TEST, CAUTIONS = "To buy", "Mixer test", "Cautions"
