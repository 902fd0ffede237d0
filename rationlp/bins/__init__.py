"""From a bin sample to what is in the bin."""

from rationlp.bins.estimate import BinEstimate, estimate_bin

__all__ = ["BinEstimate", "estimate_bin"]
