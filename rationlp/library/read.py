"""Reads the feed library's tables, packed or from their CSV files, and answers by id."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import MISSING, fields
from functools import cached_property
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Protocol, TypeVar

from rationlp.errors import LibraryError, Problem, column_letter
from rationlp.library import records
from rationlp.library.dangers import records as danger_records
from rationlp.library.names.records import GrainWord
from rationlp.library.records import LibraryRow
from rationlp.library.stored.packed import packed_table
from rationlp.library.trial_caps import Limit, Trial

AnyRow = TypeVar("AnyRow", bound=LibraryRow)
Kept = TypeVar("Kept")


class OfNutrient(Protocol):
    """A row that speaks of a nutrient."""

    @property
    def nutrient(self) -> str: ...


class OfFeedAndNutrient(OfNutrient, Protocol):
    """A row that speaks of a nutrient of a feed."""

    @property
    def feed(self) -> str: ...


NutrientRow = TypeVar("NutrientRow", bound=OfNutrient)
FeedRow = TypeVar("FeedRow", bound=OfFeedAndNutrient)
SHIPPED_IF_ABSENT = frozenset(
    {
        "estimates",
        "housing",
        "trials",
        "words",
        "word_meanings",
        "poisonous",
        "animal_proteins",
        "synonyms",
        "price_ranges",
    }
)
"""Tables that a library of the farm's own may leave out: the shipped ones then serve."""


