"""Finds what a person means by a name: an id, a label or a word of the trade, and what comes near where it is none.

A name counts whatever its capitals, signs, plurals and order of words: `Meal, soybean 48 %` is `soybean meal 48`. What
is only near is never taken for what was meant.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cached_property, lru_cache
from unicodedata import normalize

ALIKE = 0.75
"""So much alike a name must be to be suggested for a slip of the keys (0 to 1)."""
CLOSE, SWAPPED = 0.9, 0.95
"""So much alike a word is mended before it is taken apart; so much alike are two with neighbouring letters swapped."""
AS_GOOD = 0.06
"""Names that much less alike than the best one are suggested beside it."""
SHORT = 4
"""Words of fewer letters are not mended, but where two letters are swapped: too many are like them."""
TOLD = 6
"""So many names are told in an error."""
FILLER = frozenset({"the", "of", "a", "an", "and", "pct", "percent", "for"})
_TWICE = re.compile(r"(.+?)[\s_]*\((.+)\)")
"""A name with another one in brackets: `Vomitoxin (DON)`."""
_TOKEN = re.compile(r"[^\W\d_]+|\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Name:
    """Something that goes by its `id` and by any of `words`, each of them a whole name: its label, which goes
    before all others, and words of the trade.

    `about` are words that help to find it and are no name of it (`swine`); `kin` is what it must not be mistaken
    across: the species of a stage, the class of a feed. `said` is how an error names it, by default the id. One that is
    `never_near` is told for a slip of its keys or where all words typed are its own, and for nothing that
    only shares a word with it: a poison.
    """

    id: str
    words: tuple[str, ...] = ()
    about: str = ""
    kin: str = ""
    said: str = ""
    never_near: bool = False


def plain(name: object) -> str:
    """A name as it is compared: no spaces around, lower case, `_` for spaces and hyphens inside."""
    return "_".join(str(name).replace("\xa0", " ").replace("-", " ").split()).casefold()


class Finder:
    """Names to look among, the most likely first where nothing else tells them apart.

    `others` are names of things that are not among them: none of these comes near; nor does anything come near a name
    with a word of `strangers` in it: lamb premix is no premix of layers. `parts` are words that make another
    thing of what stands before them (`oil`, `hulls`): only what has them too comes near. `forms` are words that may
    stand behind a name and say nothing (`grower ration`).
    """

    def __init__(
        self,
        names: Iterable[Name],
        others: Iterable[str] = (),
        parts: Iterable[str] = (),
        forms: Iterable[str] = (),
        strangers: Iterable[str] = (),
    ):
        self.names = {name.id: name for name in names}
        self.others, self.parts, self.forms = frozenset(others), frozenset(parts), frozenset(forms)
        self.strangers = frozenset(words_of(" ".join(strangers)))
        self._by_id = {plain(name): name for name in self.names}

    def with_first(self, names: Iterable[Name]) -> Finder:
        """A finder that knows more names, the first to come to mind."""
        more = [name for name in names if name.id not in self.names]
        return Finder([*more, *self.names.values()], self.others, self.parts, self.forms, self.strangers)

    @cached_property
    def _other_keys(self) -> frozenset[object]:
        return frozenset(key for name in self.others for key in _keys(name))

    @cached_property
    def _known(self) -> frozenset[str]:
        """Every word that any of the names has."""
        return frozenset(token for name in self.names.values() for token in _allwords_of(name))

    @cached_property
    def _by_label(self) -> Mapping[object, set[str]]:
        """The ids by each key of their labels; asked for where a name is no id."""
        found: dict[object, set[str]] = defaultdict(set)
        for name in self.names.values():
            for key in (key for label in name.words[:1] for key in _keys(label)):
                found[key].add(name.id)
        return found

    @cached_property
    def _by_key(self) -> Mapping[object, dict[str, None]]:
        """The ids by each key of everything they go by, in their order."""
        found: dict[object, dict[str, None]] = defaultdict(dict)
        for name in self.names.values():
            for written in _written(name):
                for key in _keys(written):
                    found[key][name.id] = None
        return found

    def meant(self, text: str) -> tuple[str, ...]:
        """The ids that go by `text` as a whole name: one, several (then it is to be asked which), or none."""
        exact = self._by_id.get(plain(text))
        if exact is not None:
            return (exact,)
        if self._is_other(text):
            return ()
        labelled = {id_ for key in _keys(text) for id_ in self._by_label.get(key, ())}
        if len(labelled) == 1:
            return tuple(labelled)
        found = tuple(dict.fromkeys(id_ for key in _keys(text) for id_ in self._by_key.get(key, ())))
        twice = _TWICE.fullmatch(text.strip())
        if found or twice is None:
            bare = self._formless(text)
            return found if found or not bare else self.meant(bare)
        outside, inside = self.meant(twice[1]), self.meant(twice[2])
        return outside if outside == inside else ()

    def near(self, text: str) -> tuple[str, ...]:
        """The ids that come near `text`, the likeliest first: by their words, else as a slip of the keys."""
        if found := self.meant(text):
            return found
        words = words_of(self._formless(text) or text)
        mended = self._split(words)
        if self._is_other(text) or self._is_other(" ".join(mended)) or not self.strangers.isdisjoint(words):
            return ()
        if slips := self._slips_of_those_never_near(text):
            return slips
        found = self.meant(" ".join(mended)) or self._sharing_words(text, mended)
        twice = _TWICE.fullmatch(text.strip())
        if not found and twice is not None:
            return self.near(twice[1])
        if not found:
            return self._alike(text)
        return found if mended == list(words) else self._with_other_kin(found, self._ranked(text))

    def _slips_of_those_never_near(self, text: str) -> tuple[str, ...]:
        wanted, names = _squashed(text), [name for name in self.names.values() if name.never_near]
        return tuple(
            name.id for name in names if any(_ratio(wanted, _squashed(word)) >= CLOSE for word in _written(name))
        )

    def suggestion(self, text: str, otherwise: str, most: int = TOLD) -> str:
        """`Did you mean ...?` with what comes near, or what else to do."""
        near = self.near(text)
        return f"Did you mean {self.told(near, most)}?" if near else otherwise

    def told(self, ids: Sequence[str], most: int = TOLD) -> str:
        """The ids as an error names them: `a, b or c`, or `a, b or 9 more`."""
        names = [self.names[id_].said or id_ for id_ in ids]
        return alternatives(names if len(names) <= most else [*names[:most], f"{len(names) - most} more"])

    def _formless(self, text: str) -> str:
        """The text without the words behind it that say only in which form it is fed; empty if there are none."""
        *before, last = words_of(text) or ("",)
        return " ".join(before) if last in self.forms else ""

    def _is_other(self, text: str) -> bool:
        return any(key in self._other_keys for key in _keys(text))

    def _may_be(self, wanted: Sequence[str]) -> list[Name]:
        """The names that hold every part that is typed, and a word of what it is a part of."""
        parts = self.parts.intersection(wanted)
        typed = frozenset(wanted)
        names = [name for name in self.names.values() if not name.never_near or typed <= _words_of_name(name)]
        if not parts:
            return names
        whole = [word for word in _telling(wanted) if word not in parts]
        return [
            name
            for name in names
            if parts <= _words_of_name(name) and (not whole or any(_held(word, _allwords_of(name)) for word in whole))
        ]

    def _sharing_words(self, text: str, wanted: Sequence[str]) -> tuple[str, ...]:
        """Those that hold most of the words `wanted` of `text`, as long as these make up half of it; `soy` finds
        `soybean`."""
        letters = sum(map(len, wanted))
        scores: dict[str, tuple[float, ...]] = {}
        for name in self._may_be(wanted):
            held = sum(len(word) for word in wanted if _held(word, _allwords_of(name)))
            if held and 2 * held >= letters and any(_held(word, _allwords_of(name)) for word in _telling(wanted)):
                scores[name.id] = (-held, *_shape(name, text, wanted))
        if not scores:
            return ()
        most = min(score[0] for score in scores.values())
        return tuple(sorted((name for name in scores if scores[name][0] == most), key=scores.__getitem__))

    def _alike(self, text: str) -> tuple[str, ...]:
        """Those that look like `text`; where only one kin is among the best, the best of another kin too."""
        ranked = self._ranked(text)
        least = max(ranked.values(), default=0.0) - AS_GOOD
        return self._with_other_kin(tuple(name for name in ranked if ranked[name] >= least), ranked)

    def _with_other_kin(self, found: tuple[str, ...], ranked: Mapping[str, float]) -> tuple[str, ...]:
        """What was found for a slip of the keys; where all is of one kin, the most alike of another kin too."""
        kins = {self.names[name].kin for name in found}
        if len(kins) != 1:
            return found
        other = next((name for name in ranked if self.names[name].kin not in kins), None)
        return found if other is None else (*found, other)

    def _ranked(self, text: str) -> dict[str, float]:
        """The names that look like `text` and how much alike each is, the most alike first."""
        wanted = _squashed(text)
        if len(wanted) < 3:
            return {}
        alike = {
            name.id: max(_ratio(wanted, _squashed(w)) for w in (name.id, *name.words))
            for name in self._may_be(words_of(text))
        }
        return {name: alike[name] for name in sorted(alike, key=lambda name: -alike[name]) if alike[name] >= ALIKE}

    def _split(self, tokens: Sequence[str]) -> list[str]:
        """The words as they are known here: taken apart (`soymeal`) or mended (`growr`) where they are not known."""
        found: list[str] = []
        for token in tokens:
            found += [token] if token in self.parts or _held(token, self._known) else _mended(token, self._known)
        return found


def names_of(ids: Iterable[str]) -> Finder:
    """A finder of plain names."""
    return Finder(Name(id_) for id_ in ids)


def alternatives(names: Sequence[str]) -> str:
    """`a, b or c`; by semicolons where a name holds a comma."""
    return f"{_between(names).join(names[:-1])} or {names[-1]}" if len(names) > 1 else "".join(names)


def listed(names: Iterable[str]) -> str:
    """`a, b, c`; by semicolons where a name holds a comma."""
    told = list(names)
    return _between(told).join(told)


def _between(names: Iterable[str]) -> str:
    return "; " if any("," in name for name in names) else ", "


def slip_of(text: str, known: Iterable[str], alike: float) -> str:
    """The one of `known` that `text` is a slip of the keys of, at least so much `alike` (0 to 1), or empty."""
    wanted = plain(text)
    best = max(known, key=lambda name: (_ratio(wanted, plain(name)), plain(name)[:1] == wanted[:1]), default="")
    return best if best and _ratio(wanted, plain(best)) >= alike else ""


def _mended(token: str, known: Collection[str]) -> list[str]:
    """A word that is not known, mended where it is close to one, else taken apart, else mended where it is like one."""
    if token[0].isdigit():
        return [token]
    letters = sorted(known)
    close = slip_of(token, letters, CLOSE if len(token) >= SHORT else SWAPPED)
    if close or len(token) < SHORT:
        return [close or token]
    slip = slip_of(token, letters, ALIKE)
    for at in range(3, len(token) - 2):
        if token[at:] in known and (token[:at] in known or (not slip and _held(token[:at], known))):
            return [token[:at], token[at:]]
    return [slip or token]


def _written(name: Name) -> tuple[str, ...]:
    """Every whole name it goes by."""
    return (name.id, *name.words)


def _ratio(one: str, other: str) -> float:
    if _swapped(one, other):
        return SWAPPED
    if 2 * min(len(one), len(other)) < ALIKE * (len(one) + len(other)):
        return 0.0  # by their lengths alone; most words end here, before a matcher is made
    matcher = SequenceMatcher(None, one, other, autojunk=False)
    return matcher.ratio() if matcher.quick_ratio() >= ALIKE else 0.0


def _swapped(one: str, other: str) -> bool:
    """Whether two words differ by two neighbouring letters that changed places."""
    if len(one) != len(other):
        return False
    differ = [at for at, (a, b) in enumerate(zip(one, other, strict=True)) if a != b]
    return len(differ) == 2 and differ[1] == differ[0] + 1 and sorted(one) == sorted(other)


def _keys(text: str) -> Iterator[object]:
    """What two names have in common that are the same to a person: their words in any order, or their letters."""
    tokens = words_of(text)
    if tokens:
        yield frozenset(token for token in tokens if token not in FILLER) or frozenset(tokens)
        yield "".join(tokens)


def _squashed(text: str) -> str:
    return "".join(words_of(text))


@lru_cache(maxsize=8192)
def words_of(text: str) -> tuple[str, ...]:
    """Words in the singular and numbers, in their order, without accents and signs."""
    bare = "".join(letter for letter in normalize("NFKD", text.casefold()) if not 0x300 <= ord(letter) <= 0x36F)
    return tuple(_singular(word) for word in _TOKEN.findall(bare))


def _singular(word: str) -> str:
    return word[:-1] if word.endswith("s") and not word.endswith(("ss", "us", "is")) and len(word) > 2 else word


@lru_cache(maxsize=4096)
def _words_of_name(name: Name) -> frozenset[str]:
    return frozenset(token for text in _written(name) for token in words_of(text))


@lru_cache(maxsize=4096)
def _allwords_of(name: Name) -> frozenset[str]:
    return _words_of_name(name).union(words_of(name.about))


def _held(word: str, tokens: Iterable[str]) -> bool:
    """Whether a word, or a word that it begins, is among the tokens; numbers must be whole."""
    return any(
        token == word or (len(word) > 1 and not word[0].isdigit() and token.startswith(word)) for token in tokens
    )


def _telling(words: Sequence[str]) -> list[str]:
    """The words that say what is meant: no numbers, single letters or filler."""
    return [word for word in words if len(word) > 1 and not word[0].isdigit() and word not in FILLER]


def _shape(name: Name, text: str, wanted: Sequence[str]) -> tuple[float, ...]:
    """Order among equals: names that begin like the text, then those with the fewest words besides it."""
    start = "".join(wanted)
    begins = any(
        _squashed(written).startswith(start) or plain(written).startswith(plain(text))
        for written in (name.id, *name.words)
    )
    own = any(_held(word, words_of(name.id)) for word in wanted)
    fewest = min(len(words_of(written)) for written in _written(name))
    like = max(SequenceMatcher(None, start, _squashed(written), autojunk=False).ratio() for written in _written(name))
    return (not begins, not own, -round(like, 1), fewest)
