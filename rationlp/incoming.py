"""Files that a person hands in are read only where they are files, and no larger than a farm's work can be."""

from __future__ import annotations

import stat
import zipfile
from io import BytesIO
from pathlib import Path

MOST_BYTES = 64 * 2**20
"""Of a file, and of a workbook once it is unpacked; the demo book's is 0.3 MB, its mix sheets of 36 rations 3 MB."""
MOST_PARTS = 10_000
"""Of a workbook; each sheet is one, with its drawings and comments a few."""
MOST_ROWS = 100_000
"""Of a sheet."""


class UnfitError(ValueError):
    """A file that is not read; its text says what was found."""


def bytes_of(path: Path) -> bytes:
    """What the file at `path` holds. Raises UnfitError for a pipe, a device or more than MOST_BYTES, and OSError."""
    about = path.stat()
    if not stat.S_ISREG(about.st_mode):
        raise UnfitError("no regular file")
    if about.st_size > MOST_BYTES:
        raise UnfitError(f"a file of {_mb(about.st_size)}, where {_mb(MOST_BYTES)} are the most that is read")
    return path.read_bytes()


def workbook_of(path: Path) -> BytesIO:
    """The workbook at `path`, to be opened. Raises what `bytes_of` raises, and UnfitError where it unpacks to more.

    No part of an archive is unpacked beyond the size that is stated in it, so that what is stated can be trusted.
    """
    data = BytesIO(bytes_of(path))
    try:
        with zipfile.ZipFile(data) as parts:
            count, unpacked = len(parts.infolist()), sum(part.file_size for part in parts.infolist())
    except (zipfile.BadZipFile, RuntimeError):
        count = unpacked = 0  # whoever opens it says what it is
    if unpacked > MOST_BYTES:
        raise UnfitError(f"a workbook of {_mb(unpacked)} unpacked, where {_mb(MOST_BYTES)} are the most that is read")
    if count > MOST_PARTS:
        raise UnfitError(f"a workbook of {count:,} parts, where {MOST_PARTS:,} are the most that is read")
    data.seek(0)
    return data


def _mb(size: int) -> str:
    return f"{size / 2**20:,.0f} MB"
