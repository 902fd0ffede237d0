"""The feed library: what crops, feeds and animals are like, every figure with its source."""

from rationlp.library.load import load_library
from rationlp.library.read import Library

__all__ = ["Library", "load_library"]
