"""Does the library hold together? Every fault as a Problem with file and cell, all at once.

Run on a farm's own library when it is read, by `rationlp library`, and by the tests on the shipped one; a ration from
the shipped library does not wait for it. Errors are what cannot be; warnings are what a person should know: a
computed figure that no longer follows, a feed without a figure that a stage asks for, a word nobody uses.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from rationlp.errors import Problem, column_letter
from rationlp.library.check_figures import Fault, faults_of, recompute
from rationlp.library.derive import with_derived
from rationlp.library.equations import EquationError
from rationlp.library.equations.amino_acids import GRAINS
from rationlp.library.expressions import functions_of, inputs_of
from rationlp.library.read import AnyRow, Library
from rationlp.library.records import (
    Ceiling,
    Estimate,
    Feed,
    FeedLimit,
    Figure,
    LibraryRow,
    Nutrient,
    PremixFigure,
    Ratio,
    Requirement,
    Source,
    Stage,
)
from rationlp.library.tables import TABLES
from rationlp.library.trial_caps import Trial
from rationlp.units import COMPOSITION_UNITS, DAILY_UNITS

OtherRow = TypeVar("OtherRow", bound=LibraryRow)

KEYS: dict[str, tuple[str, ...]] = {
    "nutrients": ("nutrient",),
    "feeds": ("feed",),
    "composition": ("feed", "nutrient"),
    "premixes": ("feed", "nutrient"),
    "estimates": ("feeds", "nutrient"),
    "stages": ("stage",),
    "families": ("family", "feed"),
    "cautions": ("caution",),
    "requirements": ("stage", "nutrient", "per", "source", "minimum", "maximum"),
    "plausible": ("scope", "measure"),
    "ceilings": ("scope", "nutrient", "use", "kind", "jurisdiction"),
    "sources": ("source",),
    "trials": ("trial",),
    "ratios": ("scope", "numerator", "denominator"),
    "housing": ("scope", "housing"),
    "words": ("word",),
    "word_meanings": ("means",),
    "poisonous": ("seed",),
    "synonyms": ("kind", "means"),
    "price_ranges": ("feeds",),
    "animal_proteins": ("jurisdiction", "feed", "species"),
}
GUARDED = ("calcium", "sodium")
SALT = "salt"
CAPPING = ("legal_max", "recommended", "rule_of_thumb", "practice")
"""Evidence that makes a cap of its own."""
SOURCE_COLUMNS = ("source", "energy_floor_source")


@dataclass(frozen=True, slots=True)
class LibraryTable(Generic[AnyRow]):
    """A table with the places of its cells."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[AnyRow, ...]

    def of(self, model: type[OtherRow]) -> LibraryTable[OtherRow]:
        """The same table as one of `model`s. Raises TypeError if it holds other rows."""
        rows = tuple(row for row in self.rows if isinstance(row, model))
        if len(rows) < len(self.rows):
            raise TypeError(f"{self.name}.csv is no table of {model.__name__}")
        return LibraryTable(self.name, self.columns, rows)

    def problem(self, index: int, column: str, found: str, expected: str, do: str, severity: str = "error") -> Problem:
        """A problem of the row at `index` (the first data row, spreadsheet row 2, is 0) and `column`."""
        letter = column_letter(self.columns.index(column)) if column in self.columns else "A"
        return Problem(severity, f"{self.name}.csv", f"{letter}{index + 2}", found, expected, do)


Tables = Mapping[str, LibraryTable[LibraryRow]]


def check_library(library: Library) -> list[Problem]:
    """Every problem of the library, errors and warnings. Raises LibraryError if a table cannot be read at all."""
    sheets: Tables = {
        name: LibraryTable(name, library.header(name), library.table(name, model)) for name, model in TABLES.items()
    }
    problems: list[Problem] = []
    for check in (_duplicates, _sources, _nutrients, _units, _words, _bounds, _estimates, _safeguards, _trials):
        problems.extend(check(sheets, library))
    if not any(problem.severity == "error" for problem in problems):
        problems.extend(_figures(sheets, library))
        problems.extend(_blanks(sheets, library))
    return problems


