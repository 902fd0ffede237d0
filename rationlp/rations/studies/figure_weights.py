"""How much each figure of the feed library weighs in rations: the price of the row times the content.

At the optimum a share x of a feed with the content a of a nutrient earns x a y in a row of shadow price y (the
envelope theorem of linear programming), so a figure that is 10 percent wrong moves the cost by a tenth of that. The
energy of a feed earns what it is priced at less what it asks for in the rows that follow energy.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path

from rationlp.bins import FOREIGN_MATTER
from rationlp.book.reading.read import read_book
from rationlp.farm import Farm
from rationlp.library.derive import with_derived
from rationlp.library.equations import OutsideRange
from rationlp.library.expressions import donors_of, evaluate
from rationlp.library.read import Library
from rationlp.library.records import Nutrient
from rationlp.rations.formulate import SolvedRation, solve_rations
from rationlp.rations.program.rows import need_scale
from rationlp.rations.solve.chance import CUT_MARK
from rationlp.stages.model import Need, RatioNeed
from rationlp.stages.stage import KCAL_PER_MCAL
from rationlp.units import as_fed

A_TENTH = 0.1
RECALLED = ("memory", "analogy")


@dataclass(frozen=True, slots=True)
class FigureWeight:
    """The weight of one stored figure: money per tonne of ration for an error of 10 percent, summed over rations."""

    feed: str
    nutrient: str
    weight: float
    how: str
    source: str


def weights_in_demo(library: Library) -> list[FigureWeight]:
    """The weights of the library's figures in every ration of the demo farm (book/demo_book), heaviest first.

    One farm among many: another weighs its own crops and offers more.
    """
    book = read_book(Path(str(files("rationlp.book") / "demo_book")), library.units)
    return figure_weights(solve_rations(Farm(book, library)), library)


class Effects:
    """What the stored figures of a library do, each worked out once however many rations are weighed."""

    def __init__(self, library: Library):
        self._library = library
        self._values = {feed: {n: row.value for n, row in rows.items()} for feed, rows in library.figures.items()}
        self._moves: dict[str, list[tuple[str, dict[str, float]]]] = {}
        self._parts: dict[tuple[str, str], dict[tuple[str, str], float]] = {}

    def moves(self, feed: str) -> list[tuple[str, dict[str, float]]]:
        """The stored figures of a feed, and how far the nutrients as fed move when one of them doubles."""
        if feed not in self._moves:
            self._moves[feed] = list(_moves_of(feed, self._library))
        return self._moves[feed]

    def parts(self, feed: str, nutrient: str) -> dict[tuple[str, str], float]:
        """The share that each figure has in a computed one (`_parts`); none in one that is not computed."""
        key = (feed, nutrient)
        if key not in self._parts:
            figure = self._library.figures.get(feed, {}).get(nutrient)
            known = figure is not None and figure.equation
            self._parts[key] = _parts(feed, figure.equation, self._values) if figure and known else {}
        return self._parts[key]


def figure_weights(
    made: Iterable[SolvedRation], library: Library, effects: Effects | None = None
) -> list[FigureWeight]:
    """The weights of the library's stored figures in rations that were solved, heaviest first.

    The crops of a bin count by their shares, as if nothing in it had been assayed: what a laboratory says of a farm's
    own bin takes weight off the library's figures of its crops. `effects` are for whoever asks more than once.
    """
    weights: dict[tuple[str, str], float] = {}
    effects = effects or Effects(library)
    for one in made:
        for key, weight in _of_ration(one, library, effects).items():
            weights[key] = weights.get(key, 0.0) + abs(weight)
    found = []
    for (feed, nutrient), weight in weights.items():
        row = library.premix_figures.get(feed, {}).get(nutrient) or library.figures[feed][nutrient]
        found.append(FigureWeight(feed, nutrient, weight, row.how, row.source))
    return sorted(found, key=lambda row: (-row.weight, row.feed, row.nutrient))


def contents_weights(made: SolvedRation) -> dict[tuple[str, str], float]:
    """The weight of each content as it stood in a program, by offer (or bin) and nutrient: money per tonne for an error
    of 10 percent."""
    prices, amounts = _content_prices(made), made.answer.amounts
    if not prices or amounts is None:
        return {}
    total = sum(amounts)
    return {
        (candidate.name, nutrient): abs(A_TENTH * amount / total * price * candidate.values.get(nutrient, 0.0))
        for amount, candidate in zip(amounts, made.formula.candidates, strict=True)
        for nutrient, price in prices.items()
    }


def share_by_how(weights: Iterable[FigureWeight]) -> dict[str, float]:
    """The share of all the weight, 0 to 1, that figures of each way of obtaining them carry."""
    found: dict[str, float] = {}
    for row in weights:
        found[row.how] = found.get(row.how, 0.0) + row.weight
    total = sum(found.values())
    return {how: weight / total for how, weight in found.items()} if total else {}


def handed_down(
    weights: Iterable[FigureWeight], library: Library, effects: Effects | None = None
) -> list[FigureWeight]:
    """The same weights with those of computed figures laid on what they were computed from.

    Each part takes weight in proportion to what one percent of it moves the figure by; what no figure explains (numbers
    that stand in the equation itself) stays with the computed figure, as `memory` where the equation was recalled.
    """
    effects = effects or Effects(library)
    found: dict[tuple[str, str], FigureWeight] = {}
    waiting = list(weights)
    while waiting:
        row = waiting.pop()
        parts = effects.parts(row.feed, row.nutrient)
        for (feed, nutrient), share in parts.items():
            part = library.figures[feed][nutrient]
            waiting.append(FigureWeight(feed, nutrient, row.weight * share, part.how, part.source))
        kept = row.weight * (1 - sum(parts.values()))
        how = "memory" if row.how == "computed" and row.source.startswith("memory:") else row.how
        held = found.get((row.feed, row.nutrient))
        found[row.feed, row.nutrient] = replace(row, how=how, weight=kept + (held.weight if held else 0.0))
    return sorted(found.values(), key=lambda row: (-row.weight, row.feed, row.nutrient))


def share_read(weights: Iterable[FigureWeight], library: Library) -> float:
    """The share of the weight, 0 to 1, that rests on figures read on a page or in a data set, or computed from such."""
    by_how = share_by_how(handed_down(weights, library))
    return 1 - sum(by_how.get(how, 0.0) for how in RECALLED)


class _Seen(dict[str, float]):
    """Figures of one feed that remember which of them were looked at."""

    def __init__(self, figures: Mapping[str, float]):
        super().__init__(figures)
        self.seen: set[str] = set()

    def __getitem__(self, nutrient: str) -> float:
        self.seen.add(nutrient)
        return super().__getitem__(nutrient)


def _parts(feed: str, equation: str, values: Mapping[str, Mapping[str, float]]) -> dict[tuple[str, str], float]:
    """The share, together at most 1, that each figure of an equation has in its result."""
    asked = {feed, *donors_of(equation)}
    watched = {other: _Seen(figures) for other, figures in values.items() if other in asked}
    result = _reckon(equation, feed, watched)
    moves: dict[tuple[str, str], float] = {}
    for other, figures in watched.items():
        for nutrient in sorted(figures.seen):
            more = {**values, other: {**values[other], nutrient: 1.01 * values[other][nutrient]}}
            moves[other, nutrient] = abs(_reckon(equation, feed, more) / result - 1) / 0.01 if result else 0.0
    total = max(sum(moves.values()), 1.0)
    return {part: move / total for part, move in moves.items() if move > 1e-6}


def _reckon(equation: str, feed: str, values: Mapping[str, Mapping[str, float]]) -> float:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        return evaluate(equation, feed, values)


def _of_ration(made: SolvedRation, library: Library, effects: Effects) -> dict[tuple[str, str], float]:
    """Money per tonne for a tenth more of each stored figure, with its sign."""
    prices, amounts = _content_prices(made), made.answer.amounts
    if not prices or amounts is None:
        return {}
    found: dict[tuple[str, str], float] = {}
    total = sum(amounts)
    for amount, candidate in zip(amounts, made.formula.candidates, strict=True):
        for feed, part in candidate.feeds.items():
            if amount > 0 and feed != FOREIGN_MATTER and feed in library.feeds:
                share = amount * part / total
                for nutrient, moved in effects.moves(feed):
                    worth = sum(prices.get(n, 0.0) * value for n, value in moved.items())
                    if worth:
                        found[feed, nutrient] = found.get((feed, nutrient), 0.0) + A_TENTH * share * worth
    return found


def _content_prices(made: SolvedRation) -> dict[str, float]:
    """What one more unit of each nutrient in a feed of the mix saves, per tonne."""
    formula, solution = made.formula, made.answer.solution
    if solution is None or made.answer.program is None:
        return {}
    sources = {row.key: source for row, source in zip(formula.program.rows, formula.sources, strict=True)}
    prices: dict[str, float] = {}
    for row, dual in zip(made.answer.program.rows, solution.row_duals, strict=True):
        source = sources.get(row.key.split(CUT_MARK)[0])
        for nutrient, times in _coefficients(source, row.sense, formula.stage.energy) if dual else ():
            prices[nutrient] = prices.get(nutrient, 0.0) + dual * times
    if formula.objective == "per_energy" and formula.stage.energy:
        energy = formula.stage.energy
        prices[energy] = prices.get(energy, 0.0) + solution.objective / KCAL_PER_MCAL
    return prices


def _coefficients(source: object, sense: str, energy: str | None) -> Iterator[tuple[str, float]]:
    """How the coefficient of a feed in a row follows its contents (rows.py writes the rows)."""
    if isinstance(source, Need):
        bound = source.minimum if sense == ">=" else source.maximum
        if bound is not None:
            yield source.nutrient, 1 / need_scale(bound)
            if source.reference_energy and energy:
                yield energy, -bound / need_scale(bound) / source.reference_energy
    elif isinstance(source, RatioNeed):
        bound = source.minimum if sense == ">=" else source.maximum
        yield source.numerator, 1.0
        yield source.denominator, -(bound or 0.0)


def _moves_of(feed: str, library: Library) -> Iterator[tuple[str, dict[str, float]]]:
    """For each stored figure of a feed how far the nutrients as fed move when it doubles, derived ones among them."""
    stored = {nutrient: row.value for nutrient, row in library.figures.get(feed, {}).items()}
    premix = {nutrient: row.value for nutrient, row in library.premix_figures.get(feed, {}).items()}
    dry_matter = library.feeds[feed].dry_matter_pct
    for nutrient in [*stored, *(n for n in premix if n not in stored)]:
        if nutrient in premix:
            yield nutrient, {nutrient: premix[nutrient]}
        else:
            on_dry_matter = _through(nutrient, stored, library.nutrients)
            yield nutrient, {n: as_fed(value, dry_matter) for n, value in on_dry_matter.items()}


def _through(nutrient: str, stored: Mapping[str, float], nutrients: Mapping[str, Nutrient]) -> dict[str, float]:
    """How far each nutrient moves, in its own unit, when one stored figure doubles."""
    before = with_derived(stored, nutrients)
    after = with_derived({**stored, nutrient: 2 * stored[nutrient]}, nutrients)
    kinds = {n: row.kind for n, row in nutrients.items()}
    return {n: after[n] - value for n, value in before.items() if after[n] != value and kinds[n] != "coefficient"}
