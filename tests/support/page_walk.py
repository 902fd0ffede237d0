"""A page taken apart: its cards, tables, lists, sentences and pictures, with the numbers that stand in each."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

NUMBER = re.compile(r"\d(?:[\d,]*\d)?(?:\.\d+)?")
SENTENCES = ("p", "li", "dd", "dt", "summary", "h1", "h2", "h3", "desc")
WITHIN = ("svg", "table", "form")
"""What is walked by itself, or stands empty until the script of the page fills it."""


@dataclass
class Table:
    """A table of the page: the id of what it stands in, the last word of its label, its caption, words of its cells."""

    place: str
    of: str
    caption: str = ""
    rows: list[list[str]] = field(default_factory=list)


class Walk(HTMLParser):
    """Tables, and every other sentence with the tag and the place it stands in."""

    def __init__(self, text: str):
        super().__init__()
        self.tables: list[Table] = []
        self.sentences: list[tuple[str, str, str]] = []
        self.picture_words: list[tuple[str, str]] = []
        self._label = ""
        self._open: list[tuple[str, str]] = []
        self._words: list[list[str]] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        if tag in ("meta", "input", "br", "rect", "line", "path"):
            return
        named = dict(attrs)
        self._open.append((tag, named.get("id") or ""))
        if named.get("role") == "group":
            self._label = (named.get("aria-label") or "").removesuffix(", a table")
        if tag == "table":
            self.tables.append(Table(self._place(), self._label.split(" ")[-1]))
        if tag == "tr":
            self.tables[-1].rows.append([])
        if tag in (*SENTENCES, "caption", "th", "td", "text"):
            self._words.append([])

    def handle_endtag(self, tag):
        if tag in ("meta", "input", "br", "rect", "line", "path"):
            return
        self._open.pop()
        if tag not in (*SENTENCES, "caption", "th", "td", "text"):
            return
        words = re.sub(r"\s+", " ", "".join(self._words.pop())).strip()
        within = {name for name, _ in self._open}
        if tag == "caption":
            self.tables[-1].caption = words
        elif tag in ("th", "td"):
            self.tables[-1].rows[-1].append(words)
        elif tag == "text":
            self.picture_words.append((self._place(), words))
        elif tag == "desc" or not within & set(WITHIN):
            self.sentences.append((tag, self._place(), words))
        if self._words:
            self._words[-1].append(f" {words} ")

    def handle_data(self, data):
        if self._words and not {"script", "style"} & {name for name, _ in self._open}:
            self._words[-1].append(data)

    def _place(self) -> str:
        """The innermost id that something was given, but for the headings."""
        return next((name for tag, name in reversed(self._open) if name and not re.match(r"h\d|desc|title", tag)), "")


def numbers(text: str) -> list[str]:
    """Every number of a text, as it stands."""
    return NUMBER.findall(text)
