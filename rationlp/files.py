"""Files appear whole or not at all: written beside their place, then moved there."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from rationlp.errors import InputError, Problem


def write_whole(path: Path, write: Callable[[Path], None]) -> None:
    """Let `write` fill a temporary file in the folder of `path`, then put it there at once. Raises InputError."""
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=f"{path.suffix}.tmp", dir=path.parent)
    except OSError as error:
        raise _not_writable(path, error) from None
    os.close(handle)
    temporary = Path(name)
    try:
        write(temporary)
        temporary.chmod(0o666 & ~_umask())
        temporary.replace(path)
    except OSError as error:
        raise _not_writable(path, error) from None
    finally:
        temporary.unlink(missing_ok=True)


def _not_writable(path: Path, error: OSError) -> InputError:
    return InputError([Problem(
        "error", "-o", "", f"{path} cannot be written ({error.strerror or error})", "a file name in a folder that "
                                                                                    "exists",
        "Choose another place, or close the file where it is open.",
    )])  # fmt: skip


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
