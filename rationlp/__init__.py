"""rationlp: from a bin sample of home-grown mixed grain to least-cost rations and mix sheets."""

from rationlp.version import __version__

__all__ = ["__version__"]
