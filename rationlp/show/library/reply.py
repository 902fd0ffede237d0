"""The answers of `rationlp library`, each as text, as rows of a table and as a JSON document."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, is_dataclass, replace
from typing import Any

from rationlp.errors import InputError, Problem, RequestError
from rationlp.files import csv_table
from rationlp.library import Library
from rationlp.library.checks import check_library
from rationlp.library.equations import EQUATIONS
from rationlp.rations.studies.figure_weights import (
    RECALLED,
    handed_down,
    share_by_how,
    share_read,
    weights_in_demo,
)
from rationlp.show.data.as_json import write_json
from rationlp.show.library import answers, detail, text


@dataclass(frozen=True, slots=True)
class Asked:
    """What the person asked: topic and id, and what narrows or orders the answer."""

    topic: str = ""
    name: str = ""
    sort: str = ""
    memory: bool = False
    weight_kg: float | None = None
    age_weeks: float | None = None


@dataclass(frozen=True, slots=True)
class Reply:
    """One answer in three shapes: `show` prints it, `rows` is its table, `document` its JSON."""

    show: Callable[[], None]
    rows: Sequence[Any]
    document: Mapping[str, Any]


def reply(asked: Asked, library: Library) -> Reply:
    """The answer. Raises RequestError for an id that the library does not know."""
    topic = asked.topic or _topic_of(asked.name, library)
    name = answers.one_meant(asked.name, topic.removesuffix("s"), library)
    sort = answers.known(asked.sort, library.nutrients, "nutrient", library) if asked.sort else ""
    return _TOPICS[topic](replace(asked, name=name, sort=sort), library)


def write_csv(rows: Sequence[Any]) -> None:
    """Rows as CSV on stdout; the columns are those of all rows in the order they come up."""
    dicts = [_flat(_plain(row)) for row in rows]
    columns = list(dict.fromkeys(column for row in dicts for column in row))
    sys.stdout.write(csv_table(columns, dicts))


def write_document(document: Mapping[str, Any]) -> None:
    """The JSON document on stdout."""
    write_json(plain_document(document))


def plain_document(document: Mapping[str, Any]) -> dict[str, Any]:
    """The JSON document, its records as objects."""
    return {key: _plain(value) for key, value in document.items()}


def _overview(asked: Asked, library: Library) -> Reply:
    if asked.memory:
        return _recalled_by_weight(library)
    problems = check_library(library)
    counts = answers.how_counts(library)
    rows = [{"table": name, **count} for name, count in counts.items()]
    document = {
        "directory": str(library.directory),
        "feeds": len(library.feeds),
        "stages": len(library.stages),
        "rows_by_how": counts,
        "problems": problems,
    }
    if any(problem.severity == "error" for problem in problems):
        raise InputError(problems)
    return Reply(lambda: text.print_overview(library, counts, problems), rows, document)


def _feeds(asked: Asked, library: Library) -> Reply:
    if asked.sort:
        return _richest(asked, library)
    if asked.name:
        answer = answers.feed_answer(asked.name, library)
        lines = [line for line in answer.figures if not asked.memory or line.how == "memory"]
        return Reply(
            lambda: detail.print_feed(answer, asked.memory), lines, {"feed": _plain(answer) | {"figures": lines}}
        )
    if asked.memory:
        return _memory(library)
    feeds = list(library.feeds.values())
    return Reply(lambda: text.print_feeds(feeds), feeds, {"feeds": feeds})


def _richest(asked: Asked, library: Library) -> Reply:
    lines = answers.rich_in(asked.sort, library)
    if asked.name:
        words = {feed for feed in library.feeds if asked.name in answers.words_of(feed, library)}
        lines = [line for line in lines if line.feed in words]
    if asked.memory:
        lines = [line for line in lines if line.how == "memory"]
    title = f"{library.nutrients[asked.sort].label}, richest (as fed) first"
    return Reply(lambda: text.print_figures(title, lines), lines, {"nutrient": asked.sort, "feeds": lines})


def _memory(library: Library) -> Reply:
    by_feed, lines = {}, []
    for feed in library.feeds:
        stored = [line for line in answers.figures_of(feed, library) if line.nutrient in library.figures.get(feed, {})]
        recalled = [line for line in stored if line.how == "memory"]
        by_feed[feed] = (len(recalled), len(stored))
        lines += recalled
    return Reply(lambda: text.print_memory_counts(by_feed), lines, {"figures_from_memory": lines})


def _recalled_by_weight(library: Library) -> Reply:
    """The recalled figures, heaviest first, with the share of all the weight by how figures were obtained."""
    stated = weights_in_demo(library)
    weights = handed_down(stated, library)
    shares, read = share_by_how(weights), share_read(stated, library)
    recalled = [row for row in weights if row.how in RECALLED]
    document = {"share_by_how": shares, "share_read": read, "figures_from_memory": recalled}
    return Reply(lambda: text.print_weights(recalled, shares, read), recalled, document)


def _stages(asked: Asked, library: Library) -> Reply:
    if asked.name in library.stages:
        answer = answers.stage_answer(asked.name, library)
        needs = [row for row in answer.needs if not asked.memory or row.how == "memory"]
        return Reply(
            lambda: detail.print_stage(answer, library, asked.memory),
            needs,
            {"stage": _plain(answer) | {"needs": needs}},
        )
    found = answers.find_stages(library, asked.name, asked.weight_kg, asked.age_weeks)
    if asked.memory:
        ids = {stage.stage for stage in found}
        rows = [row for stage in ids for row in library.requirements.get(stage, ()) if row.how == "memory"]
        return Reply(lambda: write_csv(rows), rows, {"requirements_from_memory": rows})
    if asked.sort:
        return _stages_by_need(asked.sort, {stage.stage for stage in found}, library)
    return Reply(lambda: text.print_stages(found), found, {"stages": found})


def _stages_by_need(nutrient: str, stages: set[str], library: Library) -> Reply:
    answer = answers.nutrient_answer(answers.known(nutrient, library.nutrients, "nutrient", library), library)
    rows = sorted(
        (row for row in answer.needs if row.stage in stages), key=lambda row: -(row.minimum or row.maximum or 0)
    )
    short = answers.NutrientAnswer(answer.nutrient, (), tuple(rows))
    return Reply(lambda: detail.print_nutrient(short), rows, {"nutrient": nutrient, "needs": rows})


def _limits(asked: Asked, library: Library) -> Reply:
    if asked.name in library.stages:
        stage = library.stages[asked.name]
        caps = answers.caps_for(stage, library.feeds, library)
        title = f"Caps of {stage.label} ({stage.stage})"
        return Reply(lambda: text.print_caps(caps, title, by_stage=False), caps, {"stage": stage.stage, "limits": caps})
    if asked.name in library.feeds:
        answer = answers.feed_answer(asked.name, library)

        def show() -> None:
            text.print_caps(answer.caps, f"Maximum of {answer.feed.label}", by_stage=True)
            text.print_evidence(answer.evidence)
            text.print_trials(answer.trials)

        told = {"limits": answer.caps, "evidence": answer.evidence, "trials": answer.trials}
        return Reply(show, answer.caps, {"feed": asked.name, **told})
    words = (
        [answers.known(asked.name, library.feed_limits, "limit", library)] if asked.name else list(library.feed_limits)
    )
    rows = [row for word in words for row in library.feed_limits[word] if not asked.memory or row.how == "memory"]
    trials = [row for word in words for row in library.trials.get(word, ()) if not asked.memory or row.how == "memory"]

    def show_all() -> None:
        text.print_evidence(rows)
        if asked.name and trials:
            text.print_trials(trials)

    return Reply(show_all, rows, {"limits": rows, "trials": trials})


def _sources(asked: Asked, library: Library) -> Reply:
    if asked.name:
        answer = answers.source_answer(asked.name, library)
        return Reply(lambda: detail.print_source(answer), [{"row": row} for row in answer.rows], {"source": answer})
    uses = Counter(part for _, row in answers.sourced_rows(library) for part in row.source.split("; "))
    found = [s for s in library.sources.values() if not asked.memory or s.source.startswith("memory")]
    rows = [asdict(s) | {"rows": uses.get(s.source, 0)} for s in found]
    return Reply(lambda: text.print_sources(found, uses), rows, {"sources": rows})


def _nutrients(asked: Asked, library: Library) -> Reply:
    if asked.name:
        answer = answers.nutrient_answer(asked.name, library)
        return Reply(lambda: detail.print_nutrient(answer), answer.feeds, {"nutrient": answer})
    found = list(library.nutrients.values())
    return Reply(lambda: text.print_nutrients(found), found, {"nutrients": found})


def _equations(asked: Asked, library: Library) -> Reply:
    found = [
        e for e in EQUATIONS.values() if not asked.name or asked.name.lower() in f"{e.id} {e.name} {e.gives}".lower()
    ]
    if not found:
        raise RequestError(
            [
                Problem(
                    "error",
                    "library equations",
                    "",
                    repr(asked.name),
                    "an equation, its id or what it gives",
                    "'rationlp library equations' lists them all.",
                )
            ]
        )
    if asked.memory:
        found = [e for e in found if e.how == "memory"]
    return Reply(lambda: text.print_equations(found), found, {"equations": found})


def _topic_of(name: str, library: Library) -> str:
    """Where an id without a topic belongs; the overview without an id. Raises RequestError for an unknown one."""
    if not name:
        return ""
    for topic, ids in (
        ("feeds", library.feeds),
        ("stages", library.stages),
        ("nutrients", library.nutrients),
        ("limits", library.feed_limits),
        ("sources", library.sources),
    ):
        if answers.one_meant(name, topic.removesuffix("s"), library) in ids:
            return topic
    raise answers.unknown(name, answers.everything(library))


def _plain(value: Any) -> Any:
    """Records as dicts, for JSON and CSV."""
    if is_dataclass(value) and not isinstance(value, type):
        return {name: _plain(getattr(value, name)) for name in value.__dataclass_fields__}
    if isinstance(value, float):
        return float(f"{value:.10g}")  # without the noise of binary arithmetic
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value] if isinstance(value, list | tuple) else value


def _flat(row: Mapping[str, Any]) -> dict[str, Any]:
    return {key: " ".join(map(str, item)) if isinstance(item, list) else item for key, item in row.items()}


_TOPICS: dict[str, Callable[[Asked, Library], Reply]] = {
    "": _overview,
    "feeds": _feeds,
    "stages": _stages,
    "limits": _limits,
    "sources": _sources,
    "nutrients": _nutrients,
    "equations": _equations,
}
TOPICS = tuple(filter(None, _TOPICS))
