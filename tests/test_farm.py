"""A farm with one thing changed is the farm of a book with that change; a bin is estimated once in a command."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from random_farms import Sheets, read_sheets, write_sheets

import rationlp
from rationlp.api import OpenFarm
from rationlp.bins import BinEstimate, estimate_bin
from rationlp.book.records import Book
from rationlp.cli.app import app
from rationlp.library import Library

pytestmark = pytest.mark.slow

STAGE = "sw_gro_25_50"
Change = Callable[[Sheets], None]


@pytest.fixture(autouse=True)
def one_library(monkeypatch: pytest.MonkeyPatch, library: Library) -> None:
    monkeypatch.setattr("rationlp.api.load_library", lambda folder=None: library)


@pytest.fixture
def opened(tmp_path: Path) -> Callable[..., OpenFarm]:
    """Writes the demo book with one stage, two samples of the north bin and a change, and opens it."""

    def open_with(change: Change = lambda sheets: None) -> OpenFarm:
        sheets = two_samples()
        change(sheets)
        return rationlp.open_farm(write_sheets(sheets, tmp_path / f"book{len(list(tmp_path.iterdir()))}"))

    return open_with


def two_samples() -> Sheets:
    sheets = read_sheets()
    sheets["groups"] = [row for row in sheets["groups"] if row["stage"] == STAGE]
    sheets["samples"].append({"sample": "n2", "bin": "north", "taken_on": "2025-11-20", "probes": "8"})
    masses = {
        "triticale": "300",
        "oats_naked": "110",
        "faba_low_tannin": "30",
        "chickpea_desi": "45",
        "camelina_seed": "20",
        "foreign_matter": "7",
    }
    sheets["sorted"] += [{"sample": "n2", "crop": crop, "mass_g": mass} for crop, mass in masses.items()]
    return sheets


def answers(farm: OpenFarm) -> list:
    """Everything that is said of the rations, with the feeds in one order."""
    return [made.ration for made in farm.rations(STAGE)]


def cell(sheet: str, key: str, name: str, column: str, value: str) -> Change:
    def change(sheets: Sheets) -> None:
        (row,) = (row for row in sheets[sheet] if row[key] == name)
        row[column] = value

    return change


def without_n2(sheets: Sheets) -> None:
    for sheet in ("samples", "sorted"):
        sheets[sheet] = [row for row in sheets[sheet] if row["sample"] != "n2"]


@pytest.mark.slow
def test_with_price_is_the_book_with_that_price(opened):
    written = opened(cell("supplements", "offer", "soy48_bulk", "price", "440"))
    assert answers(opened().with_price("soy48_bulk", 440)) == answers(written)
    assert answers(written) != answers(opened())


def test_with_price_of_a_bin_is_the_book_with_that_sale_price(opened):
    written = opened(cell("bins", "bin", "north", "sale_price", "130"))
    assert answers(opened().with_price("north", 130)) == answers(written)


def test_with_offers_is_the_book_with_these_offers(opened):
    def fewer(sheets: Sheets) -> None:
        sheets["supplements"] = [row for row in sheets["supplements"] if row["offer"] != "soy48_bulk"]

    farm = opened()
    kept = [row for row in farm.book.supplements if row.offer != "soy48_bulk"]
    assert answers(farm.with_offers(kept)) == answers(opened(fewer))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("requirement_margin_pct", "5"),
        ("jurisdiction", "eu"),
        ("objective", "per_tonne"),
        ("batch_mass", "200"),
    ],
)
def test_with_setting_is_the_book_with_that_setting(opened, name: str, value: str):
    written = opened(cell("farm", "setting", name, "value", value))
    assert answers(opened().with_setting(name, value)) == answers(written)
    if value.isdigit():
        assert opened().with_setting(name, int(value)).settings == written.settings


@pytest.mark.slow
def test_with_sample_is_the_book_without_the_later_samples(opened):
    written = opened(without_n2)
    assert answers(opened().with_sample("n1")) == answers(written)
    assert answers(written) != answers(opened())


@pytest.mark.slow
def test_a_farm_is_not_changed_by_the_farms_made_of_it(opened):
    farm = opened()
    before = answers(farm)
    farm.with_price("soy48_bulk", 900).rations(STAGE)
    farm.with_setting("jurisdiction", "eu").rations(STAGE)
    farm.with_offers(replace(row, price_per_tonne=1.0) for row in farm.book.supplements).rations(STAGE)
    assert answers(farm) == before


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counter:
    """How often each bin was estimated from each set of samples."""
    calls: Counter = Counter()

    def counting(name: str, book: Book, library: Library, sample: str | None = None) -> BinEstimate:
        samples = tuple(row.sample for row in book.samples if row.bin == name)
        calls[name, (sample,) if sample else samples] += 1
        return estimate_bin(name, book, library, sample)

    for place in ("rationlp.farm", "rationlp.resample.moved"):
        monkeypatch.setattr(f"{place}.estimate_bin", counting)
    return calls


@pytest.mark.slow
@pytest.mark.parametrize(
    "words",
    [
        ("bin",),
        ("ration", "--review", "review.json"),
        ("ration", "--together"),
        ("ration", "--concentrate"),
        ("offers",),
        ("sheets", "-o", "mix.csv"),
        ("resample", "--before", "n1", "--after", "n2"),
    ],
    ids=" ".join,
)
def test_a_bin_is_estimated_once_in_a_command(counted: Counter, words: tuple[str, ...], tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    book = write_sheets(two_samples(), tmp_path / "book")
    done = CliRunner().invoke(app, [words[0], str(book), *words[1:], "--format", "json"])
    assert done.exit_code in (0, 3), done.output
    assert counted and set(counted.values()) == {1}, counted
