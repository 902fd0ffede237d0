"""Small books whose best weights can be found by trying them all, and a headless spreadsheet program."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from rationlp.book.records import Book, Offer, OwnFigure, OwnRequirement, Place, Settings
from rationlp.farm import Farm
from rationlp.library import Library
from rationlp.sheets.pack import make_pack
from rationlp.sheets.request import SheetRequest

ROOT = Path(__file__).parents[2]
NOWHERE = Place()
STAGE = "example"


@dataclass
class Small:
    """Invented feeds by name: price per tonne, figures in percent as fed; needs as (nutrient, minimum, maximum)."""

    feeds: Mapping[str, tuple[float, Mapping[str, float]]]
    needs: Sequence[tuple[str, float | None, float | None]]
    packages: Mapping[str, float] = field(default_factory=dict)
    farm: Settings = field(
        default_factory=lambda: Settings(batch_kg=20, scale_step_kg=1, hand_scale_step_kg=0.5, hand_weigh_below_kg=3)
    )
    bounds: Mapping[str, tuple[float | None, float | None]] = field(default_factory=dict)

    def book(self) -> Book:
        """The book of these feeds, in memory."""
        return Book(
            path=Path("small"),
            farm=self.farm,
            supplements=tuple(
                Offer(
                    NOWHERE,
                    name,
                    name,
                    name,
                    price,
                    self.packages.get(name),
                    None,
                    *self.bounds.get(name, (None, None)),
                )
                for name, (price, _) in self.feeds.items()
            ),
            own_feeds=tuple(
                OwnFigure(NOWHERE, name, nutrient, value, "%", "as_fed")
                for name, (_, figures) in self.feeds.items()
                for nutrient, value in figures.items()
            ),
            own_stages=tuple(OwnRequirement(NOWHERE, STAGE, n, low, high, "%", "kg") for n, low, high in self.needs),
        )


@pytest.fixture(scope="session")
def demo_pack(demo_book: Book, library: Library):
    """The pages of the whole demo book."""
    return make_pack(Farm(demo_book, library), SheetRequest())


@pytest.fixture(scope="session")
def few_pack(demo_book: Book, library: Library):
    """The pages of three stages of the demo book: one with a liquid, one with several batches to tick."""
    return make_pack(
        Farm(demo_book, library), SheetRequest(count=4), ["sw_gro_25_50", "broiler_0_3", "hen_brown_110"], ["north"]
    )


@pytest.fixture
def awkward_book(demo_book: Book) -> Book:
    """The demo book with labels that look like formulas, quotes, markup and characters no file can hold."""
    from dataclasses import replace

    signs = [
        "=1+1",
        "+cmd|' /C calc'!A0",
        "-2+3",
        "@SUM(A1)",
        '=HYPERLINK("http://x","y")',
        "<b>&amp;</b>",
        "bell\x07",
        "'quoted",
    ]
    offers = tuple(
        replace(offer, label=signs[i % len(signs)] + f" {offer.offer}") for i, offer in enumerate(demo_book.supplements)
    )
    bins = tuple(replace(row, label=f"=Bin [{row.bin}] \"x\" & 'y'") for row in demo_book.bins)
    return replace(demo_book, supplements=offers, bins=bins, farm=replace(demo_book.farm, name="=2*3", season="+1"))


@pytest.fixture
def run(tmp_path: Path) -> Callable[..., subprocess.CompletedProcess]:
    """The command line: `run("sheets", book, "-o", file)`."""

    def call(*words: object) -> subprocess.CompletedProcess:
        command = [sys.executable, "-W", "error", "-m", "rationlp", *map(str, words)]
        return subprocess.run(
            command,
            capture_output=True,
            text=True,
            check=False,
            cwd=tmp_path,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
        )

    return call


@pytest.fixture(scope="session")
def office(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., list[Path]]:
    """`office("pdf", path, ...)` turns workbooks of one folder into another form, in one start of LibreOffice (Debian
    package libreoffice-calc, installed by .ci/run)."""
    soffice = shutil.which("soffice")
    if soffice is None:
        pytest.skip("soffice is not on this machine; .ci/run installs libreoffice-calc, so that CI never skips this")
    profile = tmp_path_factory.mktemp("office")

    def convert(form: str, *paths: Path) -> list[Path]:
        out = paths[0].parent / f"{paths[0].stem}-{form}"
        out.mkdir(exist_ok=True)
        start = [soffice, f"-env:UserInstallation=file://{profile}", "--headless"]
        command = [*start, "--convert-to", form, "--outdir", str(out), *map(str, paths)]
        done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
        made = [out / f"{path.stem}.{form}" for path in paths]
        assert all(path.exists() for path in made), done.stdout + done.stderr
        return made

    return convert
