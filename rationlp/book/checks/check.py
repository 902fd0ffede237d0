"""Everything that is wrong or doubtful in a book, by itself and against the feed library."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from rationlp.book.checks.contaminants import check_contaminant_units
from rationlp.book.checks.dangers import check_poisonous
from rationlp.book.checks.dates import check_dates
from rationlp.book.checks.far_figures import check_far_figures
from rationlp.book.checks.floors import check_floors
from rationlp.book.checks.holds import check_holds
from rationlp.book.checks.own_figures import check_laid_over
from rationlp.book.checks.prices import check_prices
from rationlp.book.checks.slips import check_slips
from rationlp.book.columns import ALL_STAGES, BIN_PREFIX, ENERGIES, FOREIGN_MATTER
from rationlp.book.reading.contaminant_names import looks_like_a_contaminant
from rationlp.book.reading.crew.moved import movement_of
from rationlp.book.reading.names import with_own
from rationlp.book.reading.read import build_book, in_order, read
from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.book.records import Book
from rationlp.errors import BookError, Problem
from rationlp.finder import Finder, names_of, plain, slip_of
from rationlp.library.dangers.poisonous import poisonous_seed
from rationlp.library.names.known import crop_finder, family_finder, feed_finder, nutrient_finder, stage_finder

if TYPE_CHECKING:
    from rationlp.library.read import Library

DESCRIBE_IT = "Correct it, or give its figures on own_feeds."
NO_NAMES = frozenset({"nan", "none", "null", "true", "false", "inf"})
"""What programs leave in a cell in place of a name."""
TYPO_LIKENESS = 0.85
"""A new name at least this like a known one, and used only once, is probably a slip of the pen."""


def check_book(path: Path | str | Book, library: Library) -> list[Problem]:
    """Every problem of the book at `path`, errors first. A book already read is read again from its path."""
    try:
        return in_order(_read_and_check(path.path if isinstance(path, Book) else path, library).problems)
    except BookError as error:
        return error.problems


def open_book(path: Path | str, library: Library) -> tuple[Book, list[Problem]]:
    """The book at `path` and the warnings about it. Raises BookError with every problem if any is an error."""
    reading = _read_and_check(path, library)
    problems = in_order(reading.problems)
    if any(problem.severity == "error" for problem in problems):
        raise BookError(problems)
    return build_book(reading), problems


def _read_and_check(path: Path | str, library: Library) -> BookReading:
    reading = read(path, library.units, library)
    check_holds(reading)
    check_poisonous(reading, library)
    own_feeds, own_stages = set(_ids(reading["own_feeds"], "feed")), set(_ids(reading["own_stages"], "stage"))
    _feeds(reading, library, own_feeds)
    _limits(reading, library, own_feeds)
    _stages(reading, library, own_stages)
    _nutrients(reading, library)
    _new_feeds(reading, library)
    _stage_rows(reading, library)
    _weighed(reading, library, own_feeds)
    check_floors(reading, library)
    check_laid_over(reading, library)
    check_far_figures(reading, library)
    check_contaminant_units(reading, library)
    check_prices(reading, library)
    check_slips(reading, library)
    check_dates(reading)
    return reading


def _ids(rows: Iterable[SheetRow], column: str) -> list[str]:
    return [row[column] for row in rows if row.sound(column)]


def _typed(name: str) -> str:
    """A name that is none of ours about as it was typed: names are kept with _ for blanks."""
    return repr(name if name.replace("_", "").isalnum() else name.replace("_", " "))


# Feeds ----------------------------------------------------------------------------------------------------------


def _feeds(reading: BookReading, library: Library, own: set[str]) -> None:
    for row in reading["supplements"]:
        if row.sound("feed") and row["feed"] not in library.feeds and row["feed"] not in own:
            if poisonous_seed(row["feed"], library):
                continue  # check_poisonous says what it is
            do = with_own(feed_finder(library), own).suggestion(row["feed"], DESCRIBE_IT)
            reading.error(row, "feed", f"the feed {_typed(row['feed'])}", "a feed of the library or of own_feeds", do)
    for row in (*reading["sorted"], *reading["sown"], *reading["crops"]):
        crop = row["crop"]
        if not row.sound("crop") or crop == FOREIGN_MATTER or crop in library.feeds or crop in own:
            continue
        if poisonous_seed(crop, library):
            continue  # check_poisonous says what it is
        expected = "a crop of the library or of own_feeds, or foreign_matter"
        crops = with_own(crop_finder(library, FOREIGN_MATTER), own)
        reading.error(row, "crop", f"the crop {_typed(crop)}", expected, crops.suggestion(crop, DESCRIBE_IT))


def _limits(reading: BookReading, library: Library, own: set[str]) -> None:
    for row in reading["own_limits"]:
        if row.sound("feed") and row["feed"] not in library.families and row["feed"] not in own:
            if poisonous_seed(row["feed"], library):
                continue  # check_poisonous says what it is
            do = with_own(family_finder(library), own).suggestion(row["feed"], "Correct it.")
            expected = "a feed or family of feeds of the library, or a feed of own_feeds"
            reading.error(row, "feed", f"the feed {_typed(row['feed'])}", expected, do)


def _new_feeds(reading: BookReading, library: Library) -> None:
    """A feed the library does not know needs its dry matter if it is described, or lies in a bin, on dry matter."""
    rows: dict[str, list[SheetRow]] = defaultdict(list)
    for row in reading["own_feeds"]:
        if row.sound("feed") and row["feed"] not in library.feeds:
            rows[row["feed"]].append(row)
    crops = [crop for sheet in ("sorted", "sown", "crops") for crop in _ids(reading[sheet], "crop")]
    used = {*_ids(reading["supplements"], "feed"), *crops}
    for feed, figures in rows.items():
        if feed not in used:
            found = f"figures of {feed!r}, which is neither offered nor in a bin"
            do = feed_finder(library).suggestion(feed, "Offer it on supplements, or leave it.")
            reading.warning(figures[0], "feed", found, "a feed that is used", do)
        on_dry_matter = [row for row in figures if row["basis"] == "dry_matter"]
        if not any(row["nutrient"] == "dry_matter" for row in figures) and on_dry_matter:
            reading.error(
                on_dry_matter[0],
                "basis",
                f"{feed!r} on dry_matter, without its dry matter",
                "a row with the nutrient dry_matter, as_fed",
                "Add its dry matter to own_feeds.",
            )


def _weighed(reading: BookReading, library: Library, own: set[str]) -> None:
    bins, offers = reading.names("bins", "bin"), reading.names("supplements", "offer")
    known = {*library.feeds, *own, *bins, *offers}
    for row in reading["actual"]:
        if row.sound("feed") and movement_of(row) is None and plain(row["feed"]).removeprefix(BIN_PREFIX) not in known:
            do = names_of(known).suggestion(row["feed"], "Correct it.")
            reading.error(row, "feed", f"{row['feed']!r}", "an offer, a feed or a bin of this book", do)


# Stages ---------------------------------------------------------------------------------------------------------


def _stages(reading: BookReading, library: Library, own: set[str]) -> None:
    known = {*own, *library.stages}

    @cache
    def finder() -> Finder:
        return with_own(stage_finder(library), own)

    for sheet, more in (("groups", ()), ("herd", ()), ("own_limits", (ALL_STAGES,))):
        for row in reading[sheet]:
            if row.sound("stage") and row["stage"] not in known and row["stage"] not in more:
                do = finder().suggestion(row["stage"], "`rationlp library stages` lists them.")
                expected = "a stage of the library or of own_stages"
                reading.error(row, "stage", f"the stage {_typed(row['stage'])}", expected, do)
    in_use = {*_ids(reading["groups"], "stage"), *_ids(reading["herd"], "stage")}
    for row in reading["own_stages"]:
        if row.sound("stage") and row["stage"] not in library.stages and row["stage"] not in in_use:
            near = slip_of(row["stage"], library.stages, TYPO_LIKENESS)
            if near:
                reading.warning(
                    row,
                    "stage",
                    f"a new stage {row['stage']!r}",
                    "a stage of the library, or a new one",
                    f"Did you mean {near}? As it stands nothing of the library applies to it.",
                )


def _stage_rows(reading: BookReading, library: Library) -> None:
    """Rows per mcal need the stage's energy, rows per day what the animals eat."""
    energies = _one_energy_each(reading, library)
    animals = (*reading["groups"], *reading["herd"])
    fed = {row["stage"] for row in animals if row.sound("stage", "feed_per_head_per_day")}
    for row in reading["own_stages"]:
        if not row.sound("stage", "nutrient", "per"):
            continue
        stage, nutrient, per, known = row["stage"], row["nutrient"], row["per"], library.stages.get(row["stage"])
        if per == "mcal" and nutrient in ENERGIES:
            reading.error(row, "per", f"the energy {nutrient} per mcal", "kg or day", "State the energy per kg.")
        elif per == "mcal" and known is None and stage not in energies:
            found = f"{nutrient} per mcal, in a stage without an energy"
            expected = f"a row of {stage} for one of {', '.join(ENERGIES)}"
            reading.error(row, "per", found, expected, "Add the energy row, or state the requirement per kg.")
        elif per == "day" and stage not in fed and (known is None or not known.daily_feed_g):
            found = f"{nutrient} per day, in a stage whose feed per day is not known"
            expected = f"feed_per_head_per_day of a group in the stage {stage}"
            reading.error(row, "per", found, expected, "Fill it in on groups, or state the requirement per kg.")


