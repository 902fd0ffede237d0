"""Processes of this machine that work on books: they begin anew, and end with the process that began them."""

from __future__ import annotations

import os
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context, parent_process
from threading import Thread

from rationlp.errors import Problem, RequestError


def processes(jobs: int) -> ProcessPoolExecutor:
    """So many processes, of which none shares a solver or an open file with this one. Raises RequestError where the
    machine lets none work together."""
    try:
        return ProcessPoolExecutor(jobs, mp_context=get_context("spawn"), initializer=end_with_parent)
    except OSError as error:
        found, do = f"{jobs} processes, which cannot share memory here ({error.strerror})", "Ask for one: --jobs 1."
        raise RequestError([Problem("error", "jobs", "", found, "a machine that lets them", do)]) from None


def end_with_parent() -> None:
    """In a worker: ends it when the process that began it is gone; else it waits for work for ever."""
    Thread(target=_wait_and_end, daemon=True).start()


def _wait_and_end() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
