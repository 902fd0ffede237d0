"""The feed library: what crops, feeds and animals are like, every figure with its source."""

from rationlp.library.read import Library, load_library

__all__ = ["Library", "load_library"]
