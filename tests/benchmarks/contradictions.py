"""How often a slip in a bin's sample is noticed, and how often the first cause named is the true one.

`python tests/benchmarks/contradictions.py [BINS]` invents BINS bins for each slip (60 without it), each with a hand
sort of 500 g, meter, oven, protein and fat, puts the slip in and prints the table that stands in DEVELOPERS.md. Bins
are drawn as in tests/bins/test_simulated_bins.py: from the library's own distributions, never from the estimate.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "bins"))

from test_simulated_bins import NUTRIENTS, horwitz_sd, invent

from rationlp.bins.agreement import LOOK_ALIKE, agreement
from rationlp.bins.evidence import gather, library_grains
from rationlp.bins.findings.impossible import impossible_assays
from rationlp.bins.lots import known_crop
from rationlp.book.records import Assay, Bin, Book, Place, Sample, Settings, SortedCrop
from rationlp.library import load_library

ASSAYED = ("crude_protein", "ether_extract")
NO_SLIP = "no slip"
RIGHT = {
    "two heaps swapped": "Two heaps",
    "a crop named for another": "A crop is mislabelled",
    "all figures as fed entered as dry matter": "The basis",
    "all figures on dry matter entered as fed": "The basis",
    "protein on dry matter entered as fed": "The basis",
    "protein 2 points too high": "One figure is wrong: without Crude protein",
    "fat 1.5 points too high": "One figure is wrong: without ",
    "protein in g/kg entered as %": "",
    "oven dry matter 4 points too low": "",
}
"""Each slip, and how the cause that names it begins; empty: it is refused or asked about by itself."""


def written(truth, random):
    """What the farm and an honest laboratory write of the bin: heaps in grams, figures as fed."""
    heaps = dict(zip([crop.crop for crop in truth.crops], truth.draw(500.0), strict=True))
    picks = np.eye(len(NUTRIENTS))[[NUTRIENTS.index(n) for n in ASSAYED]]
    sd = horwitz_sd(picks @ truth.mix(truth.shares) * truth.dry_matter / 100)
    values = picks @ truth.mix(truth.draw(500.0)) * truth.dry_matter / 100 + sd * random.standard_normal(len(sd))
    rows = {name: (float(value), "as_fed") for name, value in zip(ASSAYED, values, strict=True)}
    oven = truth.dry_matter + 0.2 * random.standard_normal()
    return heaps, rows, {"oven": oven, "meter": truth.dry_matter + 0.67 * random.standard_normal()}


def slipped(slip, heaps, rows, dry, look_alikes, random):
    """The same with one slip; None where the bin has nothing to slip on."""
    names, share = list(heaps), dry["oven"] / 100
    if slip == "two heaps swapped":
        one, other = random.choice(names, 2, replace=False)
        heaps = {**heaps, one: heaps[other], other: heaps[one]}
    elif slip == "a crop named for another":
        pairs = [(name, other) for name in names for other in look_alikes[name] if other not in heaps]
        if not pairs:
            return None
        one, other = pairs[random.integers(len(pairs))]
        heaps = {other if name == one else name: grams for name, grams in heaps.items()}
    elif slip == "all figures as fed entered as dry matter":
        rows = {name: (value, "dry_matter") for name, (value, _) in rows.items()}
    elif slip == "all figures on dry matter entered as fed":
        rows = {name: (value / share, "as_fed") for name, (value, _) in rows.items()}
    elif slip == "protein on dry matter entered as fed":
        rows = {**rows, "crude_protein": (rows["crude_protein"][0] / share, "as_fed")}
    elif slip == "protein 2 points too high":
        rows = {**rows, "crude_protein": (rows["crude_protein"][0] + 2, "as_fed")}
    elif slip == "fat 1.5 points too high":
        rows = {**rows, "ether_extract": (rows["ether_extract"][0] + 1.5, "as_fed")}
    elif slip == "protein in g/kg entered as %":
        rows = {**rows, "crude_protein": (rows["crude_protein"][0] * 10, "as_fed")}
    elif slip == "oven dry matter 4 points too low":
        dry = {**dry, "oven": dry["oven"] - 4}
    return heaps, rows, dry


def book_of(heaps, rows, dry):
    here = Place()
    assays = [Assay(here, "s", name, value, "%", basis) for name, (value, basis) in rows.items()]
    assays.append(Assay(here, "s", "dry_matter", dry["oven"], "%", "as_fed", "oven", 0.2))
    return replace(
        Book(Path("none"), Settings()),
        bins=(Bin(here, "b", mass_kg=40_000.0, moisture_pct=100 - dry["meter"]),),
        samples=(Sample(here, "s", "b", date(2025, 9, 1), 20, None, "", 500.0),),
        sorted=tuple(SortedCrop(here, "s", crop, float(grams)) for crop, grams in heaps.items()),
        assays=tuple(assays),
    )


def judged(book, library):
    """How it is noticed (refused, asked, disagree or nothing), and the causes named."""
    evidence = gather("b", book, library)
    if impossible_assays(evidence, book, library):
        return "refused", ()
    found = agreement(evidence, book, library)
    if found.verdict == "disagree":
        return "disagree", found.causes
    return ("asked" if evidence.dry_matter.contradictory else ""), ()


def measure(library, bins, seed=20261130):
    """Of each slip: bins, noticed, with a cause named, the first one right, any one right."""
    plain = Book(Path("none"), Settings())
    grain = [known_crop(name, plain, library) for name in library_grains(library) if name != "soybeans_raw"]
    look_alikes = {
        one.crop: [
            other.crop
            for other in grain
            if other is not one and 1 / LOOK_ALIKE <= one.kernel_mass_g / other.kernel_mass_g <= LOOK_ALIKE
        ]
        for one in grain
    }
    table = {}
    for slip in (NO_SLIP, *RIGHT):
        random, count = np.random.default_rng(seed), Counter()
        while count["bins"] < bins:
            made = slipped(slip, *written(invent(grain, random), random), look_alikes, random)
            if made is None:
                continue
            how, causes = judged(book_of(*made), library)
            begins = RIGHT.get(slip, "")
            count["bins"] += 1
            count["noticed"] += bool(how)
            if slip != NO_SLIP and begins:
                count["named"] += bool(causes)
                count["first"] += bool(causes) and causes[0].startswith(begins)
                count["any"] += any(cause.startswith(begins) for cause in causes)
        table[slip] = count
    return table


def lines(table):
    """The table of DEVELOPERS.md."""
    yield "| slip | noticed | a cause named | the first is right | any is right |"
    yield "| --- | --- | --- | --- | --- |"
    for slip, count in table.items():
        share = f"{100 * count['noticed'] / count['bins']:.0f} %"
        rest = [str(count[key]) if RIGHT.get(slip) else "" for key in ("named", "first", "any")]
        yield f"| {slip} | {share} | " + " | ".join(rest) + " |"


def main():
    bins = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    table = measure(load_library(), bins)
    print("\n".join(lines(table)))
    named, first = (sum(count[key] for count in table.values()) for key in ("named", "first"))
    print(f"The first cause named is right in {first} of {named}; {bins} bins a slip.")


if __name__ == "__main__":
    main()
