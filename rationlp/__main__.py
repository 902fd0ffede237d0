"""The command `rationlp`."""

import sys


def main() -> None:
    """Answer `--help` at once; load the rest only for a command."""
    from rationlp.cli.overview import overview

    if sys.argv[1:] in ([], ["--help"], ["-h"]):
        print(overview())
        return
    from rationlp.cli.app import app

    app(prog_name="rationlp")


if __name__ == "__main__":
    main()
