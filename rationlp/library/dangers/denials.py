"""Whether a dangerous word of a note is denied: `no`, `free of`, `none`, `nd`, before or behind it."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.library.dangers.written_figures import number_of, words

REACH = 7
"""How many words a denial reaches forward: `no sign at all of any treated seed`."""


DENIALS = words(
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
DENIES_NOTHING = words(
    "only just merely simply all every entirely completely fully quite totally wholly sure certain known know "
    "clear tested checked sampled inspected examined screened longer more less doubt idea say tell exclude "
    "excluded rule guarantee guaranteed impossible unlikely cleaned removed sieved separated washed remove "
    "separate clean look without free problem except "
)
HELPING = words("been being be was were is are has have do does did to ")
CLAUSE_ENDS = words(
    ". ; ! ? ( ) [ ] : but however although though except yet instead because since so then now after until "
    "unless besides apart otherwise only "
) | {"\n"}
JOINS = frozenset({"and", "&", "plus", "with"})
ALTERNATIVES = frozenset({"or", "nor", "/"})
HEADS = words("seed seeds grain grains kernel kernels content test screen level spots spot smell residue ")
NOTHING = words("no none nil 0 zero negative neg absent free nd bdl undetected undetectable ")
OF_COUNTED = words("% percent pct g kg lb of pieces kernels seeds grains ")
"""What may stand between `0` and what there is none of."""
SEEN = words("found seen detected present visible observed noticed there used applied any ")


def denied(tokens: Sequence[str], start: int, end: int) -> bool:
    """Whether the word from `start` to before `end` is denied."""
    return _denied_behind(tokens, end) or _denied_before(tokens, start)


# Before the word ------------------------------------------------------------------------------------------------


def _denied_before(tokens: Sequence[str], start: int) -> bool:
    """Whether a denial reaches the word at `start` from before it."""
    joined = listed = False
    between = 0
    if _counted_as_none(tokens, start):
        return True
    for index in range(start - 1, -1, -1):
        token = tokens[index]
        if _denies(tokens, index):
            if (joined or listed) and token not in LISTS:
                return False
            return not _takes_it_back(tokens, index, start)
        if token in CLAUSE_ENDS or between >= REACH:
            return False
        if token == ",":
            listed = listed or not _alternatives_follow(tokens, index + 1)
        elif token in JOINS and not _treated_with(tokens, index):
            joined = True
        elif token not in ALTERNATIVES:
            between += 1
    return False


def _counted_as_none(tokens: Sequence[str], start: int) -> bool:
    """`0 % sprouted`, `0 pieces of glass`."""
    index = start - 1
    while index >= 0 and tokens[index] in OF_COUNTED:
        index -= 1
    return index >= 0 and tokens[index] == "0"


def _treated_with(tokens: Sequence[str], index: int) -> bool:
    """Whether `with` says what was done and joins nothing on: `not treated with thiram`, `never mixed with glass`."""
    return tokens[index] == "with" and index > 0 and tokens[index - 1].endswith("ed")


def _denies(tokens: Sequence[str], index: int) -> bool:
    token = tokens[index]
    if token in FOLLOWED_BY:
        following = tokens[index + 1] if index + 1 < len(tokens) else ""
        return following in FOLLOWED_BY[token].split()
    if token == "no" and index + 1 < len(tokens) and number_of(tokens[index + 1]):
        return False  # No 2 corn
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
    if rest[0] in ("below", "under") and "detection" in rest[1:3]:
        return True
    return rest[0] in NOTHING and (marked or len(rest) == 1 or rest[1] in (*CLAUSE_ENDS, ",", *SEEN))
