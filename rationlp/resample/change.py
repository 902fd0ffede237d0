"""Each ration in use on a new sample: does the old mix still hold, the new mix, the smallest change that is enough."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rationlp.actual.judge import WEIGHED
from rationlp.book.records import Offer, Place, Sample, Settings
from rationlp.errors import SolverError, given
from rationlp.farm import Farm
from rationlp.feeds.candidates import offer_candidates
from rationlp.figures import nutrient_label
from rationlp.ledger.made_mix import MadeMix, in_order
from rationlp.ledger.weighed import mixes_made
from rationlp.library.read import Library
from rationlp.numbers import largest_first
from rationlp.offers.live_ration import UNSURE, LiveRation, in_mix, kept_chances, live_ration
from rationlp.offers.model import price_a
from rationlp.offers.ties import steadiest
from rationlp.rations.answer.describe import describe
from rationlp.rations.answer.model import LimitLine, Ration
from rationlp.rations.formulate import SolvedRation, formula_of, solve_ration, solve_rations
from rationlp.rations.program.formula import Formula, RowSource
from rationlp.rations.solve.chance import achieved, chance_rows
from rationlp.rations.solve.joint_chance import chance_of_all
from rationlp.rations.solve.model import Answer
from rationlp.reasons import HARMFUL, HEADLINES, Severity
from rationlp.resample.moved import Move, two_samples, what_moved
from rationlp.resample.not_judged import NotJudged
from rationlp.resample.smallest import smallest_change
from rationlp.sheets.practice import REQUIREMENT_TOLERANCE
from rationlp.stages.model import ALL, AVERAGES_PCT, Need, RatioNeed
from rationlp.stages.needs import stages_of_book
from rationlp.stages.stage import StageNeeds

WORTH_NAMING_PCT = 1.0
"""A requirement missed by no more than this percent of itself is not worth another sheet: less than weighing can tell
(common practice)."""
NO_SCALE_TELLS = 1e-5
"""Shares that differ by less are of one mix: 5 g in 500 kg. At a confidence the cheapest mix moves by as much."""
IN_USE = replace(WEIGHED, told=WORTH_NAMING_PCT / 100, stop=REQUIREMENT_TOLERANCE.value, usual_told=0.0)
"""A mix in use is judged as one that people weighed, but more strictly for what a new sample says of it: its needs and
what the trade uses at most."""
NAMED = 4
"""So many requirements that the old mix misses are named in a sentence."""
WORTH_PRINTING = 0.005
"""A saving of this part of the cost is worth naming: half a percent."""


@dataclass(frozen=True, slots=True)
class MixAt:
    """A mix with what the bin is believed to hold now (or held then): `ration` has every requirement against it.

    `missed` are labels of requirements that it does not meet (with the confidence the book asks for), `chance_pct` the
    probability that it meets all of them at once.
    """

    ration: Ration
    missed: tuple[str, ...]
    chance_pct: float | None

    @property
    def holds(self) -> bool:
        """Whether it misses nothing and may still be fed."""
        return not self.missed and self.ration.verdict.severity is not Severity.STOP


@dataclass(frozen=True, slots=True)
class ShareChange:
    """One ingredient in the old mix, in the new least-cost mix and in the smallest change; shares 0 to 1."""

    offer: str
    label: str
    old: float
    new: float | None
    smallest: float | None


@dataclass(frozen=True, slots=True)
class MixChange:
    """One ration in use, before and after.

    `old_then` is the old mix with the old sample, `old_now` with the new one; `new` is the least-cost mix, of several
    that cost the same the one nearest the old; `smallest` has the least sum of changes of shares from the old mix (half
    of it, `exchanged`, is the part of the mix that is exchanged); `from_kept` says what was really mixed, empty where
    no mix was kept and the old mix is calculated from the old sample. Costs are at today's prices.
    """

    stage: str
    stage_label: str
    bin: str
    from_kept: str
    sheet: str
    old_then: MixAt
    old_now: MixAt
    new: MixAt | None
    smallest: MixAt | None
    exchanged: float | None
    shares: tuple[ShareChange, ...]
    reprint: bool
    saves_per_tonne: float | None
    gone: tuple[str, ...]
    advice: str


@dataclass(frozen=True, slots=True, repr=False)
class Resample:
    """Everything a new sample changes."""

    move: Move
    changes: tuple[MixChange, ...]
    not_judged: tuple[NotJudged, ...]

    def __repr__(self) -> str:
        samples = f"{self.move.before.sample} to {self.move.after.sample}"
        return f"<Bin {self.move.bin}, sample {samples}: {len(self.changes)} mixes>"

    @property
    def stopped(self) -> bool:
        """Whether a ration in use that was calculated must not be fed any more."""
        made = [change.new is not None and _can_be_fed(change.new.ration) for change in self.changes]
        return not all(made) or any(not stage.can_be_met for stage in self.not_judged if not stage.failed)

    @property
    def failed(self) -> bool:
        """Whether a calculation did not stand up to its check."""
        return any(stage.failed for stage in self.not_judged)

    @property
    def within_chance(self) -> bool:
        """Whether what the old mixes miss may be chance: not where they harm or break a law by the new sample."""
        harms = (r for change in self.changes for r in change.old_now.ration.verdict.of(*HARMFUL))
        return not self.move.more_than_chance and all(reason.severity is not Severity.STOP for reason in harms)


def resample(
    farm: Farm,
    before: str,
    after: str,
    kept: Iterable[MadeMix] | None = None,
    stages: Iterable[str] = (),
) -> Resample:
    """What sample `after` changes against `before`, for every ration in use from their bin.

    In use are the stages of the book's groups (or `stages`) and every stage with a mix that was made (`kept`, by
    default those kept beside the book and weighed by the crew); of these the newest made before the new sample counts.
    A stage whose calculation fails is among those not judged. Raises InputError.
    """
    old, new = two_samples(farm.book, before, after)
    sight = _Sight(*(farm.with_sample(sample.sample) for sample in (old, new)))
    mixes = _in_use(mixes_made(farm) if kept is None else kept, old, new)
    wanted = stages_of_book(farm.book, farm.library, stages)
    wanted += [stage for stage in dict.fromkeys(stage for stage, _ in mixes) if stage not in wanted and not stages]
    own: dict[str, list[MadeMix | None]] = {
        name: [mix for (stage, _), mix in mixes.items() if stage == name] or [None] for name in wanted
    }
    pairs = [(name, mix.bins if mix else (old.bin,)) for name, found in own.items() for mix in found]
    today = _rations_of_today(pairs, sight.now)
    changes: list[MixChange] = []
    not_judged: list[NotJudged] = []
    for name, found in own.items():
        for mix in found:
            asked = today[name, mix.bins if mix else (old.bin,)]
            try:
                made = _change(asked, old.bin, mix, sight)
            except SolverError as error:  # this stage alone is not judged
                made = NotJudged(name, str(error), False, failed=True)
            if isinstance(made, MixChange):
                changes.append(made)
            else:
                not_judged.append(made)
    return Resample(what_moved(farm, old, new, sight.then), tuple(changes), tuple(not_judged))


def _rations_of_today(
    pairs: Iterable[tuple[str, tuple[str, ...]]], farm: Farm
) -> dict[tuple[str, tuple[str, ...]], SolvedRation]:
    """The rations of these stages from these bins, as `rationlp ration` gives them."""
    stages: dict[tuple[str, ...], list[str]] = {}
    for stage, bins in pairs:
        stages.setdefault(bins, []).append(stage)
    made = [one for bins, names in stages.items() for one in solve_rations(farm, names, bins, together=True)]
    return {(one.ration.stage, one.bins): one for one in made}


def _in_use(kept: Iterable[MadeMix], old: Sample, new: Sample) -> dict[tuple[str, tuple[str, ...]], MadeMix]:
    """By stage and bins the newest mix with grain of this bin that was made before the new sample was taken."""
    found: dict[tuple[str, tuple[str, ...]], MadeMix] = {}
    for mix in in_order(list(kept)):
        late = mix.made_on is not None and new.taken_on is not None and mix.made_on > new.taken_on
        by_new = new.sample in mix.samples and old.sample not in mix.samples
        if old.bin in mix.bins and not late and not by_new:
            found.setdefault((mix.stage, mix.bins), mix)
    return found


@dataclass(frozen=True, slots=True)
class _Sight:
    """The farm as it stood at the old sample, and as it stands at the new one."""

    then: Farm
    now: Farm

    def formula(self, stage: StageNeeds, bins: tuple[str, ...], farm: Farm, gone: Sequence[Offer] = ()) -> Formula:
        """The program of a stage from these bins, with every offer of today, and with those that are no more."""
        more = offer_candidates(replace(self.now.book, supplements=tuple(gone)), self.now.library) if gone else []
        return formula_of(farm, stage, bins, more=more)


def _change(today: SolvedRation, bin_name: str, mix: MadeMix | None, sight: _Sight) -> MixChange | NotJudged:
    if today.ration.failure:
        return NotJudged(today.stage.stage, today.ration.failure, False, failed=True)
    bins = mix.bins if mix else (bin_name,)
    stage, case = today.stage, live_ration(today)
    if mix is None:
        first = solve_ration(sight.then, stage, bins)
        if not _can_be_fed(first.ration):
            why = "no mix was kept, and none could be made from the old sample"
            return NotJudged(stage.stage, why, _can_be_fed(case.ration))
        shares = {line.offer: line.share for line in first.ration.mix if line.share}
    else:
        shares = mix.shares
    gone = _gone(shares, mix, case)
    then, now = (sight.formula(stage, bins, farm, gone) for farm in (sight.then, sight.now))
    lost = [name for name in shares if name not in now.program.columns]
    if lost:
        why = (
            f"the mix made holds {', '.join(lost)}, of which too little is known now (not on offer, or without a "
            "figure that the stage needs)"
        )
        return NotJudged(stage.stage, why, _can_be_fed(case.ration))
    held, holds = _judge(then, shares, sight.then), _judge(now, shares, sight.now)
    return _assemble(mix, shares, gone, held, holds, case, sight)


def _can_be_fed(ration: Ration) -> bool:
    return ration.verdict.severity is not Severity.STOP


def _gone(shares: Mapping[str, float], mix: MadeMix | None, case: LiveRation) -> tuple[Offer, ...]:
    """Offers of the old mix that the book has no more, as they were quoted then."""
    here = {offer for offer in case.formula.program.columns}
    parts = {part.offer: part for part in mix.parts} if mix else {}
    return tuple(
        Offer(Place(), name, parts[name].feed, parts[name].label, parts[name].price_per_tonne)
        for name in shares
        if name not in here and name in parts and not parts[name].feed.startswith("bin:")
    )


def _judge(formula: Formula, shares: Mapping[str, float], farm: Farm) -> MixAt:
    return mix_at(formula, [shares.get(candidate.name, 0.0) for candidate in formula.candidates], farm)


def mix_at(formula: Formula, amounts: Iterable[float], farm: Farm) -> MixAt:
    """A mix against every requirement of a formula, with the chance that it meets them all."""
    shares = tuple(float(amount) for amount in amounts)
    ration = describe(formula, Answer(shares), farm, IN_USE)
    missed = [shortfall.label for shortfall in ration.shortfalls if shortfall.short_pct > WORTH_NAMING_PCT]
    missed += [f"{line.label} (cap)" for line in ration.limits if _broken(line)]
    chance = chance_of_all(formula, shares)
    settings = farm.settings
    if settings.confidence_of == ALL and not missed and chance < settings.confidence_pct / 100 - UNSURE:
        missed.append("all at once")
    if settings.confidence_of != ALL and settings.confidence_pct > AVERAGES_PCT:
        pct = settings.confidence_pct
        for row in chance_rows(formula.program, formula.sources, formula.candidates, formula.stage.energy, pct):
            if achieved(formula.program, row, shares) < row.probability - UNSURE:
                missed.append(_label(formula.sources[row.index], farm.library))
    return MixAt(ration, tuple(dict.fromkeys(missed)), 100 * chance)


def _label(source: RowSource, library: Library) -> str:
    if isinstance(source, RatioNeed):
        return " to ".join(nutrient_label(part, library) for part in (source.numerator, source.denominator))
    if isinstance(source, Need):
        return nutrient_label(source.nutrient, library)
    raise AssertionError(f"{source!r} is kept or not, whatever the chance")


def _broken(line: LimitLine) -> bool:
    room = WORTH_NAMING_PCT / 100
    over = line.max_pct is not None and line.gives_pct > line.max_pct * (1 + room) + 1e-9
    return over or (line.min_pct is not None and line.gives_pct < line.min_pct * (1 - room) - 1e-9)


def _assemble(
    mix: MadeMix | None,
    shares: Mapping[str, float],
    gone: Sequence[Offer],
    then: MixAt,
    now_at: MixAt,
    case: LiveRation,
    sight: _Sight,
) -> MixChange:
    new = smallest = exchanged = None
    if case.priced is not None:
        new = _new_mix(case, shares, sight.now)
        wanted = [shares.get(candidate.name, 0.0) for candidate in case.formula.candidates]
        found = smallest_change(case.formula, kept_chances(case.solved), wanted)
        if found is not None:
            smallest = mix_at(case.formula, found, sight.now)
            left_out = sum(share for name, share in shares.items() if case.index(name) is None)
            exchanged = (float(np.abs(found - np.array(wanted)).sum()) + left_out) / 2
    elif case.ration.mix:
        new = MixAt(case.ration, tuple(s.label for s in case.ration.shortfalls), None)
    saves = _saves(now_at.ration, new.ration, case) if new and case.priced is not None else None
    return MixChange(
        case.formula.stage.stage,
        case.formula.stage.label,
        case.formula.bin,
        mix.named(sight.now.settings) if mix else "",
        mix.sheet if mix else "",
        then,
        now_at,
        new,
        smallest,
        exchanged,
        _share_changes(shares, mix, new, smallest, case),
        not now_at.holds or bool(gone),
        saves,
        tuple(offer.offer for offer in gone),
        _advice(now_at, new, case, gone, saves, sight.now.settings),
    )


def cost_of(ration: Ration) -> float:
    """The cost per tonne of a ration that has a mix."""
    return given(ration.cost_per_tonne, f"the cost of the mix for {ration.stage}")


def _new_mix(case: LiveRation, shares: Mapping[str, float], farm: Farm) -> MixAt:
    """The least-cost mix, of several that cost the same the one nearest `shares`; the ration of today if it is that."""
    amounts = steadiest(case, shares)
    found = mix_at(case.formula, amounts, farm)
    if np.abs(amounts / amounts.sum() - case.shares).max() <= NO_SCALE_TELLS:
        return replace(found, ration=case.ration)
    return found


def _saves(old: Ration, new: Ration, case: LiveRation) -> float:
    """Money that a tonne of the old mix would save as the new one: as much energy where cheapest energy is the aim."""
    if case.formula.objective == "per_energy":
        costs = [given(ration.cost_per_gcal, "the cost per Gcal of a mix") for ration in (old, new)]
        return (costs[0] - costs[1]) * given(old.energy_kcal_kg, "the energy of a mix") / 1000
    return cost_of(old) - cost_of(new)


def _share_changes(
    shares: Mapping[str, float], mix: MadeMix | None, new: MixAt | None, smallest: MixAt | None, case: LiveRation
) -> tuple[ShareChange, ...]:
    made = [{line.offer: line.share for line in at.ration.mix} if at else {} for at in (new, smallest)]
    labels = {part.offer: part.label for part in mix.parts} if mix else {}
    labels |= {candidate.name: candidate.label for candidate in case.formula.candidates}
    names = [name for name in labels if in_mix(max(shares.get(name, 0.0), *(m.get(name, 0.0) for m in made)))]
    lines = [
        ShareChange(
            name,
            labels[name],
            shares.get(name, 0.0),
            made[0].get(name, 0.0) if new else None,
            made[1].get(name, 0.0) if smallest else None,
        )
        for name in names
    ]
    return tuple(sorted(lines, key=lambda line: largest_first(line.old)))


def _advice(
    now_at: MixAt,
    new: MixAt | None,
    case: LiveRation,
    gone: Sequence[Offer],
    saves: float | None,
    farm: Settings,
) -> str:
    if case.priced is None:
        return "There is no ration with the grain as it is now: `rationlp ration` prints the nearest mix and why."
    lost = f"{', '.join(offer.offer for offer in gone)} {'is' if len(gone) == 1 else 'are'} no longer on offer."
    if not _can_be_fed(now_at.ration):
        stop = next(iter(now_at.ration.verdict.weighing(Severity.STOP)))
        also = f" Beside that {lost}" if gone else ""
        return f"{HEADLINES[Severity.STOP]} the old mix: {stop.text}{also} Print the sheet again."
    if gone:
        return f"Print the sheet again: {lost}"
    if not now_at.holds:
        more = f" and {len(now_at.missed) - NAMED} more" if len(now_at.missed) > NAMED else ""
        far = max((shortfall.short_pct for shortfall in now_at.ration.shortfalls), default=0.0)
        by = f", by up to {far:.2g} %" if far else ""
        return f"Print the sheet again: the old mix misses {', '.join(now_at.missed[:NAMED])}{more}{by}."
    if saves is not None and saves > WORTH_PRINTING * cost_of(now_at.ration):
        return f"The old mix may stay; a new sheet would save {farm.currency} {price_a(saves, farm)}."
    return "The old mix may stay."
