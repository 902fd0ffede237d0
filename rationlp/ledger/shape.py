"""Mixes, verdicts and signatures as entries of the record, and back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from datetime import date
from typing import Any, TypeVar

from rationlp.errors import Problem
from rationlp.ledger.made_mix import MadeMix, MadePart, Origin
from rationlp.ledger.store import Entry, EntryKind, Record
from rationlp.reasons import Kind, Reason, Severity, Verdict

Told = TypeVar("Told")
UNREADABLE = (OSError, ValueError, KeyError, TypeError, AttributeError)
"""What an entry or a file raises that is not as this program writes it."""


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch as it stands in the record: what went in, how it was judged, and on which day that was.

    `groups` are the animals that got this feed on the day it was made, `faults` what went wrong at the scale,
    `per_head_kg` what a head eats of it a day by the tables.
    """

    made: MadeMix
    verdict: Verdict
    faults: tuple[str, ...] = ()
    groups: tuple[str, ...] = ()
    per_head_kg: float | None = None
    judged_on: str = ""


@dataclass(frozen=True, slots=True)
class Signature:
    """A ration that a nutritionist approved; `where` is the cell or file that says so."""

    ration: str
    signed_by: str
    licence: str = ""
    signed_on: date | None = None
    valid_until: date | None = None
    note: str = ""
    where: str = ""


def printed_entry(made: MadeMix, first: int = 0, boxes: int = 0) -> Entry:
    """A mix on a sheet whose boxes have the batch numbers from `first` on."""
    return Entry(EntryKind.PRINTED, _mix_body(made), first, boxes, made.made_on)


def batch_entry(batch: Batch) -> Entry:
    """A batch that was made."""
    body = {
        "mix": _mix_body(batch.made),
        "reasons": [_known_of(reason) for reason in batch.verdict.reasons],
        "probability_all": batch.verdict.probability_all,
        "without_grain": batch.verdict.without_grain,
        "faults": batch.faults,
        "groups": batch.groups,
        "per_head_kg": batch.per_head_kg,
    }
    return Entry(EntryKind.BATCH, body, batch.made.number, 0, batch.made.made_on)


def signed_entry(signature: Signature) -> Entry:
    """A ration a nutritionist approved."""
    body = asdict(signature) | {
        "signed_on": _day_text(signature.signed_on),
        "valid_until": _day_text(signature.valid_until),
    }
    return Entry(EntryKind.SIGNED, body, made_on=signature.signed_on)


def mix_of(entry: Entry) -> MadeMix:
    """The mix of a printed sheet. Raises ValueError, KeyError or TypeError for what is none."""
    return _mix(entry.body, replace(entry, number=0))


def batch_of(entry: Entry) -> Batch:
    """A batch that was made. Raises ValueError, KeyError or TypeError for what is none."""
    body = entry.body
    verdict = Verdict(_reasons(body["reasons"]), body["probability_all"], body["without_grain"])
    faults, groups = tuple(body["faults"]), tuple(body["groups"])
    return Batch(_mix(body["mix"], entry), verdict, faults, groups, body["per_head_kg"], entry.entered[:10])


def signature_of(entry: Entry) -> Signature:
    """A signature. Raises ValueError, KeyError or TypeError for what is none."""
    body = {key: value for key, value in entry.body.items() if key in {each.name for each in fields(Signature)}}
    return Signature(**body | {"signed_on": _day(body["signed_on"]), "valid_until": _day(body["valid_until"])})


def told(record: Record, kind: EntryKind, read: Callable[[Entry], Told], **asked: Any) -> list[Told]:
    """What the entries of a kind tell; one that cannot be read is left out and stands in `record.damaged`."""
    found, wrong = list[Told](), list[Problem]()
    for entry in record.entries(kind, **asked):
        try:
            found.append(read(entry))
        except UNREADABLE as error:
            wrong.append(damage(record.path.name, f"entry {entry.id}", error))
    record.damaged = tuple(dict.fromkeys((*record.damaged, *wrong)))
    return found


