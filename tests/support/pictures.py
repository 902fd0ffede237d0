"""The README's pictures, as text in SVG: the first screen of `ration` and a mix sheet of the demo farm.

`python tests/support/pictures.py` writes them anew; `tests/test_pictures.py` says when that is due.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator
from html import escape
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

from command_line import run

import rationlp
from rationlp.report.papers.mix_sheets import sheets_page

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "demo" / "guide"
DEMO = ROOT / "demo" / "stillwater_bend"
MONO = 'font-family="Menlo, Consolas, DejaVu Sans Mono, monospace"'
SANS = 'font-family="Arial, Liberation Sans, sans-serif"'
WIDTH, MARGIN, LINE = 860, 16, 19
COLUMNS = (16, 46, 402, 500, 560, 572, 712, 780)
"""Where a sheet's columns begin: number, ingredient, weight, reading, percent (these three end there), where, boxes."""
RIGHT = (2, 3, 4)


def svg(height: float, parts: Iterator[str] | list[str], ground: str) -> str:
    """The picture: `parts` on a ground of one colour."""
    body = "\n".join(parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:g}" width="{WIDTH}">\n'
        f'<rect width="100%" height="100%" rx="6" fill="{ground}" stroke="#999"/>\n{body}\n</svg>\n'
    )


def text(x: float, y: float, words: str, more: str = "") -> str:
    """Words in the picture."""
    return f'<text x="{x:g}" y="{y:g}"{f" {more}" if more else ""}>{escape(words)}</text>'


def first_screen() -> str:
    """What `rationlp ration` answers first."""
    typed = "rationlp ration demo/stillwater_bend.xlsx"
    lines = [f"$ {typed}", *run("ration", DEMO).stdout.splitlines()]
    style = f'<g {MONO} font-size="13.5" fill="#e8e8e8" xml:space="preserve">'
    parts = [text(MARGIN, MARGIN + LINE * (row + 0.8), line) for row, line in enumerate(lines)]
    return svg(LINE * len(lines) + 2 * MARGIN, [style, *parts, "</g>"], "#22272e")


class _Sheet(HTMLParser):
    """A mix sheet of the HTML page: its lines and the rows of its mix, in order."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, list[str]]] = []
        self.kind = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        kind = dict(attrs).get("class") or ""
        if tag in ("h2", "h3", "p", "tr", "caption"):
            self.kind = f"{tag} {kind}".strip()
            self.found.append((self.kind, []))
        if tag in ("td", "th", "p", "h2", "caption") or (tag == "span" and self.kind == "h2"):
            self.found[-1][1].append("")

    def handle_endtag(self, tag: str) -> None:
        if tag == "span" and self.kind == "h2":
            self.found[-1][1].append("")

    def handle_data(self, data: str) -> None:
        if self.found and self.found[-1][1]:
            self.found[-1][1][-1] += data


def mix_sheet() -> str:
    """The sheet of the early growers, as printed."""
    farm = rationlp.open_farm(DEMO)
    pack = farm.sheets("sw_gro_25_50", "north", on="2025-11-24")
    reader = _Sheet()
    page = sheets_page(pack, farm).split("<section")[2]
    reader.feed(re.sub(r" \| book [\w-]+", "", page))  # another with every column that a book may have
    parts, y = list[str](), float(MARGIN)
    for kind, cells in reader.found:
        if cells[:1] == ["Minutes mixed"]:  # boxes of the crew, labels and what to mind follow
            break
        for part, height in _drawn(kind, [" ".join(cell.split()) for cell in cells], y):
            parts.append(part)
            y += height
    return svg(y + MARGIN, parts, "#ffffff")


def _drawn(kind: str, cells: list[str], y: float) -> Iterator[tuple[str, float]]:
    """What a line or a row looks like at a height, and how much room each part takes."""
    ink = f'{SANS} fill="#000"'
    if kind == "caption":
        return
    if kind == "h2":
        name, title = [cell for cell in cells if cell]
        yield text(WIDTH - MARGIN, y + 22, name, f'{ink} font-size="21" font-weight="bold" text-anchor="end"'), 0
        yield text(MARGIN, y + 22, title, f'{ink} font-size="21" font-weight="bold"'), 32
    elif kind.startswith("p"):
        letters, base, size, room = (80, 19, 17, 28) if "big" in kind else (116, 14, 13, 17)
        for line in textwrap.wrap(cells[0].replace("\xa0", " "), letters):
            yield text(MARGIN, y + base, line, f'{ink} font-size="{size}"'), room
            y += room
    elif kind == "tr head":
        yield f'<rect x="{MARGIN}" y="{y + 2:g}" width="{WIDTH - 2 * MARGIN}" height="19" fill="#ededed"/>', 0
        yield text(MARGIN + 4, y + 16, cells[0], f'{ink} font-size="13" font-weight="bold"'), 23
    elif len(cells) == 1:
        for line in textwrap.wrap(cells[0], 116):
            yield text(MARGIN + 4, y + 14, line, f'{ink} font-size="13"'), 17
            y += 17
    else:
        yield from _row(cells, y, kind)


def _row(cells: list[str], y: float, kind: str) -> Iterator[tuple[str, float]]:
    """A row of the mix; the heads of the boxes, which are long, stand in their first words."""
    head, small = cells[1] == "Ingredient", kind == "tr small"
    size = 11 if head else 15 if small else 18
    for place, (cell, x) in enumerate(zip(cells, COLUMNS, strict=False)):
        here = min(size, 12) if place in (0, 4, 5) else size
        bold = ' font-weight="bold"' if place == 2 or head else ""
        end = ' text-anchor="end"' if place in RIGHT else ""
        words = cell.split(":")[0]
        if words:
            yield text(x, y + 17, words, f'{SANS} fill="#000" font-size="{here}"{bold}{end}'), 0
    boxes = () if head or len(cells) < 8 else (700, 772)
    for x in boxes:
        yield f'<rect x="{x}" y="{y + 1:g}" width="70" height="21" fill="none" stroke="#777"/>', 0
    yield f'<line x1="{MARGIN}" x2="{WIDTH - MARGIN}" y1="{y + 23:g}" y2="{y + 23:g}" stroke="#bbb"/>', 24


PICTURES = {"first_screen.svg": first_screen, "mix_sheet.svg": mix_sheet}


def words_of(picture: str) -> list[str]:
    """The words of a picture, in order."""
    return [node.text or "" for node in ElementTree.fromstring(picture).iter("{http://www.w3.org/2000/svg}text")]


def write() -> None:
    """Write every picture of the README."""
    for name, draw in PICTURES.items():
        (FOLDER / name).write_text(draw(), encoding="utf-8")


if __name__ == "__main__":
    write()
