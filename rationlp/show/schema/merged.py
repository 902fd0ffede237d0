"""Two descriptions that together are one object."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, init=False)
class Merged:
    """An object that has what each of `parts` (records, typed dictionaries) has."""

    parts: tuple[type[Any], ...]

    def __init__(self, *parts: type[Any]) -> None:
        object.__setattr__(self, "parts", parts)

    def __get_pydantic_json_schema__(self, core_schema: Any, handler: Any) -> dict[str, Any]:
        """Called by pydantic."""
        from pydantic import TypeAdapter

        return {"allOf": [handler(TypeAdapter(part).core_schema) for part in self.parts]}
