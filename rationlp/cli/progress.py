"""A bar for work that takes a while: on the terminal, on stderr, and nowhere else."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from threading import Timer

import click

PATIENCE_S = 1.0
"""Work that is done sooner shows no bar."""
WAIT_S = 2.0
"""Work without steps to count is named after so many seconds."""


@contextmanager
def progress(label: str) -> Iterator[Callable[[int], Callable[[], None]]]:
    """Gives a function that is told how many steps there are and gives back what to call after each.

    Nothing is drawn where stderr is no terminal, and nothing before the work has taken PATIENCE_S seconds.
    """
    updates: list[Callable[[int], None]] = []
    started = time.monotonic()

    def begin(steps: int) -> Callable[[], None]:
        if not sys.stderr.isatty():
            return lambda: None
        count = 0

        def done() -> None:
            nonlocal count
            count += 1
            if not updates and time.monotonic() - started < PATIENCE_S:
                return
            if not updates:
                bar = opened.enter_context(click.progressbar(length=steps, label=label, file=sys.stderr))
                updates.append(bar.update)
                updates[0](count)
            else:
                updates[0](1)

        return done

    with ExitStack() as opened:
        yield begin


@contextmanager
def waiting(label: str) -> Iterator[None]:
    """Says on stderr what is being done, where a person watches and once it has taken WAIT_S seconds; then wipes it."""
    if not sys.stderr.isatty():
        yield
        return
    told: list[str] = []

    def tell() -> None:
        told.append(f"{label} ...")
        sys.stderr.write(told[0])
        sys.stderr.flush()

    timer = Timer(WAIT_S, tell)
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        timer.join()
        if told:
            sys.stderr.write("\r" + " " * len(told[0]) + "\r")
            sys.stderr.flush()
