"""One feed, stage, nutrient or source of the library for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rationlp.library import Library
from rationlp.library.cited import short_words
from rationlp.library.records import Feed, Requirement, Source
from rationlp.numbers import figure
from rationlp.show.library.answers import FeedAnswer, FigureLine, NutrientAnswer, SourceAnswer, StageAnswer
from rationlp.show.library.text import NUTRITIONIST, mark, print_caps, print_evidence, print_figures, print_stages
from rationlp.show.terminal import Terminal, console, table

USE_WORDS = {"row": "", "reference_energy": "reference energy", "check": "kept to compare"}


def print_feed(answer: FeedAnswer, memory: bool) -> None:
    """A feed with every figure and its source, caps, cautions and citations."""
    out = console()
    feed = answer.feed
    out.rule(f"{feed.label} ({feed.feed})")
    for line in _facts(feed):
        out.print(line)
    _print_feed_figures(out, answer.figures, memory)
    if not memory:
        print_caps(answer.caps, "What each stage may be given at most", by_stage=True)
        print_evidence(answer.evidence)
        for caution in answer.cautions:
            out.print(f"! {caution}", strong=True)
    _print_citations(out, answer.sources)
    out.print(NUTRITIONIST)


def _facts(feed: Feed) -> Iterable[str]:
    yield f"{feed.group.replace('_', ' ')}, {feed.origin}; {feed.botanical_name}".rstrip("; ")
    facts = {
        "processing": feed.processing,
        "dry matter": f"{figure(feed.dry_matter_pct)} %",
        "bulk density": f"{figure(feed.bulk_density_kg_m3)} kg/m3" if feed.bulk_density_kg_m3 else "",
        "thousand kernels": f"{figure(feed.thousand_kernel_weight_g)} g" if feed.thousand_kernel_weight_g else "",
        "package": feed.usual_package,
        "US organic": feed.us_organic,
        "EU organic": feed.eu_organic,
        "inclusion of the premix": f"{figure(feed.premix_inclusion_pct)} %" if feed.premix_inclusion_pct else "",
        "source": f"{feed.source} ({feed.how})",
    }
    yield "; ".join(f"{name}: {text}" for name, text in facts.items() if text)
    if feed.note:
        yield feed.note


def _print_feed_figures(out: Terminal, lines: Sequence[FigureLine], memory: bool) -> None:
    shown = [line for line in lines if not memory or line.how == "memory"]
    title = "Figures from memory" if memory else "Figures"
    made = table(
        title,
        [
            ("Nutrient", "left"),
            ("Unit", "left"),
            ("As fed", "right"),
            ("In DM", "right"),
            ("sd", "right"),
            ("How", "left"),
            ("Equation or source", "left"),
        ],
    )
    for line in shown:
        where = f"{line.equation}; {line.source}" if line.equation else line.source
        made.add_row(
            line.label,
            line.unit,
            figure(line.as_fed),
            figure(line.dry_matter),
            figure(line.sd, 3),
            mark(line.how),
            where,
        )
    out.print(made)
    if not memory:
        recalled = sum(line.how == "memory" for line in lines)
        out.print(f"{recalled} of {len(lines)} figures are from memory; the notes are in '--format csv' and 'json'.")


def print_stage(answer: StageAnswer, library: Library, memory: bool) -> None:
    """A stage with what it needs, its ceilings and ratios, and citations."""
    out = console()
    stage = answer.stage
    out.rule(f"{stage.label} ({stage.stage})")
    print_stages([stage])
    out.print(f"{stage.note}; source: {stage.source} ({stage.how})")
    out.print(
        f"Energy: {stage.energy}; no leaner than {stage.energy_floor_pct:g} % of the reference "
        f"({stage.energy_floor_source}, {stage.energy_floor_how}). Scopes: {' '.join(stage.scopes)}."
    )
    needs = [row for row in answer.needs if not memory or row.how == "memory"]
    _print_needs(out, needs, library)
    if not memory:
        _print_bounds(out, answer)
        out.print(f"Caps on feeds: 'rationlp library limits {stage.stage}'.")
    _print_citations(out, answer.sources)
    out.print(NUTRITIONIST)


def _print_needs(out: Terminal, needs: Iterable[Requirement], library: Library) -> None:
    made = table(
        "What it needs, as fed at 90 % dry matter",
        [
            ("Nutrient", "left"),
            ("Minimum", "right"),
            ("Maximum", "right"),
            ("Unit", "left"),
            ("Per", "left"),
            ("Use", "left"),
            ("How", "left"),
            ("Source", "left"),
            ("Note", "left"),
        ],
    )
    for row in needs:
        met = {"premix": "by premix", "not_tabled": "shown only"}.get(library.nutrients[row.nutrient].met_by, "")
        made.add_row(
            library.nutrients[row.nutrient].label,
            figure(row.minimum),
            figure(row.maximum),
            row.unit,
            row.per,
            USE_WORDS[row.use] or met,
            mark(row.how),
            row.source,
            row.note,
        )
    out.print(made)


def _print_bounds(out: Terminal, answer: StageAnswer) -> None:
    made = table(
        "Ceilings of the complete feed (the nearest scope decides)",
        [
            ("Scope", "left"),
            ("Nutrient", "left"),
            ("Maximum", "right"),
            ("Unit", "left"),
            ("Per", "left"),
            ("Kind", "left"),
            ("Use", "left"),
            ("How", "left"),
            ("Source", "left"),
            ("Note", "left"),
        ],
    )
    for row in answer.ceilings:
        made.add_row(
            row.scope,
            row.nutrient,
            figure(row.maximum),
            row.unit,
            row.per,
            " ".join((row.kind, *row.jurisdiction)),
            row.use,
            mark(row.how),
            row.source,
            row.note,
        )
    out.print(made)
    for ratio in answer.ratios:
        out.print(
            f"{ratio.numerator} to {ratio.denominator}: {figure(ratio.minimum)} to {figure(ratio.maximum)} "
            f"({ratio.scope}, {ratio.source}, {ratio.how})"
        )


def print_nutrient(answer: NutrientAnswer) -> None:
    """A nutrient with the feeds richest in it and the stages that ask for it."""
    out = console()
    nutrient = answer.nutrient
    out.rule(f"{nutrient.label} ({nutrient.nutrient}), {nutrient.unit}")
    if nutrient.note:
        out.print(nutrient.note)
    print_figures("Richest first, as fed", answer.feeds)
    made = table(
        "Stages that ask for it",
        [
            ("Stage", "left"),
            ("Minimum", "right"),
            ("Maximum", "right"),
            ("Unit", "left"),
            ("Per", "left"),
            ("Use", "left"),
            ("How", "left"),
            ("Source", "left"),
        ],
    )
    for row in answer.needs:
        made.add_row(
            row.stage,
            figure(row.minimum),
            figure(row.maximum),
            row.unit,
            row.per,
            USE_WORDS[row.use],
            mark(row.how),
            row.source,
        )
    out.print(made)


def print_source(answer: SourceAnswer) -> None:
    """A source, its citation and what rests on it."""
    out = console()
    source = answer.source
    out.print(f"{source.source} ({source.kind}): {source.citation} {source.url}")
    out.print(f"In sentences: {short_words(source)}.")
    out.print("; ".join(f"{count} rows of {name}" for name, count in answer.uses.items()) or "No row names it.")
    for row in answer.rows:
        out.print(f"- {row}")


def _print_citations(out: Terminal, sources: Iterable[Source]) -> None:
    made = table("Sources", [("Source", "left"), ("Citation", "left"), ("Address", "left")])
    for source in sources:
        made.add_row(source.source, source.citation, source.url)
    out.print(made)
