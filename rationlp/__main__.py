"""The command `rationlp`."""

import gc
import os
import signal
import sys
from io import TextIOWrapper
from typing import TextIO


def main() -> None:
    """Answer `--help` at once; load the rest only for a command. Output that cannot be written is one line, exit 1."""
    if sys.stdout is None or sys.stderr is None:
        _closed()
    signal.signal(signal.SIGTERM, _ended)
    for stream in (sys.stdout, sys.stderr):
        if not isinstance(stream, TextIOWrapper):
            continue  # somebody else's stream: theirs to choose how it writes
        if stream.isatty():
            stream.reconfigure(errors="replace")  # a terminal that lacks a character shows another one
        else:
            stream.reconfigure(encoding="utf-8")  # files and pipes, whatever the code page
    try:
        code = _run()
        sys.stdout.flush()
    except BrokenPipeError:
        _drop(sys.stdout)  # whoever read it has read enough
        code = 1
    except OSError as error:
        _drop(sys.stdout)
        _complain(error)
        code = 1
    gc.freeze()  # on its way out the interpreter would look through everything once more, a fifth of a short command
    sys.exit(code)


def _run() -> str | int | None:
    """The exit code."""
    from rationlp.cli.overview import overview

    if sys.argv[1:] in ([], ["--help"], ["-h"]) and "_RATIONLP_COMPLETE" not in os.environ:
        print(overview())
        return 0
    # Sums of numpy's products come out the same whatever cores the machine has, and no threads wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # it would look through every installed package
    gc.set_threshold(500_000, 20, 20)  # most of what a command makes stays until it ends: looking through it is in vain
    from rationlp.cli.app import app

    try:
        app(prog_name="rationlp")
    except SystemExit as stop:
        return stop.code
    return 0


def _complain(error: OSError) -> None:
    place = f"{error.filename}: " if error.filename else "the answer cannot be written: "
    try:
        print(f"error: {place}{error.strerror or error}", file=sys.stderr)
        sys.stderr.flush()
    except OSError:
        _drop(sys.stderr)  # nowhere is left to say it; the exit code does


def _ended(number: int, _frame: object) -> None:
    """Asked to stop: what is half written is cleared away on the way out."""
    sys.exit(128 + number)


def _closed() -> None:
    """Started without a stream to write to: say so where that is still possible."""
    if sys.stderr is not None:
        print("error: standard output is closed: there is nowhere to write the answer.", file=sys.stderr)
    sys.exit(1)


def _drop(stream: TextIO) -> None:
    """Let what the stream still holds go nowhere, or the interpreter fails over it once more when it ends."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, stream.fileno())
    except (OSError, ValueError, AttributeError):
        return  # the stream is closed, or none at all
    finally:
        os.close(nowhere)


if __name__ == "__main__":
    main()
