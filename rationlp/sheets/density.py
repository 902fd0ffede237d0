"""How much room a mix takes: bulk densities of what goes in, ground as it is mixed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rationlp.library.read import Library
from rationlp.sheets.practice import GROUND_OTHERWISE, GROUND_OVER_WHOLE, WHOLE_SEED_GROUPS


def mix_density(feeds: Sequence[tuple[float, Mapping[str, float]]], library: Library) -> tuple[float | None, list[str]]:
    """Bulk density of a mix in kg/m3, and the feeds whose density nobody knows.

    `feeds` gives for each ingredient its share (0 to 1) and the share of each library feed in it. Volumes add up, which
    is on the safe side: small particles fill the room between large ones. None if more than a twentieth is unknown.
    """
    volume, known, unknown = 0.0, 0.0, []
    for share, parts in feeds:
        for feed, part in parts.items():
            density = ground_density(feed, library)
            if density is None:
                unknown.append(feed)
            else:
                volume += share * part / density
                known += share * part
    if known < 0.95:
        return None, unknown
    return known / volume, unknown


def ground_density(feed: str, library: Library) -> float | None:
    """Bulk density of a feed as it goes into the mixer, kg/m3: seeds ground, the rest as delivered."""
    row = library.feeds.get(feed)
    if row is None or not row.bulk_density_kg_m3:
        return None
    if row.group not in WHOLE_SEED_GROUPS:
        return row.bulk_density_kg_m3
    return row.bulk_density_kg_m3 * GROUND_OVER_WHOLE.get(feed, GROUND_OTHERWISE).value
