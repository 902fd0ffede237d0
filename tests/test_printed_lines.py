"""Every command line that is printed anywhere is one that the program takes; those of the guide run on the demo."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from contextlib import suppress
from datetime import date
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from openpyxl import load_workbook
from random_farms import read_sheets, write_sheets

from rationlp.actual.printed import printed_sheets
from rationlp.cli.app import app
from rationlp.cli.overview import COMMANDS

ROOT = Path(__file__).parents[1]
GUIDE = ROOT / "demo" / "guide"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "feed_library" / "README.md", ROOT / "demo" / "README.md"]
PLACEHOLDER = re.compile(r"\b(?:COMMAND|BOOK|FILE|DIR|PATH|ID|SHEET|BOOKS)\b|\.\.\.")


def lines_of(text: str) -> Iterator[list[str]]:
    """The command lines in a page, in code blocks and between words."""
    blocks = re.findall(r"```sh\n(.*?)```", text, re.S)
    shell = [line.strip() for block in blocks for line in block.splitlines()]
    prose = re.sub(r"```.*?```", "", text, flags=re.S)
    inline = [" ".join(line.split()) for line in re.findall(r"`(rationlp [^`]+)`", prose)]
    indented = re.findall(r"^    (rationlp .*)$", prose, re.M)
    for line in (*shell, *inline, *indented):
        for part in re.split(r" && |\$ ", line):
            words = shlex.split(part, comments=True)
            if words and words[0].endswith("rationlp") and not PLACEHOLDER.search(part):
                yield words[1:]


def printed() -> list[list[str]]:
    """Every command line of the pages and of the commands' own help."""
    found = [words for page in (*PAGES, *GUIDE.glob("*.md")) for words in lines_of(page.read_text(encoding="utf-8"))]
    for name in COMMANDS:
        command = app.get_command(click.Context(app), name)
        example = re.search(r"Example: (.*)", " ".join(command.help.split()))
        found += [shlex.split(line)[1:] for line in example[1].split("; ")]
    return [words for place, words in enumerate(found) if words not in found[:place]]


@pytest.mark.parametrize("words", printed(), ids=" ".join)
def test_the_program_knows_every_command_and_option(words):
    if words[0].startswith("-"):
        assert words[0] in ("--help", "--version")
        return
    assert words[0] in COMMANDS
    command = app.get_command(click.Context(app), words[0])
    with suppress(click.BadOptionUsage):  # an option spoken of without its value
        command.make_parser(click.Context(command)).parse_args(words[1:])


def guide_lines() -> list[list[str]]:
    """The farmer's, nutritionist's and programmer's lines in the order in which they are printed."""
    pages = ("farmer", "nutritionist", "programmer")
    return [words for page in pages for words in lines_of((GUIDE / f"{page}.md").read_text(encoding="utf-8"))]


@pytest.fixture
def demo_folder(tmp_path, monkeypatch):
    """Where the demo farm is `farm.xlsx` (a folder of that name), and the second sample of the guide is entered."""
    sheets = read_sheets()
    (first,) = (row for row in sheets["samples"] if row["sample"] == "n1")
    write_sheets(sheets, tmp_path / "farm.xlsx")
    again = dict(sheets)
    again["samples"] = [*sheets["samples"], first | {"sample": "n2", "taken_on": "2025-12-01"}]
    again["sorted"] = [*sheets["sorted"], *(r | {"sample": "n2"} for r in sheets["sorted"] if r["sample"] == "n1")]
    write_sheets(again, tmp_path / "farm_sampled_again.xlsx")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def fill_in(path: Path) -> None:
    """What the crew does: each weight into the first box, as asked for."""
    workbook = load_workbook(path)
    values = load_workbook(path, data_only=True)
    sheet = next(iter(printed_sheets(values)[0]))
    tab = workbook[sheet.tab]
    tab[sheet.date_cell] = date(2025, 11, 24)  # a day on which growers_early are fed
    for row in sheet.rows:
        tab[f"{sheet.first_box}{row.row}"] = row.mass
    workbook.save(path)


QUICK = [
    words
    for words in guide_lines()
    if words[0] in ("check", "bin", "library", "schema", "new") and "--memory" not in words
]


def run(words):
    done = CliRunner().invoke(app, words, prog_name="rationlp")
    assert done.exit_code == 0, (words, done.output)


def test_quick_lines_of_the_guide_run_on_the_demo(demo_folder):
    for words in QUICK:
        run(words)


@pytest.mark.long
def test_every_line_of_the_guide_runs_on_the_demo(demo_folder):
    for words in guide_lines():
        if words[0] == "actual":
            fill_in(Path("mix_sheets.xlsx"))
        if words[0] == "resample":
            words = ["farm_sampled_again.xlsx" if word == "farm.xlsx" else word for word in words]
        if "--signed" not in words:  # nobody signed it
            run(words)


def test_the_programmers_lines_run(demo_folder):
    page = (GUIDE / "programmer.md").read_text(encoding="utf-8")
    (code,) = re.findall(r"```python\n(.*?)```", page, re.S)
    exec(compile(code, "programmer.md", "exec"), {})
