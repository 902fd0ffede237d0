"""Processor time and size of the page: `python tests/benchmarks/page.py [GROUPS BINS]`; by default of the demo."""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from datetime import date
from importlib.resources import files
from itertools import cycle
from pathlib import Path

from rationlp.book import open_book
from rationlp.book.records import Book
from rationlp.farm import Farm
from rationlp.library import load_library
from rationlp.offers.live_ration import live_rations
from rationlp.report.page import page_of, report_of


def large(book: Book, groups: int, bins: int, stages: list[str]) -> Book:
    """The demo with so many groups, each of another stage while there are any, and its bins again and again."""
    firsts = {row.bin: row for row in book.bins}
    names = [(f"bin_{place}", name) for place, name in zip(range(bins), cycle(firsts), strict=False)]
    samples = {row.bin: row for row in book.samples}
    again = [(f"s_{name}", samples[of].sample) for name, of in names]
    group = next(row for row in book.groups if row.from_date and row.to_date)
    return replace(
        book,
        bins=tuple(replace(firsts[of], bin=name, label=f"Bin {name}") for name, of in names),
        samples=tuple(replace(samples[of], bin=name, sample=f"s_{name}") for name, of in names),
        sorted=tuple(replace(row, sample=new) for new, old in again for row in book.sorted if row.sample == old),
        assays=tuple(replace(row, sample=new) for new, old in again for row in book.assays if row.sample == old),
        groups=tuple(
            replace(group, group=f"group_{place}", stage=stage)
            for place, stage in zip(range(groups), cycle(stages), strict=False)
        ),
        herd=(),
        arrivals=(),
        sown=(),
    )


def main() -> None:
    library = load_library()
    book, _ = open_book(Path(str(files("rationlp.book") / "demo_book")), library)
    if len(sys.argv) > 2:
        book = large(book, int(sys.argv[1]), int(sys.argv[2]), sorted(library.stages))
    farm = Farm(book, library)
    start = time.process_time()
    count = len(live_rations(farm))
    rations = time.process_time() - start
    start = time.process_time()
    report = report_of(Farm(book, library), on=date(2025, 10, 1))
    made = time.process_time() - start
    start = time.process_time()
    text = page_of(report)
    written = time.process_time() - start
    print(f"{count} rations in {rations:.1f} s; all that stands on the page {made:.1f} s, its HTML {written:.2f} s")
    print(f"{len(text.encode()) / 1e6:.2f} MB, {len(report.cards)} cards, year: {'yes' if report.year else 'no'}")


if __name__ == "__main__":
    main()
