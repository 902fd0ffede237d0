"""The pack as a file, in the form its ending asks for."""

from __future__ import annotations

from pathlib import Path

from rationlp.errors import Problem, RequestError
from rationlp.files import write_whole_text
from rationlp.library.read import Library
from rationlp.sheets.model import Pack

ENDINGS = (".xlsx", ".html", ".csv")


def check_place(path: Path) -> None:
    """Raise RequestError unless the folder of `path` exists and its name ends in one of ENDINGS: before any work."""
    if not path.parent.is_dir():
        raise RequestError(
            [
                Problem(
                    "error",
                    "-o",
                    "",
                    f"{path} in a folder that does not exist",
                    "a file name in a folder that exists",
                    "Make the folder first, or choose another place.",
                )
            ]
        )
    if path.suffix.casefold() not in ENDINGS:
        raise RequestError(
            [
                Problem(
                    "error",
                    "-o",
                    "",
                    f"{path.name!r}",
                    f"a file name that ends in {', '.join(ENDINGS)}",
                    "Choose the ending: .xlsx to fill in and print, .html to print, .csv for another program.",
                )
            ]
        )


def write_pack(pack: Pack, library: Library, path: Path) -> None:
    """Write every page of `pack` to `path`, whole or not at all. Raises RequestError."""
    check_place(path)
    ending = path.suffix.casefold()
    if ending == ".xlsx":
        from rationlp.pages.workbook import write_workbook

        write_workbook(pack, library, path)
    elif ending == ".html":
        from rationlp.pages.html import pack_html

        write_whole_text(path, pack_html(pack, library))
    else:
        from rationlp.pages.csv_table import pack_table

        write_whole_text(path, pack_table(pack, library))
