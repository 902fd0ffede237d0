"""Every command line that is printed anywhere runs as printed on the demo farm that `new --demo` writes."""

from __future__ import annotations

import os
import re
import shlex
import shutil
from collections.abc import Iterator
from contextlib import suppress
from datetime import date
from glob import glob
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from crew import fill_in, sign

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


def help_lines() -> list[list[str]]:
    """The examples in the commands' own help, in the order of the commands."""
    helps = [" ".join(app.get_command(click.Context(app), name).help.split()) for name in COMMANDS]
    examples = [text for told in helps for text in re.split(r"Examples?: ", told)[1:]]
    return [shlex.split(line)[1:] for text in examples for line in text.split("; ")]


def printed() -> list[list[str]]:
    """Every command line of the pages and of the commands' own help."""
    found = [words for page in (*PAGES, *GUIDE.glob("*.md")) for words in lines_of(page.read_text(encoding="utf-8"))]
    found += help_lines()
    return [words for place, words in enumerate(found) if words not in found[:place]]


@pytest.mark.parametrize("words", printed(), ids=" ".join)
def test_the_program_knows_every_command_and_option(words):
    if words[0].startswith("-"):
        assert words[0] in ("--help", "--version")
        return
    assert words[0] in COMMANDS
    whole = click.Context(
        app, help_option_names=["-h", "--help"]
    )  # of a context without them the command would keep --help alone
    command = app.get_command(whole, words[0])
    with suppress(click.BadOptionUsage):  # an option spoken of without its value
        command.make_parser(click.Context(command, parent=whole)).parse_args(words[1:])


SKIPPED = {
    "open": "tests/served opens it in a browser",
    "--library": "tests/library follows the worked example of a library of one's own",
    "ration --price": "an option spoken of, no line to type",
    "--help": "prints no answer",
}


def pages() -> dict[str, list[list[str]]]:
    """The lines of each page in the order in which they are printed, and those of the commands' help."""
    files = [page for page in (*PAGES, *GUIDE.glob("*.md")) if page.parent.name != "feed_library"]
    found = {str(page.relative_to(ROOT)): list(lines_of(page.read_text(encoding="utf-8"))) for page in files}
    found["help"] = help_lines()
    return {
        name: [words for words in lines if not any(part in f"{' '.join(words)} " for part in SKIPPED)]
        for name, lines in found.items()
        if lines
    }


@pytest.fixture(scope="module")
def demo_written(tmp_path_factory):
    """The demo farm and its record as `new --demo` writes them."""
    folder = tmp_path_factory.mktemp("demo")
    done = CliRunner().invoke(app, ["new", str(folder / "farm.xlsx"), "--demo"], prog_name="rationlp")
    assert done.exit_code == 0, done.output
    return folder


@pytest.fixture
def demo_folder(tmp_path, monkeypatch, demo_written):
    """Where somebody reads a page: the demo farm is `farm.xlsx`, more lie in `farms`, the clone's demo in `demo`."""
    shutil.copytree(demo_written, tmp_path, dirs_exist_ok=True)
    for name in ("a", "b"):
        (tmp_path / "farms").mkdir(exist_ok=True)
        shutil.copy(tmp_path / "farm.xlsx", tmp_path / "farms" / f"{name}.xlsx")
    (tmp_path / "demo").mkdir()
    shutil.copy(ROOT / "demo" / "stillwater_bend.xlsx", tmp_path / "demo")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(words, folder):
    """A line as it is typed, after what people do on paper before it."""
    if words[0] == "new":  # where there is no such book yet
        (folder / "fresh").mkdir(exist_ok=True)
        os.chdir(folder / "fresh")
        for path in Path().iterdir():
            path.unlink()
    if words[0] == "actual" and len(words) > 2:
        fill_in(Path(words[2]), [date(2025, 11, 24)], stage="sw_gro_25_50")
    if "--signed" in words:
        sign(Path(words[words.index("--signed") + 1]))
    typed = [name for word in words for name in (sorted(glob(word)) if "*" in word else [word])]
    done = CliRunner().invoke(app, typed, prog_name="rationlp")
    os.chdir(folder)
    assert done.exit_code == 0, (words, done.output)


QUICK = ("check", "bin", "library", "schema", "new", "trace")


@pytest.mark.slow
def test_quick_lines_of_every_page_run_on_the_demo(demo_folder):
    lines = [
        words
        for page in pages().values()
        for words in page
        if (words[0] in QUICK and "--memory" not in words) or words == ["actual", "farm.xlsx"]  # what is left
    ]
    for words in [words for place, words in enumerate(lines) if words not in lines[:place]]:
        run(words, demo_folder)


@pytest.mark.long
@pytest.mark.parametrize("page", pages())
def test_every_printed_line_runs_on_the_demo_as_printed(page, demo_folder):
    for words in pages()[page]:
        run(words, demo_folder)


@pytest.mark.slow
def test_the_programmers_lines_run(demo_folder):
    page = (GUIDE / "programmer.md").read_text(encoding="utf-8")
    (code,) = re.findall(r"```python\n(.*?)```", page, re.S)
    exec(compile(code, "programmer.md", "exec"), {})
