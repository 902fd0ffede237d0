"""The review copy as JSON."""

from __future__ import annotations

import json

from rationlp.rations.studies.review import ReviewCopy
from rationlp.show.data.as_json import json_fields


def review_document(review: ReviewCopy) -> bytes:
    """Everything in it, with the fields to sign empty."""
    text = json.dumps(review, default=json_fields, ensure_ascii=False, allow_nan=False, indent=1)
    return f"{text}\n".encode()
