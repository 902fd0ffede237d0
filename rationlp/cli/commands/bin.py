"""rationlp bin: what is in each bin, and how sure that is."""

from __future__ import annotations

from pathlib import Path

import click

from rationlp.cli.options import (
    Percent,
    bin_option,
    book_argument,
    format_option,
    full_option,
    library_option,
    opened,
    paged,
    price_option,
    set_option,
)
from rationlp.cli.output import check_folder, folder_option, overwrite_option, write_answer


@click.command(name="bin")
@book_argument
@bin_option
@price_option
@set_option
@click.option(
    "--precision",
    type=Percent(0, 100, min_open=True),
    metavar="PCT",
    help="Also say how much to sort, probe and analyse, to know what binds the rations within PCT percent (9 in 10).",
)
@folder_option
@overwrite_option
@full_option
@format_option
@library_option
def command(
    book: Path,
    bins: tuple[str, ...],
    prices: tuple[str, ...],
    settings: tuple[str, ...],
    precision: float | None,
    output: Path | None,
    overwrite: bool,
    full: bool,
    form: str,
    library_dir: Path | None,
) -> None:
    """What is in each bin: tonnes, crop shares and nutrients, each with a plus-or-minus and where it came from.

    Hand sort, assays and library are weighed against each other; the findings say whether they agree, and what to know
    before the grain is fed.

    Example: rationlp bin farm.xlsx --bin north --precision 4
    """
    if output is not None:
        check_folder(output, book, overwrite, form)
    farm = opened(book, library_dir).asked(prices, settings)
    estimates = farm.bins(bins)
    advice = []
    if precision is not None:
        from rationlp.bins.precision import sampling_advice
        from rationlp.rations.studies.asked_of_bin import asked_of_bin

        for estimate in estimates:
            asked, why_not = asked_of_bin(farm, estimate.bin)
            if why_not:
                click.echo(why_not, err=True)
            advice.append(sampling_advice(estimate, farm.book, farm.library, precision, asked))
    if form == "json":
        from rationlp.show.data.as_json import bin_document, write_json

        write_json(bin_document(farm, estimates, advice))
    elif output is not None:
        from rationlp.show.data.as_json import bin_document

        write_answer(output, "bin", bin_document(farm, estimates, advice))
    elif form == "csv":
        from rationlp.show.data.frames import bin_frame, csv_of

        click.echo(csv_of(bin_frame(estimates, advice)), nl=False)
    elif full:
        from rationlp.show.text.bin import print_bins

        with paged(full, farm.library):
            print_bins(estimates, farm, advice)
    else:
        from rationlp.show.first.bin import print_first

        print_first(estimates, farm, advice)
