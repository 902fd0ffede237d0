"""Any answer of the Python interface as the JSON document of its command, and as tidy tables."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pandas as pd

from rationlp.actual.report import ActualReport
from rationlp.answers import Rations
from rationlp.bins import BinEstimate
from rationlp.farm import Farm
from rationlp.offers.study import Study
from rationlp.resample.change import Resample
from rationlp.sheets.model import Pack
from rationlp.show.data.as_json import bin_document, plain_document, ration_document
from rationlp.show.data.offers import offers_document
from rationlp.show.data.resample import resample_document
from rationlp.show.data.tidy import tables_of
from rationlp.show.data.trace import trace_document
from rationlp.show.data.year import year_document
from rationlp.show.text.actual import review_document
from rationlp.show.text.sheets import pack_document
from rationlp.trace.follow import Trace
from rationlp.year.model import Year

Answer = Rations | BinEstimate | Study | Pack | ActualReport | Trace | Year | Resample


def _rations(answer: Rations, farm: Farm) -> Mapping[str, object]:
    made = [one.ration for one in answer.solved]
    return ration_document(farm.book, made, answer.confidence_prices, answer.missing_offers)


_DOCUMENTS: dict[type, Callable[[Any, Farm], Mapping[str, object]]] = {
    Rations: _rations,
    BinEstimate: lambda answer, farm: bin_document(farm, [answer]),
    Study: lambda answer, farm: offers_document(farm.book, answer),
    Pack: lambda answer, farm: pack_document(answer, farm.book),
    ActualReport: lambda answer, farm: review_document(answer, farm.book),
    Trace: lambda answer, farm: trace_document(answer, farm.book),
    Year: lambda answer, farm: year_document(answer, farm.book),
    Resample: lambda answer, farm: resample_document(farm.book, answer),
}


def document_of(answer: Answer, farm: Farm) -> dict[str, Any]:
    """What the command prints with `--format json`, in plain dicts and lists. Raises TypeError for anything else."""
    return plain_document(_document(answer, farm))


def frames_of(answer: Answer, farm: Farm) -> dict[str, pd.DataFrame]:
    """The tables that the command writes with `--format csv -o FOLDER`, by the names of their files. Raises TypeError
    as `document_of` does."""
    return {name: pd.DataFrame(rows) for name, rows in tables_of(_document(answer, farm)).items()}


def _document(answer: Answer, farm: Farm) -> Mapping[str, object]:
    make = _DOCUMENTS.get(type(answer))
    if make is None:
        known = ", ".join(each.__name__ for each in _DOCUMENTS)
        raise TypeError(f"{type(answer).__name__} is none of the answers: {known}")
    return make(answer, farm)
