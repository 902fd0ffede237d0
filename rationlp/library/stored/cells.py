"""What a cell of a table holds beside plain text and numbers: notes in the annotations of a row's fields.

pydantic asks each for its part when a CSV file is read (`csv_tables.py`). Nothing here loads pydantic: rows that come
packed were checked when they were packed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any


class Split:
    """The words of a cell, between separators; without one, between blanks."""

    def __init__(self, separator: str | None = None):
        self.separator = separator

    def words(self, cell: object) -> object:
        """The words of a text; anything else as it is."""
        if not isinstance(cell, str):
            return cell
        return tuple(word.strip() for word in cell.split(self.separator) if word.strip())

    def __get_pydantic_core_schema__(self, source: Any, handler: Callable[[Any], Any]) -> Any:
        """Called by pydantic."""
        return _before(self.words, handler(source))


class BlankIsNone:
    """A blank cell says nothing."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Callable[[Any], Any]) -> Any:
        """Called by pydantic."""
        return _before(lambda cell: None if cell == "" else cell, handler(source))


class Within:
    """Bounds of a number, by pydantic's words for them: `ge`, `gt`, `le`, `allow_inf_nan`."""

    def __init__(self, **bounds: float):
        self.bounds = bounds

    def __get_pydantic_core_schema__(self, source: Any, handler: Callable[[Any], Any]) -> Any:
        """Called by pydantic."""
        return handler(source) | self.bounds


def _before(change: Callable[[object], object], schema: Any) -> Any:
    from pydantic_core import core_schema

    return core_schema.no_info_before_validator_function(change, schema)
