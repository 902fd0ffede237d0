"""Processes of this machine that work on books: they begin anew, and end with the process that began them."""

from __future__ import annotations

import os
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context, parent_process
from threading import Thread


def processes(jobs: int) -> ProcessPoolExecutor:
    """So many processes, of which none shares a solver or an open file with this one."""
    return ProcessPoolExecutor(jobs, mp_context=get_context("spawn"), initializer=end_with_parent)


def end_with_parent() -> None:
    """In a worker: ends it when the process that began it is gone; else it waits for work for ever."""
    Thread(target=_wait_and_end, daemon=True).start()


def _wait_and_end() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
