"""The first screen of `sheets`: a line for each sheet, whom to ask about what, what could not be written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from rationlp.numbers import money
from rationlp.reasons import Severity
from rationlp.sheets.model import NoSheet, Pack
from rationlp.sheets.weights.scale import shown
from rationlp.show.first.asked import Asked
from rationlp.show.first.screen import counted, laid_out, print_end, print_things, screen, short_words


def print_first(pack: Pack, output: Path) -> None:
    """Every sheet of the pack, then what needs a person's eye."""
    out = screen()
    pages = [(page.name, page.ration.verdict) for page in pack.pages]
    out.print(f"{pack.farm}. {_whole(pack)} Written: {output}", strong=True)
    short = short_words([verdict for _, verdict in pages], pack.units)
    asked = Asked(pages).fitting(out, len(pages) + 2 + (out.height(short) if short else 0))
    out.print(f"Sheet, id, verdict, batches in {pack.unit}, {pack.currency} that rounding costs in a batch:")
    rows = [
        [
            sheet.name,
            sheet.id,
            asked.mark(sheet.verdict),
            f"{sheet.count} x {shown(sheet.batch, sheet.scale.step)}",
            money(max(sheet.extra_cost, 0)),
        ]
        for sheet in pack.sheets
    ]
    rows += [[absent.name, absent.id, _mark(absent, asked), "no sheet", ""] for absent in pack.unmade]
    for line in laid_out(rows, "lllrr") if rows else ():
        out.print(line.rstrip())
    asked.print(out)
    if short:
        out.print(short)
    for line in _unmade(pack, of_stopped=False):
        out.print(line, strong=True)
    print_things(out, [*_unmade(pack, of_stopped=True), *_notes(pack)], mixes=len(pages))
    print_end(out, "--full prints every reason and note.")


def _whole(pack: Pack) -> str:
    """How many sheets there are and how they stand; and how many rations that may be fed have none all the same."""
    stopped = [v for absent in pack.unmade if (v := absent.ration.verdict).severity is Severity.STOP]
    verdicts = [*(sheet.ration.verdict for sheet in pack.sheets), *stopped]
    unweighed = len(pack.unmade) - len(stopped)
    words = [counted(verdicts, "mix sheet")] if verdicts or not unweighed else []
    if unweighed:
        words.append(f"{unweighed} without a sheet: why stands below.")
    return " ".join(words)


def _unmade(pack: Pack, of_stopped: bool) -> Iterator[str]:
    """Why sheets could not be written, each reason once, but for what their verdicts say; of rations that must not be
    fed, or of the others."""
    told = {reason.text for page in pack.pages for reason in page.ration.verdict.reasons}
    asked_for = [each for each in pack.unmade if of_stopped == (each.ration.verdict.severity is Severity.STOP)]
    why = ((reason, each.name) for each in asked_for for reason in each.reasons)
    return _named((pair for pair in why if not any(text in pair[0] for text in told)), len(pack.pages))


def _mark(absent: NoSheet, asked: Asked) -> str:
    """The verdict of a ration without a sheet; nothing says `feed` where there is nothing to weigh."""
    verdict = absent.ration.verdict
    return "" if verdict.severity is Severity.FEED else asked.mark(verdict)


def _notes(pack: Pack) -> Iterator[str]:
    """Every note once, those of all sheets first."""
    return _named(((words, sheet.name) for sheet in pack.sheets for words in sheet.notes), len(pack.sheets))


def _named(said: Iterable[tuple[str, str]], of: int) -> Iterator[str]:
    """Sentences, each once with the first sheet it is of and of how many more; what is said of all names none."""
    named: dict[str, list[str]] = {}
    for words, name in said:
        named.setdefault(words, []).append(name)
    for words, names in sorted(named.items(), key=lambda item: -len(item[1])):
        more = f" and {len(names) - 1} more" if len(names) > 1 else ""
        yield words if len(names) == of else f"{names[0]}{more}: {words}"
