"""Our `dataclass` against the standard one: the same classes but for how long they take to make."""

from __future__ import annotations

import dataclasses
import pickle
from dataclasses import FrozenInstanceError, field

import pytest

from rationlp.dataclass import dataclass


def classes(decorator):
    """Records made by a decorator: an ordinary one, one of a field, of none, and a mutable one."""

    @decorator(frozen=True, slots=True)
    class Mix:
        """With a field that does not compare, one that is not printed, and a word of its own."""

        name: str
        share: float = 0.0
        farm: object = field(default=None, compare=False)
        note: str = field(default="", repr=False)

    @decorator(frozen=True, slots=True)
    class One:
        """One field."""

        share: float

    @decorator(frozen=True, slots=True)
    class Nothing:
        """No field."""

    @decorator(slots=True)
    class Open:
        """May be changed."""

        share: float

    @decorator(frozen=True, slots=True, repr=False)
    class Told:
        """Prints itself."""

        share: float

        def __repr__(self):
            return "told"

    @decorator(frozen=True, slots=True, eq=False)
    class Itself:
        """Equal to itself alone."""

        share: float

    return Mix, One, Nothing, Open, Told, Itself


OURS, THEIRS = classes(dataclass), classes(dataclasses.dataclass)


def told(kinds):
    """What records of these classes say of themselves and of each other."""
    mix, one, nothing, open_, own, itself = kinds
    nan = float("nan")
    a, b, c = mix("a", 0.5, farm=1, note="x"), mix("a", 0.5, farm=2, note="x"), mix("a", 0.5, note="y")
    return [
        (a == b, a == c, hash(a) == hash(b), a == ("a", 0.5), a != b),
        [repr(each).replace("classes.<locals>.", "") for each in (a, one(0.1), nothing(), open_(0.2), own(0.3))],
        (one(nan) == one(nan), one(1.0) == one(1), hash(one(2.0)) == hash(one(2)), one(1.0) == open_(1.0)),
        (nothing() == nothing(), hash(nothing()), hash(one(0.5)), open_(1.0) == open_(1.0)),
        (itself(1.0) == itself(1.0), len({mix("a"), mix("a"), mix("b")})),
        dataclasses.astuple(dataclasses.replace(a, share=0.25)),
        [name for name in dataclasses.asdict(a)],
    ]


def test_records_say_what_those_of_the_standard_library_say():
    assert told(OURS) == told(THEIRS)


@pytest.mark.parametrize("kinds", [OURS, THEIRS])
def test_records_are_frozen_or_not_as_asked(kinds):
    with pytest.raises(FrozenInstanceError):
        kinds[0]("a").share = 1.0
    changed = kinds[3](1.0)
    changed.share = 2.0
    assert changed.share == 2.0
    with pytest.raises(TypeError, match="unhashable"):
        hash(changed)


@dataclass(frozen=True, slots=True)
class Sent:
    """A record of a module, which can be sent to another process."""

    share: float
    of: Sent | None = None


def test_records_go_to_another_process_and_back():
    sent = Sent(0.5, Sent(0.25))
    assert pickle.loads(pickle.dumps(sent)) == sent and sent != Sent(0.5)
