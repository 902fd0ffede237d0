"""rationlp: from a bin sample of home-grown mixed grain to least-cost rations and mix sheets."""

__version__ = "0.1.0"
