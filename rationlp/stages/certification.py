"""What an organic certificate lets into the mix, with the rule for everything it keeps out or limits."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from rationlp.book.records import Book, Offer
from rationlp.feeds.candidates import Candidate
from rationlp.library.cited import cited
from rationlp.library.read import Library
from rationlp.library.records import Feed, OrganicRule, Stage

NAMES = {"us_organic": "US organic", "eu_organic": "EU organic"}
RULES_OF = {"us_organic": "us", "eu_organic": "eu"}
ALLOWED, WITH_LIMIT, IF_CERTIFIED = "allowed", "allowed_with_limit", "if_certified_organic"
PROHIBITED, UNKNOWN = "prohibited", "unknown"
KEPT = (ALLOWED, WITH_LIMIT, "kept unknown")
OWN_SHARE_WORDS = "Share of feed from the own farm"
PROTEIN_WORDS = "Non-organic protein feed"
PIGLET_KG = 35.0  # to this weight piglets may have the protein exception (organic_rules.csv)


@dataclass(frozen=True, slots=True)
class Certified:
    """The candidates a certificate lets in, what is said of the others, and what the farm must look into."""

    kept: tuple[Candidate, ...]
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


def certified(candidates: Iterable[Candidate], book: Book, library: Library) -> Certified:
    """The candidates that the book's certification allows, and a sentence for each rule that bars or limits some.

    A feed whose status is not known is left out with a warning: unknown is not a yes. Only where the book says that the
    offer is certified it is kept, still with the warning. The farm's own bins are taken to be of the certified farm.
    """
    certification = book.farm.certification
    if certification == "none":
        return Certified(tuple(candidates))
    kept: list[Candidate] = []
    said: dict[tuple[str, str], list[str]] = {}
    for candidate in candidates:
        verdict, rule = (
            (ALLOWED, "")
            if candidate.group == "bin"
            else _verdict(candidate.feed, candidate.organic, certification, library)
        )
        if verdict in KEPT:
            kept.append(candidate)
        if verdict != ALLOWED:
            said.setdefault((verdict, rule), []).append(candidate.label)
    name = NAMES[certification]
    lines = [
        (verdict, f"{name}: {', '.join(labels)} {_words(verdict, rule)}") for (verdict, rule), labels in said.items()
    ]
    return Certified(
        tuple(kept),
        tuple(line for verdict, line in lines if UNKNOWN not in verdict),
        tuple(line for verdict, line in lines if UNKNOWN in verdict),
    )


def status_of(feed: Feed | None, certification: str) -> tuple[str, str]:
    """The library's status word of a feed under a certificate, and the rule in words."""
    if certification == "none":
        return ALLOWED, ""
    if feed is None:
        return IF_CERTIFIED, "a feed of the farm's own"
    words, rule = (feed.us_organic, feed.us_organic_rule) if certification == "us_organic" else (feed.eu_organic, "")
    status = words.split(" ")[0].rstrip(";") if words else ""
    if status not in (ALLOWED, WITH_LIMIT, IF_CERTIFIED, PROHIBITED):
        return UNKNOWN, f"the library knows no rule for it{f' ({words})' if words else ''}"
    return status, rule or words.replace("_", " ")


def not_let_in(book: Book, library: Library) -> list[tuple[Offer, str, bool]]:
    """The offers that the book's certificate keeps out of every ration, what is said of each, and whether it would be
    let in if certified."""
    certification = book.farm.certification
    found = []
    for offer in book.supplements if certification != "none" else ():
        verdict, rule = _verdict(offer.feed, offer.organic, certification, library)
        if verdict not in KEPT:
            words = f"{NAMES[certification]}: {_words(verdict, rule)}".rstrip(".")
            found.append((offer, words, verdict != PROHIBITED))
    return found


def _verdict(feed: str, organic: bool | None, certification: str, library: Library) -> tuple[str, str]:
    """What a certificate says of an offer of a feed that is, is not or may be certified, and the rule."""
    status, rule = status_of(library.feeds.get(feed), certification)
    if status == UNKNOWN:
        return ("kept unknown" if organic else UNKNOWN), rule
    if status != IF_CERTIFIED or organic:
        return (ALLOWED if status == IF_CERTIFIED else status), rule
    return ("not certified" if organic is False else "unknown certificate"), rule


def _words(verdict: str, rule: str) -> str:
    return {
        PROHIBITED: f"left out: {rule}.",
        WITH_LIMIT: f"allowed within limits: {rule}.",
        "not certified": f"left out, not certified organic: {rule}.",
        "unknown certificate": f"left out, the book does not say whether certified (column organic): {rule}.",
        UNKNOWN: f"left out, status not known: {rule}. Ask the certifier.",
        "kept unknown": f"kept because the book says it is certified, but {rule}. Ask the certifier.",
    }[verdict]


def share_of_own_feed(home_grown_share: float, book: Book, library: Library) -> list[str]:
    """A warning where less of the ration is home-grown than the certificate asks of the farm or its region."""
    warnings = []
    for row in _rules(book.farm.certification, OWN_SHARE_WORDS, library):
        if row.number and 100 * home_grown_share < float(row.number) - 1e-6:
            warnings.append(
                f"{NAMES[book.farm.certification]}: {100 * home_grown_share:.1f} % of this mix is home-grown; at least "
                f"{row.number} % of the feed must come from the farm itself or its region ({row.citation}; "
                f"{cited(row.source, library.sources)}). Be ready to show where the rest was grown."
            )
    return warnings


def protein_exception(stage: Stage | None, feeds: Mapping[str, float], book: Book, library: Library) -> list[str]:
    """What is said of the exception for protein feed that is not organic; the program never makes use of it."""
    if stage is None or not _is_young(stage):
        return []
    return [
        f"{NAMES[book.farm.certification]}: {row.rule}: up to {row.number} {row.unit} ({row.citation}; "
        f"{cited(row.source, library.sources)}; "
        f"{row.note}). This mix makes no use of it: every feed in it is calculated as certified or allowed."
        for row in _rules(book.farm.certification, PROTEIN_WORDS, library)
        if feeds
    ]


def _is_young(stage: Stage) -> bool:
    if stage.species == "swine":
        return (
            stage.weight_from_kg is not None
            and stage.weight_from_kg < PIGLET_KG
            and stage.kind in ("nursery", "grower")
        )
    return "poultry_growing" in stage.scopes or "pullet" in stage.scopes


def _rules(certification: str, words: str, library: Library) -> list[OrganicRule]:
    return [
        row
        for row in library.organic_rules
        if row.jurisdiction == RULES_OF.get(certification) and row.rule.startswith(words)
    ]
