"""What the feed library says about a feed, a stage, a limit, a nutrient or a source, ready to print.

Figures of a feed come as fed and on dry matter, each with how it was obtained and where it stands; nothing is rounded
here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field, fields
from functools import lru_cache
from typing import Protocol, runtime_checkable

from rationlp.errors import Problem, RequestError, given
from rationlp.finder import Finder, Name, names_of
from rationlp.library.derive import depends_on, with_derived
from rationlp.library.names.known import feed_finder, nutrient_finder, source_finder, stage_finder
from rationlp.library.names.stages import stages_by_size, stages_of
from rationlp.library.read import Library
from rationlp.library.records import Ceiling, Feed, FeedLimit, Figure, Nutrient, Ratio, Requirement, Source, Stage
from rationlp.library.tables import TABLES
from rationlp.library.trial_caps import Trial
from rationlp.library.which_limits import rows_that_cap
from rationlp.units import as_fed


@runtime_checkable
class SourcedRow(Protocol):
    """A row that says where it stands and how it was obtained."""

    @property
    def source(self) -> str: ...

    @property
    def how(self) -> str: ...


WEAKEST_LAST = ("page", "dataset", "computed", "common practice", "memory", "analogy", "")


@dataclass(frozen=True, slots=True)
class FigureLine:
    """One figure of a feed. A premix has no dry-matter figure: its amounts are per kilogram as sold."""

    feed: str
    nutrient: str
    label: str
    kind: str
    unit: str
    as_fed: float
    dry_matter: float | None
    sd: float | None
    how: str
    source: str
    equation: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class CapLine:
    """What a stage may be given of a feed at most, and on what evidence."""

    stage: str
    stage_label: str
    word: str
    max_pct: float
    evidence: str
    safety: str
    holds_for: str  # jurisdiction and certification; empty: everybody
    reason: str
    source: str
    how: str


@dataclass(frozen=True, slots=True)
class FeedAnswer:
    feed: Feed
    figures: tuple[FigureLine, ...]
    caps: tuple[CapLine, ...]
    evidence: tuple[FeedLimit, ...]
    trials: tuple[Trial, ...]
    cautions: tuple[str, ...]
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class StageAnswer:
    stage: Stage
    needs: tuple[Requirement, ...]
    ceilings: tuple[Ceiling, ...]
    ratios: tuple[Ratio, ...]
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class NutrientAnswer:
    nutrient: Nutrient
    feeds: tuple[FigureLine, ...]  # richest first
    needs: tuple[Requirement, ...]


@dataclass(frozen=True, slots=True)
class SourceAnswer:
    source: Source
    uses: Mapping[str, int] = field(default_factory=dict)  # rows by table
    rows: tuple[str, ...] = ()  # which ones, in words


def figures_of(feed_id: str, library: Library) -> tuple[FigureLine, ...]:
    """Every figure of a feed, stored and derived, in the order of nutrients.csv."""
    rows = library.figures.get(feed_id, {})
    dry_matter = library.feeds[feed_id].dry_matter_pct
    premix = library.premix_figures.get(feed_id, {})
    values = with_derived({n: row.value for n, row in rows.items() if n not in premix}, library.nutrients)
    lines = []
    for nutrient in library.nutrients.values():
        name = nutrient.nutrient
        head = (feed_id, name, nutrient.label, nutrient.kind, nutrient.unit)
        if name in premix:
            row = premix[name]
            lines.append(FigureLine(*head, row.value, None, None, row.how, row.source, row.equation, row.note))
        elif name in values:
            here = values[name] if nutrient.kind == "coefficient" else as_fed(values[name], dry_matter)
            told = _told(rows[name]) if name in rows else _derived(nutrient, rows, library)
            lines.append(FigureLine(*head, here, values[name], *told))
    return tuple(lines)


def _told(row: Figure) -> tuple[float | None, str, str, str, str]:
    return row.sd, row.how, row.source, row.equation, row.note


def _derived(nutrient: Nutrient, rows: Mapping[str, Figure], library: Library) -> tuple[None, str, str, str, str]:
    """How a derived figure was obtained: as weakly as the weakest of its parts."""
    parts = [rows[n] for n in sorted(depends_on(nutrient.nutrient, library.nutrients)) if n in rows]
    how = max((part.how for part in parts), key=WEAKEST_LAST.index, default="")
    source = "; ".join(dict.fromkeys(source for part in parts for source in part.source.split("; ")))
    sum_or_part = " + ".join(nutrient.sum_of) or f"{nutrient.part_of} x {nutrient.coefficient} / 100"
    return None, how, source, sum_or_part, ""


def feed_answer(feed_id: str, library: Library) -> FeedAnswer:
    """All that the library says of one feed. Raises RequestError for an unknown one."""
    feed = library.feeds[known(feed_id, library.feeds, "feed", library)]
    figures = figures_of(feed_id, library)
    evidence = tuple(row for word in words_of(feed_id, library) for row in library.feed_limits.get(word, ()))
    trials = tuple(row for word in words_of(feed_id, library) for row in library.trials.get(word, ()))
    cautions = [
        row.text
        for row in library.cautions
        if any(w.startswith("feed:") and w[5:] in words_of(feed_id, library) for w in row.shown_with)
    ]
    ids = [feed.source, *(line.source for line in figures), *(row.source for row in evidence)]
    ids += [row.source for row in trials]
    caps = tuple(cap for stage in library.stages.values() for cap in caps_for(stage, [feed_id], library))
    return FeedAnswer(feed, figures, caps, evidence, trials, tuple(cautions), cited(ids, library))


def caps_for(stage: Stage, feeds: Collection[str], library: Library) -> list[CapLine]:
    """The caps of a stage on each of the feeds, with every rule that holds in some place or for some farms only."""
    words = list(dict.fromkeys(word for feed in feeds for word in words_of(feed, library)))
    chosen: dict[str, list[FeedLimit]] = {word: [] for word in words}
    asked = set(feeds)
    for limit in rows_that_cap(stage, library):
        if limit.row.feed in chosen and limit.members & asked:
            chosen[limit.row.feed].append(limit.row)
    lines = []
    for word in words:
        local = [
            row
            for row in library.feed_limits.get(word, ())
            if (row.jurisdiction or row.certification) and row.scope in stage.scopes and row.max_pct is not None
        ]
        for row in dict.fromkeys([*chosen[word], *local]):
            lines.append(
                CapLine(
                    stage.stage,
                    stage.label,
                    word,
                    given(row.max_pct, f"the cap on {word}"),
                    row.evidence,
                    row.safety,
                    " ".join((*row.jurisdiction, *row.certification)),
                    row.reason,
                    row.source,
                    row.how,
                )
            )
    return lines


def words_of(feed_id: str, library: Library) -> list[str]:
    """The feed and the families it belongs to: the words under which limits speak of it."""
    return [feed_id, *(word for word, members in library.families.items() if feed_id in members and word != feed_id)]


def stage_answer(stage_id: str, library: Library) -> StageAnswer:
    """All that the library says of one stage. Raises RequestError for an unknown one."""
    stage = library.stages[known(stage_id, library.stages, "stage", library)]
    needs = tuple(library.requirements.get(stage_id, ()))
    ceilings = tuple(row for row in library.ceilings if row.scope in stage.scopes)
    ratios = tuple(row for row in library.ratios if row.scope in stage.scopes)
    rows: tuple[SourcedRow, ...] = (*needs, *ceilings, *ratios)
    ids = [stage.source, stage.energy_floor_source, *(row.source for row in rows)]
    return StageAnswer(stage, needs, ceilings, ratios, cited(ids, library))


def find_stages(
    library: Library, word: str = "", weight_kg: float | None = None, age_weeks: float | None = None
) -> list[Stage]:
    """Stages by words of their id, label or kind, by live weight and by age.

    A weight or age on the border of two stages belongs to the older one. Of sows, whose stages say only the weight from
    which they hold, the heaviest that fits counts. Raises RequestError if none fits.
    """
    found = [
        stage
        for stage in stages_of(library, weight_kg, age_weeks)
        if all(part in _words_of_stage(stage) for part in word.lower().split())
    ]
    if not found and word:
        meant = stage_finder(library).meant(word) or stages_by_size(word, library)
        found = [stage for stage in stages_of(library, weight_kg, age_weeks) if stage.stage in meant]
    if found:
        return found
    asked = [
        f"{word!r}" if word else "",
        f"{weight_kg:g} kg" if weight_kg is not None else "",
        f"{age_weeks:g} weeks" if age_weeks is not None else "",
    ]
    raise RequestError(
        [
            Problem(
                "error",
                "library stages",
                "",
                " ".join(filter(None, asked)),
                "a stage of the library",
                f"{stage_finder(library).suggestion(word, '')} "
                "'rationlp library stages' lists them with weights and ages.",
            )
        ]
    )


def _words_of_stage(stage: Stage) -> str:
    return f"{stage.stage} {stage.label} {stage.kind} {stage.species}".lower()


def rich_in(nutrient_id: str, library: Library) -> list[FigureLine]:
    """Every feed's figure of a nutrient, richest (as fed) first. Raises RequestError for an unknown nutrient."""
    known(nutrient_id, library.nutrients, "nutrient", library)
    lines = [line for feed in library.feeds for line in figures_of(feed, library) if line.nutrient == nutrient_id]
    return sorted(lines, key=lambda line: line.as_fed, reverse=True)


