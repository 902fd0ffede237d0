"""Reads what people write beside a bin or on a label: dangerous words, and whether they are denied.

`words.csv` has the words and phrases, `word_meanings.csv` what they say. The longest phrase at a place counts, and a
`harmless` one (heat treated, red wheat) takes its words out. A word is denied by `no`, `not`, `without`, `free of` and
the like before it in the same clause, or by `none`, `not found`, `free` behind it. `Not only`, `not all`, `not sure`,
`not tested`, `no longer` and two denials deny nothing: in doubt the word counts.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from rationlp.library.dangers.records import DangerWord, PoisonousSeed, WordMeaning
from rationlp.library.read import Library

HARMLESS = "harmless"
POISONOUS = "poisonous_seed"
REACH = 7
"""How many words a denial reaches forward: `no sign at all of any treated seed`."""


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


DENIALS = _words(
    "no not never none neither nor non un without cannot cant can't don't dont didn't doesn't isn't aren't "
    "wasn't weren't hasn't haven't won't zero nil lacks "
)
LISTS = frozenset({"free", "without", "clear", "clean", "rid", "absence", "lack", "negative"})
"""Denials that go on over `and` and commas: `free of glass, wire and bait`."""
FOLLOWED_BY = {
    "free": "of from",
    "clear": "of for",
    "clean": "of for",
    "rid": "of",
    "absence": "of",
    "lack": "of",
    "negative": "for",
}
DENIES_NOTHING = _words(
    "only just merely simply all every entirely completely fully quite totally wholly sure certain known know "
    "clear tested checked sampled inspected examined screened longer more less doubt idea say tell exclude "
    "excluded rule guarantee guaranteed impossible unlikely cleaned removed sieved separated washed remove "
    "separate clean look without free problem except "
)
HELPING = _words("been being be was were is are has have do does did to ")
CLAUSE_ENDS = _words(
    ". ; ! ? ( ) [ ] : but however although though except yet instead because since so then now after until "
    "unless besides apart otherwise only "
) | {"\n"}
JOINS = frozenset({"and", "&", "plus", "with"})
ALTERNATIVES = frozenset({"or", "nor", "/"})
HEADS = _words("seed seeds grain grains kernel kernels content test screen level spots spot smell residue ")
NOTHING = frozenset({"no", "none", "nil", "0", "zero", "negative", "absent", "free"})
SEEN = _words("found seen detected present visible observed noticed there used applied any ")
_TOKEN = re.compile(r"[a-z0-9']+|[^\sa-z0-9']|\n")


@dataclass(frozen=True, slots=True)
class Danger:
    """A dangerous word that somebody wrote: the words as written and the row they matched."""

    written: str
    row: DangerWord
    meaning: WordMeaning


@dataclass(frozen=True, slots=True)
class _Phrase:
    """The words of a phrase in lower case, the row they come from and what it means."""

    words: tuple[str, ...]
    row: DangerWord
    meaning: WordMeaning


@lru_cache(maxsize=4096)
def dangers_in(text: str, places: tuple[str, ...], library: Library) -> tuple[Danger, ...]:
    """What `text` says that is dangerous and not denied; one of each meaning and animal it kills.

    `places` are the words of the column `where` that speak of this text: `any`, `grain`, `processed`.
    """
    tokens = _tokens(text)
    found: dict[tuple[str, tuple[str, ...]], Danger] = {}
    for start, end, phrase in _matches(tokens, library):
        row = phrase.row
        if (
            row.means == HARMLESS
            or row.where not in places
            or (not _denies_itself(row) and _denied(tokens, start, end))
        ):
            continue
        written = " ".join(tokens[start:end])
        found.setdefault((row.means, row.stop_for), Danger(written, row, phrase.meaning))
    return tuple(found.values())


def _tokens(text: str) -> list[str]:
    plain = text.casefold().replace("’", "'").replace("_", " ").replace("\xa0", " ").replace("\r", "\n")
    plain = re.sub(r"(?<=[a-z0-9])-(?=[a-z0-9])", " ", plain)
    return _TOKEN.findall(plain)


def _matches(tokens: Sequence[str], library: Library) -> Iterable[tuple[int, int, _Phrase]]:
    """The longest phrase at each place, left to right."""
    start = 0
    while start < len(tokens):
        phrase = _longest(tokens, start, library)
        if phrase is None:
            start += 1
            continue
        yield start, start + len(phrase.words), phrase
        start += len(phrase.words)


def _longest(tokens: Sequence[str], start: int, library: Library) -> _Phrase | None:
    best: _Phrase | None = None
    for phrase in _phrases_by_letter(library).get(tokens[start][:1], ()):
        longer = best is None or len(phrase.words) > len(best.words)
        if longer and _fits(tokens[start : start + len(phrase.words)], phrase.words, phrase.row.word.endswith("*")):
            best = phrase
    return best


def _fits(written: Sequence[str], words: Sequence[str], any_ending: bool) -> bool:
    if len(written) < len(words):
        return False
    *first, last = words
    return list(written[:-1]) == first and (written[-1] == last or (any_ending and written[-1].startswith(last)))


@lru_cache(maxsize=8)
def _phrases_by_letter(library: Library) -> dict[str, list[_Phrase]]:
    """Every phrase by the letter it begins with, the words of `words.csv` before the names of poisonous seeds."""
    found: dict[str, list[_Phrase]] = {}
    for row in library.danger_words:
        phrase = _Phrase(tuple(_tokens(row.word.rstrip("*"))), row, library.word_meanings[row.means])
        found.setdefault(phrase.words[0][:1], []).append(phrase)
    for seed in library.poisonous:
        for name in seed.names:
            phrase = _seed_phrase(name, seed, library)
            found.setdefault(phrase.words[0][:1], []).append(phrase)
    return found


def _seed_phrase(name: str, seed: PoisonousSeed, library: Library) -> _Phrase:
    """A name of a poisonous seed, in the singular or plural, as a phrase of a note."""
    general = library.word_meanings[POISONOUS]
    row = DangerWord(word=f"{name}*", means=POISONOUS, where="grain", source=seed.source, how=seed.how)
    label = f"{general.label} ({seed.label})"
    about = replace(general, label=label, text=seed.what, source=seed.source, how=seed.how)
    return _Phrase(tuple(_tokens(name)), row, about)


def _denies_itself(row: DangerWord) -> bool:
    """Whether the phrase is a denial (`do not feed`, `not roasted`): what stands before it changes nothing."""
    return bool(DENIALS & set(_tokens(row.word)))


def _denied(tokens: Sequence[str], start: int, end: int) -> bool:
    return _denied_behind(tokens, end) or _denied_before(tokens, start)


# Before the word ------------------------------------------------------------------------------------------------


def _denied_before(tokens: Sequence[str], start: int) -> bool:
    """Whether a denial reaches the word at `start` from before it."""
    joined = listed = False
    words = 0
    for index in range(start - 1, -1, -1):
        token = tokens[index]
        if _denies(tokens, index):
            if (joined or listed) and token not in LISTS:
                return False
            return not _takes_it_back(tokens, index, start)
        if token in CLAUSE_ENDS or words >= REACH:
            return False
        if token == ",":
            listed = listed or not _alternatives_follow(tokens, index + 1)
        elif token in JOINS and not _treated_with(tokens, index):
            joined = True
        elif token not in ALTERNATIVES:
            words += 1
    return False


def _treated_with(tokens: Sequence[str], index: int) -> bool:
    """Whether `with` says what was done and joins nothing on: `not treated with thiram`, `never mixed with glass`."""
    return tokens[index] == "with" and index > 0 and tokens[index - 1].endswith("ed")


def _denies(tokens: Sequence[str], index: int) -> bool:
    token = tokens[index]
    if token in FOLLOWED_BY:
        following = tokens[index + 1] if index + 1 < len(tokens) else ""
        return following in FOLLOWED_BY[token].split()
    return token in DENIALS


def _alternatives_follow(tokens: Sequence[str], start: int) -> bool:
    """Whether the list after a comma ends with `or`: `no mould, glass or metal`."""
    for token in tokens[start:]:
        if token in CLAUSE_ENDS:
            return False
        if token in ALTERNATIVES:
            return True
    return False


def _takes_it_back(tokens: Sequence[str], denial: int, start: int) -> bool:
    """Whether the denial denies nothing: `not only`, `not been tested for`, `not free of`."""
    following = [token for token in tokens[denial + 1 : start] if token not in HELPING]
    if following and following[0] in DENIES_NOTHING:
        return True
    before = denial - 1
    for index in range(before, max(before - 5, -1), -1):
        if tokens[index] in CLAUSE_ENDS or tokens[index] == "," or tokens[index] in JOINS:
            return False
        if _denies(tokens, index) and tokens[denial] not in ("nor", "none"):
            return True
    return False


# Behind the word ------------------------------------------------------------------------------------------------


def _denied_behind(tokens: Sequence[str], end: int) -> bool:
    """`glass free`, `mould: none`, `ergot not found`, `treated: no`."""
    rest = list(tokens[end : end + 7])
    while rest and rest[0] in HEADS:
        rest = rest[1:]
    if not rest:
        return False
    if rest[0] == "free":
        return rest[1:2] not in (["flowing"], ["running"], ["flow"])
    marked = rest[0] in (":", "=", "?", "-")
    if marked:
        rest = rest[1:]
    while rest and rest[0] in HELPING:
        rest = rest[1:]
    if not rest:
        return False
    if rest[0] in ("not", "never", "no", "nothing"):
        after = [token for token in rest[1:] if token not in HELPING]
        if not after or after[0] in (*CLAUSE_ENDS, ","):
            return marked or rest[0] != "not"
        return after[0] in SEEN
    return rest[0] in NOTHING and (marked or len(rest) == 1 or rest[1] in (*CLAUSE_ENDS, ",", *SEEN))
