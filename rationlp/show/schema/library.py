"""The JSON answers of `rationlp library`, one for each thing that may be asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from typing_extensions import TypedDict  # pydantic reads no other before Python 3.12

from rationlp.errors import Problem
from rationlp.library.equations import Equation
from rationlp.library.records import Feed, FeedLimit, Nutrient, Requirement, Source, Stage
from rationlp.library.trial_caps import Trial
from rationlp.rations.studies.figure_weights import FigureWeight
from rationlp.show.library.answers import (
    CapLine,
    FeedAnswer,
    FigureLine,
    NutrientAnswer,
    SourceAnswer,
    StageAnswer,
)
from rationlp.show.schema.merged import Merged


class OverviewDocument(TypedDict):
    """The library as a whole: how its figures were obtained, and what is wrong with it."""

    directory: str
    feeds: int
    stages: int
    rows_by_how: Mapping[str, Mapping[str, int]]
    problems: Sequence[Problem]


class WeightsDocument(TypedDict):
    """The recalled figures by their weight in rations (`--memory`); shares are 0 to 1 of all the weight."""

    share_by_how: Mapping[str, float]
    share_read: float
    figures_from_memory: Sequence[FigureWeight]


class FeedDocument(TypedDict):
    """One feed."""

    feed: FeedAnswer


class FeedsDocument(TypedDict):
    """The feeds."""

    feeds: Sequence[Feed]


class RichestDocument(TypedDict):
    """Feeds by what they hold of a nutrient (`--sort`)."""

    nutrient: str
    feeds: Sequence[FigureLine]


class MemoryDocument(TypedDict):
    """The recalled figures of the feeds."""

    figures_from_memory: Sequence[FigureLine]


class StageDocument(TypedDict):
    """One stage."""

    stage: StageAnswer


class StagesDocument(TypedDict):
    """The stages."""

    stages: Sequence[Stage]


class StageMemoryDocument(TypedDict):
    """The recalled requirements of stages."""

    requirements_from_memory: Sequence[Requirement]


class NeedsDocument(TypedDict):
    """Stages by what they need of a nutrient (`--sort`)."""

    nutrient: str
    needs: Sequence[Requirement]


class StageLimitsDocument(TypedDict):
    """The caps of a stage."""

    stage: str
    limits: Sequence[CapLine]


class FeedLimitsDocument(TypedDict):
    """The caps on a feed, with the evidence for them."""

    feed: str
    limits: Sequence[CapLine]
    evidence: Sequence[FeedLimit]
    trials: Sequence[Trial]


class LimitsDocument(TypedDict):
    """The rows that caps are made of."""

    limits: Sequence[FeedLimit]
    trials: Sequence[Trial]


class SourceDocument(TypedDict):
    """What rests on one source."""

    source: SourceAnswer


class RowsOfSource(TypedDict):
    """How many rows rest on a source."""

    rows: int


class SourcesDocument(TypedDict):
    """The sources."""

    sources: Sequence[Annotated[dict[str, Any], Merged(Source, RowsOfSource)]]


class NutrientDocument(TypedDict):
    """One nutrient."""

    nutrient: NutrientAnswer


class NutrientsDocument(TypedDict):
    """The nutrients."""

    nutrients: Sequence[Nutrient]


class EquationsDocument(TypedDict):
    """The published equations."""

    equations: Sequence[Equation]


DOCUMENTS = (
    OverviewDocument,
    WeightsDocument,
    FeedDocument,
    FeedsDocument,
    RichestDocument,
    MemoryDocument,
    StageDocument,
    StagesDocument,
    StageMemoryDocument,
    NeedsDocument,
    StageLimitsDocument,
    FeedLimitsDocument,
    LimitsDocument,
    SourceDocument,
    SourcesDocument,
    NutrientDocument,
    NutrientsDocument,
    EquationsDocument,
)
