"""From a book to the pages of its mix sheets."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from rationlp.book.records import Book, Settings
from rationlp.cautions import REVIEW, bin_cautions, sheet_cautions
from rationlp.errors import SolverError, given
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate
from rationlp.library.read import Library
from rationlp.rations.answer.ids import book_version, sheet_id
from rationlp.rations.answer.model import Ration
from rationlp.rations.answer.words import told_conflict
from rationlp.rations.formulate import SolvedRation, solve_rations
from rationlp.reasons import Kind, Reason, Severity
from rationlp.sheets.batches import BatchPlan, Run, plan, wanted_stages
from rationlp.sheets.carry_over import with_carry_over
from rationlp.sheets.eaters import eaters, grinding
from rationlp.sheets.model import CARRIER_MASS, MOST_BOXES, Line, MixSheet, NoSheet, Pack
from rationlp.sheets.order import BUCKET, Order, order_of_adding
from rationlp.sheets.practice import HAND_ADD, LEAST_STEPS
from rationlp.sheets.purchases import counted_once, left_of, purchase_list
from rationlp.sheets.request import SheetRequest
from rationlp.sheets.weights.even import even_words
from rationlp.sheets.weights.larger import what_can_be_weighed
from rationlp.sheets.weights.missed import is_wrong_dose
from rationlp.sheets.weights.rounding import WholeMix, whole_mix
from rationlp.sheets.weights.scale import Scale, exact, farm_scale, shown
from rationlp.sheets.weights.whole_program import Tool, Way

MOST_REMEDIES = 4  # named on a page
NEAREST = "`rationlp ration` prints the nearest mix."
LAST, PAGE = " last", " p"  # ends of names: the smaller last batch, a further page of one sheet


def make_pack(
    farm: Farm, request: SheetRequest, stages: Iterable[str] = (), bins: Iterable[str] = (), together: bool = False
) -> Pack:
    """Every mix sheet asked for, one per stage, bin and batch size. Raises InputError."""
    recipes = solve_rations(farm, wanted_stages(farm.book, request, stages), bins, together)
    return pack_of(farm, [(recipe, request) for recipe in recipes], counted_once)


def pack_of(
    farm: Farm,
    asked: Iterable[tuple[SolvedRation, SheetRequest]],
    counted: Callable[[Sequence[MixSheet]], list[MixSheet]] = list,
) -> Pack:
    """The sheets of rations, each as it is asked for; one whose calculation fails has a reason instead. `counted` says
    which of them count in what to buy. Raises InputError."""
    scale, version = farm_scale(farm.book.farm), book_version(farm.book)
    sheets: list[MixSheet] = []
    unmade: list[NoSheet] = []
    for recipe, request in asked:
        each = _Asked(recipe, request, farm, scale, version)
        if recipe.verdict.severity is Severity.STOP:
            unmade.append(_no_sheet(each, (*_why_not(recipe.ration), NEAREST)))
            continue
        try:
            found = _sheets_of(each)
        except SolverError as error:  # this mix alone has no sheet
            unmade.append(replace(_no_sheet(each, (str(error),)), failed=True))
            continue
        for made in found:
            if isinstance(made, MixSheet):
                sheets.append(made)
            else:
                unmade.append(made)
    sheets = with_carry_over(counted(sheets), farm)
    feeds = {feed: 1.0 for sheet in sheets for feed in _feeds_of(sheet, farm.book)}
    return Pack(
        farm=farm.book.farm.name or farm.book.path.stem,
        season=farm.book.farm.season,
        currency=farm.book.farm.currency,
        date_format=farm.book.farm.date_format,
        book_version=version,
        unit=scale.unit,
        scale=scale,
        sheets=tuple(sheets),
        unmade=tuple(unmade),
        purchases=purchase_list(sheets, farm, scale),
        cautions=_all_cautions(sheets, unmade, feeds, farm.library),
        review=REVIEW,
    )


@dataclass(frozen=True, slots=True)
class _Asked:
    """A ration, how its sheets are wanted, and what all sheets of one run share."""

    recipe: SolvedRation
    request: SheetRequest
    farm: Farm
    scale: Scale
    version: str


def _sheets_of(asked: _Asked) -> list[MixSheet | NoSheet]:
    recipe, scale = asked.recipe, asked.scale
    planned = plan(recipe, scale, asked.request)
    found: list[MixSheet | NoSheet] = []
    number = 1
    for index, run in enumerate(planned.runs):
        mix = whole_mix(recipe, run.size, scale)
        suffix = LAST if index else ""
        if mix is None:
            why: tuple[str, ...] = (
                "No weights that the scales can show keep the caps and doses of this ration in a batch of "
                f"{shown(run.size, scale.step, scale.unit)}.",
                what_can_be_weighed(recipe, run.size, scale),
            )
            found.append(_no_sheet(asked, why, suffix))
            continue
        if mix.ration.verdict.severity is Severity.STOP:
            why = (*_why_not(mix.ration), what_can_be_weighed(recipe, run.size, scale))
            found.append(_no_sheet(asked, why, suffix, mix.ration))
            continue
        mix = with_way_out(mix, recipe, scale)
        for page, done in enumerate(range(0, run.count, MOST_BOXES), 1):
            part = Run(run.size, min(MOST_BOXES, run.count - done))
            suffix_of_page = suffix + (f"{PAGE}{page}" if page > 1 else "")
            found.append(_sheet(asked, mix, planned, part, number + done, suffix_of_page))
        number += run.count
    return found


def with_way_out(mix: WholeMix, recipe: SolvedRation, scale: Scale) -> WholeMix:
    """The mix, with the batch or scale that mends a dose of premix to be asked about, where none is told."""
    verdict = mix.ration.verdict
    if not any(is_wrong_dose(reason) for reason in verdict.reasons) or even_words(recipe, mix.batch, scale):
        return mix
    told = Reason(Kind.PREMIX, Severity.ASK, what_can_be_weighed(recipe, mix.batch, scale))
    return replace(mix, ration=replace(mix.ration, verdict=verdict.plus([told])))


def _sheet(asked: _Asked, mix: WholeMix, planned: BatchPlan, run: Run, first: int, suffix: str) -> MixSheet:
    """One page: `run` are its batches, `first` the number of the first of them."""
    recipe, request, farm, scale = asked.recipe, asked.request, asked.farm, asked.scale
    candidates = recipe.formula.candidates
    order = order_of_adding(mix, candidates, scale)
    packages = {o.offer: exact(o.package_kg, scale.unit) for o in farm.book.supplements if o.package_kg}
    tool = _Tools(candidates, packages, scale)
    ration, capacity = recipe.ration, farm.book.farm.mixer_capacity_kg
    return MixSheet(
        name=_name(request, ration) + suffix,
        id=sheet_id(ration, farm.book, _weights(mix, candidates)),
        ration_id=recipe.id,
        book_version=asked.version,
        farm=" ".join(filter(None, (farm.book.farm.name, farm.book.farm.season))),
        stage=ration.stage,
        stage_label="; also ".join((ration.stage_label, *(farm.stage(stage).label for stage in request.also_for))),
        bin=ration.bin,
        bin_words=_bin_words(recipe, farm.book),
        sample_words=_sample_words(recipe, farm.settings),
        made_on=request.on,
        date_format=farm.settings.date_format,
        scale=scale,
        batch=run.size,
        count=run.count,
        first_batch=first,
        capacity=exact(capacity, scale.unit) if capacity else None,
        bucket=tool.bucket_lines(order),
        mixer=tool.mixer_lines(order),
        carrier_words=_carrier_words(order, candidates),
        rounding_words=_rounding_words(mix, farm.book, scale),
        misses=mix.misses,
        notes=(
            *planned.notes,
            *_stock_notes(recipe, mix, run, farm, scale),
        ),
        hints=(*planned.room, *_fine_scale_hints(mix, candidates, scale)),
        cautions=_crew_cautions(recipe, mix, farm.library),
        ration=mix.ration,
        extra_cost=mix.extra_cost,
        eaters=request.eaters or eaters(mix.ration, farm.book, farm.library, request.on),
        grinding=grinding(ration, farm.library),
        eaten_by=request.eaten_by,
        also_for=request.also_for,
    )


def _name(request: SheetRequest, ration: Ration) -> str:
    """The name of a sheet: what the plan of the year calls its mix, stage and bins."""
    return " ".join(filter(None, (request.mix, ration.stage, ration.bin)))


def _weights(mix: WholeMix, candidates: Sequence[Candidate]) -> list[tuple[str, str]]:
    """What is weighed, as text: offer, and mass in the book's unit to the last digit."""
    return [(candidates[index].name, str(mass)) for index, mass in mix.masses().items()]


