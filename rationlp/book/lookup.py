"""What is asked for by name - a stage, bin, offer, sample, group - found in a book and the library, or asked back."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from rationlp.book.reading.names import stage_meant, with_own
from rationlp.book.records import Book
from rationlp.errors import Problem, RequestError
from rationlp.finder import Finder, Name, plain
from rationlp.library.names.known import POISON, feed_finder, stage_finder

if TYPE_CHECKING:
    from rationlp.library.read import Library

ALL_TOLD = 40
"""So many stages are told where a word fits them all: `sow` lists the sows."""
Meant = Callable[[str], tuple[str, ...]]


def bins_named(names: Iterable[str], book: Book) -> list[str]:
    """The bins by name or label, each once. Raises RequestError with every one that is not known."""
    finder = Finder(Name(row.bin, (row.label,) if row.label else ()) for row in book.bins)
    expected = f"a bin of the book: {', '.join(finder.names) or 'it has none'}"
    return _all_found("bin", names, finder.meant, finder, expected)


def offers_named(
    names: Iterable[str], book: Book, option: str, bins: bool = False, library: Library | None = None
) -> list[str]:
    """The offers by name or label, each once, with `bins` the bins too; with a `library` also by what the trade calls
    their feed. Raises RequestError."""
    rows = [Name(row.offer, (row.label,) if row.label else (), row.feed) for row in book.supplements]
    finder = Finder([*rows, *(Name(row.bin, (row.label,) if row.label else ()) for row in book.bins if bins)])
    expected = f"an offer{' or bin' if bins else ''} of the book: {', '.join(finder.names) or 'it has none'}"

    def meant(text: str) -> tuple[str, ...]:
        feeds = () if library is None or finder.meant(text) else feed_finder(library).meant(text)
        return finder.meant(text) or tuple(row.offer for row in book.supplements if row.feed in feeds)

    return _all_found(option, names, meant, finder, expected)


def groups_named(names: Iterable[str], book: Book) -> list[str]:
    """The groups by name, each once. Raises RequestError."""
    finder = Finder(Name(row.group) for row in book.groups)
    expected = f"a group of the book: {', '.join(finder.names) or 'it has none'}"
    return _all_found("group", names, finder.meant, finder, expected)


def samples_named(names: Iterable[str], book: Book, option: str = "sample") -> list[str]:
    """The samples by name, each once. Raises RequestError."""
    finder = Finder(Name(row.sample) for row in book.samples)
    expected = f"a sample of the book: {', '.join(finder.names) or 'it has none'}"
    return _all_found(option, names, finder.meant, finder, expected)


def feeds_named(names: Iterable[str], book: Book, library: Library, option: str) -> list[str]:
    """The feeds of the library or of own_feeds by id, label or word of the trade, each once. Raises RequestError."""
    finder = with_own(feed_finder(library), {row.feed for row in book.own_feeds})

    def meant(text: str) -> tuple[str, ...]:
        return tuple(id_ for id_ in finder.meant(text) if finder.names[id_].kin != POISON)

    return _all_found(option, names, meant, finder, "a feed of the library or of 'own_feeds'")


def stages_named(names: Iterable[str], book: Book, library: Library) -> list[str]:
    """The stages by id, label, word of the trade, weight or age, or by the group that is in it. Raises RequestError."""
    finder = with_own(stage_finder(library), {row.stage for row in book.own_stages})
    groups = {plain(row.group): row.stage for row in book.groups}

    def meant(text: str) -> tuple[str, ...]:
        exact = next((name for name in finder.names if plain(name) == plain(text)), groups.get(plain(text)))
        return (exact,) if exact else finder.meant(text) or stage_meant(text, library)

    do = "'rationlp library stages' lists them."
    return _all_found("stage", names, meant, finder, "a stage of the library or of 'own_stages'", do)


def _all_found(
    option: str,
    names: Iterable[str],
    meant: Meant,
    finder: Finder,
    expected: str,
    otherwise: str = "Check the spelling.",
) -> list[str]:
    found, problems = [], []
    for name in names:
        ids = meant(name)
        if len(ids) == 1:
            found.append(ids[0])
        elif ids:
            do = f"Which one? {finder.told(ids, ALL_TOLD)}."
            problems.append(Problem("error", option, "", f"{name!r}, which fits {len(ids)}", expected, do))
        else:
            problems.append(Problem("error", option, "", repr(name), expected, finder.suggestion(name, otherwise)))
    if problems:
        raise RequestError(problems)
    return list(dict.fromkeys(found))
