"""The first screen of `actual`: a line for each batch, what went wrong and what to do, what is left."""

from __future__ import annotations

from collections.abc import Iterator

from rationlp.actual.judge import Judgement
from rationlp.actual.report import ActualReport
from rationlp.actual.stock import stock_words
from rationlp.book.records import Book, Settings
from rationlp.book_units import BookUnits, units_of
from rationlp.show.first.asked import Asked
from rationlp.show.first.screen import counted, laid_out, print_end, print_things, screen
from rationlp.show.terminal import Terminal
from rationlp.show.text.actual import print_test

WORST = 2
"""Feeds named for each batch, those furthest from what was asked."""
MOST_STOCKS = 10
STOCK_LINES = 3  # of what is left


def print_first(review: ActualReport, book: Book) -> None:
    """The batches, whom to ask, what to do, then what was asked besides."""
    out = screen()
    units = units_of(book.farm)
    todo = [f"To do, {_name(judgement)}: {words}" for judgement in review.judgements for words in judgement.remedies]
    asked = Asked((_name(judgement), judgement.verdict) for judgement in review.judgements).fitting(
        out, 2 * len(review.judgements) + sum(map(out.height, todo)) + len(review.uniformity) + STOCK_LINES
    )
    if review.judgements:
        out.print(counted([judgement.verdict for judgement in review.judgements], "batch", "batches"), strong=True)
        rows = [[_name(j), asked.mark(j.verdict), units.weight(j.made.total_kg, 5)] for j in review.judgements]
        for head, judgement in zip(laid_out(rows, "llr"), review.judgements, strict=True):
            out.print(head + _furthest(judgement, units), hang=len(head))
    asked.print(out)
    for words in todo:
        out.print(words, strong=True)
    _print_stocks(out, review, units)
    for test in review.uniformity:
        print_test(out, test)
    print_things(out, _things(review, book.farm))
    print_end(out, "--full prints every feed, requirement and label.")


def _name(judgement: Judgement) -> str:
    stage, batch = judgement.made.stage, judgement.made.batch
    return batch if batch.startswith(stage) else f"{stage} {batch}"


def _furthest(judgement: Judgement, units: BookUnits) -> str:
    """The feeds furthest from what was asked for."""
    off = [line for line in judgement.lines if line.off_pct is not None]
    worst = sorted(off, key=lambda line: -abs(line.off_pct or 0.0))[:WORST]
    return ", ".join(f"{line.offer} {line.off_pct:+.1f} %" for line in worst if abs(line.off_pct or 0.0) >= 0.05)


def _print_stocks(out: Terminal, review: ActualReport, units: BookUnits) -> None:
    """What is left of each bin and offer, the least first; of an offer without an end what lies on the farm."""
    left = [(s, s.on_farm_kg if s.left_kg is None else s.left_kg) for s in review.stocks]
    known = [(stock, kg) for stock, kg in left if kg is not None]
    known.sort(key=lambda pair: (not pair[0].is_bin, pair[1]))
    words = [f"{stock.name} {units.weight(kg, 5)}" for stock, kg in known[:MOST_STOCKS]]
    more = f", and {len(known) - MOST_STOCKS} more" if len(known) > MOST_STOCKS else ""
    if words:
        out.print(f"Left: {', '.join(words)}{more}.")


def _things(review: ActualReport, farm: Settings) -> Iterator[str]:
    for stock in review.stocks:
        if words := stock_words(stock, farm):
            yield f"{stock.name}: {words}."
