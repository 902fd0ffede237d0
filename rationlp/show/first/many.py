"""The first screen of `many`: how many books and rations stand how, then the books that need somebody first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rationlp.book_units import units_in
from rationlp.reasons import HEADLINES, Severity
from rationlp.show.first.screen import SHORT, laid_out, print_end, screen

if TYPE_CHECKING:
    from rationlp.show.data.many import BookResult

MOST_BOOKS = 25
WORST_FIRST = (Severity.STOP, Severity.ASK, Severity.FEED)


def print_first(results: Sequence[BookResult], output: Path, full: bool = False) -> None:
    """A line a book, those with problems first and then those with a ration that must not be fed."""
    out = screen()
    failed = [result for result in results if not result.ok]
    rations = [ration for result in results for ration in result.rations]
    weights = Counter(_severity(ration) for ration in rations)
    words = ", ".join(f"{weights[weight]} {words}" for weight, words in HEADLINES.items() if weights[weight])
    books = "1 book" if len(results) == 1 else f"{len(results)} books"
    out.print(
        f"{books}, {len(failed) or 'none'} of them with problems. {len(rations)} rations: {words or 'none'}. "
        f"Written: {output}",
        strong=True,
    )
    ordered = sorted(results, key=_rank)
    shown = ordered if full else ordered[:MOST_BOOKS]
    for result in shown:
        if not result.ok:
            out.print(f"{result.book}: {_problems(result, full)}", hang=2)
    done = [_row(result) for result in shown if result.ok]
    for line in laid_out(done, "lrrrrr") if done else ():
        out.print(line.rstrip(), hang=2)
    if len(shown) < len(ordered):
        out.print(f"{len(ordered) - len(shown)} more books.")
    print_end(out, "--full prints every book." if not full else "")


def _severity(ration: Mapping[str, Any]) -> Severity:
    return Severity(ration["verdict"]["verdict"])


def _rank(result: BookResult) -> tuple[int, int]:
    if not result.ok:
        return (0, 0)
    worst = min((WORST_FIRST.index(_severity(ration)) for ration in result.rations), default=len(WORST_FIRST))
    return (1, worst)


def _problems(result: BookResult, full: bool) -> str:
    first, *more = (result.error or "").split("\n")
    return "; ".join([first, *more]) if full else first + (f" And {len(more)} more." if more else "")


def _row(result: BookResult) -> list[str]:
    """Book, how many rations of each verdict, the span of cost and of home-grown share."""
    counts = Counter(_severity(ration) for ration in result.rations)
    units = units_in(result.units, result.currency)
    costs = [ration["cost_per_tonne"] for ration in result.rations if ration["cost_per_tonne"] is not None]
    shares = [ration["home_grown_share"] for ration in result.rations if ration["home_grown_share"] is not None]
    return [
        result.book,
        *(f"{counts[weight]} {SHORT[weight]}" if counts[weight] else "" for weight in WORST_FIRST),
        f"{units.price(min(costs))} to {units.price(max(costs))} {units.per_mass}" if costs else "",
        f"{100 * min(shares):.0f} to {100 * max(shares):.0f} % home-grown" if shares else "",
    ]
