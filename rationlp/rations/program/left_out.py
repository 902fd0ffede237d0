"""What a formula says before it is solved: bins of which little or nothing may be fed, premixes that are missing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rationlp.feeds.candidates import PREMIX_HALVES, Candidate
from rationlp.figures import feed_label
from rationlp.library.read import Library
from rationlp.numbers import plain
from rationlp.reasons import Kind, Reason, Severity
from rationlp.stages.limits import content, is_law
from rationlp.stages.model import Cap
from rationlp.stages.stage import StageNeeds

BIN = "bin"


@dataclass(frozen=True, slots=True)
class BinRoom:
    """How much of a bin a cap leaves room for: `allows` of the mix, 0 to 1; the capped feed is `holds` of the bin."""

    bin: str
    label: str
    feed: str
    feed_label: str
    holds: float
    max_share: float
    allows: float
    cap: Cap

    @property
    def is_none(self) -> bool:
        """Whether nothing of the bin may be in the mix."""
        return self.max_share == 0

    def reason(self) -> Reason:
        """Why nothing of the bin may be fed."""
        kind = Kind.SAFETY if self.cap.safety else Kind.LAW if is_law(self.cap) else Kind.USUAL
        return Reason(
            kind,
            Severity.STOP if is_law(self.cap) else Severity.FEED if self.cap.own else Severity.ASK,
            f"{self.label} is left out: {self.feed_label} is {plain(100 * self.holds, 3)} % of it, and the cap on it "
            f"is 0 ({self.cap.reason}).",
            feed=self.bin,
            unit="%",
            value=100 * self.holds,
            limit=0.0,
            source=self.cap.source,
        )


def bin_rooms(candidates: Sequence[Candidate], caps: Sequence[Cap], library: Library) -> list[BinRoom]:
    """Every cap that leaves less room than the whole mix for a bin, the tightest first."""
    found = []
    for candidate in candidates:
        if candidate.group != BIN:
            continue
        for cap in caps:
            holds = content(cap, candidate)
            if cap.max_share is not None and holds > cap.max_share:
                found.append(
                    BinRoom(
                        candidate.name,
                        candidate.label or candidate.name,
                        cap.feed,
                        feed_label(cap.feed, library),
                        holds,
                        cap.max_share,
                        cap.max_share / holds,
                        cap,
                    )
                )
    return sorted(found, key=lambda room: (room.bin, room.allows))


def premix_reasons(stage: StageNeeds, candidates: Sequence[Candidate], library: Library) -> Iterator[Reason]:
    """A stop for each half of a premix that nobody offers for a stage of the library."""
    if stage.known is None:
        return
    covered = {part for candidate in candidates for part in candidate.premix_covers}
    missing = [part for part in PREMIX_HALVES.values() if part not in covered]
    if missing:
        words = " and ".join(part.replace("_", " ") for part in missing)
        fitting = [
            feed.label
            for feed in library.feeds.values()
            if set(missing) <= set(feed.premix_covers) and set(stage.known.premix.split()) & set(feed.premix_species)
        ]
        which = f" for them, such as {fitting[0]}," if fitting else " for them"
        yield Reason(
            Kind.PREMIX,
            Severity.STOP,
            f"No premix is on offer that brings these animals {words}. Put one{which} on the sheet supplements.",
        )
