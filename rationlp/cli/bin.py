"""rationlp bin: what is in each bin, and how sure that is."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from rationlp.cli.options import Number, bin_option, book_argument, format_option, library_option, load

if TYPE_CHECKING:
    from rationlp.book.records import Book
    from rationlp.library import Library


@click.command(name="bin")
@book_argument
@bin_option
@click.option(
    "--precision", type=Number(0, 100, min_open=True), metavar="PCT",
    help="Also say how much to sort, probe and analyse, to know what binds the rations within PCT percent (9 in 10).",
)  # fmt: skip
@format_option
@library_option
def command(
    book: Path, bins: tuple[str, ...], precision: float | None, form: str, library_dir: Path | None
) -> None:  # fmt: skip
    """What is in each bin: tonnes, crop shares and nutrients, each with a plus-or-minus and where it came from.

    Hand sort, assays and library are weighed against each other; the findings say whether they agree, and what to know
    before the grain is fed.

    Example: rationlp bin farm.xlsx --bin north --precision 4
    """
    from rationlp.bins import estimate_bins, sampling_advice
    from rationlp.rations.formulate import bin_groups

    farm_book, library = load(book, library_dir)
    names = [name for group in bin_groups(farm_book, bins, together=False) for name in group]
    estimates = estimate_bins(names, farm_book, library)
    advice = []
    if precision is not None:
        for estimate in estimates:
            asked = _asked(estimate.bin, farm_book, library)
            advice.append(sampling_advice(estimate, farm_book, library, precision, asked))
    if form == "json":
        from rationlp.show.data.as_json import bin_document, write_json

        write_json(bin_document(farm_book, estimates, library, advice))
    elif form == "csv":
        from rationlp.show.data.frames import bin_frame

        click.echo(bin_frame(estimates, advice).to_csv(index=False), nl=False)
    else:
        from rationlp.show.text.bin import print_bins

        print_bins(estimates, library, advice)


def _asked(bin_id: str, book: Book, library: Library) -> dict[str, float]:
    """What the binding requirements of the book's groups ask of the bin's grain: the least content as fed, by nutrient.

    Empty if there are no groups or no ration can be reckoned.
    """
    from rationlp.errors import RationlpError
    from rationlp.rations.formulate import formulate

    if not book.groups:
        return {}
    try:
        rations = formulate(book, library, bins=[bin_id])
    except RationlpError as error:
        click.echo(f"Rations of bin {bin_id} cannot be reckoned, so the usual nutrients are taken: {error}", err=True)
        return {}
    asked: dict[str, float] = {}
    for ration in rations:
        share = next((line.share for line in ration.mix if line.offer == bin_id), 0.0)
        for line in ration.requirements:
            bound = line.minimum if line.binding == "minimum" else line.maximum
            if line.binding and bound and share > 0:
                asked[line.nutrient] = min(asked.get(line.nutrient, float("inf")), bound / share)
    return asked
