"""Finders over what the library knows: feeds, crops, stages, nutrients, each by id, label and words of the trade."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from rationlp.finder import Finder, Name
from rationlp.library.cited import short_words
from rationlp.library.names.records import Synonym
from rationlp.library.read import Library
from rationlp.library.records import Feed, Stage

POISON = "poison"
"""The kin of poisonous seeds, which are found so that none of them is taken for a crop."""
SPECIES_WORDS = {
    "swine": "pig swine hog",
    "chicken": "chicken poultry bird",
    "turkey": "turkey poultry bird",
    "duck": "duck poultry bird",
}
KIND_WORDS = {"gestation": "sow", "lactation": "sow", "nursery": "weaner piglet"}
_PARTS = """
oil meal cake expeller hull husk bran germ gluten starch protein flour flake middling screening pulp pellet straw chaff
hay silage haylage stover cob sprout fat seed
"""
PARTS = frozenset(_PARTS.split())
"""Words that make another feed of a plant, in the singular: pea protein is no pea (common practice)."""
FORMS = frozenset(["feed", "ration", "diet", "mash", "meal", "pellet", "crumble", "crumb", "nut", "mix"])
"""What stands behind the name of animals where their feed is meant (common practice)."""
_IN_BRACKETS = re.compile(r"\s*\([^)]*\)")


@lru_cache(maxsize=8)
def feed_finder(library: Library) -> Finder:
    """Every feed of the library, poisonous seeds among them (their ids are no feeds)."""
    return _feeds_among(library, [*_feed_names(library, library.feeds.values()), *_poisons(library)])


@lru_cache(maxsize=8)
def crop_finder(library: Library, besides: str) -> Finder:
    """The crops of the library, what else a hand sort may hold (`besides`), and poisonous seeds."""
    crops = [feed for feed in library.feeds.values() if feed.origin == "crop"]
    return _feeds_among(
        library, [_named(besides, "", library, "feed"), *_feed_names(library, crops), *_poisons(library)]
    )


@lru_cache(maxsize=8)
def family_finder(library: Library) -> Finder:
    """Feeds and families of feeds: what a cap may speak of."""
    families = [Name(family) for family in library.families if family not in library.feeds]
    return feed_finder(library).with_first(families)


@lru_cache(maxsize=8)
def stage_finder(library: Library) -> Finder:
    """Every stage of the library."""
    names = (_stage_name(stage, library) for stage in library.stages.values())
    others = _others(library, "stage")
    return Finder(names, others, forms=FORMS, strangers=_animals(others))


@lru_cache(maxsize=8)
def nutrient_finder(library: Library) -> Finder:
    """Every nutrient of the library."""
    names = [_named(row.nutrient, row.label, library, "nutrient", kin=row.kind) for row in library.nutrients.values()]
    return Finder(names, _others(library, "nutrient"))


@lru_cache(maxsize=8)
def source_finder(library: Library) -> Finder:
    """Every source of the library, by its id and by what sentences call it."""
    return Finder([Name(row.source, (short_words(row),)) for row in library.sources.values()])


def _feeds_among(library: Library, names: Iterable[Name]) -> Finder:
    return Finder(names, _others(library, "feed"), PARTS, strangers=_animals(_others(library, "stage")))


def _animals(others: Iterable[str]) -> Iterable[str]:
    """The animals that the library has no figures of, of the names of such stages those of one word."""
    return (word for word in others if word.isalpha())


def _others(library: Library, kind: str) -> tuple[str, ...]:
    """Words of the trade for what the library has no figures of."""
    rows = (row for row in library.table("synonyms", Synonym) if row.kind == kind and not row.means)
    return tuple(word for row in rows for word in row.names)


def _feed_names(library: Library, feeds: Iterable[Feed]) -> list[Name]:
    return [_named(feed.feed, feed.label, library, "feed", about=feed.group, kin=feed.group) for feed in feeds]


def _said(id_: str, label: str) -> str:
    """An id with its label in brackets, where that says more."""
    same = sorted(re.findall(r"\w+", label.casefold())) == sorted(id_.casefold().split("_"))
    return id_ if same or not label else f"{id_} ({label})"


def _stage_name(stage: Stage, library: Library) -> Name:
    about = f"{stage.kind} {stage.species} {SPECIES_WORDS.get(stage.species, '')} {KIND_WORDS.get(stage.kind, '')}"
    return _named(stage.stage, stage.label, library, "stage", about=about, kin=stage.species)


def _poisons(library: Library) -> list[Name]:
    return [
        Name(row.seed, (row.label, *row.names), kin=POISON, said=f"{row.seed} (poisonous)", never_near=True)
        for row in library.poisonous
    ]


def _named(id_: str, label: str, library: Library, kind: str, about: str = "", kin: str = "") -> Name:
    words = [word for word in (label, _IN_BRACKETS.sub("", label)) if word]
    names = dict.fromkeys([*words, *_synonyms(library).get((kind, id_), ())])
    return Name(id_, tuple(names), about, kin, _said(id_, label))


@lru_cache(maxsize=8)
def _synonyms(library: Library) -> dict[tuple[str, str], tuple[str, ...]]:
    """The words of the trade of each feed, stage and nutrient."""
    found: dict[tuple[str, str], tuple[str, ...]] = {}
    for row in library.table("synonyms", Synonym):
        for id_ in row.means:
            found[row.kind, id_] = (*found.get((row.kind, id_), ()), *row.names)
    return found
