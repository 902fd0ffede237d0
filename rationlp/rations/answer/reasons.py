"""What a finished mix says against itself: laws it cannot keep, the trade's bounds it passes, a premix that is short.

What counts whatever the mix is (of a stage, a formula, a candidate) stands there; here is what only the mix can tell.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import ceil

from rationlp.book.records import Settings
from rationlp.book_units import units_of
from rationlp.farm import Farm
from rationlp.feeds.candidates import PREMIX_HALVES
from rationlp.figures import feed_label, nutrient_label
from rationlp.library.read import Library
from rationlp.numbers import plain
from rationlp.rations.answer.lowered import far_under_the_table
from rationlp.rations.answer.mix import MEETS, Mix
from rationlp.rations.answer.model import LimitLine, RequirementLine
from rationlp.rations.answer.verdict import FAR_BEYOND, Leeway, eased
from rationlp.rations.answer.words import told_laws
from rationlp.rations.program.formula import Formula, RowSource
from rationlp.rations.program.left_out import BIN
from rationlp.rations.program.only_here import CRYSTAL, LEAST
from rationlp.rations.program.program import ProgramRow
from rationlp.rations.program.rows import MOST_PREMIX, PREMIX
from rationlp.rations.solve.model import Answer
from rationlp.rations.solve.settle import fillers
from rationlp.rations.solve.verify import row_holds
from rationlp.reasons import Kind, Reason, Severity
from rationlp.stages.limits import is_law
from rationlp.stages.model import ADDED, AVERAGES_PCT, Cap, ContaminantNeed, Need, RatioNeed

DIGITS = 4
NOTED = 2e-6
"""A row that is missed by less, of its bound or of the mix, is kept but for rounding."""


def mix_reasons(
    mix: Mix,
    answer: Answer,
    requirements: Sequence[RequirementLine],
    limits: Sequence[LimitLine],
    leeway: Leeway,
    farm: Farm,
) -> tuple[Reason, ...]:
    """Every reason that follows from the mix itself, bins that are not in it included.

    Where the dose of a premix itself is amiss, by more than the leeway, the vitamins that follow from it are not told.
    """
    library = farm.library
    laws = tuple(_broken_laws(mix, all(candidate.is_fixed for candidate in mix.formula.candidates), library))
    doses = (*mix.formula.reasons, *(eased(reason, leeway) for reason in laws))
    undosed = any(reason.kind is Kind.PREMIX and reason.severity is not Severity.FEED for reason in doses)
    return (
        *laws,
        *(_conflict(answer, mix.formula, library) if laws else ()),
        *_beyond_usual(mix, requirements, limits),
        *(() if undosed else _short_premix(mix, requirements)),
        *_unasked_premix(mix, library),
        *far_under_the_table(mix, library),
        *_on_averages(answer, farm),
        *_too_light(mix, answer, farm),
        *_fillers(mix, answer),
        *_without_grain(mix, answer, farm),
    )


# Laws of the mix ------------------------------------------------------------------------------------------------------


def _broken_laws(mix: Mix, is_fixed: bool, library: Library) -> Iterator[Reason]:
    """A stop for each row that never gives way and that this mix does not keep all the same.

    Where the book fixes the whole mix, a cap that is neither safety nor law is for a nutritionist to decide.
    """
    program = mix.formula.program
    doses: dict[float, list[str]] = {}
    for row, source in zip(program.rows, mix.formula.sources, strict=True):
        if row.relaxable or row.key.startswith((CRYSTAL, LEAST)) or isinstance(source, ContaminantNeed):
            continue
        if row_holds(program, row, mix.shares) or abs(program.value(row, mix.shares)) <= NOTED:
            continue
        if row.key.startswith(PREMIX):
            percent = 100 * (1 + program.value(row, mix.shares) / sum(mix.shares))
            doses.setdefault(round(percent, 9), []).append(row.key)
            continue
        if row.key.startswith(MOST_PREMIX):
            yield _over_dose(row, 100 * (1 + program.value(row, mix.shares) / sum(mix.shares)))
            continue
        found = _broken(row, source, mix, library)
        advice = is_fixed and isinstance(source, Cap) and not is_law(source)
        yield replace(found, severity=Severity.ASK) if advice else found
    yield from (_wrong_dose(percent, keys) for percent, keys in doses.items())


def _wrong_dose(percent: float, keys: Sequence[str]) -> Reason:
    """Halves of a premix (vitamins, trace minerals) that are at `percent` of their dose."""
    parts = " and ".join(key.removeprefix(PREMIX).replace("_", " ") for key in keys)
    text = f"The premix for {parts} is at {plain(percent, DIGITS)} % of its dose."
    return Reason(Kind.PREMIX, Severity.STOP, text, unit="%", value=percent, limit=100.0, source="common practice")


def _over_dose(row: ProgramRow, percent: float) -> Reason:
    """Half of a premix that is at `percent` of the largest dose its maker allows."""
    part = row.key.removeprefix(MOST_PREMIX).replace("_", " ")
    text = f"The premix for {part} is at {plain(percent, DIGITS)} % of the largest dose that max_pct allows."
    return Reason(Kind.PREMIX, Severity.STOP, text, unit="%", value=percent, limit=100.0, source="common practice")


def _conflict(answer: Answer, formula: Formula, library: Library) -> Iterator[Reason]:
    """Which laws cannot be kept together, where none of the mixes on offer keeps them all, and what would mend it."""
    if answer.conflict:
        yield Reason(Kind.REQUIREMENT, Severity.STOP, told_laws(answer, formula, library))


def _broken(row: ProgramRow, source: RowSource, mix: Mix, library: Library) -> Reason:
    if isinstance(source, Need):
        kind = Kind.LAW if source.legal else Kind.SAFETY
        held, bound = mix.gives(source), mix.bounds(source)[1 if row.sense == "<=" else 0]
        word = "at most" if row.sense == "<=" else "at least"
        added = ADDED if source.of_groups else ""
        text = (
            f"{nutrient_label(source.nutrient, library)}{added} is {plain(held, DIGITS)} {source.unit}, and "
            f"{word} {plain(bound, DIGITS)} {'is lawful' if source.legal else 'is safe'}."
        )
        return Reason(kind, Severity.STOP, text, source.nutrient, None, source.unit, held, bound, source.source)
    if isinstance(source, Cap):
        return _broken_cap(row, source, mix, library)
    if isinstance(source, RatioNeed):
        names = [nutrient_label(part, library) for part in (source.numerator, source.denominator)]
        above, below = (mix.analysis.get(part, 0.0) for part in (source.numerator, source.denominator))
        quotient, limit = above / below if below else None, source.maximum if row.sense == "<=" else source.minimum
        word = "at most" if row.sense == "<=" else "at least"
        is_ = f"{names[0]} to {names[1]} is {plain(quotient, DIGITS)} to one"
        text = f"{is_}, and {word} {plain(limit, DIGITS)} is safe."
        ratio = f"{source.numerator}:{source.denominator}"
        return Reason(Kind.SAFETY, Severity.STOP, text, ratio, None, None, quotient, limit, source.source)
    return _broken_offer(row, mix)


def _broken_cap(row: ProgramRow, cap: Cap, mix: Mix, library: Library) -> Reason:
    held, label = 100 * mix.content(cap), feed_label(cap.feed, library)
    kind = Kind.SAFETY if cap.safety else Kind.LAW if is_law(cap) else Kind.USUAL
    bound = 100 * ((cap.min_share if row.sense == ">=" else cap.max_share) or 0.0)
    word = "under the" if row.sense == ">=" else "over the"
    text = f"{label}: {plain(held, DIGITS)} % of the mix, {word} {plain(bound, DIGITS)} % set ({cap.reason})."
    return Reason(kind, Severity.STOP, text, None, cap.feed, "%", held, bound, cap.source)


def _broken_offer(row: ProgramRow, mix: Mix) -> Reason:
    """A share that the book sets for an offer."""
    found = next(
        (
            (s, c)
            for s, c in zip(mix.shares, mix.formula.candidates, strict=True)
            if row.key.startswith(f"offer:{c.name}:")
        ),
        None,
    )
    if found is None:
        return Reason(Kind.REQUIREMENT, Severity.STOP, "The mix does not keep what the book asks of it.")
    share, candidate = found
    bound = candidate.min_share if row.sense in (">=", "=") else candidate.max_share
    text = (
        f"{candidate.label} is {plain(100 * share, DIGITS)} % of the mix; the book sets "
        f"{plain(100 * (bound or 0.0), DIGITS)} %. Change min_pct or max_pct on the sheet supplements."
    )
    return Reason(
        Kind.REQUIREMENT,
        Severity.STOP,
        text,
        None,
        candidate.name,
        "%",
        100 * share,
        100 * (bound or 0.0),
        "supplements of the book",
    )


# What the trade does not feed -----------------------------------------------------------------------------------------


def _beyond_usual(mix: Mix, requirements: Sequence[RequirementLine], limits: Sequence[LimitLine]) -> Iterator[Reason]:
    """A reason for each bound of the trade that the mix passes, `ask` or `stop` as plausible.csv says."""
    severities = {need.nutrient: need.usual for need in mix.formula.stage.needs if need.usual}
    for line in requirements:
        if line.kind == "usual" and line.meets is False and line.gives is not None:
            yield Reason(
                Kind.USUAL,
                _beyond(severities.get(line.nutrient), line.gives, line.maximum),
                f"{line.label} is {plain(line.gives, DIGITS)} {line.unit} of the mix; the trade uses at most "
                f"{plain(line.maximum, DIGITS)} {line.unit} here.",
                line.nutrient,
                None,
                line.unit,
                line.gives,
                line.maximum,
                line.source,
            )
    caps = {cap.feed: cap.usual for cap in mix.formula.caps if cap.usual}
    for limit in limits:
        passed = limit.max_pct is not None and limit.gives_pct > limit.max_pct * (1 + MEETS) + 1e-9
        if limit.evidence == "usual" and passed:
            yield Reason(
                Kind.USUAL,
                _beyond(caps.get(limit.feed), limit.gives_pct, limit.max_pct),
                f"{limit.label[0].upper()}{limit.label[1:]}: {plain(limit.gives_pct, DIGITS)} % of the mix; "
                "the trade uses at most "
                f"{plain(limit.max_pct, DIGITS)} % here.",
                None,
                limit.feed,
                "%",
                limit.gives_pct,
                limit.max_pct,
                limit.source,
            )


def _beyond(severity: Severity | None, gives: float, most: float | None) -> Severity:
    """How much it weighs to pass a bound of the trade: as the table says, far beyond it a stop."""
    return Severity.STOP if gives > FAR_BEYOND * (most or 0.0) else severity or Severity.ASK


def _short_premix(mix: Mix, requirements: Sequence[RequirementLine]) -> Iterator[Reason]:
    """Vitamins and trace minerals of which the premix at its dose and the feeds bring too little, or nobody knows.

    What has no figure is told, and asked of the premix maker; the headline then speaks of what is known alone.
    """
    for line in requirements:
        if line.met_by == "premix" and line.meets is None and line.minimum:
            yield Reason(
                Kind.PREMIX,
                Severity.FEED,
                f"{line.label}: neither this premix nor these feeds have a figure; these animals need "
                f"{plain(line.minimum, 3)} {line.unit}. Ask the premix maker whether it covers the need.",
                line.nutrient,
                None,
                line.unit,
                None,
                line.minimum,
                line.source,
            )
        if line.met_by == "premix" and line.meets is False and line.gives is not None and line.minimum is not None:
            yield Reason(
                Kind.PREMIX,
                Severity.ASK,
                f"{line.label} is {plain(line.gives, 3)} of {plain(line.minimum, 3)} {line.unit}: ask for a premix "
                "that covers the need.",
                line.nutrient,
                None,
                line.unit,
                line.gives,
                line.minimum,
                line.source,
            )


def _none_of(parts: Sequence[str]) -> str:
    """`no a, no b and no c`."""
    told = [f"no {part}" for part in parts]
    return " and ".join(filter(None, (", ".join(told[:-1]), told[-1])))


def _unasked_premix(mix: Mix, library: Library) -> Iterator[Reason]:
    """Vitamins or trace minerals, or some of them, that a stage of the farm's own does not ask for and no premix in the
    mix brings."""
    stage = mix.formula.stage
    if stage.known is not None:
        return
    asked = {need.nutrient for need in (*stage.needs, *stage.premix_needs) if need.minimum}
    short = []
    for kind, part in PREMIX_HALVES.items():
        served = {n.nutrient: n.label for n in library.nutrients.values() if n.kind == kind and n.met_by == "premix"}
        unasked = [f"{label[0].lower()}{label[1:]}" for nutrient, label in served.items() if nutrient not in asked]
        doses = [share / c.premix_inclusion for share, c in mix.used if part in c.premix_covers and c.premix_inclusion]
        if unasked and sum(doses) < 1 - MEETS:
            short += [part.replace("_", " ")] if len(unasked) == len(served) else unasked
    if short:
        yield Reason(
            Kind.STAGE,
            Severity.ASK,
            f"The stage {stage.label} asks for {_none_of(short)}, and no premix brings a full dose of them: "
            "animals fall ill without. Set min_pct of a premix, add rows to own_stages, or ask a nutritionist.",
            source="common practice",
        )


def _on_averages(answer: Answer, farm: Farm) -> Iterator[Reason]:
    """A reason where the book asks for a confidence and not everything can be met: the nearest mix has none."""
    asked = farm.settings.confidence_pct
    if answer.nearest and asked > AVERAGES_PCT:
        text = f"Not everything can be met, so this mix is made on averages, not at the {plain(asked)} % of the book."
        yield Reason(Kind.REQUIREMENT, Severity.ASK, text, unit="%", limit=asked, source="confidence_pct of the book")


def _too_light(mix: Mix, answer: Answer, farm: Farm) -> Iterator[Reason]:
    """What is lighter than the scales of the farm can weigh into a batch, where no mix could do without it."""
    if answer.solution is None:
        return
    least = mix.formula.least_share
    for share, candidate in mix.used:
        if share < least * (1 - MEETS) and not candidate.min_share and not candidate.premix_covers:
            yield Reason(
                Kind.USUAL,
                Severity.ASK,
                f"{candidate.label} is {plain(100 * share, 3)} % of the mix, less than the hand scale can weigh into "
                f"a batch ({plain(100 * least, 3)} %): {_heavy_enough(least / share, farm.settings)}",
                None,
                candidate.name,
                "%",
                100 * share,
                100 * least,
                "common practice",
            )


def _fillers(mix: Mix, answer: Answer) -> Iterator[Reason]:
    """Crystals beyond all of their needs, where no mix without them meets everything: dear, and others run short."""
    if answer.solution is None or answer.program is None or answer.confidence is not None:
        return
    shares = {candidate.name: share for share, candidate in mix.used}
    found = fillers(mix.formula, answer.program, answer.solution)
    if not found:
        return
    worst = max(found, key=lambda candidate: shares.get(candidate.name, 0.0))
    share = 100 * shares.get(worst.name, 0.0)
    others = "".join(f", so is {candidate.label}" for candidate in found if candidate is not worst)
    yield Reason(
        Kind.USUAL,
        Severity.ASK,
        f"{worst.label} is {plain(share, 3)} % of the mix, more than any need of it asks for{others}: it is there for "
        "its energy or as a filler, because nothing else on offer is. Offer a feed of more energy, such as corn or a "
        "fat.",
        None,
        worst.name,
        "%",
        share,
        source="common practice",
    )


def _heavy_enough(times: float, farm: Settings) -> str:
    """The batch, so many times the book's, in which something is heavy enough to be weighed, or the scale that it
    takes where the mixer does not hold it."""
    batch, units = ceil(times * farm.batch_kg / farm.scale_step_kg) * farm.scale_step_kg, units_of(farm)
    if farm.mixer_capacity_kg is None or batch <= farm.mixer_capacity_kg:
        return f"it takes a batch of {units.weight(batch)} or more, or a scale {plain(times, 2)} times as fine."
    return (
        f"it takes a batch of {units.weight(batch)}, more than the mixer holds, or a scale {plain(times, 2)} times as "
        "fine."
    )


# Grain of the farm ----------------------------------------------------------------------------------------------------


def _without_grain(mix: Mix, answer: Answer, farm: Farm) -> Iterator[Reason]:
    """A sentence where a bin is on offer and the mix holds no home-grown grain at all, with what would bring it in."""
    formula = mix.formula
    if not mix.without_grain:
        return
    bins = [j for j, candidate in enumerate(formula.candidates) if candidate.group == BIN]
    words = [word for j in bins for word in _way_in(j, mix, answer, farm)]
    near = [] if answer.solution else ["It is the mix that misses least, whoever grew it and whatever it costs."]
    text = " ".join(["No home-grown grain is in this mix.", *near, *words])
    yield Reason(Kind.USUAL, Severity.FEED, text, feed=formula.bin)


def _way_in(column: int, mix: Mix, answer: Answer, farm: Farm) -> Iterator[str]:
    """At what price a bin comes in, or which cap leaves it the least room."""
    candidate = mix.formula.candidates[column]
    room = next((room for room in mix.formula.rooms if room.bin == candidate.name), None)
    if answer.solution is not None:
        fall = _fall(column, mix.formula, answer)
        if 0 < fall <= candidate.price_per_tonne:
            units, counted = units_of(farm.settings), candidate.price_per_tonne
            yield (
                f"{candidate.label or candidate.name} comes in below about "
                f"{units.price(counted - fall, farm.settings.currency)} per {units.word}; it is counted at "
                f"{units.price(counted)}."
            )
    if room is not None:
        yield (
            f"{room.feed_label} is {plain(100 * room.holds, 3)} % of {room.label}: its cap leaves room for "
            f"{plain(100 * room.allows, 3)} % of the bin at most."
        )


def _fall(column: int, formula: Formula, answer: Answer) -> float:
    """How far the price of a column must fall, per tonne: its reduced cost."""
    return max(answer.solution.reduced_costs[column], 0.0) if answer.solution else 0.0