def _duplicates(sheets: Tables, library: Library) -> Iterator[Problem]:
    for name, key in KEYS.items():
        sheet = sheets[name]
        seen: dict[tuple[object, ...], int] = {}
        for index, row in enumerate(sheet.rows):
            words = tuple(getattr(row, column) for column in key)
            if words in seen:
                text = ", ".join(str(word) for word in words[:2])
                yield sheet.problem(
                    index,
                    key[-1],
                    f"{text} for the second time",
                    f"once (it stands in row {seen[words] + 2})",
                    "Keep one of the two rows.",
                )
            seen.setdefault(words, index)


def _sources(sheets: Tables, library: Library) -> Iterator[Problem]:
    known = {row.source for row in sheets["sources"].of(Source).rows}
    for name, sheet in sheets.items():
        for column in (c for c in SOURCE_COLUMNS if c in sheet.columns and name != "sources"):
            for index, row in enumerate(sheet.rows):
                for source in getattr(row, column).split("; "):
                    if source not in known:
                        yield sheet.problem(
                            index,
                            column,
                            f"source {source!r}",
                            "a source of sources.csv",
                            "Add a row with its citation to sources.csv, or correct the spelling.",
                        )


def _nutrients(sheets: Tables, library: Library) -> Iterator[Problem]:
    sheet = sheets["nutrients"].of(Nutrient)
    above: set[str] = set()
    for index, row in enumerate(sheet.rows):
        fits = row.unit in COMPOSITION_UNITS or (row.kind, row.unit) == ("coefficient", "% of the nutrient")
        if not fits:
            yield sheet.problem(
                index, "unit", f"unit {row.unit!r}", f"one of {', '.join(COMPOSITION_UNITS)}", "Correct it."
            )
        for part in (*row.sum_of, *((row.part_of,) if row.part_of else ())):
            if part not in above:
                yield sheet.problem(
                    index,
                    "sum_of" if row.sum_of else "part_of",
                    f"part {part!r}",
                    "a nutrient that stands above this row",
                    "Move the row down, or correct the id.",
                )
        if bool(row.part_of) != bool(row.coefficient) or (row.coefficient and row.coefficient not in library.nutrients):
            yield sheet.problem(
                index,
                "coefficient",
                f"part_of {row.part_of!r} with coefficient {row.coefficient!r}",
                "both or neither, the coefficient a nutrient of this table",
                "Complete the row.",
            )
        above.add(row.nutrient)


def _units(sheets: Tables, library: Library) -> Iterator[Problem]:
    units = library.units
    measured: dict[str, Sequence[Figure | PremixFigure | Ceiling | Requirement]] = {
        "composition": sheets["composition"].of(Figure).rows,
        "premixes": sheets["premixes"].of(PremixFigure).rows,
        "ceilings": sheets["ceilings"].of(Ceiling).rows,
        "requirements": sheets["requirements"].of(Requirement).rows,
    }
    for name, rows in measured.items():
        sheet = sheets[name]
        for index, row in enumerate(rows):
            if row.nutrient not in units:
                yield sheet.problem(
                    index,
                    "nutrient",
                    f"nutrient {row.nutrient!r}",
                    "an id of nutrients.csv",
                    "Correct the id, or add the nutrient to nutrients.csv.",
                )
            elif not _daily(row) and row.unit != units[row.nutrient]:
                yield sheet.problem(
                    index,
                    "unit",
                    f"{row.nutrient} in {row.unit!r}",
                    f"{units[row.nutrient]!r}",
                    "Convert the figure and correct the unit.",
                )
            elif _daily(row) and row.unit not in DAILY_UNITS:
                yield sheet.problem(
                    index,
                    "unit",
                    f"{row.nutrient} in {row.unit!r} a day",
                    f"one of {', '.join(DAILY_UNITS)}",
                    "Correct the unit.",
                )


def _daily(row: LibraryRow) -> bool:
    """Whether the row is a requirement per animal and day; all else is per kilogram."""
    return isinstance(row, Requirement) and row.per == "day"


