"""Templates to HTML: every value is escaped, numbers look as everywhere else."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from rationlp.book.records import Settings
from rationlp.book_units import units_of
from rationlp.files import clean
from rationlp.numbers import figure, money, percent, plain, small_money

FARM_LOOK, FARM_SCRIPT = "page.css", "page.js"
"""Style and script of the page of a farm."""


def rendered(template: str, settings: Settings, *, look: str, script: str = "", **values: Any) -> str:
    """A template of this room, in the units, the language and the form of dates of the book.

    `look` and `script` name its files. The page may use these and nothing else: its policy (CSP) names them by their
    hashes.
    """
    style, code = style_of(look), asset(script) if script else ""
    allowed = f"'sha256-{digest(code)}'" if code else "'none'"
    text = (
        templates_of("rationlp.report")
        .get_template(template)
        .render(
            units=units_of(settings),
            day=settings.day,
            style=Markup(style),
            script=Markup(code),
            policy=f"default-src 'none'; style-src 'sha256-{digest(style)}'; "
            f"script-src {allowed}; "
            "img-src data:; base-uri 'none'; form-action 'none'",
            lang=language_of(settings),
            **values,
        )
    )
    return clean(text)


def language_of(settings: Settings) -> str:
    """Of every sentence and number of a page: English, its decimal sign the point, as it is read where the farm is."""
    if settings.units == "us":
        return "en-US"
    return "en-CA" if settings.jurisdiction == "canada" else "en"


def html(text: str) -> Markup:
    """HTML that the program made itself, to stand in a page as it is."""
    return Markup(text)


@cache
def templates_of(package: str) -> Environment:
    """The templates of a room that makes pages, with autoescape and an error for every name that is not there."""
    env = Environment(
        loader=PackageLoader(package),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.filters |= {"figure": figure, "plain": plain, "money": money, "percent": percent, "cost": small_money}
    return env


@cache
def style_of(look: str) -> str:
    """The style that every page has, and that of its kind."""
    return asset("base.css") + asset(look)


@cache
def asset(name: str) -> str:
    """A text that goes into the page as it is: style or script."""
    return files("rationlp.report").joinpath("templates", name).read_text(encoding="utf-8")


def digest(text: str) -> str:
    """The hash by which a policy (CSP) names a style or script."""
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