def nutrient_answer(nutrient_id: str, library: Library) -> NutrientAnswer:
    """Which feeds are rich in it and which stages ask for it. Raises RequestError for an unknown one."""
    feeds = tuple(line for line in rich_in(nutrient_id, library) if line.as_fed > 0)
    needs = tuple(row for rows in library.requirements.values() for row in rows if row.nutrient == nutrient_id)
    return NutrientAnswer(library.nutrients[nutrient_id], feeds, needs)


def source_answer(source_id: str, library: Library) -> SourceAnswer:
    """What rests on one source. Raises RequestError for an unknown one."""
    source = library.sources[known(source_id, library.sources, "source", library)]
    uses: Counter[str] = Counter()
    rows = []
    for table, row in sourced_rows(library):
        if source.source in row.source.split("; "):
            uses[table] += 1
            rows.append(f"{table}: {' '.join(str(getattr(row, column.name)) for column in fields(TABLES[table])[:2])}")
    return SourceAnswer(source, dict(uses), tuple(rows))


def sourced_rows(library: Library) -> Iterable[tuple[str, SourcedRow]]:
    """Every row of every table that names a source, with the name of its table."""
    for name, model in TABLES.items():
        if "source" in {column.name for column in fields(model)} and name != "sources":
            yield from ((name, row) for row in library.table(name, model) if isinstance(row, SourcedRow))


