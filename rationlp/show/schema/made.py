"""JSON Schema (draft 2020-12) of the answers, made from their descriptions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any, Union

from pydantic import TypeAdapter
from pydantic.json_schema import GenerateJsonSchema

from rationlp.errors import Problem, RequestError
from rationlp.finder import names_of
from rationlp.reasons import Reason, Verdict
from rationlp.show.data.as_json import SCHEMA_VERSION
from rationlp.show.schema import later, library, mixed, shapes

DOCUMENTS: Mapping[str, tuple[Any, ...]] = {
    "check": (shapes.CheckDocument,),
    "bin": (shapes.BinDocument,),
    "ration": (shapes.RationDocument, shapes.FrontierDocument, shapes.ConcentrateDocument),
    "resample": (later.ResampleDocument,),
    "offers": (shapes.OffersDocument,),
    "sheets": (mixed.SheetsDocument,),
    "year": (later.YearDocument,),
    "actual": (mixed.ActualDocument,),
    "trace": (later.TraceDocument,),
    "many": (later.ManyDocument,),
    "report": (shapes.RationDocument,),
    "library": library.DOCUMENTS,
}
"""What a command may answer with `--format json`; several where an option asks for another answer."""

DIALECT = "https://json-schema.org/draft/2020-12/schema"
ADDED_IN_WRITING: Mapping[type[Any], Any] = {Verdict: shapes.VerdictObject, Reason: shapes.ReasonObject}
"""Records that are written otherwise than field by field."""


def schema_of(command: str) -> dict[str, Any]:
    """The JSON Schema of every answer of a command, a mistake among them. Raises RequestError for another name.

    More keys than it names may stand in an answer; those it names do not change while `schema_version` is the same.
    """
    if command not in DOCUMENTS:
        do = names_of(DOCUMENTS).suggestion(command, "")
        raise RequestError([Problem("error", "command", "", repr(command), "a command that answers in JSON", do)])
    answers: Any = Union[(*DOCUMENTS[command], shapes.ErrorDocument)]
    found = TypeAdapter(answers).json_schema(schema_generator=_Written, mode="serialization")
    return {
        "$schema": DIALECT,
        "title": f"rationlp {command} --format json",
        "type": "object",
        "required": ["schema_version"],
        "properties": {"schema_version": {"const": SCHEMA_VERSION}},
        **found,
    }


class _Written(GenerateJsonSchema):
    """What `write_json` writes of a record: each of its fields, whether or not it has a default."""

    def dataclass_schema(self, schema: Any) -> dict[str, Any]:
        written = ADDED_IN_WRITING.get(schema["cls"])
        if written is not None:
            return self.generate_inner(TypeAdapter(written).core_schema)
        found = super().dataclass_schema(schema)
        kind = schema["cls"]
        names = [field.name for field in fields(kind)]
        if "bins" in names and hasattr(kind, "bin"):
            found["properties"]["bin"] = {"title": "Bin", "type": "string"}
            names.append("bin")
        return {**found, "required": names}

    def model_schema(self, schema: Any) -> dict[str, Any]:
        found = super().model_schema(schema)
        found.pop("additionalProperties", None)  # that is for who writes a table, not for who reads an answer
        return {**found, "required": list(found["properties"])}

    def default_schema(self, schema: Any) -> dict[str, Any]:
        return self.generate_inner(schema["schema"])