class _Tools:
    """Turns the order of adding into lines that say how each thing is weighed."""

    def __init__(
        self,
        candidates: Sequence[Candidate],
        packages: Mapping[str, Fraction],
        scale: Scale,
    ):
        self.candidates, self.packages, self.scale = candidates, packages, scale

    def bucket_lines(self, order: Order) -> tuple[Line, ...]:
        """What goes into the bucket."""
        lines, holds = [], Fraction(0)
        for scoop in order.bucket.scoops if order.bucket else ():
            holds += scoop.mass
            bags = scoop.way if scoop.way and scoop.way.tool is Tool.PACKAGES else None
            part = "carrier" if scoop.is_carrier else ""
            lines.append(self._line(BUCKET, scoop.candidate, part, scoop.mass, holds, bags))
        return tuple(lines)

    def mixer_lines(self, order: Order) -> tuple[Line, ...]:
        """What goes into the mixer."""
        lines, holds = [], Fraction(0)
        for add in order.adds:
            holds += add.mass
            if add.candidate is None:
                lines.append(Line(add.section, "", "The bucket", "", None, Fraction(0), add.mass, holds))
            else:
                lines.append(self._line(add.section, add.candidate, add.part, add.mass, holds, add.way))
        return tuple(lines)

    def _line(self, section: str, index: int, part: str, mass: Fraction, holds: Fraction, way: Way | None) -> Line:
        """What goes in as the integer program settled (`way`) is weighed so; anything else as its mass asks for."""
        candidate = self.candidates[index]
        package = self.packages.get(candidate.name)
        if way is not None:
            return Line(section, candidate.name, candidate.label, part, way.tool, way.step, mass, holds, package)
        small = section == BUCKET or (mass < self.scale.hand_below and mass % self.scale.step != 0)
        tool, step = (Tool.HAND, self.scale.hand_step) if small else (Tool.MIXER, self.scale.step)
        if mass % step:  # the last lot of what was split fills up to the reading of the scale
            step = Fraction(0)
        return Line(section, candidate.name, candidate.label, part, tool, step, mass, holds, package)


