"""Poisonous seeds by the names people give them."""

from __future__ import annotations

import re
from functools import lru_cache

from rationlp.library.dangers.records import PoisonousSeed
from rationlp.library.read import Library

FILLER = frozenset({"seed", "kernel", "grain", "plant", "weed", "body", "whole", "the", "of", "raw", "uncooked"})


def poisonous_seed(name: str, library: Library) -> PoisonousSeed | None:
    """The poisonous seed that goes by `name`, as people write it (`Castor beans`, `jimson_weed`), if there is one.

    The whole name must be the seed's: `kidney_beans_cooked` and `castor_free` are other things.
    """
    words = _words(name)
    return _seeds_by_name(library).get(_key(words)) if words else None


@lru_cache(maxsize=8)
def _seeds_by_name(library: Library) -> dict[frozenset[str], PoisonousSeed]:
    """Every name of every seed, as it is compared: its words in the singular, in any order, without filler."""
    found: dict[frozenset[str], PoisonousSeed] = {}
    for row in library.poisonous:
        for name in (row.seed, row.botanical_name, *row.names):
            found.setdefault(_key(_words(name)), row)
    return found


def sentence(row: PoisonousSeed) -> str:
    """What the seed is and what it does, without a full stop."""
    return f"{row.label}, poisonous ({row.what})"


def _words(name: str) -> frozenset[str]:
    return frozenset(_singular(word) for word in re.findall(r"[a-z]+", name.casefold().replace("_", " ")))


def _key(words: frozenset[str]) -> frozenset[str]:
    return (words - FILLER) or words


def _singular(word: str) -> str:
    return word[:-1] if word.endswith("s") and not word.endswith(("ss", "us", "is")) and len(word) > 3 else word
