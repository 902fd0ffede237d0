"""The review copy as a file: JSON, or a workbook with a place to sign."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from rationlp.errors import RequestError
from rationlp.files import write_whole_bytes
from rationlp.ledger.shape import Signature
from rationlp.rations.studies.review import ReviewCopy
from rationlp.show.data.as_json import json_fields


def write_review(path: Path, review: ReviewCopy, signed: Sequence[Signature] = ()) -> None:
    """Write the review copy to `path` by its ending (.json, .xlsx), with what was signed. Raises RequestError."""
    if path.suffix.lower() == ".json":
        data: Callable[[ReviewCopy], bytes] = _document
    else:
        from rationlp.pages.review.book import review_workbook

        data = partial(review_workbook, signed=signed)
    try:
        write_whole_bytes(path, lambda: data(review))
    except RequestError as error:
        raise RequestError([replace(problem, sheet="--review") for problem in error.problems]) from None


def _document(review: ReviewCopy) -> bytes:
    text = json.dumps(review, default=_fields, ensure_ascii=False, allow_nan=False, indent=1)
    return f"{text}\n".encode()


def _fields(value: Any) -> Any:
    """Records as objects with the names of their fields as keys."""
    if not isinstance(value, BaseModel):
        return json_fields(value)
    return value.model_dump()
