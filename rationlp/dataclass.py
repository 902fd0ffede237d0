"""The standard library's `dataclass`, for files with many records: its classes are made in half the time.

It writes comparison, hash and repr anew for each class and compiles them, which takes every command that begins a tenth
of its time. Here each is one function for all classes, of the same meaning.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:
    import dataclasses
    from collections.abc import Callable
    from operator import attrgetter
    from reprlib import recursive_repr

    def dataclass(*, eq: bool = True, repr: bool = True, frozen: bool = False, **told: bool) -> Callable[[type], type]:
        """A decorator that takes what the standard one does, but for `order` and `unsafe_hash`."""

        def made(cls: type) -> type:
            own = vars(cls).keys()
            new = dataclasses.dataclass(cls, eq=False, repr=False, frozen=frozen, **told)
            fields = dataclasses.fields(new)
            if eq and "__eq__" not in own:
                values = _values_of([field.name for field in fields if field.compare])
                new.__eq__ = _equality(values)
                if "__hash__" not in own:
                    new.__hash__ = (lambda record: hash(values(record))) if frozen else None
            if repr and "__repr__" not in own:
                new.__repr__ = _words([field.name for field in fields if field.repr])
            return new

        return made

    def _values_of(names: list[str]) -> Callable[[object], tuple[object, ...]]:
        """What gives the values of these fields of a record."""
        if len(names) > 1:
            return attrgetter(*names)
        return lambda record: tuple(getattr(record, name) for name in names)

    def _equality(values: Callable[[object], tuple[object, ...]]) -> Callable[[object, object], bool]:
        def equal(record: object, other: object) -> bool:
            return values(record) == values(other) if other.__class__ is record.__class__ else NotImplemented

        return equal

    def _words(names: list[str]) -> Callable[[object], str]:
        @recursive_repr()
        def words(record: object) -> str:
            told = ", ".join(f"{name}={getattr(record, name)!r}" for name in names)
            return f"{record.__class__.__qualname__}({told})"

        return words
