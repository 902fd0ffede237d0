"""Reads what people write beside a bin or on a label: dangerous words, and whether they are denied.

`words.csv` has the words and phrases, `word_meanings.csv` what they say. The longest phrase at a place counts, and a
`harmless` one (heat treated, red wheat) takes its words out. A word in capitals (DON) counts only as written so, `#` is
any figure and `@` a place that goes by such a name (Mouse Creek, pink field). A word is denied by `no`, `not`,
`without`, `free of` and the like before it in the same clause, by `none`, `nd`, `not found`, `free` behind it, by a
figure of 0, or by one said to be below every published limit. `Not only`, `not all`, `not sure`, `not tested`,
`no longer` and two denials deny nothing: in doubt the word counts.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache, partial

from rationlp.library.contaminant_law import lowest_limit
from rationlp.library.dangers.denials import DENIALS, denied
from rationlp.library.dangers.records import DangerWord, PoisonousSeed, WordMeaning
from rationlp.library.dangers.written_figures import WrittenFigure, figure_at
from rationlp.library.read import Library
from rationlp.units import convert_composition

HARMLESS = "harmless"
POISONOUS = "poisonous_seed"
FIGURE = "#"
"""Stands for a figure in a phrase."""
PLACE = "@"
"""Stands for what a field or farm is called behind the word itself: at most one more word of the name, and these.

