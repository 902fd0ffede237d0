"""Nobody gets in but who has the key, from this computer, and not by way of another site."""

from __future__ import annotations

import pytest
from served_farm import PORT
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from starlette.testclient import TestClient

from rationlp.served.guard import HEADERS, NOTHING, Guard, Keys

HOME = f"http://127.0.0.1:{PORT}"


@pytest.fixture
def keys() -> Keys:
    return Keys(PORT)


@pytest.fixture
def stranger(keys) -> TestClient:
    """A browser that was not let in."""

    async def inside(request):
        return PlainTextResponse("inside")

    routes = [Route(path, inside, methods=["GET", "POST"]) for path in ("/", "/files")]
    return TestClient(Starlette(routes=routes, middleware=[Middleware(Guard, keys=keys)]), base_url=HOME)


@pytest.fixture
def guest(stranger, keys) -> TestClient:
    """One that was."""
    assert stranger.get(keys.address()).text == "inside"
    return stranger


@pytest.mark.parametrize("address", ["/", "/files", "/?key=", "/?key=wrong", "/?key=%00", "/files?key=wrong", "/state"])
def test_without_the_key_there_is_nothing(stranger, address):
    answer = stranger.get(address)
    assert answer.status_code == 403 and "inside" not in answer.text and "set-cookie" not in answer.headers


def test_the_key_opens_once_more_and_leaves_the_address(stranger, keys):
    answer = stranger.get(keys.address(), follow_redirects=False)
    assert answer.status_code == 303 and answer.headers["location"] == "/"
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie and "SameSite=strict" in cookie and "Path=/" in cookie
    assert keys.key not in cookie, "who sees the cookie must not learn the address"
    assert stranger.get("/").text == "inside"
    assert TestClient(stranger.app, base_url=HOME).get(keys.address()).text == "inside"


def test_the_address_given_to_the_browser_opens_a_single_time(stranger, keys):
    address = keys.address(once=True)
    assert stranger.get(address, follow_redirects=False).status_code == 303
    assert TestClient(stranger.app, base_url=HOME).get(address).status_code == 403


def test_a_wrong_cookie_opens_nothing(stranger, keys):
    for value in ("", "wrong", keys.key, "\u00fc"):
        header = f"{keys.cookie_name}={value}".encode()
        assert stranger.get("/", headers={"cookie": header}).status_code == 403
    assert stranger.get("/", headers={"cookie": f"rationlp-1={keys.cookie}"}).status_code == 403


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        f"evil.example:{PORT}",
        "127.0.0.1",
        "127.0.0.1:1",
        f"localhost:{PORT}",
        f"127.0.0.1.evil.example:{PORT}",
        "",
    ],
)
def test_a_name_that_somebody_points_here_is_refused(guest, keys, host):
    assert guest.get("/", headers={"host": host}).status_code == 403
    assert guest.get(f"/?key={keys.key}", headers={"host": host}).status_code == 403


@pytest.mark.parametrize("origin", ["https://evil.example", "null", "http://127.0.0.1:1", f"https://127.0.0.1:{PORT}"])
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_another_site_is_refused(guest, method, origin):
    assert guest.request(method, "/files", headers={"origin": origin}).status_code == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_a_request_that_another_site_made_the_browser_send_is_refused(guest, site):
    assert guest.get("/", headers={"sec-fetch-site": site}).status_code == 403


def test_a_form_that_does_not_say_where_it_comes_from_is_refused(guest):
    assert guest.post("/files").status_code == 403
    assert guest.post("/files", headers={"origin": HOME}).text == "inside"


@pytest.mark.parametrize("address", ["/", "/no/such/place", "/?key=wrong"])
def test_every_answer_has_the_headers(guest, address):
    answer = guest.get(address)
    assert {name: answer.headers[name] for name in HEADERS} == HEADERS
    assert answer.headers["content-security-policy"] == NOTHING


def test_the_keys_are_not_told_by_accident(keys):
    assert keys.key not in repr(keys) and keys.cookie not in repr(keys)
