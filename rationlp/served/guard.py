"""Who may ask: somebody at this computer who has the address that the terminal shows, and no other site."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from http import HTTPStatus
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

KEY = "key"
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
"""Of every answer; its policy (CSP) is the answer's own, NOTHING where it sets none."""
NOTHING = "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
NO_KEY = (
    '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>No key</title></head><body>'
    "<h1>This page is for the one who started it</h1><p>Open it by the whole address that the terminal shows, with its "
    'key.</p><p>If you just did: <a href="/">go on</a>.</p></body></html>'
)


def _secret() -> str:
    return secrets.token_urlsafe(32)


@dataclass(frozen=True, slots=True)
class Keys:
    """What opens the door: a key in the address, and the cookie that the browser gets for it.

    The browser that is started gets a key of its own that opens once: other people of this computer can see with what
    address a program was started.
    """

    port: int
    key: str = field(default_factory=_secret, repr=False)
    cookie: str = field(default_factory=_secret, repr=False)
    once: set[str] = field(default_factory=set, repr=False)

    @property
    def cookie_name(self) -> str:
        """Of its own for each port: a browser keeps cookies by the computer alone."""
        return f"rationlp-{self.port}"

    @property
    def host(self) -> str:
        """The only name by which a browser of this computer may call the server."""
        return f"127.0.0.1:{self.port}"

    def address(self, once: bool = False) -> str:
        """The address that opens the page; `once`: one that opens it a single time."""
        key = self.key
        if once:
            key = _secret()
            self.once.add(key)
        return f"http://{self.host}/?{KEY}={key}"

    def opens(self, key: str) -> bool:
        """Whether this key opens the door."""
        if key in self.once:
            self.once.discard(key)
            return True
        return secrets.compare_digest(key.encode(), self.key.encode())


class Guard:
    """Lets a request through to `app`, or answers it: 403 for who may not ask, the cookie for who has the key."""

    def __init__(self, app: ASGIApp, keys: Keys) -> None:
        self.app, self.keys = app, keys

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """An ASGI application."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                headers.setdefault("Content-Security-Policy", NOTHING)
            await send(message)

        await (self._answer(scope) or self.app)(scope, receive, with_headers)

    def _answer(self, scope: Scope) -> Response | None:
        """What the guard answers itself; None for who may ask."""
        headers = Headers(scope=scope)
        if refusal := self._not_from_here(headers):
            return PlainTextResponse(refusal, HTTPStatus.FORBIDDEN)
        given = parse_qs(scope["query_string"].decode("latin-1")).get(KEY, [])
        if scope["path"] == "/" and given:
            return self._welcome() if self.keys.opens(given[0]) else HTMLResponse(NO_KEY, HTTPStatus.FORBIDDEN)
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return HTMLResponse(NO_KEY, HTTPStatus.FORBIDDEN)
        if scope["method"] not in ("GET", "HEAD") and "origin" not in headers:
            return PlainTextResponse("This asks for a browser that says where it comes from.", HTTPStatus.FORBIDDEN)
        if not self._has_cookie(headers):
            return HTMLResponse(NO_KEY, HTTPStatus.FORBIDDEN)
        return None

    def _not_from_here(self, headers: Headers) -> str:
        """Another name of the computer (a site that points its name here), or another site that sends the request."""
        if headers.getlist("host") != [self.keys.host]:
            return "This page has another address: the one that the terminal shows."
        if any(origin != f"http://{self.keys.host}" for origin in headers.getlist("origin")):
            return "Another site may not ask this page."
        return ""

    def _has_cookie(self, headers: Headers) -> bool:
        cookies = [part.strip().partition("=") for line in headers.getlist("cookie") for part in line.split(";")]
        given = [value for name, _, value in cookies if name == self.keys.cookie_name]
        return any(secrets.compare_digest(value.encode(), self.keys.cookie.encode()) for value in given)

    def _welcome(self) -> Response:
        answer = RedirectResponse("/", HTTPStatus.SEE_OTHER)
        answer.set_cookie(self.keys.cookie_name, self.keys.cookie, httponly=True, samesite="strict", path="/")
        return answer