def how_counts(library: Library) -> dict[str, Counter[str]]:
    """How many rows of each table were read on a page, recalled from memory and so on."""
    found: dict[str, Counter[str]] = {}
    for table, row in sourced_rows(library):
        if row.how:
            found.setdefault(table, Counter())[row.how] += 1
    return found


def from_memory(how: str) -> bool:
    """Whether a row rests on memory, wholly or in part."""
    return "memory" in how


def cited(source_ids: Iterable[str], library: Library) -> tuple[Source, ...]:
    """The sources named, each once, in the order of naming."""
    ids = dict.fromkeys(part for source in source_ids for part in source.split("; ") if part)
    return tuple(library.sources[part] for part in ids if part in library.sources)


@lru_cache(maxsize=8)
def limit_finder(library: Library) -> Finder:
    """Feeds, and the families of feeds that have limits of their own."""
    return feed_finder(library).with_first(Name(word) for word in library.feed_limits if word not in library.feeds)


FINDERS: Mapping[str, tuple[Callable[[Library], Finder], ...]] = {
    "feed": (feed_finder,),
    "stage": (stage_finder,),
    "nutrient": (nutrient_finder,),
    "limit": (limit_finder, stage_finder),
    "source": (source_finder,),
}


def one_meant(name: str, kind: str, library: Library) -> str:
    """The id that `name` stands for where it can be only one; else `name` as it is."""
    for finder in FINDERS.get(kind, ()) if name else ():
        meant = finder(library).meant(name)
        if meant:
            return meant[0] if len(meant) == 1 else name
    return name


def known(name: str, ids: Mapping[str, object], kind: str, library: Library) -> str:
    """The one of `ids` that goes by `name`. Raises RequestError with those that come near."""
    meant = one_meant(name, kind, library)
    if meant in ids:
        return meant
    finders = [finder(library) for finder in FINDERS.get(kind, ())] or [names_of(ids)]
    raise unknown(name, next((finder for finder in finders if finder.meant(name)), finders[0]), kind)


def unknown(name: str, finder: Finder, kind: str = "") -> RequestError:
    """The error of a name that nothing goes by, or several things; of any kind where none was named."""
    expected = {"": "a feed, a stage, a nutrient, a limit or a source", "limit": "a feed, a family of feeds or a stage"}
    where, lists = (f"library {kind}s", f"{kind}s") if kind else ("library", "--help")
    do = (
        f"{finder.suggestion(name, '')} 'rationlp library {lists}' {'lists them all' if kind else 'says more'}.".strip()
    )
    told = f"{expected.get(kind, f'a {kind}')} of the library"
    return RequestError([Problem("error", where, "", repr(name), told, do)])


def everything(library: Library) -> Finder:
    """Feeds, stages, nutrients and what has limits, in one."""
    finders = [finder(library) for finder in (limit_finder, stage_finder, nutrient_finder)]
    named = [name for finder in finders for name in finder.names.values()]
    return Finder(named, [name for finder in finders for name in finder.others])