class Library:
    """Every table by id. Composition is on dry matter; see records.py for the other bases."""

    def __init__(self, directory: Traversable | Path):
        self.directory = directory
        self.warnings: list[Problem] = []  # of a library of the farm's own, once it is checked
        self.limits_of_stage: dict[tuple[object, ...], list[Limit]] = {}  # kept by rationlp.stages.limits
        self._tables: dict[str, tuple[Any, ...]] = {}

    @cached_property
    def nutrients(self) -> dict[str, records.Nutrient]:
        return {row.nutrient: row for row in self.table("nutrients", records.Nutrient)}

    @cached_property
    def units(self) -> dict[str, str]:
        """The unit of each nutrient id."""
        return {row.nutrient: row.unit for row in self.nutrients.values()}

    @cached_property
    def feeds(self) -> dict[str, records.Feed]:
        return {row.feed: row for row in self.table("feeds", records.Feed)}

    @cached_property
    def stages(self) -> dict[str, records.Stage]:
        return {row.stage: row for row in self.table("stages", records.Stage)}

    @cached_property
    def figures(self) -> Mapping[str, dict[str, records.Figure]]:
        """Composition on dry matter, by feed and nutrient."""
        return self.later("composition", records.Figure, lambda rows: {row.nutrient: row for row in rows})

    @cached_property
    def estimates(self) -> dict[str, dict[str, records.Estimate]]:
        """The equation behind a figure, by nutrient and by feed, family, group or `all`."""
        found: dict[str, dict[str, records.Estimate]] = {}
        for row in self.table("estimates", records.Estimate):
            found.setdefault(row.nutrient, {})[row.feeds] = row
        return found

    @cached_property
    def premix_figures(self) -> dict[str, dict[str, records.PremixFigure]]:
        """What a kilogram of each premix adds, by feed and nutrient."""
        return by_two(self.table("premixes", records.PremixFigure))

    @cached_property
    def requirements(self) -> Mapping[str, list[records.Requirement]]:
        """Requirement rows by stage, checks and reference energies among them."""
        return self.later("requirements", records.Requirement, list)

    @cached_property
    def ceilings(self) -> tuple[records.Ceiling, ...]:
        return self.table("ceilings", records.Ceiling)

    @cached_property
    def housing(self) -> tuple[records.Housing, ...]:
        return self.table("housing", records.Housing)

    @cached_property
    def ratios(self) -> tuple[records.Ratio, ...]:
        return self.table("ratios", records.Ratio)

    @cached_property
    def families(self) -> dict[str, frozenset[str]]:
        """Feeds by family; every feed is a family of itself too."""
        found = {feed: {feed} for feed in self.feeds}
        for row in self.table("families", records.FamilyMember):
            found.setdefault(row.family, set()).add(row.feed)
        return {family: frozenset(members) for family, members in found.items()}

    @cached_property
    def feed_limits(self) -> dict[str, list[records.FeedLimit]]:
        """Evidence by the feed or family it speaks of."""
        found: dict[str, list[records.FeedLimit]] = {}
        for row in self.table("feed_limits", records.FeedLimit):
            found.setdefault(row.feed, []).append(row)
        return found

    @cached_property
    def trials(self) -> dict[str, list[Trial]]:
        """Feeding trials by the feed or family that was fed."""
        found: dict[str, list[Trial]] = {}
        for row in self.table("trials", Trial):
            found.setdefault(row.feed, []).append(row)
        return found

    @cached_property
    def plausible(self) -> tuple[records.PlausibleBound, ...]:
        return self.table("plausible", records.PlausibleBound)

    @cached_property
    def cautions(self) -> tuple[records.Caution, ...]:
        return self.table("cautions", records.Caution)

    @cached_property
    def contaminants(self) -> tuple[danger_records.Contaminant, ...]:
        return self.table("contaminants", danger_records.Contaminant)

    @cached_property
    def organic_rules(self) -> tuple[records.OrganicRule, ...]:
        return self.table("organic_rules", records.OrganicRule)

    @cached_property
    def storage(self) -> tuple[records.StorageFact, ...]:
        return self.table("storage", records.StorageFact)

    @cached_property
    def lot_variation(self) -> dict[str, list[records.LotVariation]]:
        """Spread between lots by nutrient or kind of nutrient."""
        return by_nutrient(self.table("lot_variation", records.LotVariation))

    @cached_property
    def lab_variation(self) -> dict[str, list[records.LabVariation]]:
        """Error of a laboratory result by nutrient or kind of nutrient."""
        return by_nutrient(self.table("lab_variation", records.LabVariation))

    @cached_property
    def grain_words(self) -> dict[tuple[str, str], GrainWord]:
        """What the words of a table mean, by table and word."""
        return {(row.table, row.word): row for row in self.table("grain_words", GrainWord)}

    @cached_property
    def probe_patterns(self) -> tuple[records.ProbePattern, ...]:
        return self.table("probe_patterns", records.ProbePattern)

    @cached_property
    def danger_words(self) -> tuple[danger_records.DangerWord, ...]:
        return self.table("words", danger_records.DangerWord)

    @cached_property
    def word_meanings(self) -> dict[str, danger_records.WordMeaning]:
        return {row.means: row for row in self.table("word_meanings", danger_records.WordMeaning)}

    @cached_property
    def poisonous(self) -> tuple[danger_records.PoisonousSeed, ...]:
        return self.table("poisonous", danger_records.PoisonousSeed)

    @cached_property
    def animal_proteins(self) -> tuple[danger_records.AnimalProtein, ...]:
        return self.table("animal_proteins", danger_records.AnimalProtein)

    @cached_property
    def sources(self) -> dict[str, records.Source]:
        return {row.source: row for row in self.table("sources", records.Source)}

    def header(self, name: str) -> tuple[str, ...]:
        """The columns of `name`.csv in their order. The table must be there."""
        from rationlp.library.stored.csv_tables import lines_of

        lines = lines_of(self._file(name), name)
        return tuple(lines[0]) if lines else ()

    def not_filled(self, name: str, model: type[LibraryRow]) -> list[Problem]:
        """What stands in the way before a row of a table can be read: columns it lacks or that nobody knows, no row."""
        file = self._file(name)
        if not file.is_file():
            return []
        from rationlp.library.stored.csv_tables import lines_of

        lines = lines_of(file, name)
        header = lines[0] if lines else []
        needed = [field.name for field in fields(model) if field.default is MISSING]
        missing = [column for column in needed if column not in header]
        if missing:
            found = f"no column {', '.join(missing)}" if header else "an empty file"
            expected = f"a header with at least {', '.join(needed)}"
            do = f"Copy the header of the shipped {name}.csv."
            return [Problem("error", f"{name}.csv", "A1", found, expected, do)]
        known = [field.name for field in fields(model)]
        strange = [
            Problem(
                "error",
                f"{name}.csv",
                f"{column_letter(index)}1",
                f"a column named {column!r}",
                f"one of {', '.join(known)}",
                "Correct the name, or delete the column.",
            )
            for index, column in enumerate(header)
            if column not in known
        ]
        if strange:
            return strange
        if len(lines) < 2:
            do = f"Copy the rows of the shipped {name}.csv and change what you need."
            return [Problem("error", f"{name}.csv", "A2", "a header and no rows", "at least one row", do)]
        return []

    def _file(self, name: str) -> Traversable | Path:
        """The file of a table; the shipped one where the library may leave it out."""
        file = self.directory / f"{name}.csv"
        shipped = name in SHIPPED_IF_ABSENT and not file.is_file()
        return shipped_library() / f"{name}.csv" if shipped else file

    def table(self, name: str, model: type[AnyRow]) -> tuple[AnyRow, ...]:
        """The rows of `name`.csv through their model, read once. Raises LibraryError with all its problems."""
        if name not in self._tables:
            self._tables[name] = self._read(name, model)
        return self._tables[name]

    def _read(self, name: str, model: type[AnyRow]) -> tuple[AnyRow, ...]:
        file = self._file(name)
        if not file.is_file():
            expected = f"a table with the columns {', '.join(field.name for field in fields(model))}"
            do = f"Copy {name}.csv of the shipped feed library into {self.directory} and change what you need."
            raise LibraryError([Problem("error", f"{name}.csv", "", "no such file", expected, do)])
        packed = packed_table(file, name, model)
        if packed is not None:
            return packed.all_rows()
        from rationlp.library.stored.csv_tables import read_rows

        return read_rows(file, name, model)

    def later(self, name: str, model: type[AnyRow], put: Callable[[tuple[AnyRow, ...]], Kept]) -> LaterRows[Kept]:
        """The rows of a table by its first column, made when they are asked for, each as `put` puts them together."""
        packed = packed_table(self._file(name), name, model)
        if packed is not None:
            return LaterRows(packed, put)
        from rationlp.library.stored.csv_tables import CsvTable

        return LaterRows(CsvTable(self._file(name), name, model), put)


