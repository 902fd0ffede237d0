"""A farm's page served inside the test: the same server, its work done in a thread, its page made of two lines."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html import escape
from pathlib import Path
from typing import Any

import anyio
from random_farms import DEMO
from starlette.testclient import TestClient

from rationlp.api import OpenFarm
from rationlp.served.app import app_of
from rationlp.served.guard import Keys
from rationlp.served.state import Desk
from rationlp.served.work import BAR, Made, Maker

PORT = 50_000
PAUSE_S = 0.02
CEILING_S = 120
"""How long a test waits for a state before it fails; it goes on as soon as the state is there."""


def small_book(folder: Path, name: str = "book") -> Path:
    """The demo with one group and one bin's worth of rations, as a folder of CSV files."""
    book = folder / name
    shutil.copytree(DEMO, book)
    for sheet in ("herd", "arrivals"):
        (book / f"{sheet}.csv").unlink()
    lines = (book / "groups.csv").read_text(encoding="utf-8").splitlines()
    (book / "groups.csv").write_text(f"{lines[0]}\n{lines[1]}\n", encoding="utf-8")
    return book


def plain_page(farm: OpenFarm) -> Made:
    """A page that says which farm it is of."""
    name = escape(farm.settings.name)
    return Made(f"<html><body>{BAR}<h1>{name}</h1></body></html>", f"<html><h1>{name}</h1></html>")


async def in_a_thread(function: Callable[..., Any], *arguments: object) -> object:
    """Works beside the server."""
    return await anyio.to_thread.run_sync(lambda: function(*arguments), abandon_on_cancel=True)


class Visitor:
    """A browser without a screen, with the key or without."""

    def __init__(self, client: TestClient, keys: Keys) -> None:
        self.client, self.keys = client, keys

    def get(self, address: str, **headers: str) -> Any:
        return self.client.get(address, headers=headers)

    def post(self, address: str, data: dict[str, str] | None = None, **headers: str) -> Any:
        return self.client.post(address, data=data, headers={"origin": str(self.client.base_url), **headers})

    def state(self, view: str = "farm") -> dict[str, Any]:
        return self.client.get(f"/state?view={view}").json()

    def until(self, holds: Callable[[dict[str, Any]], object], view: str = "farm") -> dict[str, Any]:
        """Waits for a state of the server."""
        return until(lambda: self.state(view), holds)

    def rest(self) -> dict[str, Any]:
        """Waits until nothing is being worked on."""
        return self.until(
            lambda state: state["line"] and "orking" not in state["line"] and "being" not in state["line"]
        )


def until(look: Callable[[], Any], holds: Callable[[Any], object]) -> Any:
    """What `look` gives as soon as it holds."""
    end = time.monotonic() + CEILING_S
    while not holds(found := look()):
        assert time.monotonic() < end, found
        time.sleep(0.02)
    return found


@contextmanager
def served(book: Path, make: Maker = plain_page) -> Iterator[Visitor]:
    """The page of a book, served while the block lasts; the visitor has the key."""
    keys = Keys(PORT)
    app = app_of(Desk(book.resolve(), None, in_a_thread, make, PAUSE_S), keys)
    with TestClient(app, base_url=f"http://127.0.0.1:{PORT}", follow_redirects=True) as client:
        visitor = Visitor(client, keys)
        assert visitor.get(keys.address()).status_code == 200
        yield visitor
