"""From a bin sample to what is in the bin, and how sure that is."""

from rationlp.bins.estimate import estimate_bin, estimate_bins
from rationlp.bins.findings.contaminants import ContaminantLimit, contaminant_limits
from rationlp.bins.findings.impossible import check_bins
from rationlp.bins.model import Agreement, BinEstimate, CropShare, Drift, Finding, NutrientValue
from rationlp.bins.precision import Plan, SamplingAdvice, sampling_advice
from rationlp.book.columns import FOREIGN_MATTER

__all__ = [
    "FOREIGN_MATTER",
    "Agreement",
    "BinEstimate",
    "ContaminantLimit",
    "CropShare",
    "Drift",
    "Finding",
    "NutrientValue",
    "Plan",
    "SamplingAdvice",
    "check_bins",
    "contaminant_limits",
    "estimate_bin",
    "estimate_bins",
    "sampling_advice",
]