def _one_energy_each(reading: BookReading, library: Library) -> set[str]:
    """The stages that name their energy; a new stage that names two is reported."""
    named: dict[str, dict[str, SheetRow]] = defaultdict(dict)
    for row in reading["own_stages"]:
        if row.sound("stage", "nutrient") and row["nutrient"] in ENERGIES:
            named[row["stage"]].setdefault(row["nutrient"], row)
    for stage, rows in named.items():
        if stage not in library.stages and len(rows) > 1:
            (first, first_row), (second, row) = list(rows.items())[:2]
            found = f"{second}, beside {first} in {first_row.place.cell('nutrient')}"
            reading.error(row, "nutrient", found, "one energy for a stage", "Delete the rows of one of the two.")
    return set(named)


# Nutrients ------------------------------------------------------------------------------------------------------


def _nutrients(reading: BookReading, library: Library) -> None:
    described = _ids(reading["own_feeds"], "nutrient")
    asked = _ids(reading["own_stages"], "nutrient")
    for row in reading["assays"]:
        nutrient = row["nutrient"]
        if row.sound("nutrient") and nutrient not in (*library.nutrients, *described, *asked):
            do = nutrient_finder(library).suggestion(nutrient, "Correct it; a new nutrient needs figures on own_feeds.")
            reading.error(row, "nutrient", f"the nutrient {_typed(nutrient)}", "a nutrient of the library", do)
    times = Counter([*described, *asked])
    described += [name for name in _ids(reading["assays"], "nutrient") if looks_like_a_contaminant(name)]
    for row in (*reading["own_feeds"], *reading["own_stages"]):
        if row.sound("nutrient") and row["nutrient"] not in library.nutrients:
            _new_nutrient(reading, row, library, times, (described, asked))


