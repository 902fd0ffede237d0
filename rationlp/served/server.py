"""Runs the server on this computer until somebody ends it."""

from __future__ import annotations

import contextlib
import signal
import socket
import webbrowser
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any, TypeVar

import anyio
import anyio.to_process
import uvicorn

from rationlp.errors import Problem, RequestError
from rationlp.served.app import app_of
from rationlp.served.guard import Keys
from rationlp.served.state import Desk
from rationlp.served.work import Maker, farm_report

LOOPBACK = "127.0.0.1"
GRACE_S = 2
"""For answers that are still on their way when the server is ended."""
Result = TypeVar("Result")


def serve(
    book: Path, library: Path | None, port: int, browser: bool, tell: Callable[[str], None], make: Maker = farm_report
) -> None:
    """Serve the page of `book` on this computer only, until the program is interrupted or told to end.

    `port` 0 takes any that is free; `tell` is told the address; `browser` opens it. Raises RequestError where the port
    is taken.
    """
    listening = _listening(port)
    keys = Keys(listening.getsockname()[1])
    desk = Desk(book.resolve(), None if library is None else library.resolve(), in_a_process(), make)
    config = uvicorn.Config(
        app_of(desk, keys),
        log_level="critical",
        access_log=False,
        server_header=False,
        ws="none",
        timeout_graceful_shutdown=GRACE_S,
    )
    server = _Server(config, lambda: _told(keys, browser, tell))
    with contextlib.suppress(KeyboardInterrupt), listening:
        server.run(sockets=[listening])


def in_a_process() -> Callable[..., Awaitable[Any]]:
    """Calls functions one after another in a process that is kept, and ended where the call is cancelled."""
    one: list[anyio.CapacityLimiter] = []

    async def work(function: Callable[..., Result], *arguments: object) -> Result:
        if not one:
            one.append(anyio.CapacityLimiter(1))
        try:
            return await anyio.to_process.run_sync(_undisturbed, function, *arguments, cancellable=True, limiter=one[0])
        except KeyboardInterrupt:  # reached the process before it was undisturbed
            raise anyio.BrokenWorkerProcess from None

    return work


def _undisturbed(function: Callable[..., Result], *arguments: object) -> Result:
    """Calls a function where Ctrl+C at the terminal, which reaches every process there, is left to the server."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    return function(*arguments)


class _Server(uvicorn.Server):
    """Tells when it listens."""

    def __init__(self, config: uvicorn.Config, started: Callable[[], None]) -> None:
        super().__init__(config)
        self._when_started = started

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._when_started()


def _told(keys: Keys, browser: bool, tell: Callable[[str], None]) -> None:
    tell(keys.address())
    if browser:
        webbrowser.open(keys.address(once=True))


def _listening(port: int) -> socket.socket:
    """A socket on the loopback address. Raises RequestError."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    alone = getattr(socket, "SO_EXCLUSIVEADDRUSE", None)  # Windows: no other program may listen at the same port
    if alone is not None:
        listening.setsockopt(socket.SOL_SOCKET, alone, 1)
    try:
        listening.bind((LOOPBACK, port))
    except OSError as error:
        listening.close()
        found = f"{port}, which cannot be used ({error.strerror})"
        do = "Leave --port out: a free one is then taken."
        raise RequestError([Problem("error", "port", "", found, "a port nobody uses", do)]) from None
    return listening
