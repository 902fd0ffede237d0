"""What the TAB key offers: stages, bins, offers, groups, samples and feeds, of the book that is being asked."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click
from click.shell_completion import CompletionItem, split_arg_string

if TYPE_CHECKING:
    from rationlp.book.records import Book
    from rationlp.library.read import Library

Completion = Callable[[click.Context, click.Parameter, str], list[CompletionItem]]
Offered = Iterable[tuple[str, str]]
"""Ids with what each is, in words."""


def _completion(offered: Callable[[Book | None, Library], Offered]) -> Completion:
    """A completion that never fails: what cannot be read offers nothing."""

    def complete(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        from rationlp.errors import RationlpError
        from rationlp.library import load_library

        try:
            library = load_library(ctx.params.get("library_dir"))
            found = offered(_book_of(ctx.params.get("book") or _typed_book(), library), library)
            return [CompletionItem(id_, help=words) for id_, words in found if id_.startswith(incomplete)]
        except (RationlpError, OSError):
            return []

    return complete


def _typed_book() -> Path | None:
    """The book among the words typed so far: click leaves it unread while an option has no value yet."""
    words = split_arg_string(os.environ.get("COMP_WORDS", ""))[2:]
    return next((Path(word) for word in words if not word.startswith("-") and Path(word).exists()), None)


def _book_of(path: Path | None, library: Library) -> Book | None:
    from rationlp.book import open_book
    from rationlp.errors import BookError

    try:
        return open_book(path, library)[0] if path is not None else None
    except BookError:
        return None


def _stages(book: Book | None, library: Library) -> Iterator[tuple[str, str]]:
    if book is not None:
        yield from ((row.group, f"a group of the book ({row.stage})") for row in book.groups)
        yield from ((name, "a stage of your own") for name in dict.fromkeys(row.stage for row in book.own_stages))
    yield from ((row.stage, row.label) for row in library.stages.values())


stages = _completion(_stages)
bins = _completion(lambda book, library: ((row.bin, row.label) for row in (book.bins if book else ())))
offers = _completion(lambda book, library: ((row.offer, row.label) for row in (book.supplements if book else ())))
groups = _completion(lambda book, library: ((row.group, row.stage) for row in (book.groups if book else ())))
samples = _completion(lambda book, library: ((row.sample, f"bin {row.bin}") for row in (book.samples if book else ())))
feeds = _completion(lambda book, library: ((row.feed, row.label) for row in library.feeds.values()))


def topics(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Ids of the library's topic that was typed before."""
    from rationlp.library import load_library

    library = load_library(ctx.params.get("library_dir"))
    ids: dict[str, Iterable[str]] = {
        "feeds": library.feeds,
        "stages": library.stages,
        "nutrients": library.nutrients,
        "sources": library.sources,
        "limits": library.feed_limits,
    }
    return [CompletionItem(id_) for id_ in ids.get(ctx.params.get("topic") or "", ()) if id_.startswith(incomplete)]
