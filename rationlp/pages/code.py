"""The number of a batch as a code that a phone reads (QR code, ISO/IEC 18004): the batch is found again by it."""

from __future__ import annotations

import io

import segno


def code_png(text: str) -> bytes:
    """A picture of the code, with the quiet border around it that readers need."""
    raw = io.BytesIO()
    segno.make_qr(text, error="m").save(raw, kind="png", scale=6, border=2)
    return raw.getvalue()


def code_svg(text: str) -> str:
    """The same as markup for a page, whose style says how large it is."""
    made: str = segno.make_qr(text, error="m").svg_inline(border=2, omitsize=True)
    return made
