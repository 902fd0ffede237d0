"""A bar for work that takes a while: on the terminal, on stderr, and nowhere else."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager

import click

PATIENCE_S = 1.0
"""Work that is done sooner shows no bar."""


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