def _words(sheets: Tables, library: Library) -> Iterator[Problem]:
    """Ids of feeds and stages that must be known."""
    groups = {row.group for row in library.feeds.values()} | {"all"}
    families = set(library.families)
    where = (  # table, column, what is known, severity
        ("composition", "feed", set(library.feeds), "error"),
        ("premixes", "feed", set(library.feeds), "error"),
        ("requirements", "stage", set(library.stages), "error"),
        ("families", "feed", set(library.feeds), "warning"),
        ("feed_limits", "feed", families, "warning"),
        ("trials", "feed", families, "warning"),
        ("plausible", "measure", families | set(library.nutrients), "warning"),
        ("estimates", "feeds", families | groups, "warning"),
        ("price_ranges", "feeds", families | groups, "warning"),
        ("words", "means", set(library.word_meanings), "error"),
        ("words", "nutrient", {"", *library.nutrients}, "error"),
        ("animal_proteins", "feed", set(library.feeds), "warning"),
        ("synonyms", "means", {*library.feeds, *library.stages, *library.nutrients, "foreign_matter"}, "warning"),
    )
    for name, column, known, severity in where:
        sheet = sheets[name]
        told: set[str] = set()
        for index, row in enumerate(sheet.rows):
            cell = getattr(row, column)
            for word in (w for w in ((cell,) if isinstance(cell, str) else cell) if w not in known and w not in told):
                told.add(word)
                yield sheet.problem(
                    index,
                    column,
                    f"{column} {word!r}",
                    "an id that this library knows",
                    "Correct the id, add its row, or take the row out.",
                    severity,
                )


def _bounds(sheets: Tables, library: Library) -> Iterator[Problem]:
    bounded: dict[str, Sequence[Requirement | Ratio]] = {
        "requirements": sheets["requirements"].of(Requirement).rows,
        "ratios": sheets["ratios"].of(Ratio).rows,
    }
    for name, rows in bounded.items():
        sheet = sheets[name]
        for index, row in enumerate(rows):
            if row.minimum is None and row.maximum is None:
                yield sheet.problem(
                    index, "minimum", "no minimum and no maximum", "at least one of the two", "Enter one."
                )
            elif row.minimum is not None and row.maximum is not None and row.minimum > row.maximum:
                yield sheet.problem(
                    index,
                    "minimum",
                    f"minimum {row.minimum:g} over maximum {row.maximum:g}",
                    "the minimum below the maximum",
                    "Correct one of the two.",
                )


def _estimates(sheets: Tables, library: Library) -> Iterator[Problem]:
    sheet = sheets["estimates"].of(Estimate)
    for index, row in enumerate(sheet.rows):
        if row.nutrient == "amino_acids":
            if row.equation not in GRAINS:
                yield sheet.problem(
                    index, "equation", f"line {row.equation!r}", f"one of {', '.join(GRAINS)}", "Correct it."
                )
            continue
        try:
            inputs_of(row.equation)
            functions_of(row.equation)
        except EquationError as error:
            yield sheet.problem(
                index,
                "equation",
                str(error),
                "an expression of published equations",
                "See rationlp.library.expressions for what may stand here.",
            )


def _safeguards(sheets: Tables, library: Library) -> Iterator[Problem]:
    """Every stage needs its ceilings of calcium and sodium and its cap on salt, every premix its inclusion."""
    bounded = {n: {row.scope for row in library.ceilings if row.nutrient == n and row.use == "row"} for n in GUARDED}
    families = [family for family, members in library.families.items() if SALT in members]
    rows = [row for family in families for row in library.feed_limits.get(family, ())]
    capped = {row.scope for row in rows if row.max_pct is not None and row.evidence in CAPPING}
    stages, feeds = sheets["stages"].of(Stage), sheets["feeds"].of(Feed)
    for index, stage in enumerate(stages.rows):
        scopes = {stage.stage, *stage.scopes}
        lacks = [f"no ceiling of {nutrient}" for nutrient, known in bounded.items() if not scopes & known]
        if SALT in library.feeds and not scopes & capped:
            lacks.append(f"no cap on {SALT}")
        if lacks:
            yield stages.problem(
                index,
                "stage",
                f"{stage.stage} with {' and '.join(lacks)}",
                "a row of ceilings.csv for calcium and for sodium, and one of feed_limits.csv for salt, in its scopes",
                "Add the rows, or copy those of the shipped library: without them salt and limestone are mere fillers.",
            )
    for index, feed in enumerate(feeds.rows):
        if feed.group == "premix" and not feed.premix_inclusion_pct:
            yield feeds.problem(
                index,
                "premix_inclusion_pct",
                f"the premix {feed.feed} without its inclusion",
                "the percent of the whole ration that its maker states, above 0",
                "Fill it in; it stands on the label.",
            )


