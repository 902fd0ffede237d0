"""What the commands make, for download: each file is made by its command, as at the terminal."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from types import MappingProxyType

import anyio

LONGEST_SAID = 4_000
"""Characters of what a command says that are shown."""
MEDIA = {
    ".csv": "text/csv; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".txt": "text/plain; charset=utf-8",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


@dataclass(frozen=True, slots=True)
class Kind:
    """A file that can be asked for: `name` is the file's; `words` those of the command after the book.

    {file} in them stands for where to write, {group} for the group asked for; without {file} the answer is the file.
    """

    title: str
    for_what: str
    command: str
    words: tuple[str, ...]
    name: str

    @property
    def of_group(self) -> bool:
        """Whether it is of one group of animals."""
        return any("{group}" in word for word in self.words)

    @property
    def in_file(self) -> bool:
        """Whether the command writes the file itself."""
        return any("{file}" in word for word in self.words)

    def line(self, book: Path, library: Path | None, place: Path, group: str) -> list[str]:
        """The command line. What comes from the book stands after an `=`, so that nothing is taken for an option."""
        words = [word.replace("{file}", str(place)).replace("{group}", group) for word in self.words]
        own = [] if library is None else [f"--library={library}"]
        return [sys.executable, "-m", "rationlp", self.command, str(book), *words, *own]


IN_RECORD = "Each batch gets its number in the farm's record, beside the book."
KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "sheets": Kind(
            title="Mix sheets to fill in",
            for_what=f"For the crew, as a workbook. {IN_RECORD}",
            command="sheets",
            words=("--output={file}",),
            name="mix_sheets.xlsx",
        ),
        "sheets_print": Kind(
            title="Mix sheets to print",
            for_what=f"For the crew, as pages. {IN_RECORD}",
            command="sheets",
            words=("--output={file}",),
            name="mix_sheets.html",
        ),
        "ration": Kind(
            title="Rations as a table",
            for_what="For another program or a spreadsheet.",
            command="ration",
            words=("--format=csv",),
            name="rations.csv",
        ),
        "review": Kind(
            title="Review copy",
            for_what="For the nutritionist, to sign.",
            command="ration",
            words=("--review={file}",),
            name="review.xlsx",
        ),
        "review_print": Kind(
            title="Review copy to print",
            for_what="For the nutritionist, as a page: a sheet to sign for each ration, and all they rest on.",
            command="ration",
            words=("--review={file}",),
            name="review.html",
        ),
        "statement": Kind(
            title="Statement of what a group ate",
            for_what="For the buyer of pork or eggs, from the farm's record.",
            command="trace",
            words=("--group={group}", "--statement", "--output={file}"),
            name="statement.html",
        ),
        "year": Kind(
            title="The feed year",
            for_what="Calendar, stocks and purchases as a workbook.",
            command="year",
            words=("--output={file}",),
            name="year.xlsx",
        ),
        "check": Kind(
            title="What check says of the book",
            for_what="Every problem and warning.",
            command="check",
            words=(),
            name="check.txt",
        ),
    }
)


@dataclass(slots=True)
class Asked:
    """A file that was asked for: being made until `done`, then there (`data`), or not (`said` tells why)."""

    number: int
    kind: Kind
    group: str
    saved: datetime | None
    since: datetime = field(default_factory=datetime.now)
    done: bool = False
    data: bytes | None = None
    said: str = ""

    @property
    def ending(self) -> str:
        """How the file's name ends."""
        return Path(self.kind.name).suffix

    @property
    def name(self) -> str:
        """The file's name, with the group in it."""
        if not self.group:
            return self.kind.name
        plain = "".join(sign if sign.isalnum() or sign in "-_" else "_" for sign in self.group)
        return f"{Path(self.kind.name).stem}_{plain[:60]}{self.ending}"


async def fill(asked: Asked, book: Path, library: Path | None) -> None:
    """Has the command make the file, in a folder that is gone when it is done. Cancelled, the command is ended."""
    with TemporaryDirectory(prefix="rationlp-", ignore_cleanup_errors=True) as folder:
        place = Path(folder, asked.kind.name)
        line = asked.kind.line(book, library, place, asked.group)
        env = os.environ | {"PYTHONIOENCODING": "utf-8", "NO_COLOR": "1"}
        ended = await anyio.run_process(line, check=False, cwd=folder, env=env)
        out, said = ended.stdout, ended.stderr.decode("utf-8", "replace")
        if not asked.kind.in_file:
            asked.data = out or None
        else:
            asked.data = place.read_bytes() if place.is_file() else None
            said += out.decode("utf-8", "replace")
    asked.said = in_words_of_the_page(said.replace(str(Path(folder)) + os.sep, ""))[:LONGEST_SAID]
    asked.done = True


def in_words_of_the_page(said: str) -> str:
    """What a command says, an option by the label of its field: `--group: found ...` is `Group: found ...`."""
    return re.sub(r"^(error: |warning: )?--([a-z]+)(?=[-a-z]*: )", _by_label, said, flags=re.MULTILINE).strip()


def _by_label(option: re.Match[str]) -> str:
    return f"{option[1] or ''}{option[2].capitalize()}"
