"""What is worked out in a process of its own: what is wrong with the book, and its page."""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from rationlp.errors import InputError, Problem, RationlpError

if TYPE_CHECKING:
    from rationlp.api import OpenFarm
    from rationlp.served.changes import RationTold

BAR = "<!--rationlp: the bar of the server-->"
"""Stands in a page where the bar goes. No label can hold it: all of them are escaped."""
_POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy"[^>]*>\n')
Maker = Callable[["OpenFarm"], "Made"]


@dataclass(frozen=True, slots=True)
class Outline:
    """What a first look at the book says: every problem, and how much there is to work out."""

    problems: tuple[Problem, ...]
    groups: tuple[str, ...] = ()
    bins: int = 0
    date_format: str = "%Y-%m-%d"
    language: str = "en"

    @property
    def has_errors(self) -> bool:
        """Whether anything must be put right before there is a page."""
        return any(problem.severity == "error" for problem in self.problems)


@dataclass(frozen=True, slots=True)
class Made:
    """The page of a book with BAR in it, the same as a file of its own, and its rations; or why there is no page."""

    page: str = ""
    file: str = ""
    rations: tuple[RationTold, ...] = ()
    problems: tuple[Problem, ...] = ()
    words: str = ""


def outline_of(book: Path, library: Path | None, stamp: Hashable) -> Outline:
    """What `check` says of the book, and how much there is in it. `stamp` tells one state of the book from another."""
    from rationlp.every_problem import every_problem
    from rationlp.report.render import language_of

    try:
        problems = tuple(every_problem(book, library))
        if any(problem.severity == "error" for problem in problems):
            return Outline(problems)
        farm = _farm(book, library, stamp)
    except InputError as error:
        return Outline(tuple(error.problems))
    groups, settings = tuple(row.group for row in farm.book.groups), farm.settings
    return Outline(problems, groups, len(farm.book.bins), settings.date_format, language_of(settings))


def made_of(book: Path, library: Path | None, stamp: Hashable, make: Maker) -> Made:
    """The page of the book, or why there is none."""
    try:
        return make(_farm(book, library, stamp))
    except InputError as error:
        return Made(problems=tuple(error.problems))
    except RationlpError as error:
        return Made(words=str(error))


def farm_report(farm: OpenFarm) -> Made:
    """The page of `rationlp report`, as it is served and as a file."""
    from rationlp.report.page import page_of
    from rationlp.served.changes import told

    report = farm.report()
    page = page_of(report)
    return Made(under_the_bar(page), page, told((case.ration for case in report.cases), farm.settings))


def under_the_bar(page: str) -> str:
    """The page with BAR above it and no policy (CSP) in it: the server sends one that lets the bar work as well."""
    return _POLICY.sub("", page, count=1).replace("<header>", f"{BAR}\n<header>", 1)


@lru_cache(maxsize=1)
def _farm(book: Path, library: Path | None, stamp: Hashable) -> OpenFarm:
    from rationlp.api import open_farm

    return open_farm(book, library)
