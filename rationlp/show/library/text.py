"""The feed library for the terminal: lists and overviews. One feed, stage, nutrient or source: detail.py."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from rationlp.errors import Problem
from rationlp.library import Library
from rationlp.library.equations import Equation
from rationlp.library.records import Feed, FeedLimit, Nutrient, Source, Stage
from rationlp.library.trial_caps import Trial
from rationlp.numbers import figure
from rationlp.rations.studies.figure_weights import FigureWeight
from rationlp.show.library.answers import CapLine, FigureLine, from_memory
from rationlp.show.terminal import console, table

NUTRITIONIST = (
    "A qualified (licensed) nutritionist should review what is fed by these figures; many were recalled, not seen."
)


SAID = {
    "page": "Seen",
    "dataset": "Seen",
    "abstract": "Seen",
    "page+memory": "Partly seen",
    "memory": "Recalled",
    "computed": "Calculated",
    "analogy": "From a relative",
    "common practice": "Practice",
}
"""How a figure was obtained, as a person is told it."""


def print_overview(library: Library, counts: Mapping[str, Mapping[str, int]], problems: Sequence[Problem]) -> None:
    """What there is, how it was obtained and whether it holds together."""
    out = console()
    out.print(f"Feed library {library.directory!s}")
    out.print(
        f"{len(library.feeds)} feeds, {sum(map(len, library.figures.values())):,} figures of composition, "
        f"{len(library.stages)} life stages, {sum(map(len, library.requirements.values())):,} requirements, "
        f"{sum(map(len, library.feed_limits.values()))} limits on feeds, {len(library.sources):,} sources."
    )
    ways = list(dict.fromkeys(SAID.values()))
    made = table("How the figures were obtained (rows)", [("Table", "left"), *((way, "right") for way in ways)])
    for name, count in counts.items():
        told = Counter[str]()
        for how, rows in count.items():
            told[SAID.get(how, "Partly seen")] += rows
        made.add_row(name, *(f"{told[way]:,}" if told[way] else "" for way in ways))
    out.print(made)
    out.print(
        "Recalled: from a handbook, not seen again; from a relative: of a like feed, stage or animal, the weakest."
    )
    print_problems(problems)
    out.print("'rationlp library feeds|stages|limits|sources|nutrients|equations [ID]' says more.")
    out.print(NUTRITIONIST)


def print_problems(problems: Sequence[Problem]) -> None:
    """The result of the check, a line each."""
    out = console()
    errors = sum(problem.severity == "error" for problem in problems)
    out.print(f"Check: {errors} errors, {len(problems) - errors} warnings.")
    for problem in problems:
        out.print(f"- {problem.line()}")


def print_feeds(feeds: Iterable[Feed]) -> None:
    """All feeds with what they are and whether an organic farm may use them."""
    made = table(
        "Feeds",
        [
            ("Feed", "left"),
            ("Name", "left"),
            ("Group", "left"),
            ("Origin", "left"),
            ("DM %", "right"),
            ("US organic", "left"),
            ("EU organic", "left"),
        ],
    )
    for feed in feeds:
        made.add_row(
            feed.feed,
            feed.label,
            feed.group,
            feed.origin,
            figure(feed.dry_matter_pct),
            feed.us_organic,
            feed.eu_organic,
        )
    out = console()
    out.print(made)
    out.print("'rationlp library feeds ID' for one, '--sort sid_lysine_pig' for the richest.")


def print_figures(title: str, lines: Sequence[FigureLine]) -> None:
    """One figure a line, of any feeds: the richest in a nutrient, or those from memory."""
    made = table(
        title,
        [
            ("Feed", "left"),
            ("Nutrient", "left"),
            ("Unit", "left"),
            ("As fed", "right"),
            ("In DM", "right"),
            ("How", "left"),
            ("Source", "left"),
        ],
    )
    for line in lines:
        made.add_row(
            line.feed, line.nutrient, line.unit, figure(line.as_fed), figure(line.dry_matter), line.how, line.source
        )
    console().print(made)


def print_memory_counts(by_feed: Mapping[str, tuple[int, int]]) -> None:
    """How many stored figures of each feed are from memory."""
    made = table("Figures from memory", [("Feed", "left"), ("From memory", "right"), ("Of", "right"), ("%", "right")])
    for feed, (recalled, of) in by_feed.items():
        made.add_row(feed, str(recalled), str(of), f"{100 * recalled / of:.0f}" if of else "")
    out = console()
    out.print(made)
    out.print("'rationlp library feeds ID --memory' names them; '--format csv' or 'json' lists all of them.")


MOST_WEIGHTS = 30


def print_weights(recalled: Sequence[FigureWeight], shares: Mapping[str, float], read: float) -> None:
    """The recalled figures that move rations most, and how much of all the weight was read."""
    made = table(
        "Recalled figures by weight",
        [("Feed", "left"), ("Nutrient", "left"), ("Weight", "right"), ("How", "left"), ("Source", "left")],
    )
    for row in recalled[:MOST_WEIGHTS]:
        made.add_row(row.feed, row.nutrient, f"{row.weight:.2f}", row.how, row.source)
    out = console()
    out.print(made)
    if len(recalled) > MOST_WEIGHTS:
        out.print(f"{len(recalled) - MOST_WEIGHTS} more weigh less: '--format csv' or 'json' lists all of them.")
    out.print(
        "Weight: change of the cost, in money per tonne, for a figure 10 % off, summed over the rations of the demo "
        "farm; the weight of a computed figure is laid on what it was computed from."
    )
    parts = ", ".join(f"{how} {100 * share:.1f} %" for how, share in sorted(shares.items(), key=lambda row: -row[1]))
    out.print(
        f"Of all the weight {100 * read:.1f} % was read (some in an abstract only: the source says so) or computed "
        f"from what was read: {parts}."
    )


def print_stages(stages: Iterable[Stage]) -> None:
    """Stages with their weights, ages, intake and energy."""
    made = table(
        "Life stages",
        [
            ("Stage", "left"),
            ("Name", "left"),
            ("Live weight kg", "right"),
            ("Age weeks", "right"),
            ("Feed g/day", "right"),
            ("Fed", "left"),
            ("Energy", "left"),
        ],
    )
    for stage in stages:
        made.add_row(
            stage.stage,
            stage.label,
            _span(stage.weight_from_kg, stage.weight_to_kg),
            _span(stage.age_from_wk, stage.age_to_wk),
            figure(stage.daily_feed_g),
            stage.fed.replace("_", " "),
            stage.energy,
        )
    console().print(made)


def _span(low: float | None, high: float | None) -> str:
    if low is None and high is None:
        return ""
    return f"{low or 0:g} to {high:g}" if high is not None else f"from {low:g}"


def percent_of(value: float | None) -> str:
    """A limit as it was set, without trailing zeros."""
    return "" if value is None else f"{value:g}"


def print_evidence(rows: Iterable[FeedLimit], title: str = "Evidence on how much may be fed") -> None:
    """Limits as they were found: advice, law, trials."""
    made = table(
        title,
        [
            ("Feed or family", "left"),
            ("Animals", "left"),
            ("Maximum %", "right"),
            ("Evidence", "left"),
            ("For", "left"),
            ("Reason", "left"),
            ("Source", "left"),
            ("How", "left"),
        ],
    )
    for row in rows:
        made.add_row(
            row.feed,
            row.scope,
            percent_of(row.max_pct),
            _evidence(row.evidence, row.safety),
            " ".join((*row.jurisdiction, *row.certification)),
            row.reason,
            row.source,
            row.how,
        )
    out = console()
    out.print(made)
    out.print("Advice counts where no trial of the kind of animal does; law and safety always.")


def print_trials(rows: Iterable[Trial]) -> None:
    """The feeding trials behind the caps of a feed, level by level; a level in brackets does not count."""
    made = table(
        "Feeding trials",
        [
            ("Feed", "left"),
            ("Trial", "left"),
            ("Animals", "left"),
            ("Level %", "right"),
            ("Outcome", "left"),
            ("Of", "left"),
            ("Enzyme", "left"),
            ("Heads; weeks", "left"),
            ("Source", "left"),
            ("How", "left"),
            ("Note", "left"),
        ],
    )
    for row in sorted(rows, key=lambda row: (row.feed, row.scopes, row.level_pct or 0.0)):
        level = percent_of(row.level_pct) or row.level_as_printed
        made.add_row(
            row.feed,
            row.trial,
            " ".join(row.scopes),
            level if row.use == "cap" else f"({level})",
            row.outcome.replace("_", " "),
            row.what,
            row.enzyme,
            "; ".join(filter(None, (row.animals, row.weeks))),
            row.source,
            row.how,
            "; ".join(filter(None, (row.variety, row.note))),
        )
    console().print(made)


def print_caps(caps: Sequence[CapLine], title: str, by_stage: bool) -> None:
    """Caps that hold, each with its reason."""
    made = table(
        title,
        [
            ("Stage" if by_stage else "Feed or family", "left"),
            ("Maximum %", "right"),
            ("Evidence", "left"),
            ("For", "left"),
            ("Why", "left"),
            ("Source", "left"),
        ],
    )
    for cap in caps:
        made.add_row(
            cap.stage if by_stage else cap.word,
            percent_of(cap.max_pct),
            _evidence(cap.evidence, cap.safety),
            cap.holds_for,
            cap.reason,
            cap.source,
        )
    console().print(made)


def _evidence(evidence: str, safety: str) -> str:
    return f"{evidence} SAFETY" if safety == "yes" else evidence


def print_sources(sources: Iterable[Source], uses: Mapping[str, int]) -> None:
    """Every source with the number of rows that rest on it."""
    made = table(
        "Sources", [("Source", "left"), ("Rows", "right"), ("Kind", "left"), ("Citation", "left"), ("Address", "left")]
    )
    for source in sources:
        made.add_row(source.source, str(uses.get(source.source, 0)), source.kind, source.citation, source.url)
    console().print(made)


def print_nutrients(nutrients: Iterable[Nutrient]) -> None:
    """All nutrient ids with unit, kind and how they follow from others."""
    made = table(
        "Nutrients",
        [
            ("Nutrient", "left"),
            ("Name", "left"),
            ("Unit", "left"),
            ("Kind", "left"),
            ("Met by", "left"),
            ("Made of", "left"),
        ],
    )
    for row in nutrients:
        parts = " + ".join(row.sum_of) or (f"{row.part_of} x {row.coefficient}" if row.part_of else "")
        made.add_row(row.nutrient, row.label, row.unit, row.kind, row.met_by, parts)
    console().print(made)


def print_equations(equations: Iterable[Equation]) -> None:
    """Published equations with their range and source."""
    made = table(
        "Published equations (composition in % of dry matter)",
        [
            ("Function", "left"),
            ("Id", "left"),
            ("Supplies", "left"),
            ("Unit", "left"),
            ("Made for", "left"),
            ("Range", "left"),
            ("Source", "left"),
            ("How", "left"),
        ],
    )
    for row in equations:
        ranges = ", ".join(f"{name} {low:g}-{high:g}" for name, (low, high) in row.valid.items())
        made.add_row(row.name, row.id, row.gives, row.unit, row.scope, ranges, row.source, row.how)
    console().print(made)


def mark(how: str) -> str:
    """How a figure was obtained; the weak ways stand out."""
    return how.upper() if from_memory(how) or how == "analogy" else how
