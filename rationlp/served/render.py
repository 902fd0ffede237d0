"""What stands above the page and in its place: the bar, the wait, problems with their cells, files."""

from __future__ import annotations

from datetime import date, datetime
from functools import cache
from importlib.resources import files
from typing import Any

from rationlp.errors import Problem
from rationlp.report.render import FARM_LOOK, FARM_SCRIPT, asset, digest, style_of, templates_of
from rationlp.served.state import Now, Page, Task, Trouble
from rationlp.served.work import BAR

POLICY = (
    "default-src 'none'; style-src 'self'{style}; script-src 'self'{script}; img-src data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)


def own_policy() -> str:
    """The policy (CSP) of the pages of this room: nothing but the server's own style and script."""
    return POLICY.format(style="", script="")


@cache
def farm_policy() -> str:
    """The policy of the farm's page: its style and script, by their hashes, beside the server's."""
    return POLICY.format(
        style=f" 'sha256-{digest(style_of(FARM_LOOK))}'", script=f" 'sha256-{digest(asset(FARM_SCRIPT))}'"
    )


def clock(moment: datetime | None, now: Now) -> str:
    """A time of today, or with its day as the book writes days."""
    if moment is None:
        return "a time not known"
    if moment.date() == date.today():
        return f"{moment:%H:%M:%S}"
    return f"{moment.strftime(now.outline.date_format if now.outline else '%Y-%m-%d')} {moment:%H:%M}"


# The bar -------------------------------------------------------------------------------------------------------


def line_of(now: Now, view: str) -> str:
    """Where things stand, in a line."""
    shown, page = now.shown, now.page
    said = [] if now.task is None else [_task_words(now.task, now)]
    if (view == "last" and page is not None) or (view == "farm" and isinstance(shown, Page)):
        assert page is not None
        of = f"of the book saved at {clock(page.saved, now)}"
        if is_old(now, view):
            said.append(f"What stands here is {of}.")
            if isinstance(shown, Trouble) and now.task is None:
                said.append(_trouble_words(shown, now))
        else:
            said.append(f"This page is {of}; when you save the book, it follows.")
    elif now.task is None and isinstance(shown, Trouble):
        said.append(_trouble_words(shown, now))
    elif now.task is None and page is not None:
        said.append(f"The page is of the book saved at {clock(page.saved, now)}.")
    return " ".join(said)


def _trouble_words(trouble: Trouble, now: Now) -> str:
    book = f"The book saved at {clock(trouble.saved, now)}" if trouble.saved else "The book"
    count = len(_split(trouble.problems)[0])
    if not count:
        return f"{book} has no page."
    return f"{book} has {count} problem{'' if count == 1 else 's'} to put right."


def _task_words(task: Task, now: Now) -> str:
    if task.waits and task.saved is None:
        return "The book is not there; a program that is saving it may take it away for a moment."
    if task.waits:
        return "The book is being read." if now.shown is None else "The book is being saved."
    words = f"Working since {clock(task.since, now)} on the book saved at {clock(task.saved, now)}."
    if now.page is not None:
        words += f" The last time took {_span(now.page.took_s)}."
    return words


def _span(seconds: float) -> str:
    if seconds < 90:
        count = max(1, round(seconds))
        return f"{count} second{'' if count == 1 else 's'}"
    return f"{round(seconds / 60)} minutes"


def is_old(now: Now, view: str) -> bool:
    """Whether the farm's page as this view shows it is of an older book than the one that lies in the folder."""
    if view == "last":
        return now.task is not None or now.shown is not now.page
    return view == "farm" and isinstance(now.shown, Page) and now.task is not None


def bar(now: Now, view: str, here: str, follows: str, serial: int) -> str:
    """The bar above every page. It loads the page again when what it `follows` has another serial."""
    page = now.shown if view == "farm" and isinstance(now.shown, Page) else None
    return _filled(
        "bar.html",
        line=line_of(now, view),
        old=is_old(now, view),
        links=_links(now),
        view=view,
        here=here,
        follows=follows,
        serial=serial,
        before=clock(page.before, now) if page else "",
        changed=page.changed if page else (),
        same=page is not None and page.before is not None,
    )


def _links(now: Now) -> list[tuple[str, str]]:
    links = [("/", "Problems" if isinstance(now.shown, Trouble) else "The farm")]
    if isinstance(now.shown, Trouble) and now.page is not None:
        links.append(("/last", "The last page"))
    warnings = len(_split(_problems(now))[1])
    links.append(("/check", f"Check of the book ({warnings} warning{'' if warnings == 1 else 's'})"))
    return [*links, ("/files", "Files to save or print")]


# Pages ---------------------------------------------------------------------------------------------------------


def farm_page(now: Now, page: Page, view: str, here: str) -> str:
    """The farm's page with the bar above it."""
    return page.html.replace(BAR, bar(now, view, here, "farm", now.serial), 1)


def wait_page(now: Now, book: str) -> str:
    """Before there is anything to show."""
    return _page("wait.html", now, book, "/", outline=now.outline)


def trouble_page(now: Now, trouble: Trouble, book: str) -> str:
    """In place of the page: every problem with its cell, or what happened."""
    errors, warnings = _split(trouble.problems)
    return _page(
        "trouble.html",
        now,
        book,
        "/",
        trouble=trouble,
        errors=errors,
        warnings=warnings,
        page=now.page,
        page_saved=clock(now.page.saved, now) if now.page else "",
    )


def check_page(now: Now, book: str) -> str:
    """What `check` says of the book."""
    errors, warnings = _split(_problems(now))
    words = "No problems found." if now.outline else "The book is still being read."
    return _page("check.html", now, book, "/check", errors=errors, warnings=warnings, words=words)


def files_page(now: Now, book: str, serial: int, **values: Any) -> str:
    """What was made and what can be made."""
    saved = now.task.saved if now.task and now.task.saved else (now.shown.saved if now.shown else None)
    return _filled(
        "files.html",
        lang=_language(now),
        book=book,
        bar=bar(now, "files", "/files", "files", serial),
        page=now.page,
        groups=now.outline.groups if now.outline else (),
        clock=lambda moment: clock(moment, now),
        saved=saved,
        **values,
    )


def _page(template: str, now: Now, book: str, here: str, **values: Any) -> str:
    view = "farm" if here == "/" else here.strip("/")
    return _filled(template, lang=_language(now), book=book, bar=bar(now, view, here, "farm", now.serial), **values)


def _language(now: Now) -> str:
    return now.outline.language if now.outline else "en"


def _problems(now: Now) -> tuple[Problem, ...]:
    if isinstance(now.shown, Trouble) and now.shown.problems:
        return now.shown.problems
    return now.outline.problems if now.outline else ()


def _split(problems: tuple[Problem, ...]) -> tuple[list[Problem], list[Problem]]:
    """Errors and warnings."""
    errors = [problem for problem in problems if problem.severity == "error"]
    return errors, [problem for problem in problems if problem.severity != "error"]


def static(name: str) -> str:
    """A style or script of this room."""
    return files("rationlp.served").joinpath("templates", name).read_text(encoding="utf-8")


def _filled(name: str, **values: Any) -> str:
    return templates_of("rationlp.served").get_template(name).render(**values)
