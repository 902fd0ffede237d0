"""Every table of the library: which model reads which file."""

from __future__ import annotations

from rationlp.library import records
from rationlp.library.dangers import records as danger_records
from rationlp.library.dangers.records import DANGER_TABLES
from rationlp.library.names.records import GrainWord, Synonym
from rationlp.library.records import LibraryRow
from rationlp.library.trial_caps import Trial

TABLES: dict[str, type[LibraryRow]] = {
    "nutrients": records.Nutrient,
    "feeds": records.Feed,
    "composition": records.Figure,
    "estimates": records.Estimate,
    "premixes": records.PremixFigure,
    "stages": records.Stage,
    "requirements": records.Requirement,
    "ceilings": records.Ceiling,
    "housing": records.Housing,
    "ratios": records.Ratio,
    "families": records.FamilyMember,
    "feed_limits": records.FeedLimit,
    "trials": Trial,
    "plausible": records.PlausibleBound,
    "cautions": records.Caution,
    "contaminants": danger_records.Contaminant,
    "organic_rules": records.OrganicRule,
    "storage": records.StorageFact,
    "prices": records.Price,
    "lot_variation": records.LotVariation,
    "lab_variation": records.LabVariation,
    "grain_words": GrainWord,
    "probe_patterns": records.ProbePattern,
    "sources": records.Source,
    "synonyms": Synonym,
    **DANGER_TABLES,
}
