"""The addresses of the server and what each answers."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from http import HTTPStatus
from urllib.parse import parse_qs, quote

import anyio
from anyio.abc import TaskGroup
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from rationlp.report.render import FARM_LOOK, style_of
from rationlp.served import render
from rationlp.served.guard import Guard, Keys
from rationlp.served.offered import KINDS, MEDIA, Asked, fill
from rationlp.served.state import Desk, Page, Trouble

POLICY = "Content-Security-Policy"
FILE_POLICY = "sandbox allow-modals; default-src 'none'; style-src 'unsafe-inline'; img-src data:"
"""Of a file that is opened in the browser: nothing in it can run or ask for anything."""
LONGEST_FORM = 4_096
"""Bytes of a form that is sent."""
KEPT = 30
"""Files that are kept at a time, the newest."""
VIEWS = ("farm", "last", "check", "files")


class Counter:
    """Answers requests from the desk, and keeps what was made."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.asked: dict[int, Asked] = {}
        self.serial = 0
        self._tasks: TaskGroup | None = None
        self._turn = anyio.Semaphore(1)

    @asynccontextmanager
    async def open(self, app: Starlette) -> AsyncIterator[None]:
        """Follows the book as long as the server runs; ends what is being done when it ends."""
        async with anyio.create_task_group() as tasks:
            self._tasks = tasks
            tasks.start_soon(self.desk.follow)
            yield
            tasks.cancel_scope.cancel()

    # Pages

    async def farm(self, request: Request) -> Response:
        """The farm's page; what is to be put right in its place; or that it is being worked out."""
        now, book = self.desk.now, self.desk.book.name
        if isinstance(now.shown, Page):
            return _html(render.farm_page(now, now.shown, "farm", "/"), render.farm_policy())
        if isinstance(now.shown, Trouble):
            return _html(render.trouble_page(now, now.shown, book))
        return _html(render.wait_page(now, book))

    async def last(self, request: Request) -> Response:
        """The last good page, while there is none of the book as it stands."""
        now = self.desk.now
        if now.page is None or now.shown is now.page:
            return RedirectResponse("/", HTTPStatus.SEE_OTHER)
        return _html(render.farm_page(now, now.page, "last", "/last"), render.farm_policy())

    async def check(self, request: Request) -> Response:
        """Every problem and warning of the book."""
        return _html(render.check_page(self.desk.now, self.desk.book.name))

    async def files(self, request: Request) -> Response:
        """What can be made, and what was."""
        now, made = self.desk.now, list(reversed(self.asked.values()))
        serial = now.serial + self.serial
        return _html(render.files_page(now, self.desk.book.name, serial, asked=made, kinds=KINDS))

    async def state(self, request: Request) -> Response:
        """Where things stand, for the script that follows."""
        now, view = self.desk.now, request.query_params.get("view", "")
        view = view if view in VIEWS else "farm"
        told = {"line": render.line_of(now, view), "old": render.is_old(now, view)}
        return JSONResponse({**told, "farm": now.serial, "files": now.serial + self.serial})

    # Files

    async def make(self, request: Request) -> Response:
        """Starts making a file, and shows the files."""
        kind = KINDS.get(request.path_params["kind"])
        if kind is None:
            return _not_here()
        group = await _group(request) if kind.of_group else ""
        now = self.desk.now
        if kind.of_group and (now.outline is None or group not in now.outline.groups):
            return PlainTextResponse("The book has no such group.", HTTPStatus.BAD_REQUEST)
        saved = now.task.saved if now.task and now.task.saved else (now.shown.saved if now.shown else None)
        same = (each for each in self.asked.values() if (each.kind, each.group) == (kind, group) and not each.done)
        if next(same, None) is None and self._tasks is not None:
            self.serial += 1
            asked = self.asked[self.serial] = Asked(self.serial, kind, group, saved)
            self._tasks.start_soon(self._fill, asked)
        return RedirectResponse("/files", HTTPStatus.SEE_OTHER)

    async def _fill(self, asked: Asked) -> None:
        async with self._turn:
            try:
                await fill(asked, self.desk.book, self.desk.library)
            except OSError as error:
                asked.said, asked.done = f"The command could not be started: {error.strerror or error}.", True
        self.serial += 1
        for number in list(self.asked)[:-KEPT]:
            del self.asked[number]

    async def file(self, request: Request) -> Response:
        """A file that was made: to save, or to open without anything in it running."""
        asked = self.asked.get(request.path_params["number"])
        if asked is None or asked.data is None:
            return _not_here()
        if "open" in request.query_params and asked.ending == ".html":
            return Response(asked.data, media_type=MEDIA[asked.ending], headers={POLICY: FILE_POLICY})
        return _download(asked.data, asked.name)

    async def page_file(self, request: Request) -> Response:
        """The last good page as a file of its own."""
        page = self.desk.now.page
        return _download(page.file.encode(), "farm.html") if page is not None else _not_here()


async def _group(request: Request) -> str:
    """The group that a form names; empty for a form that is none of ours."""
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > LONGEST_FORM:
            return ""
    return parse_qs(body.decode("latin-1")).get("group", [""])[0]


def _html(page: str, policy: str = "") -> Response:
    return HTMLResponse(page, headers={POLICY: policy or render.own_policy()})


def _download(data: bytes, name: str) -> Response:
    ending = name[name.rindex(".") :]
    plain = f"attachment; filename*=UTF-8''{quote(name, safe='')}"
    return Response(data, media_type=MEDIA[ending], headers={"Content-Disposition": plain})


def _not_here() -> Response:
    return PlainTextResponse("There is nothing at this address.", HTTPStatus.NOT_FOUND)


def app_of(desk: Desk, keys: Keys) -> Starlette:
    """The server's application: nobody gets past the guard without the key."""
    counter = Counter(desk)
    texts = {"open.css": "text/css", "follow.js": "text/javascript"}

    def text(content: str, kind: str) -> Response:
        return Response(content, media_type=kind)

    async def page_css(request: Request) -> Response:
        return text(style_of(FARM_LOOK), "text/css")

    async def own(request: Request) -> Response:
        name = request.url.path.strip("/")
        return text(render.static(name), texts[name])

    async def no_icon(request: Request) -> Response:
        return Response(status_code=HTTPStatus.NO_CONTENT)

    async def nothing(request: Request, error: Exception) -> Response:
        return _not_here()

    return Starlette(
        routes=[
            Route("/", counter.farm),
            Route("/last", counter.last),
            Route("/check", counter.check),
            Route("/files", counter.files),
            Route("/files/{kind}", counter.make, methods=["POST"]),
            Route("/file/{number:int}", counter.file),
            Route("/farm.html", counter.page_file),
            Route("/state", counter.state),
            Route("/page.css", page_css),
            *(Route(f"/{name}", own) for name in texts),
            Route("/favicon.ico", no_icon),
        ],
        middleware=[Middleware(Guard, keys=keys)],
        exception_handlers={404: nothing},
        lifespan=counter.open,
    )