class StoredRows(Protocol):
    """A table that gives its rows by what stands in the first column."""

    @property
    def keys(self) -> Collection[str]: ...

    def rows(self, key: str) -> tuple[Any, ...]: ...


class LaterRows(Mapping[str, Kept]):
    """The rows of a large table by its first column: a farm speaks of a third of the feeds and stages. A library of the
    farm's own was read whole before (`load.py`)."""

    def __init__(self, stored: StoredRows, put: Callable[[tuple[Any, ...]], Kept]):
        self._stored, self._put = stored, put
        self._found: dict[str, Kept] = {}

    def __getitem__(self, key: str) -> Kept:
        if key not in self._found:
            self._found[key] = self._put(self._stored.rows(key))
        return self._found[key]

    def __contains__(self, key: object) -> bool:
        return key in self._stored.keys

    def __iter__(self) -> Iterator[str]:
        return iter(self._stored.keys)

    def __len__(self) -> int:
        return len(self._stored.keys)


def shipped_library() -> Traversable:
    """The folder of the shipped tables: within the program where it is installed, beside it among its sources."""
    installed = files("rationlp") / "feed_library"
    return installed if installed.is_dir() else files("feed_library")


def by_nutrient(rows: tuple[NutrientRow, ...]) -> dict[str, list[NutrientRow]]:
    """Rows by nutrient, in their order."""
    found: dict[str, list[NutrientRow]] = {}
    for row in rows:
        found.setdefault(row.nutrient, []).append(row)
    return found


def by_two(rows: tuple[FeedRow, ...]) -> dict[str, dict[str, FeedRow]]:
    """Rows by feed, then by nutrient."""
    found: dict[str, dict[str, FeedRow]] = {}
    for row in rows:
        found.setdefault(row.feed, {})[row.nutrient] = row
    return found
