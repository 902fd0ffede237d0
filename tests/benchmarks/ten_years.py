"""What the commands take of a farm whose record has 20,000 batches, beside the same farm without them.

    python tests/benchmarks/ten_years.py [RUNS] [BATCHES]

The batches are those of the demo's record over and over, one after another on the days of ten years before, each
printed on a sheet and with the lots of its year. Every run of a command is followed by one of the bare import; the
medians of these ratios stand for the short and the long record.
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

from start_up import ENVIRONMENT, ROOT, command, paired

from rationlp.files import record_of
from rationlp.ledger.shape import batch_entry, batches_of, printed_entry
from rationlp.ledger.store import Entry, Record
from rationlp.rations.answer.ids import ALPHABET

sys.path.insert(0, str(ROOT / "tests" / "support"))

from crew import fill_in

BOOK, SHEET = "farm.xlsx", "mix.xlsx"
COMMANDS = {
    "open: bin": ("bin", BOOK),
    "open: ration, one": ("ration", BOOK, "--stage", "sw_gro_25_50", "--bin", "north"),
    "enter: actual": ("actual", BOOK, SHEET),
    "trace a batch": ("trace", BOOK, "--batch", "{batch}"),
    "trace a month of a group": ("trace", BOOK, "--group", "growers_early", "--from", "{from}", "--to", "{to}"),
    "trace a lot": ("trace", BOOK, "--lot", "{lot}"),
    "trace everything": ("trace", BOOK, "--full"),
}


def made(folder: Path) -> None:
    """The demo with a mix sheet that is filled in as it was printed."""
    for arguments in (("new", BOOK, "--demo"), ("sheets", BOOK, "-o", SHEET, *COMMANDS["open: ration, one"][2:])):
        subprocess.run(command(*arguments), cwd=folder, env=ENVIRONMENT, check=True, capture_output=True)
    fill_in(folder / SHEET, [date(2025, 11, 20)])


def fill(folder: Path, count: int) -> dict[str, str]:
    """Put `count` batches of ten years in the record; what to ask of them."""
    record = Record(record_of(folder / BOOK))
    known = batches_of(record)
    first = min(each.made.made_on for each in known if each.made.made_on) - timedelta(days=3650)
    number, entries = record.give_numbers(count), list[Entry]()
    days = [first + timedelta(days=3640 * place // count) for place in range(count)]
    for place, day in enumerate(days):
        batch = known[place % len(known)]
        parts = tuple(replace(part, lot=f"{part.lot} of {day.year}") if part.lot else part for part in batch.made.parts)
        mix = replace(batch.made, number=number + place, made_on=day, id=_id(place), parts=parts)
        entries += [printed_entry(mix, mix.number, 1), batch_entry(replace(batch, made=mix))]
    record.add(entries)
    middle = days[count // 2]
    (lot, *_) = (part.lot for batch in known for part in batch.made.parts if part.lot)
    asked = {"batch": str(number + count // 2), "lot": f"{lot} of {middle.year}"}
    return asked | {"from": f"{middle}", "to": f"{middle + timedelta(days=30)}"}


def _id(place: int) -> str:
    """An id of its own for the sheet of every batch."""
    letters = [ALPHABET[place // len(ALPHABET) ** power % len(ALPHABET)] for power in range(8)]
    return f"{''.join(letters[:4])}-{''.join(letters[4:])}"


def main(runs: int, count: int) -> None:
    """Print a line a command."""
    with tempfile.TemporaryDirectory() as name:
        few, many = Path(name) / "few", Path(name) / "many"
        few.mkdir()
        made(few)
        shutil.copytree(few, many)
        asked = {few: fill(few, 60)}
        start = time.perf_counter()
        asked[many] = fill(many, count)
        size = record_of(many / BOOK).stat().st_size / 1e6
        print(f"{count:,} batches entered at once: {time.perf_counter() - start:.1f} s, {size:.0f} MB")
        print(
            f"{'command':<28}{'60: x import':>14}{f'{count:,}: x import':>20}{'cpu ms':>9}{'wall ms':>9}{'peak MB':>9}"
        )
        for title, words in COMMANDS.items():
            told = []
            for folder in (few, many):
                arguments = [word.format(**asked[folder]) for word in words]
                pairs = paired(command(*arguments), runs, folder)
                told.append(statistics.median(one.processor / bare.processor for one, bare in pairs))
            processor, wall = (1000 * statistics.median(getattr(o, c) for o, _ in pairs) for c in ("processor", "wall"))
            peak = max(one.peak for one, _ in pairs)
            print(f"{title:<28}{told[0]:>14.2f}{told[1]:>20.2f}{processor:>9.0f}{wall:>9.0f}{peak:>9.0f}", flush=True)


if __name__ == "__main__":
    main(*(int(each) for each in sys.argv[1:3]), *(3, 20_000)[len(sys.argv) - 1 :])
