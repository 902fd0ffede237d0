"""rationlp library: what the feed library says, with sources."""

from __future__ import annotations

from pathlib import Path

import click

from rationlp.cli import complete
from rationlp.cli.options import format_option, full_option, library_option, started
from rationlp.cli.output import check_folder, folder_option, overwrite_option, tell, write_answer

TOPICS = ("feeds", "stages", "limits", "sources", "nutrients", "equations")


class Quantity(click.ParamType):  # type: ignore[type-arg]  # click 8.1 has it without arguments
    """A number with a unit of one of the tables in rationlp.units."""

    def __init__(self, name: str, table: str, default_unit: str):
        self.name = name
        self.table = table
        self.default_unit = default_unit

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> float:
        from rationlp import units

        try:
            return units.parse_quantity(value, getattr(units, self.table), self.default_unit)
        except ValueError as error:
            self.fail(str(error), param, ctx)


@click.command(name="library")
@click.argument(
    "topic",
    metavar="[feeds|stages|limits|sources|nutrients|equations]",
    default="",
    shell_complete=lambda ctx, param, incomplete: [topic for topic in TOPICS if topic.startswith(incomplete)],
)
@click.argument("name", metavar="[ID]", default="", shell_complete=complete.topics)
@click.option("--sort", metavar="NUTRIENT", default="", help="Feeds richest in it first; stages that need most of it.")
@click.option(
    "--memory", is_flag=True, help="Only what was recalled and not seen; without a topic by its weight in rations."
)
@click.option("--weight", type=Quantity("weight", "MASS_KG", "kg"), help="Stages of this live weight: 62kg, 140lb.")
@click.option("--age", type=Quantity("age", "AGE_WEEKS", "wk"), help="Stages of this age: 20wk, 35d.")
@folder_option
@overwrite_option
@full_option
@format_option
@library_option
def command(
    topic: str,
    name: str,
    sort: str,
    memory: bool,
    weight: float | None,
    age: float | None,
    output: Path | None,
    overwrite: bool,
    full: bool,
    form: str,
    library_dir: Path | None,
) -> None:
    """What the feed library says of a feed, a stage, a limit, a nutrient or a source, and where each figure is from.

    Without a topic it checks the library and says how its figures were obtained. An ID alone is looked up everywhere.

    Example: rationlp library feeds triticale; rationlp library feeds --sort sid_lysine_pig;
    rationlp library stages --weight 62kg; rationlp library limits flaxseed
    """
    from rationlp.library import load_library
    from rationlp.show.library.reply import Asked, plain_document, reply, write_csv, write_document

    if topic and topic not in TOPICS:
        if name:
            raise click.UsageError(f"{topic!r} is not one of {', '.join(TOPICS)}.")
        topic, name = "", topic
    if weight is not None or age is not None:
        if topic not in ("", "stages") or (name and not topic):
            raise click.UsageError("--weight and --age find stages: rationlp library stages --weight 62kg")
        topic = "stages"
    if sort and not topic:
        topic = "feeds"
    library = load_library(library_dir)
    if output is not None:
        check_folder(output, Path(str(library.directory)), overwrite, form)
    if topic or name:  # the overview shows the whole check
        tell(library.warnings)
    answer = reply(Asked(topic, name, sort, memory, weight, age), library)
    if form == "json":
        write_document(answer.document)
    elif output is not None:
        write_answer(output, "library", plain_document(answer.document))
    elif form == "csv":
        write_csv(answer.rows)
    else:
        with started(full):
            answer.show()
