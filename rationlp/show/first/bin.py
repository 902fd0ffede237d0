"""The first screen of `bin`: tonnes, crops and six figures with their ±, what is wrong, whom to ask about what."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import zip_longest
from typing import TYPE_CHECKING

from rationlp.bins.model import Accord, Gravity
from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.farm import Farm
from rationlp.library.read import Library
from rationlp.numbers import figure, percent
from rationlp.reasons import Kind, Verdict
from rationlp.show.first.asked import Asked
from rationlp.show.first.screen import laid_out, print_end, print_things, screen
from rationlp.show.terminal import Terminal
from rationlp.show.text.bin import print_advice
from rationlp.units import Z90

if TYPE_CHECKING:
    from rationlp.bins import BinEstimate
    from rationlp.bins.precision import SamplingAdvice

SHARED = ("dry_matter", "crude_protein")
PIGS = ("ne_pig", "sid_lysine_pig", "ndf", "sttd_phosphorus_pig")
BIRDS = ("amen_poultry", "sid_lysine_poultry", "crude_fibre", "sid_methionine_cystine_poultry")
BOTH = (*PIGS[:2], *BIRDS[:2])
MOST_CROPS = 8


def print_first(estimates: Sequence[BinEstimate], farm: Farm, advice: Sequence[SamplingAdvice] = ()) -> None:
    """Every bin on one screen. Dangers and warnings stand whole; `--full` prints the rest."""
    out = screen()
    units = units_of(farm.settings)
    verdicts = [(estimate.bin, Verdict(estimate.reasons)) for estimate in estimates]
    asked = Asked(verdicts)
    for estimate, (_, verdict) in zip(estimates, verdicts, strict=True):
        _print_bin(out, estimate, verdict, asked, farm, units)
    if not estimates:
        out.print("The book has no bins: write them on the sheets bins, samples and sorted.")
    asked.print(out)
    for name, text in _dangers(estimates):
        out.print(f"!! {name}: {text}", strong=True, hang=3)
    print_advice(out, advice, farm.library)
    print_things(out, _warnings(estimates))
    print_end(out, "A ± holds 9 times in 10. --full prints every nutrient, note and caution.")


def _print_bin(
    out: Terminal, estimate: BinEstimate, verdict: Verdict, asked: Asked, farm: Farm, units: BookUnits
) -> None:
    spread = None if estimate.tonnes_sd is None else Z90 * estimate.tonnes_sd
    amount = "amount not known" if estimate.tonnes is None else units.stock(estimate.tonnes, spread)
    mark = f" {asked.mark(verdict)}." if verdict.reasons else ""
    out.print(f"{estimate.label} ({estimate.bin}): {amount}.{mark}", strong=True)
    out.print(f"  {_known_by(estimate, farm)}", hang=2)
    figures = list(_figures(estimate, farm.book, farm.library))
    for line in _side_by_side(estimate, figures, out.width):
        out.print(line)


def _side_by_side(estimate: BinEstimate, figures: list[list[str]], width: int) -> list[str]:
    """Crops beside figures; by the first words of their names where they do not fit, else one below the other."""
    for ends in (" (", ", "):
        crops = _crops(estimate, ends)
        rows = [[*left, *right] for left, right in zip_longest(crops, figures, fillvalue=["", ""])]
        lines = [line.rstrip() for line in laid_out(rows, "lrlr", indent=2)] if rows else []
        if all(len(line) <= width for line in lines):
            return lines
    return [line.rstrip() for part in (crops, figures) if part for line in laid_out(part, "lr", indent=2)]


def _crops(estimate: BinEstimate, ends: str) -> list[list[str]]:
    """Each crop with its share; its name up to `ends`."""
    crops = [
        [_short(crop.label, estimate, ends), f"{percent(crop.share, 1)} ± {percent(Z90 * crop.sd, 1)} %"]
        for crop in estimate.crops[:MOST_CROPS]
    ]
    if len(estimate.crops) > MOST_CROPS:
        rest = sum(crop.share for crop in estimate.crops[MOST_CROPS:])
        crops.append([f"{len(estimate.crops) - MOST_CROPS} others", f"{percent(rest, 1)} %"])
    return crops


def _short(label: str, estimate: BinEstimate, ends: str) -> str:
    """The label of a crop up to `ends`, where no other crop of the bin is called so."""
    short = label.split(" (")[0].split(ends)[0]
    others = sum(crop.label.split(" (")[0].split(ends)[0] == short for crop in estimate.crops)
    return short if others == 1 else label


ACCORD_WORDS = {
    Accord.AGREE: "; hand sort and laboratory agree",
    Accord.DISAGREE: "; hand sort and laboratory DO NOT AGREE",
    Accord.NOT_COMPARED: "",
}


def _known_by(estimate: BinEstimate, farm: Farm) -> str:
    """How the amount and the shares were found, in one line or two."""
    taken = f" of {farm.settings.day(estimate.taken_on)}" if estimate.taken_on else ""
    sample = f"sample {estimate.sample}{taken}" if estimate.sample else "no sample: its content is a guess"
    accord = ""
    if estimate.agreement is not None:
        accord = ACCORD_WORDS[estimate.agreement.verdict]
    words = f"{estimate.tonnes_from}; {sample}{accord}."
    return words[0].upper() + words[1:]


def _figures(estimate: BinEstimate, book: Book, library: Library) -> Iterator[list[str]]:
    """The six figures that matter for the animals of the book."""
    kinds = {
        stage.species == "swine" for group in book.groups if (stage := library.stages.get(group.stage)) is not None
    }
    wanted = (*SHARED, *(BOTH if len(kinds) != 1 else PIGS if True in kinds else BIRDS))
    known = {line.nutrient: line for line in estimate.nutrients}
    for name in wanted:
        if line := known.get(name):
            yield [line.label.split(" (")[0], f"{figure(line.value, 3)} ± {figure(Z90 * line.sd, 2)} {line.unit}"]


def _dangers(estimates: Sequence[BinEstimate]) -> Iterator[tuple[str, str]]:
    """The bin and the words of each danger that no reason tells already; that hand sort and laboratory disagree is
    what a reason of evidence says with its figures."""
    for estimate in estimates:
        said = {reason.text for reason in estimate.reasons}
        contradicted = any(reason.kind is Kind.EVIDENCE for reason in estimate.reasons)
        for finding in estimate.notices_by_weight:
            told = finding.text in said or (finding.kind == "agreement" and contradicted)
            if finding.severity is Gravity.DANGER and not told:
                yield estimate.bin, finding.text


def _warnings(estimates: Sequence[BinEstimate]) -> Iterator[str]:
    for estimate in estimates:
        for finding in estimate.notices_by_weight:
            if finding.severity is Gravity.WARNING:
                yield f"{estimate.bin}: {finding.text}"
