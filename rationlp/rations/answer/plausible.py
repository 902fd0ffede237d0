"""The trade's eye on a finished ration, between the solver and the printout.

A program can meet every row and still be no feed: with salt uncapped the cheapest ration of a trial held 8 to 10 %
of it. These bounds are a second net, independent of the caps that were rows of the program.
"""

from __future__ import annotations

from collections.abc import Mapping

from rationlp.figures import feed_label, nutrient_label
from rationlp.library.read import Library
from rationlp.library.records import PlausibleBound, Stage

ANY_STAGE = "all"


def implausible(
    feeds: Mapping[str, float], analysis: Mapping[str, float], stage: Stage | None, library: Library
) -> list[str]:
    """Sentences on what no ration of `stage` would hold; empty if nothing is odd.

    Parameters
    ----------
    feeds : share of the mix by library feed, 0 to 1, the crops inside a bin included
    analysis : nutrients of the mix as fed, in the library's units
    stage : a stage of the library, or None for one of the farm's own, which is held to the widest bounds
    """
    found = []
    for bound in _bounds(stage, library):
        members = library.families.get(bound.measure)
        if members is not None:
            held = 100 * sum(share for feed, share in feeds.items() if feed in members)
            name = feed_label(bound.measure, library)
        elif bound.measure in analysis:
            held, name = analysis[bound.measure], nutrient_label(bound.measure, library)
        else:
            continue
        if held > bound.at_most_pct + 1e-6:
            found.append(f"{name} is {held:.3g} % of the mix; the trade uses at most {bound.at_most_pct:g} % here.")
    return found


def _bounds(stage: Stage | None, library: Library) -> list[PlausibleBound]:
    """Per measure the bound of the nearest scope of the stage."""
    scopes = (*stage.scopes, ANY_STAGE) if stage else (ANY_STAGE,)
    nearest: dict[str, PlausibleBound] = {}
    for bound in sorted((b for b in library.plausible if b.scope in scopes), key=lambda b: scopes.index(b.scope)):
        nearest.setdefault(bound.measure, bound)
    return list(nearest.values())
