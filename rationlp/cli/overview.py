"""Which commands there are. Imports nothing, so that `rationlp --help` costs nothing."""

COMMANDS = {
    "new": "write a farm book ready to fill in",
    "check": "read a book and list every problem in it",
    "bin": "what is in each bin",
    "ration": "the least-cost ration of each stage from each bin",
    "resample": "what a new sample of a bin changes",
    "offers": "what each offer is worth, and what its price may do",
    "sheets": "mix sheets for the crew",
    "year": "the feed year: who eats what when, what to buy, what runs out",
    "actual": "what was really weighed, and whether to feed it",
    "trace": "where feed came from, and which animals ate it",
    "report": "one page of it all: for the kitchen table, the phone and the signature",
    "open": "the farm's page in the browser, following the book",
    "many": "the rations of many farms",
    "library": "what the feed library says, with sources",
    "schema": "what the JSON answer of a command looks like",
}


def overview() -> str:
    """The text of `rationlp --help`."""
    width = max(map(len, COMMANDS))
    lines = "\n".join(f"  {name:<{width}}  {text}" for name, text in COMMANDS.items())
    return f"""Usage: rationlp COMMAND BOOK [OPTIONS]

From a bin sample of home-grown mixed grain to least-cost rations for pigs and
poultry, and to the mix sheets the crew mixes by. A BOOK is an .xlsx workbook
or a folder of CSV files.

Commands:
{lines}

'rationlp COMMAND --help' shows the options of a command and an example.
A qualified (licensed) nutritionist should review every ration."""