def _new_nutrient(
    reading: BookReading, row: SheetRow, library: Library, times: Mapping[str, int], known: tuple[list[str], list[str]]
) -> None:
    """A new nutrient is allowed; used once and like a known one, without a figure, or without a requirement that speaks
    of it, it is doubtful. `known` are the nutrients that have a figure, and those that have a requirement."""
    described, asked = known
    nutrient = row["nutrient"]
    if not nutrient[0].isalnum() or nutrient in NO_NAMES:
        reading.error(row, "nutrient", f"the nutrient {_typed(nutrient)}", "the name of a nutrient", "Correct it.")
        return
    near = slip_of(nutrient, library.nutrients, TYPO_LIKENESS) if times[nutrient] == 1 else ""
    if near:
        found, expected = f"a new nutrient {nutrient!r}, used once", "a nutrient of the library, or a new one"
        reading.warning(row, "nutrient", found, expected, f"Did you mean {near}?")
    elif nutrient not in described:
        found = f"{nutrient!r}, of which no feed has a figure"
        expected = "a nutrient of the library, or one with figures on own_feeds"
        do = "Give the figures of the feeds, or no ration can be made for the stage."
        if looks_like_a_contaminant(nutrient):
            do = "Enter what the laboratory found on assays; till then it changes nothing."
        reading.warning(row, "nutrient", found, expected, do)
    elif nutrient not in asked:
        found = f"{nutrient!r}, of which no requirement or limit speaks"
        expected = "a nutrient of the library, or one with a row on own_stages"
        near = nutrient_finder(library).suggestion(nutrient, "")
        start = f"{near} Or" if near else "Correct the name, or"
        do = f"{start} give its minimum or maximum on own_stages; till then it changes nothing."
        reading.warning(row, "nutrient", found, expected, do)
