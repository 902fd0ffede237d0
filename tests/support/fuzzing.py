"""What people, disks and other programs do to the files of a farm: cells, bytes, options, as hypothesis draws them."""

from __future__ import annotations

import csv
import io
import time
import zipfile
from collections.abc import Sequence
from contextlib import contextmanager
from pathlib import Path
from random import Random

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from rationlp.errors import Problem

LONGEST = 10.0
"""Seconds of this process that one input may take: more is a hang."""
TOKENS = (
    *("", " ", "0", "-0", "-1", "1", "1e308", "1e-308", "-1e9", "nan", "inf", "-inf", "1,000", "1.000,5", "1/2", "½"),
    *("5 %", "12 kg", "3 lb", "4 t", "2 bu", "10 ft 6 in", "1 m3", "$365/ton", "365 USD", "8.50:25kg", "1e5 t", "1 g"),
    *("=1+1", "=A1", "#REF!", "#DIV/0!", "TRUE", "FALSE", "yes", "no", "?", "-", "--", "n/a", "None", "null", "."),
    *("2025-10-06", "06.10.2025", "10/6/25", "31/31/31", "0000-00-00", "9999-12-31", "45901", "Oct 6", "29 Feb 2025"),
    *("north", "South", "NORTH ", "corn", "maize", "salt", "soybeans_raw", "treated seed", "rat poison", "bin:north"),
    *("me_pig", "ne_pig", "calcium", "deoxynivalenol", "aflatoxin", "%", "mg/kg", "IU/kg", "as_fed", "dry_matter"),
    *("sw_gro_25_50", "hen_peak", "62 kg pig", "metric", "us", "eu", "canada", "us_organic", "per_tonne", "all"),
    *(
        "\x00",
        "\x1b[31m",
        "\u202e",
        "\u200b",
        "\ud83d\ude00",
        "\uff11\uff12",
        "é",
        "\n",
        "\t",
        '"',
        "'",
        ";",
        "a" * 300,
    ),
    *("../../x", "C:\\x", "<b>", "@SUM(1)", "+1", "%s", "{0}", "a" * 300, "x" * 5000, "0.1 mg", "all_at_once"),
)


def settled(examples: int, same: bool = True) -> settings:
    """So many examples, the `same` on every run (else those of a seed), no clock."""
    return settings(
        max_examples=examples,
        deadline=None,
        derandomize=same,
        database=None,
        suppress_health_check=list(HealthCheck),
    )


texts = st.one_of(
    st.sampled_from(TOKENS), st.text(max_size=12), st.floats().map(repr), st.integers(-(10**6), 10**6).map(str)
)
"""What stands in a cell."""
spots = st.tuples(st.integers(0, 10**6), st.integers(0, 10**6), st.integers(0, 10**6))
WHAT = (*["cell"] * 6, "drop", "twice", "heading", "row", "column", "sheet")
edits = st.tuples(st.sampled_from(WHAT), spots, texts)
"""One change of the tables of a book: what, where, and the text that comes in."""


def edited(tables: dict[str, list[list[str]]], changes: Sequence[tuple[str, tuple[int, int, int], str]]) -> None:
    """Make the changes in the tables, whose first rows are headings."""
    for what, (a, b, c), text in changes:
        if not tables:
            return
        name = sorted(tables)[a % len(tables)]
        rows = tables[name]
        if what == "sheet":
            tables[text.strip()[:20] or "x"] = tables.pop(name)
        if what == "heading" and rows and rows[0]:
            rows[0][b % len(rows[0])] = text
        if what == "row" and rows:
            rows.append([text if j == c % max(len(rows[0]), 1) else "" for j in range(len(rows[0]) + b % 3)])
        if len(rows) < 2:
            continue
        row = 1 + b % (len(rows) - 1)
        if what == "cell" and rows[row]:
            rows[row][c % len(rows[row])] = text
        elif what == "drop":
            del rows[row]
        elif what == "twice":
            rows.append(list(rows[row]))
        elif what == "column":
            for line in rows:
                del line[c % max(len(line), 1) : c % max(len(line), 1) + 1]


def written(folder: Path, tables: dict[str, list[list[str]]], known: dict[str, str] | None = None) -> Path:
    """The tables as a folder of CSV files; `known` are the files as they were written last, where nothing else is."""
    folder.mkdir(exist_ok=True)
    known = {} if known is None else known
    made = {}
    for name, rows in tables.items():
        text = io.StringIO(newline="")
        csv.writer(text).writerows(rows)
        made["".join(c for c in name if c.isalnum() or c in "_- ") or "x"] = text.getvalue()
    for name in known.keys() - made.keys():
        (folder / f"{name}.csv").unlink()
        del known[name]
    for name, held in made.items():
        if known.get(name) != held:
            (folder / f"{name}.csv").write_bytes(held.encode("utf-8", errors="surrogatepass"))
            known[name] = held
    return folder


def drawn_edits(seed: int) -> list[tuple[str, tuple[int, int, int], str]]:
    """One to five changes of a seed: the same as `edits`, drawn in a hundredth of the time and not made smaller."""
    chance = Random(seed)
    found = []
    for _ in range(chance.randint(1, 5)):
        text = chance.choice(TOKENS)
        if chance.random() < 0.2:
            text = repr(chance.uniform(-1, 1) * 10 ** chance.randint(-12, 12))
        elif chance.random() < 0.2:
            text = "".join(chr(chance.choice((chance.randint(32, 126), chance.randint(0, 0x2FFF)))) for _ in range(8))
        spot = (chance.randrange(10**6), chance.randrange(10**6), chance.randrange(10**6))
        found.append((chance.choice(WHAT), spot, text))
    return found


damages = st.lists(
    st.tuples(
        st.sampled_from(["flip", "cut", "zero", "insert", "double"]), st.integers(0, 2**31), st.binary(max_size=40)
    ),
    min_size=1,
    max_size=4,
)
"""What happens to bytes."""


def damaged(whole: bytes, changes: Sequence[tuple[str, int, bytes]]) -> bytes:
    """The bytes after that."""
    for what, where, more in changes:
        if not whole:
            return whole
        at = where % len(whole)
        if what == "flip":
            whole = whole[:at] + bytes([whole[at] ^ (1 << where % 8)]) + whole[at + 1 :]
        elif what == "cut":
            whole = whole[:at]
        elif what == "zero":
            whole = whole[:at] + bytes(len(more)) + whole[at + len(more) :]
        elif what == "insert":
            whole = whole[:at] + more + whole[at:]
        else:
            whole = whole[:at] + whole[at : at + 64] + whole[at:]
    return whole


def repacked(workbook: bytes, member: int, changes: Sequence[tuple[str, int, bytes]]) -> bytes:
    """A workbook of which one file inside is damaged, packed well."""
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook)) as old, zipfile.ZipFile(made, "w") as new:
        names = old.namelist()
        for place, name in enumerate(names):
            held = old.read(name)
            new.writestr(name, damaged(held, changes) if place == member % len(names) else held)
    return made.getvalue()


@contextmanager
def in_time():
    """No more of this process's time than LONGEST."""
    began = time.process_time()
    yield
    assert time.process_time() - began < LONGEST, "it hangs"


def told(problems: Sequence[Problem]) -> None:
    """Problems are records that can be printed: where, what, what to do."""
    for problem in problems:
        line = problem.line()
        assert problem.severity in ("error", "warning") and problem.expected and problem.do, line
        line.encode("utf-8")
        assert "Traceback" not in line and "0x7f" not in line, line
