"""Writes the demo anew after a change of its sheets: `python tests/support/write_demo.py`, from a clone.

The farm's record of the demo is made as a farm makes it: two sheets are printed on a day, the crew fills them in, a
nutritionist signs. `demo/`, the checksums and the pictures of the README are written with it.
"""

from __future__ import annotations

import csv
import io
import shutil
import tempfile
from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path

from crew import fill_in
from pictures import write as write_pictures

import rationlp
from rationlp.actual.numbers import keep_printed, numbered
from rationlp.api import OpenFarm
from rationlp.book.writing.write import new_book
from rationlp.ledger.export import ENTRIES
from rationlp.ledger.kept import record_for
from rationlp.ledger.store import COLUMNS
from rationlp.library.checksums import main as write_checksums
from rationlp.report.papers.write import write_pack

ROOT = Path(__file__).parents[2]
DEMO_BOOK = ROOT / "rationlp" / "book" / "demo_book"
DEMO_RECORD = DEMO_BOOK.with_name("demo_record") / ENTRIES
PIGS, HENS, BIN = "sw_gro_25_50", "hen_brown_110", "north"
PRINTED_ON = date(2025, 11, 18)
MIXED_ON = (date(2025, 11, 18), date(2025, 11, 21))
ENTERED = {"numbers": "2025-11-18T07:10:00", "printed": "2025-11-18T07:10:00", "batch": "2025-11-21T18:20:00"}
PIGS_OFF = {"north": 1.0, "soy48_bulk": -1.0}
"""What went in beside what was asked for, in kg: a scale is not read to the gram."""
LOTS = {"corn_bought": "maize_1", "premix_pigs": "premix_1"}
SIGNED = ("R. Halvorsen (invented)", "PN-0417 (invented)", "2025-11-17", "2026-08-15", "An invented signature")


def write_csv(path: Path, rows: Iterable[Sequence[object]]) -> None:
    """Rows as the sheets of the demo are kept."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    path.write_text(out.getvalue(), encoding="utf-8")


def head_of(sheet: str) -> list[str]:
    """The headings of a sheet of the demo."""
    with (DEMO_BOOK / f"{sheet}.csv").open(encoding="utf-8", newline="") as lines:
        return next(csv.reader(lines))


def signed_today(farm: OpenFarm) -> list[str]:
    """The row of `signed`: the ration of the pigs as it is calculated today."""
    return [farm.rations(PIGS, BIN)[PIGS, BIN].id, *SIGNED]


def recorded(folder: Path) -> list[list[object]]:
    """The entries of the farm's record after its week: two sheets printed, filled in and read back in `folder`."""
    farm = rationlp.open_farm(new_book(folder / "farm.xlsx", demo=True))
    week = folder / "week.xlsx"
    pack = numbered(farm.sheets([PIGS, HENS], BIN, on=PRINTED_ON.isoformat()), farm)
    write_pack(pack, farm, week)
    keep_printed(pack, farm.book)
    fill_in(week, MIXED_ON, PIGS_OFF, LOTS, PIGS)
    fill_in(week, MIXED_ON[1:], {}, LOTS, HENS)
    farm.actual(week, enter=True)
    return [[*row[:5], ENTERED.get(row[1], ENTERED["batch"]), *row[6:]] for row in record_for(farm.book).rows()]


def main() -> None:
    """The signature, the record, then both books of `demo/`, the checksums and the pictures."""
    write_csv(DEMO_BOOK / "signed.csv", [head_of("signed")])
    write_csv(DEMO_BOOK / "signed.csv", [head_of("signed"), signed_today(rationlp.open_farm(DEMO_BOOK))])
    with tempfile.TemporaryDirectory() as folder:
        write_csv(DEMO_RECORD, [COLUMNS, *recorded(Path(folder))])
    for name in ("stillwater_bend", "stillwater_bend.xlsx"):
        path = ROOT / "demo" / name
        shutil.rmtree(path) if path.is_dir() else path.unlink(missing_ok=True)
        new_book(path, demo=True)
    write_checksums(["--refresh"])
    write_pictures()


if __name__ == "__main__":
    main()
