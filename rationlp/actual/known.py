"""What was known on each day: the farm as it stood, its rations, the mixes that were printed. Each is made once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import date

from rationlp.book.columns import BIN_PREFIX
from rationlp.book.records import Book, Lot, Offer, Place
from rationlp.errors import InputError, Problem
from rationlp.farm import Farm
from rationlp.feeds.contaminants import lots_in_stock
from rationlp.ledger.made_mix import MadeMix, asked_of_weights
from rationlp.ledger.weighed import id_in, printed_ids
from rationlp.rations.answer.mix import IN_MIX
from rationlp.rations.formulate import SolvedRation, solve_rations
from rationlp.reasons import Reason, Severity
from rationlp.sheets.batches import plan
from rationlp.sheets.pack import with_way_out
from rationlp.sheets.request import SheetRequest
from rationlp.sheets.weights.rounding import WholeMix, whole_mix
from rationlp.sheets.weights.scale import farm_scale

Key = tuple[str, tuple[str, ...]]


class Known:
    """The farm of each day that is asked for, and what it fed."""

    def __init__(self, farm: Farm, printed: Callable[[str], MadeMix | None]):
        """`printed` gives the mix that was printed under an id."""
        self.farm = farm
        self._printed = printed
        self._farms: list[Farm] = [farm]
        self._knows = [(replace(farm.book, actual=()), _lots_there(farm.book))]
        self._made: dict[tuple[int, Key], SolvedRation] = {}
        self._todays: dict[str, WholeMix | None] = {}

    def on(self, day: date | None) -> Farm:
        """The farm as it was known on a day; without a day, as it is."""
        return self._kept(self.farm.on(day))

    def then(self, made: MadeMix) -> Farm:
        """The farm as it was known on the day of a batch, with the offers of its sheet that the book has no longer."""
        farm, printed = self.on(made.made_on), self._printed(made.id)
        offered = {row.offer for row in farm.book.supplements}
        gone = [
            Offer(Place(), part.offer, part.feed, part.label, part.price_per_tonne, home_grown=part.home_grown)
            for part in (printed.parts if printed else ())
            if part.offer not in offered and not part.feed.startswith(BIN_PREFIX)
        ]
        if not gone:
            return farm
        return self._kept(farm.with_offers((*farm.book.supplements, *gone)))

    def _kept(self, then: Farm) -> Farm:
        """The farm, made once of all that know the same: what was weighed changes a ration by the lots it uses up alone
        (how much is left in stock is told and decides nothing)."""
        knows = (replace(then.book, actual=()), _lots_there(then.book))
        for index, known in enumerate(self._knows):
            if known == knows:
                return self._farms[index]
        self._farms.append(then)
        self._knows.append(knows)
        return then

    def ration(self, made: MadeMix) -> SolvedRation:
        """The ration of the sheet a batch was made by, as of its day. Raises InputError if the book has lost a bin."""
        if problems := [
            _lost(name, made) for name in made.bins if name not in {row.bin for row in self.farm.book.bins}
        ]:
            raise InputError(problems)
        then = self.then(made)
        key = (self._farms.index(then), (made.stage, made.bins))
        if key not in self._made:
            self._made[key] = solve_rations(then, [made.stage], made.bins, together=len(made.bins) > 1)[0]
        return self._made[key]

    def ids(self, names: Iterable[str]) -> dict[str, Key]:
        """Stage and bins by the ration ids among the names: of what was printed and, where they have another id, of
        today's rations."""
        ids = [id for name in dict.fromkeys(names) if (id := id_in(name))]
        printed = list(map(self._printed, ids))
        found: dict[str, Key] = printed_ids(filter(None, printed))
        if all(printed):
            return found
        solved = solve_rations(self.farm)
        if len(self.farm.book.bins) > 1:
            solved += solve_rations(self.farm, together=True)
        self._made |= {(0, (made.ration.stage, made.bins)): made for made in solved}
        return found | {made.id: (made.ration.stage, made.bins) for made in solved}

    def as_printed(self, made: MadeMix) -> MadeMix:
        """The mix with the animals that its sheet was printed for, called as there."""
        printed = self._printed(made.id)
        if not printed:
            return made
        return replace(made, stage_label=printed.stage_label, eaten_by=printed.eaten_by, also_for=printed.also_for)

    def target_kg(self, made: MadeMix, recipe: SolvedRation) -> Mapping[str, float]:
        """What a batch of the book's usual size asks for, in kg: as printed, else the weights of today's sheet."""
        if printed := self._printed(made.id):
            return {name: share * self.farm.settings.batch_kg for name, share in printed.shares.items()}
        mix = self._of_today(recipe)
        if mix is None:
            return {
                name: share * self.farm.settings.batch_kg for name, share in recipe.shares.items() if share > IN_MIX
            }
        columns, kg = recipe.formula.program.columns, farm_scale(self.farm.settings).kg
        return {columns[j]: float(mass) * kg for j, mass in mix.masses().items()}

    def asked_of_sheet(self, made: MadeMix, recipe: SolvedRation) -> tuple[Reason, ...]:
        """What the sheet of a batch is asked about for its weights: as printed, else as today's sheet would say."""
        if printed := self._printed(made.id):
            return printed.asked
        mix = self._of_today(recipe)
        return asked_of_weights(mix.ration) if mix else ()

    def _of_today(self, recipe: SolvedRation) -> WholeMix | None:
        """The weights of today's sheet, made once; None where there is no such sheet."""
        if recipe.id not in self._todays:
            mix, scale = None, farm_scale(self.farm.settings)
            if recipe.verdict.severity is not Severity.STOP:
                mix = whole_mix(recipe, plan(recipe, scale, SheetRequest()).runs[0].size, scale)
            self._todays[recipe.id] = with_way_out(mix, recipe, scale) if mix else None
        return self._todays[recipe.id]


def _lots_there(book: Book) -> tuple[tuple[Lot, ...], ...]:
    """Of every offer the deliveries that are not used up yet."""
    return tuple(lots_in_stock(offer, book) for offer in book.supplements) if book.lots else ()


def _lost(name: str, made: MadeMix) -> Problem:
    """A bin that a batch was made from and the book has no longer."""
    return Problem(
        "error",
        "bins",
        "",
        f"no bin {name}, from which {made.batch} was made",
        "every bin that was mixed from",
        f"Put {name} back on the sheet bins, with its samples, under that name; a bin that is empty may stay there.",
    )
