"""One vocabulary: the table 'Words' of DEVELOPERS.md, held against the source's sentences and the commands' output."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "rationlp"
EXPONENT = re.compile(r"\d[eE][+-]?\d")
CALL = re.compile(r"\b[a-z_]{3,}\(\)")
NOT_FOR_PEOPLE = ("SolverError", "AssertionError", "ValueError", "KeyError", "TypeError", "given")
"""Calls whose text no person reads, or only where a calculation failed."""


def banned() -> re.Pattern[str]:
    """What the table says not to write; its last two rows are patterns of their own."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.search(r"\| we write \| not \|\n\| --- \| --- \|\n((?:\|.*\n)+)", text)
    assert rows is not None
    cells = [line.split("|")[2] for line in rows[1].splitlines()]
    words = [word for cell in cells for word in re.findall(r"`([^`]+)`", cell)]
    return re.compile("|".join(rf"\b{re.escape(word)}\b" for word in words if re.fullmatch(r"[A-Za-z ]+", word)))


def sentences(path: Path):
    """String literals of a module that a person may read, with their lines; docstrings and names are none."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    unread = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            unread.add(id(node.value))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in NOT_FOR_PEOPLE:
            unread |= {id(part) for part in ast.walk(node)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in unread:
            yield node.lineno, node.value


def test_the_table_names_what_is_banned():
    pattern = banned()
    for word in ("reckoned", "optimal", "Least", "shadow price", "so many", "small things"):
        assert pattern.search(f"it is {word} here"), word
    assert not pattern.search("at least two minimum supplies")


@pytest.mark.parametrize("room", sorted(path.name for path in SOURCE.iterdir() if path.name != "library"))
def test_the_sentences_of_the_source(room):
    pattern = banned()
    place = SOURCE / room
    files = sorted(place.rglob("*.py")) if place.is_dir() else [place]
    found = [
        f"{path.relative_to(ROOT)}:{line}: {match[0]!r} in {text!r}"
        for path in files
        if path.suffix == ".py"
        for line, text in sentences(path)
        if (match := pattern.search(text)) and text not in KEYS
    ]
    assert found == []


KEYS = ("optimal", "infeasible", "step of the scale")
"""Values that programs read, not people."""


@pytest.mark.slow
@pytest.mark.parametrize(
    "words",
    [
        ("bin",),
        ("bin", "--full"),
        ("ration",),
        ("ration", "--full"),
        ("offers",),
        ("offers", "--full"),
        ("check",),
        ("library",),
        ("library", "feeds", "triticale"),
    ],
    ids=" ".join,
)
def test_the_sentences_of_the_commands(run, two_groups, words):
    book = [] if words[0] == "library" else [two_groups]
    text = run(words[0], *book, *words[1:]).output
    prose = text.replace("--full", "")
    assert banned().findall(prose) == []
    assert EXPONENT.findall(prose) == []
    assert words[0] == "library" or CALL.findall(prose) == []


def test_no_list_of_labels_is_parted_by_commas():
    """`SID lysine, pigs, Choline, total by assay` reads as four things: `finder.listed` takes semicolons."""
    joined = re.compile(r'", "\.join\([^\n]*(?:label|crop\.label|nutrient_label)\b')
    found = [
        f"{path.relative_to(ROOT)}: {match[0]}"
        for path in sorted(SOURCE.rglob("*.py"))
        for match in joined.finditer(path.read_text(encoding="utf-8"))
    ]
    assert found == []


def test_a_list_with_a_comma_within_is_parted_by_semicolons():
    from rationlp.finder import alternatives, listed

    assert listed(["a", "b"]) == "a, b" and listed(["Corn, yellow", "b"]) == "Corn, yellow; b"
    assert alternatives(["a", "b, c"]) == "a or b, c" and listed([]) == ""


def test_no_column_of_a_table_goes_without_a_heading():
    blank = re.compile(r'\(\s*"",\s*"(?:left|right)"\s*\)')
    files = sorted((SOURCE / "show").rglob("*.py"))
    assert [str(path.relative_to(ROOT)) for path in files if blank.search(path.read_text(encoding="utf-8"))] == []