def _no_sheet(asked: _Asked, reasons: tuple[str, ...], suffix: str = "", weighed: Ration | None = None) -> NoSheet:
    ration, settings = weighed or asked.recipe.ration, asked.farm.settings
    return NoSheet(
        name=_name(asked.request, ration) + suffix,
        id=asked.recipe.id,
        book_version=asked.version,
        farm=" ".join(filter(None, (settings.name, settings.season))),
        stage=ration.stage,
        stage_label=ration.stage_label,
        bin=ration.bin,
        reasons=reasons,
        ration=ration,
        failed=bool(ration.failure),
    )


def _why_not(ration: Ration) -> tuple[str, ...]:
    """What keeps the ration from being mixed, and what would mend it."""
    reasons = [reason.text for reason in ration.verdict.reasons if reason.severity is not Severity.FEED]
    if ration.conflict:
        reasons.append(told_conflict(ration.conflict))
    mending = [(remedy.label, remedy.share) for remedy in ration.remedies if remedy.share is not None]
    for label, share in mending[:MOST_REMEDIES]:
        reasons.append(f"{label}, which is not on offer, would mend it at {100 * share:.2g} % of the mix.")
    return tuple(reasons)


def _bin_words(recipe: SolvedRation, book: Book) -> str:
    if not recipe.bins:
        return "no bin"
    rows = {row.bin: row for row in book.bins}
    words = []
    for estimate in recipe.estimates:
        row = rows[estimate.bin]
        label = f"{estimate.bin}: {row.label}" if row.label else estimate.bin
        filled = f", filled {book.farm.day(row.filled_on)}" if row.filled_on else ""
        words.append(f"bin {label}{filled}")
    return " + ".join(words)


def _sample_words(recipe: SolvedRation, farm: Settings) -> str:
    words = []
    for estimate in recipe.estimates:
        taken = f" of {farm.day(estimate.taken_on)}" if estimate.taken_on else ""
        words.append(f"sample {estimate.sample}{taken}")
    return " + ".join(words) or "no sample"


