"""Where the page stands: what is shown, what is being worked on, and since when."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

import anyio

from rationlp.errors import Problem
from rationlp.served.changes import RationTold, changes
from rationlp.served.watch import Seen, Stamp, Watch, is_whole, stamp_of
from rationlp.served.work import Made, Maker, Outline, made_of, outline_of

PAUSE_S = 0.2
Worker = Callable[..., Awaitable[Any]]
"""Calls a function with its arguments somewhere else; a call that is cancelled may be ended midway."""


@dataclass(frozen=True, slots=True)
class Page:
    """A page that was made, of the book saved at `saved`; `took_s` seconds of work.

    `changed` says what is not as on the page before, of the book saved at `before`.
    """

    html: str
    file: str
    saved: datetime | None
    took_s: float
    rations: tuple[RationTold, ...] = ()
    before: datetime | None = None
    changed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why there is no page of the book saved at `saved`: problems with their cells, or what happened."""

    saved: datetime | None
    problems: tuple[Problem, ...] = ()
    words: str = ""


@dataclass(frozen=True, slots=True)
class Task:
    """What is being done since when, on the book saved at `saved`; None where it is not there.

    `waits`: nothing yet, until the book stands still and whole.
    """

    since: datetime
    saved: datetime | None
    waits: bool = False


@dataclass(frozen=True, slots=True)
class Now:
    """All there is to know for an answer. `serial` changes whenever something else is to be shown."""

    serial: int = 0
    shown: Page | Trouble | None = None
    page: Page | None = None  # the last good one
    task: Task | None = None
    outline: Outline | None = None  # of the book last read without an error


class Desk:
    """Follows one book and keeps `now` true. `make` makes a page of a farm, `worker` works somewhere else; `pause_s`
    seconds lie between two looks at the book."""

    def __init__(self, book: Path, library: Path | None, worker: Worker, make: Maker, pause_s: float = PAUSE_S) -> None:
        self.book, self.library, self.worker, self.make, self.pause_s = book, library, worker, make, pause_s
        self.now = Now()
        self.watch = Watch()

    async def follow(self) -> None:
        """Works on the book whenever it was saved, until cancelled."""
        while True:
            stamp = await self._look()
            match self.watch.look(stamp, await anyio.to_thread.run_sync(is_whole, self.book)):
                case Seen.READY:
                    await self._follow_one(stamp)
                    continue
                case Seen.MOVING:
                    self._wait(stamp)
                case Seen.SAME if self.now.task is not None:  # it was put back as it was
                    self.now = replace(self.now, task=None)
            await anyio.sleep(self.pause_s)

    def _wait(self, stamp: Stamp) -> None:
        since = self.now.task.since if self.now.task else datetime.now()
        task = Task(since, stamp.saved, waits=True)
        if task != self.now.task:
            self.now = replace(self.now, task=task)

    async def _look(self) -> Stamp:
        return await anyio.to_thread.run_sync(stamp_of, self.book)

    async def _follow_one(self, stamp: Stamp) -> None:
        """Works on the book until it is done or is saved again, which makes the work idle."""
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(self._until_saved_again, stamp, tasks.cancel_scope)
            await self._work(stamp)
            tasks.cancel_scope.cancel()

    async def _until_saved_again(self, stamp: Stamp, scope: anyio.CancelScope) -> None:
        while await self._look() == stamp:
            await anyio.sleep(self.pause_s)
        scope.cancel()

    async def _work(self, stamp: Stamp) -> None:
        started = datetime.now()
        self.now = replace(self.now, task=Task(started, stamp.saved))
        try:
            outline: Outline = await self.worker(outline_of, self.book, self.library, stamp)
            made = Made(problems=outline.problems)
            if not outline.has_errors:
                self.now = replace(self.now, outline=outline, serial=self.now.serial + (self.now.shown is None))
                made = await self.worker(made_of, self.book, self.library, stamp, self.make)
        except anyio.BrokenWorkerProcess:
            made = Made(words="The calculation ended before it answered: out of memory, or stopped from outside.")
        except Exception as error:  # a defect of the program is told, and the server goes on
            made = Made(words=f"The program failed ({type(error).__name__}: {error}). This is a defect of the program.")
        if await self._look() != stamp:
            return  # what was read is older than the book
        self.watch.done = stamp
        self._show(made, stamp, started)

    def _show(self, made: Made, stamp: Stamp, started: datetime) -> None:
        page = self.now.page
        shown: Page | Trouble = Trouble(stamp.saved, made.problems, made.words)
        if made.page:
            took_s = (datetime.now() - started).total_seconds()
            shown = Page(made.page, made.file, stamp.saved, took_s, made.rations)
            if page is not None:
                shown = replace(shown, before=page.saved, changed=changes(page.rations, made.rations))
            page = shown
        self.now = replace(self.now, serial=self.now.serial + 1, shown=shown, page=page, task=None)