def _trials(sheets: Tables, library: Library) -> Iterator[Problem]:
    """A trial row makes a cap only with a level, and never from memory; caps from trials stand in no table."""
    trials = sheets["trials"].of(Trial)
    for index, trial in enumerate(trials.rows):
        if trial.use == "cap" and (trial.level_pct is None or trial.how == "memory"):
            found = "no level" if trial.level_pct is None else "a level from memory"
            yield trials.problem(
                index,
                "use",
                f"{trial.trial} counts with {found}",
                "shown",
                "Enter the level read, or set use to shown.",
            )
    limits = sheets["feed_limits"].of(FeedLimit)
    for index, row in enumerate(limits.rows):
        if row.evidence == "trial":
            do = "Enter the trial in trials.csv; its cap is computed."
            yield limits.problem(index, "evidence", "a trial", "law, advice or practice", do)


def _figures(sheets: Tables, library: Library) -> Iterator[Problem]:
    """Composition feed by feed; computed figures once more."""
    sheet = sheets["composition"].of(Figure)
    place = {(row.feed, row.nutrient): index for index, row in enumerate(sheet.rows)}
    values = {feed: {n: row.value for n, row in rows.items()} for feed, rows in library.figures.items()}
    yield from _premixes(sheets["premixes"].of(PremixFigure), library)
    for feed, rows in library.figures.items():
        faults: list[Fault] = list(faults_of(feed, library.feeds[feed].group, rows, library.nutrients))
        faults += [fault for row in rows.values() if row.equation and (fault := recompute(feed, row, values))]
        for fault in faults:
            index = place.get((feed, fault.nutrient), place[feed, next(iter(rows))])
            yield sheet.problem(index, "value", f"{feed}: {fault.found}", fault.expected, fault.do, fault.severity)


def _premixes(sheet: LibraryTable[PremixFigure], library: Library) -> Iterator[Problem]:
    """Computed amounts of premixes once more."""
    amounts = {feed: {n: row.value for n, row in rows.items()} for feed, rows in library.premix_figures.items()}
    for index, row in enumerate(sheet.rows):
        if row.equation and (fault := recompute(row.feed, row, amounts)):
            yield sheet.problem(index, "value", f"{row.feed}: {fault.found}", fault.expected, fault.do, fault.severity)


def _blanks(sheets: Tables, library: Library) -> Iterator[Problem]:
    """Feeds that lack a figure which a row of a stage asks for.

    Premixes cover trace minerals, and a vitamin nobody knows of a feed counts as none (feeds/candidates.py says so).
    """

    asked = {row.nutrient for rows in library.requirements.values() for row in rows if row.use != "check"}
    known = [library.nutrients[n] for n in asked]
    asked = {n.nutrient for n in known if n.met_by == "ration" and n.kind != "vitamin" and not n.if_unknown}
    sheet = sheets["feeds"].of(Feed)
    for index, row in enumerate(sheet.rows):
        stored = {n: figure.value for n, figure in library.figures.get(row.feed, {}).items()}
        missing = sorted(asked - set(with_derived(stored, library.nutrients)))
        if missing:
            yield sheet.problem(
                index,
                "feed",
                f"{row.feed} has no figure for {', '.join(missing)}",
                "a figure for everything a stage asks for",
                "Add rows to composition.csv; until then rations that ask for it leave the feed out.",
                "warning",
            )
