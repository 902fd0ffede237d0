"""The review copy as JSON."""

from __future__ import annotations

import json
from typing import Any

from pydantic import BaseModel

from rationlp.rations.studies.review import ReviewCopy
from rationlp.show.data.as_json import json_fields


def review_document(review: ReviewCopy) -> bytes:
    """Everything in it, with the fields to sign empty."""
    text = json.dumps(review, default=_fields, ensure_ascii=False, allow_nan=False, indent=1)
    return f"{text}\n".encode()


def _fields(value: Any) -> Any:
    """Records as objects with the names of their fields as keys."""
    if not isinstance(value, BaseModel):
        return json_fields(value)
    return value.model_dump()
