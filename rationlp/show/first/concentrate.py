"""The first screen of `ration --concentrate`: a line for each stage fed with one, what is in it, whom to ask."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.book.records import Book
from rationlp.book_units import units_of
from rationlp.numbers import largest_first, percent
from rationlp.rations.answer.model import Ration
from rationlp.rations.studies.concentrate import Concentrate, Use
from rationlp.reasons import Verdict
from rationlp.show.first.asked import Asked
from rationlp.show.first.screen import counted, laid_out, print_end, print_things, screen

FEW = 6
"""As many concentrates are shown with what is in them."""
MOST_PARTS = 6


def print_first(
    concentrates: Sequence[Concentrate], own: Sequence[Ration], unmet: Sequence[Ration], book: Book
) -> None:
    """The concentrates; `own` are the stages' own rations, whose reasons hold for the concentrate too, `unmet` those
    that have none."""
    out, units = screen(), units_of(book.farm)
    own_verdicts = {ration.name: ration.verdict for ration in own}
    verdicts = [[_verdict(use, own_verdicts) for use in each.uses] for each in concentrates]
    flat = [verdict for found in verdicts for verdict in found]
    word = "concentrate" if len(concentrates) == 1 else "concentrates"
    out.print(f"{len(concentrates)} {word} for {counted(flat, 'ration')}", strong=True)
    if concentrates:
        out.print(f"Number, {book.farm.currency}/{units.short} of it, stage and bin, verdict, % of the feed:")
    asked = Asked(
        (use.ration.name, verdict)
        for each, found in zip(concentrates, verdicts, strict=True)
        for use, verdict in zip(each.uses, found, strict=True)
    ).fitting(out, len(flat) + 1 + (2 * len(concentrates) if len(concentrates) <= FEW else 0))
    rows = [
        [f"{number}", units.price(each.cost_per_tonne), use.ration.name, asked.mark(verdict), percent(use.inclusion, 1)]
        for number, (each, found) in enumerate(zip(concentrates, verdicts, strict=True), 1)
        for use, verdict in zip(each.uses, found, strict=True)
    ]
    for line in laid_out(rows, "rrllr") if rows else ():
        out.print(line)
    for number, each in enumerate(concentrates if len(concentrates) <= FEW else (), 1):
        out.print(f"In {number}: {_parts(each)}.", hang=3)
    asked.print(out)
    print_things(out, [*_over_one_dose(concentrates), *([_without(unmet)] if unmet else [])])
    print_end(out, "--full prints what is in each, with the grain to feed it with, and every caution.")


def _verdict(use: Use, own: dict[str, Verdict]) -> Verdict:
    """What holds for the stage's own ration and for the mix with the concentrate."""
    mixed = use.ration.verdict
    reasons = own[use.ration.name].reasons if use.ration.name in own else ()
    return mixed.plus([reason for reason in reasons if reason not in mixed.reasons])


def _parts(concentrate: Concentrate) -> str:
    """The largest parts, in percent of the concentrate."""
    parts = sorted(concentrate.parts, key=lambda part: largest_first(part.share))
    told = [f"{part.offer} {percent(part.share, 1)} %" for part in parts[:MOST_PARTS]]
    return ", ".join([*told, *([f"{len(parts) - MOST_PARTS} more"] if len(parts) > MOST_PARTS else [])])


def _over_one_dose(concentrates: Sequence[Concentrate]) -> list[str]:
    named = [use.ration.name for each in concentrates for use in each.uses if use.premix_doses > 1 + 1e-6]
    return [f"The premix comes to more than one dose: ask its maker ({', '.join(named)})."] if named else []


def _without(unmet: Sequence[Ration]) -> str:
    return f"No concentrate, as the ration does not meet everything: {', '.join(ration.name for ration in unmet)}."
