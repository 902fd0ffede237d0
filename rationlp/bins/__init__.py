"""From a bin sample to what is in the bin, and how sure that is."""

from rationlp.bins.estimate import estimate_bin, estimate_bins
from rationlp.bins.findings.impossible import check_bins
from rationlp.bins.model import Agreement, BinEstimate, BinFinding, CropShare, Drift, NutrientValue
from rationlp.book.columns import FOREIGN_MATTER

__all__ = [
    "FOREIGN_MATTER",
    "Agreement",
    "BinEstimate",
    "BinFinding",
    "CropShare",
    "Drift",
    "NutrientValue",
    "check_bins",
    "estimate_bin",
    "estimate_bins",
]
