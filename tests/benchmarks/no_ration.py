"""How often there is no ration: every stage from 8 bins under 3 price lists, by two versions of the program.

    python tests/benchmarks/no_ration.py write BOOKS           the books, a folder each
    python tests/benchmarks/no_ration.py ask RATIONLP BOOKS    what a version's command says: answers_NAME.csv in BOOKS
    python tests/benchmarks/no_ration.py prove BOOKS [BINS]    what this version says, each NO RATION proved by tables

`ask` takes the path of a `rationlp` command, of this checkout or of another, and prints how many rations it refused
and its processor time. `prove`, of the first BINS (8), reads the tables again (`plain_check.py`) and
proves by weights of the rows, checked in fractions, that no mix keeps them (`plain_proof.py`). Every figure of the
books that is not the demo's is invented. Nothing here passes or fails.
"""

from __future__ import annotations

import csv
import json
import resource
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

DEMO = Path(__file__).parents[2] / "rationlp" / "book" / "demo_book"
BINS = {
    "cereals": {"triticale": 55, "oats_naked": 25, "barley_hulled": 20},
    "barley_peas": {"barley_hulled": 60, "peas_field": 38, "foreign_matter": 2},
    "oats_vetch": {"oats_hulled": 70, "vetch_common": 28, "foreign_matter": 2},
    "rye_faba": {"rye": 55, "faba_low_tannin": 42, "foreign_matter": 3},
    "pulses": {"peas_field": 45, "faba_low_tannin": 35, "chickpea_desi": 20},
    "oilseeds": {"wheat_soft": 62, "flaxseed": 22, "camelina_seed": 14, "foreign_matter": 2},
    "five": {"triticale": 48, "oats_naked": 21, "faba_low_tannin": 12, "chickpea_desi": 13, "camelina_seed": 6},
    "lupin_corn": {"corn": 70, "lupin_white": 28, "foreign_matter": 2},
}
"""Percent of each crop by mass."""
CHEAP_MEAL, DEAR = 0.45, 1.8
PRICES = {
    "as_quoted": {},
    "cheap_meal": {"soy_pressed": CHEAP_MEAL, "soy48_bulk": CHEAP_MEAL, "soy48_bags": CHEAP_MEAL},
    "no_grain": {"corn_bought": None, "bran": None, "peas_neighbour": None, "soy48_bulk": DEAR, "canola_oil": DEAR},
}
"""By what the price of an offer is multiplied; None takes it out."""


def write(books: Path) -> None:
    """One book for each price list, all bins in it."""
    for name, prices in PRICES.items():
        folder = books / name
        folder.mkdir(parents=True, exist_ok=True)
        offers = _read("supplements")
        for row in offers:
            for column in ("price", "price_low", "price_high"):
                if row[column] and prices.get(row["offer"], 1.0) is not None:
                    row[column] = f"{float(row[column]) * prices.get(row['offer'], 1.0):.2f}"
        kept = [row for row in offers if prices.get(row["offer"], 1.0) is not None]
        crops = [
            {"sample": bin_, "crop": crop, "mass_g": 5 * pct} for bin_, mix in BINS.items() for crop, pct in mix.items()
        ]
        _write(folder, "farm", _read("farm"))
        _write(folder, "supplements", kept)
        _write(folder, "bins", [{"bin": b, "mass": "40 t", "sale_price": 170, "moisture_pct": 12.5} for b in BINS])
        _write(folder, "samples", [{"sample": b, "bin": b, "taken_on": "2025-09-03", "probes": 8} for b in BINS])
        _write(folder, "sorted", crops)


def _read(sheet: str) -> list[dict[str, str]]:
    with (DEMO / f"{sheet}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _write(folder: Path, sheet: str, rows: list[dict]) -> None:
    with (folder / f"{sheet}.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def ask(command: str, books: Path) -> None:
    """What a version says of every ration, bin by bin so that one bin's trouble is its own."""
    told = []
    for prices in PRICES:
        for bin_ in BINS:
            words = [command, "ration", str(books / prices), "--stage", "all", "--bin", bin_, "--format", "json"]
            done = subprocess.run(words, capture_output=True, text=True, check=False)
            found = json.loads(done.stdout)["rations"] if done.returncode in (0, 3, 4) else []
            if not found:
                print(f"{prices} {bin_}: {done.stderr[:300]}", file=sys.stderr)
            for ration in found:
                verdict = ration.get("verdict", {})
                cost = ration["cost_per_tonne"]
                row = (prices, bin_, ration["stage"], ration["status"], verdict.get("verdict", ""), cost)
                told.append(dict(zip(("prices", "bin", "stage", "status", "verdict", "cost"), row, strict=True)))
    name = Path(command).resolve().parents[2].name
    with (books / f"answers_{name}.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(told[0]))
        writer.writeheader()
        writer.writerows(told)
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    print(f"{name}: {len(told)} rations, {used.ru_utime + used.ru_stime:.0f} s of processor time")
    for prices in PRICES:
        said = Counter(f"{row['status']} {row['verdict']}" for row in told if row["prices"] == prices)
        print(f"  {prices}: " + ", ".join(f"{count} {word}" for word, count in sorted(said.items())))


def prove(books: Path, bins: int = len(BINS)) -> None:
    """Every ration that this version refuses, against a second reading of the tables."""
    sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
    from plain_check import Part, Setting
    from plain_proof import prove as proof_of

    import rationlp

    counted: Counter[str] = Counter()
    begun = time.process_time()
    for prices in PRICES:
        farm = rationlp.open_farm(books / prices)
        feeds = {offer.offer: offer.feed for offer in farm.book.supplements}
        offers = [Part(c.name, 0.0, c.values, {feeds[c.name]: 1.0}) for c in farm.candidates]
        for bin_ in list(BINS)[:bins]:
            estimate = farm.bin(bin_)
            grain = Part(bin_, 0.0, estimate.values, {crop.crop: crop.share for crop in estimate.crops})
            for made in farm.rations("all", bin_):
                counted[f"{prices}: {made.ration.status} {made.verdict.severity}"] += 1
                if made.ration.status == "optimal" or made.verdict.severity != "stop":
                    continue  # what only practice, vitamins or the trade miss is asked about
                setting = Setting(made.ration.stage, farm.settings.jurisdiction)
                proof = proof_of([grain, *offers], setting, made.formula.least_share)
                word = "hangs on rounding" if proof is None else "true" if proof.none else "NOT PROVED"
                counted[f"{prices}: {made.ration.status}, no ration: {word}"] += 1
                if word != "true":
                    print(prices, bin_, made.ration.stage, made.ration.status, made.verdict.headline, proof)
        print(f"{prices}: {time.process_time() - begun:.0f} s of processor time so far", flush=True)
    for word, count in sorted(counted.items()):
        print(f"{word}: {count}")


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["write", books]:
            write(Path(books))
        case ["ask", command, books]:
            ask(command, Path(books))
        case ["prove", books, *bins]:
            prove(Path(books), *map(int, bins))
        case _:
            sys.exit(__doc__)