def _carrier_words(order: Order, candidates: Sequence[Candidate]) -> str:
    if order.bucket is None:
        return ""
    if order.bucket.carrier is None:
        return "No suitable carrier: blend the micro-ingredients with each other first."
    return (
        f"Carrier: {CARRIER_MASS} of {candidates[order.bucket.carrier].label}, ground, "
        f"{100 * order.bucket.carrier_share:.0f} % of the bucket. "
        f"Zero the hand scale before each scoop; stir after each. The bucket makes the micro-ingredients at "
        f"least {float(100 * HAND_ADD):g} % of the batch."
    )


def _rounding_words(mix: WholeMix, book: Book, scale: Scale) -> str:
    batch = shown(mix.batch, scale.step, scale.unit)
    cost = given(mix.ration.cost_per_tonne, "the cost of a mix") * float(mix.batch) * scale.kg / 1000
    energy = " for the same energy" if mix.ration.objective == "per_energy" else ""
    share = f" ({100 * mix.extra_cost / cost:.2f} %)" if cost else ""
    return (
        f"Weights in whole scale divisions, one away from the caps, cost {max(mix.extra_cost, 0):.2f} "
        f"{book.farm.currency}{share} more a batch of {batch}{energy} than the ration as calculated; other weights "
        f"could save at most {min(mix.unproven, max(mix.extra_cost, 0)):.2f} {book.farm.currency} of it."
    )


def _fine_scale_hints(mix: WholeMix, candidates: Sequence[Candidate], scale: Scale) -> list[str]:
    """Weights below twenty steps of the scale they are weighed on."""
    hints = []
    for tool, step, instead in (
        (Tool.HAND, scale.hand_step, "a finer scale"),
        (Tool.MIXER, scale.step, "the hand scale" if scale.hand_below else "a finer scale"),
    ):
        light = [
            f"{candidates[p.candidate].label} ({shown(p.mass, step, scale.unit)})"
            for p in mix.portions
            if p.way.tool is tool and p.mass < int(LEAST_STEPS.value) * step
        ]
        if light:
            hints.append(f"Better on {instead}: {', '.join(light)}: below {LEAST_STEPS.value:g} steps of the {tool}.")
    return hints


def _stock_notes(recipe: SolvedRation, mix: WholeMix, run: Run, farm: Farm, scale: Scale) -> list[str]:
    """Ingredients of which not enough is left for all batches."""
    notes = []
    for index, mass in mix.masses().items():
        candidate = recipe.formula.candidates[index]
        left = left_of(candidate.name, farm, scale)
        if left is not None and mass * run.count > left:
            batches = f"{run.count} batches" if run.count > 1 else "a batch"
            notes.append(
                f"{candidate.label}: only {shown(left, scale.step, scale.unit)} left, not enough for {batches}."
            )
    return notes


def _crew_cautions(recipe: SolvedRation, mix: WholeMix, library: Library) -> tuple[str, ...]:
    """What the people at the mixer must mind with this sheet; everything else stands on a page of its own."""
    premix = any(recipe.formula.candidates[index].premix_covers for index in mix.masses())
    wanted = (
        {"dust", "other_stock"} | ({"premix_twice"} if premix else set()) | ({"bin_entry"} if recipe.bins else set())
    )
    rows = [row.text for row in library.cautions if row.caution in wanted]
    return tuple(dict.fromkeys((REVIEW, *rows)))


def _feeds_of(sheet: MixSheet, book: Book) -> set[str]:
    offers = {offer.offer: offer.feed for offer in book.supplements}
    found = {offers[line.offer] for line in (*sheet.bucket, *sheet.mixer) if line.offer in offers}
    samples = {row.sample for row in book.samples if row.bin in sheet.ration.bins}
    return found | {row.crop for row in book.sorted if row.sample in samples}


def _all_cautions(
    sheets: Sequence[MixSheet], unmade: Sequence[NoSheet], feeds: Mapping[str, float], library: Library
) -> tuple[str, ...]:
    found = [REVIEW]
    pages: tuple[MixSheet | NoSheet, ...] = (*sheets, *unmade)
    for page in pages:
        found += page.ration.cautions
        found += sheet_cautions(library.stages.get(page.stage), feeds, library)
    found += bin_cautions(feeds, library)
    return tuple(dict.fromkeys(found))