A `place` or `section` may be one of the bin: a hot section is hot grain."""
PLACES = {
    *("acres", "creek", "farm", "field", "fields", "hill", "lane", "meadow", "paddock", "pasture", "ranch", "road"),
    *("springs", "street", "township", "valley", "woods"),
}
_TOKEN = re.compile(r"\d+(?:[.,]\d+)*|[A-Za-z][A-Za-z0-9']*|[^\sA-Za-z0-9']|\n")
_LETTERS = re.compile("[a-z]+")
_SPELLINGS = (
    (re.compile(r"(?<=[A-Za-z0-9])-(?=[A-Za-z0-9])"), " "),
    (re.compile(r"\b[nN](?:\.\s?|/)[dD]\b\.?"), "nd"),  # not detected
    (re.compile(r"[µμ]g"), "ug"),
    (re.compile(r"\b0+[.,]?0*\b(?![.,]?\d)"), "0"),
)


@dataclass(frozen=True, slots=True)
class Danger:
    """A dangerous word that somebody wrote: the words as written, the row they matched, and a figure beside them.

    `figure` is in the library's unit of the row's nutrient; None where the row has none or no figure is written.
    """

    written: str
    row: DangerWord
    meaning: WordMeaning
    figure: float | None = None


@dataclass(frozen=True, slots=True)
class _Text:
    """A text in words: in lower case, and as written."""

    tokens: list[str]
    raw: list[str]


@dataclass(frozen=True, slots=True)
class _Phrase:
    """The words of a phrase, the row they come from and what it means."""

    words: tuple[str, ...]
    row: DangerWord
    meaning: WordMeaning


def dangers_in(text: str, places: tuple[str, ...], library: Library) -> tuple[Danger, ...]:
    """What `text` says that is dangerous and not denied; one of each meaning, contaminant and animal it kills.

    `places` are the words of the column `where` that speak of this text: `any`, `grain`, `processed`.
    """
    return _reader(library)(text, places)


@lru_cache(maxsize=8)
def _reader(library: Library) -> Callable[[str, tuple[str, ...]], tuple[Danger, ...]]:
    """What reads texts by a library and keeps what it read; a library that is no longer used goes with its own."""
    return lru_cache(maxsize=4096)(partial(_read, library))


def _read(library: Library, text: str, places: tuple[str, ...]) -> tuple[Danger, ...]:
    said = _text(text)
    found: dict[tuple[str, str, tuple[str, ...]], Danger] = {}
    for start, end, phrase in _matches(said, library):
        row = phrase.row
        if row.means == HARMLESS or row.where not in places:
            continue
        if not _denies_itself(row) and denied(said.tokens, start, end):
            continue
        figure = _figure(said.tokens, start, end, row)
        if figure is not None and _is_nothing(figure, row, library):
            continue
        written = " ".join(said.tokens[start : max(end, figure.end if figure else end)])
        value = None if figure is None else _in_library_unit(figure, row, library)
        found.setdefault((row.means, row.nutrient, row.stop_for), Danger(written, row, phrase.meaning, value))
    return tuple(found.values())


def _text(text: str) -> _Text:
    plain = text.replace("’", "'").replace("_", " ").replace("\xa0", " ").replace("\r", "\n")
    for pattern, meant in _SPELLINGS:
        plain = pattern.sub(meant, plain)
    raw = _TOKEN.findall(plain)
    return _Text([token.casefold() for token in raw], raw)


def _matches(said: _Text, library: Library) -> Iterable[tuple[int, int, _Phrase]]:
    """The longest phrase at each place, left to right."""
    start = 0
    while start < len(said.tokens):
        end, phrase = _longest(said, start, library)
        if phrase is None:
            start += 1
            continue
        yield start, end, phrase
        start = end


def _longest(said: _Text, start: int, library: Library) -> tuple[int, _Phrase | None]:
    best: _Phrase | None = None
    furthest, token = start, said.tokens[start]
    for begins, phrase_of in _phrases_by_letter(library).get(token[:1], ()):
        if not token.startswith(begins):
            continue
        phrase = phrase_of()
        end = _end_of(phrase, said, start)
        if end is not None and end > furthest:
            best, furthest = phrase, end
    return furthest, best


def _end_of(phrase: _Phrase, said: _Text, start: int) -> int | None:
    """The place behind the phrase where it stands at `start`; None where it does not."""
    place = start
    for number, word in enumerate(phrase.words):
        if word == FIGURE:
            figure = figure_at(said.tokens, place)
            if figure is None or figure.value < (phrase.row.at_least or 0.0):
                return None
            place = figure.number_end
            continue
        if word == PLACE:
            behind = _behind_place(said, place)
            if behind is None:
                return None
            place = behind
            continue
        if place >= len(said.tokens):
            return None
        written = (said.raw if word != word.casefold() else said.tokens)[place]
        open_ended = number == len(phrase.words) - 1 and phrase.row.word.endswith("*")
        if written != word and not (open_ended and written.startswith(word)):
            return None
        place += 1
    return place


def _behind_place(said: _Text, place: int) -> int | None:
    """The place behind the name of a field or farm whose second word stands at `place`: `Creek`, `Ivy Hill`."""
    named = place + 1 if any(letters[:1].isupper() for letters in said.raw[place : place + 1]) else place
    return next((at + 1 for at in (place, named) if at < len(said.tokens) and said.tokens[at] in PLACES), None)


Listed = tuple[str, Callable[[], _Phrase]]


@lru_cache(maxsize=8)
def _phrases_by_letter(library: Library) -> dict[str, list[Listed]]:
    """Every phrase by the letter it begins with, the words of `words.csv` before the names of poisonous seeds.

    Each with the letters that the first word of any text it stands in begins with, and made when it is asked for: few
    of the thousand ever are.
    """
    found: dict[str, list[Listed]] = {}
    for row in library.danger_words:
        _list(row.word, partial(_phrase, row, library), found)
    for seed in library.poisonous:
        for name in seed.names:
            _list(name, partial(_seed_phrase, name, seed, library), found)
    return found


def _list(word: str, phrase_of: Callable[[], _Phrase], found: dict[str, list[Listed]]) -> None:
    begins = _LETTERS.match(word.casefold())
    letters = begins[0] if begins else ""
    key = letters[:1] or phrase_of().words[0][:1].casefold()
    found.setdefault(key, []).append((letters, cache(phrase_of)))


def _phrase(row: DangerWord, library: Library) -> _Phrase:
    return _Phrase(tuple(_text(row.word.rstrip("*")).raw), row, library.word_meanings[row.means])


def _seed_phrase(name: str, seed: PoisonousSeed, library: Library) -> _Phrase:
    """A name of a poisonous seed, in the singular or plural, as a phrase of a note."""
    general = library.word_meanings[POISONOUS]
    row = DangerWord(word=f"{name}*", means=POISONOUS, where="grain", source=seed.source, how=seed.how)
    label = f"{general.label} ({seed.label})"
    about = replace(general, label=label, text=seed.what, source=seed.source, how=seed.how)
    return _Phrase(tuple(_text(name).tokens), row, about)


def _denies_itself(row: DangerWord) -> bool:
    """Whether the phrase is a denial (`do not feed`, `not roasted`): what stands before it changes nothing."""
    return bool(DENIALS & set(_text(row.word).tokens))


def _figure(tokens: Sequence[str], start: int, end: int, row: DangerWord) -> WrittenFigure | None:
    """The figure in the phrase or behind it, of a row that speaks of a nutrient."""
    if not row.nutrient:
        return None
    places = range(start, end + 1) if FIGURE in row.word else (end,)
    return next((found for place in places if (found := figure_at(tokens, place)) is not None), None)


def _is_nothing(figure: WrittenFigure, row: DangerWord, library: Library) -> bool:
    """Whether a figure denies the danger: it is 0, or said to lie below a level that no published limit goes under."""
    if figure.value == 0:
        return True
    return figure.below and _in_library_unit(figure, row, library) <= lowest_limit(row.nutrient, library)


def _in_library_unit(figure: WrittenFigure, row: DangerWord, library: Library) -> float:
    """The figure in the unit of the row's nutrient, which it has where none is written."""
    unit = library.nutrients[row.nutrient].unit
    return convert_composition(figure.value, figure.unit or unit, unit)
