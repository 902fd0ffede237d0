"""rationlp sheets: mix sheets for the crew."""

from __future__ import annotations

from pathlib import Path

import click

from rationlp.cli import complete
from rationlp.cli.options import (
    bin_option,
    book_argument,
    format_option,
    full_option,
    library_option,
    opened,
    paged,
    price_option,
    set_option,
    stage_option,
)
from rationlp.cli.output import check_folder, check_output, is_folder, leave, overwrite_option, write_answer
from rationlp.cli.progress import waiting


@click.command(name="sheets")
@book_argument
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Where to write: a workbook (.xlsx), a page to print (.html) or a table (.csv), by the ending; with --format "
    "csv, DIR: a folder of tidy tables.",
)
@overwrite_option
@stage_option
@bin_option
@price_option
@set_option
@click.option("--together", is_flag=True, help="Let the bins go into one ration instead of one ration for each bin.")
@click.option(
    "--batch",
    metavar="MASS",
    help="Mass of a batch (500, '1 t'), or 'mixer' for what the mixer holds. Default: the book's.",
)
@click.option(
    "--mixer-volume", metavar="VOLUME", help="What the mixer holds by volume: '1.2 m3', '40 ft3'; limits the batch."
)
@click.option("--batches", type=click.IntRange(1), default=1, show_default=True, help="How many batches of that size.")
@click.option(
    "--group",
    "groups",
    multiple=True,
    metavar="G",
    shell_complete=complete.groups,
    help="Only for this group of animals (may be repeated).",
)
@click.option("--days", type=click.IntRange(1), help="Feed for this many days of the groups, in equal batches.")
@click.option(
    "--on", "on", metavar="DATE", help="Day of mixing (YYYY-MM-DD): printed, and only groups fed that day count."
)
@click.option(
    "--week",
    metavar="DATE",
    help="Instead: the mixes of the plan of the year for seven days (or --days) from DATE on.",
)
@click.option(
    "--from",
    "start",
    metavar="DATE",
    help="With --week: the plan as `year --from DATE` makes it, after what was mixed.",
)
@full_option
@format_option
@library_option
def command(
    book: Path,
    output: Path,
    overwrite: bool,
    stages: tuple[str, ...],
    bins: tuple[str, ...],
    prices: tuple[str, ...],
    settings: tuple[str, ...],
    together: bool,
    batch: str | None,
    mixer_volume: str | None,
    batches: int,
    groups: tuple[str, ...],
    days: int | None,
    on: str | None,
    week: str | None,
    start: str | None,
    full: bool,
    form: str,
    library_dir: Path | None,
) -> None:
    """Mix sheets in weights the scale can show, one for each bin and stage.

    Exit code 3 when a ration cannot be met, or when no weights the scales can show meet it; its page says why. The
    file appears whole or not at all.

    Example: rationlp sheets farm.xlsx -o mix.xlsx --stage sw_gro_25_50 --batch 500

    Example: rationlp sheets farm.xlsx -o week.xlsx --week 2026-03-02
    """
    from rationlp.actual.numbers import keep_printed, numbered
    from rationlp.report.papers.write import check_place, write_pack

    folder = output if is_folder(output, form) else None
    if folder is not None:
        check_folder(folder, book, overwrite, form)
    else:
        check_place(output)
        check_output(output, book, overwrite)
    if week is not None and (stages or groups or together or on or batches > 1):
        raise click.UsageError(
            "--week takes the stages, groups and bins of each mix from the plan of the year: leave --stage, --group, "
            "--together, --on and --batches out."
        )
    if start is not None and week is None:
        raise click.UsageError("--from is for the plan of the year: it goes with --week.")
    farm = opened(book, library_dir).from_day(start).asked(prices, settings)
    with waiting("Calculating weights"):
        if week is not None:
            pack = farm.week_sheets(week, bins, days=days, batch=batch, mixer_volume=mixer_volume)
        else:
            pack = farm.sheets(
                stages,
                bins,
                together,
                batch=batch,
                mixer_volume=mixer_volume,
                batches=batches,
                groups=groups,
                days=days,
                on=on,
            )
    pack = numbered(pack, farm)
    if folder is not None:
        from rationlp.show.text.sheets import pack_document

        write_answer(folder, "sheets", pack_document(pack, farm.book, folder))
    else:
        write_pack(pack, farm, output)
    keep_printed(pack, farm.book)
    if form == "json":
        from rationlp.show.data.as_json import write_json
        from rationlp.show.text.sheets import pack_document

        write_json(pack_document(pack, farm.book, output))
    elif form == "csv" and folder is None:
        from rationlp.pages.csv_table import pack_table

        click.echo(pack_table(pack, farm.library), nl=False)
    elif folder is not None:
        pass  # it is said what was written
    elif full:
        from rationlp.show.text.sheets import print_pack

        with paged(full, farm.library):
            print_pack(pack, output, farm.library)
    else:
        from rationlp.show.first.sheets import print_first

        print_first(pack, output)
    leave(any(not sheet.failed for sheet in pack.unmade), any(sheet.failed for sheet in pack.unmade))