def damage(where: str, entry: str, error: Exception) -> Problem:
    """An entry of the record that cannot be read."""
    return Problem(
        "warning",
        where,
        entry,
        f"an entry that cannot be read ({error})",
        "an entry as this program writes it",
        "It is left out; all others count.",
    )


def _mix_body(made: MadeMix) -> dict[str, Any]:
    """Without the day and the number, which the entry itself has; without what is not known."""
    apart = ("parts", "made_on", "number", "asked")
    body = {key: value for key, value in asdict(made).items() if key not in apart}
    asked = {"asked": [_known_of(reason) for reason in made.asked]} if made.asked else {}
    return body | {"parts": [_known_of(part) for part in made.parts]} | asked


def _known_of(record: MadePart | Reason) -> dict[str, Any]:
    return {key: value for key, value in asdict(record).items() if value not in (None, "")}


def _reasons(bodies: Iterable[Mapping[str, Any]]) -> tuple[Reason, ...]:
    return tuple(
        Reason(**{**reason, "kind": Kind(reason["kind"]), "severity": Severity(reason["severity"])})
        for reason in bodies
    )


def _mix(body: Mapping[str, Any], entry: Entry) -> MadeMix:
    lists = ("parts", "bins", "samples", "eaten_by", "also_for", "asked")
    rest = {key: value for key, value in body.items() if key not in ("origin", *lists)}
    return MadeMix(
        **rest,
        origin=Origin(body["origin"]),
        bins=tuple(body["bins"]),
        samples=tuple(body["samples"]),
        eaten_by=tuple(body.get("eaten_by", ())),
        also_for=tuple(body.get("also_for", ())),
        asked=_reasons(body.get("asked", ())),
        parts=tuple(MadePart(**part) for part in body["parts"]),
        made_on=entry.made_on,
        number=entry.number,
    )


def _day(text: str) -> date | None:
    return date.fromisoformat(text) if text else None


def _day_text(day: date | None) -> str:
    return day.isoformat() if day else ""


def batches_of(record: Record, **asked: Any) -> list[Batch]:
    """The batches of the record in the order of mixing, each as it was entered last; none that was withdrawn since."""
    return in_order(_standing(record, batch_of, lambda batch: batch.made, asked).values())


def batches_beside(record: Record, made: Sequence[MadeMix], since: date | None = None) -> list[Batch]:
    """The batches of the record under the numbers and of the days of `made`, and all from the day `since` on: what was
    made long before says nothing of them."""
    days = [*(each.made_on for each in made if each.made_on), *([since] if since else [])]
    span = (min(days, default=date.max), date.max if since else max(days, default=date.max))
    found = {batch.made.key: batch for batch in batches_of(record, days=span)}
    for each in made:
        if each.number and each.key not in found:
            found |= {batch.made.key: batch for batch in batches_of(record, number=each.number)}
    return in_order(found.values())


def mixes_weighed(record: Record, **asked: Any) -> list[MadeMix]:
    """What went into the batches of the record, without their judgements."""
    return list(_standing(record, lambda entry: _mix(entry.body["mix"], entry), lambda made: made, asked).values())


def _standing(
    record: Record, read: Callable[[Entry], Told], made: Callable[[Told], MadeMix], asked: Mapping[str, Any]
) -> dict[tuple[object, ...], Told]:
    """Each batch by its key as it was entered last, without those that were withdrawn since."""
    withdrawn = {entry.number: entry.id for entry in record.entries(EntryKind.WITHDRAWN)}
    found = told(record, EntryKind.BATCH, lambda entry: (entry.id, read(entry)), **asked)
    return {made(one).key: one for id_, one in found if id_ > withdrawn.get(made(one).number, 0)}


def in_order(batches: Iterable[Batch]) -> list[Batch]:
    """Batches in the order of mixing, undated ones first."""
    return sorted(batches, key=lambda each: (each.made.made_on or date.min, each.made.number, each.made.turn))


def signatures_of(record: Record) -> list[Signature]:
    """The signatures of the record in the order they were entered."""
    return told(record, EntryKind.SIGNED, signature_of)
