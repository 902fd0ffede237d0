"""The bucket: what is too light to find its way through a batch is first thinned by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from rationlp.sheets.practice import DILUTION, HAND_ADD, LEAST_CARRIER
from rationlp.sheets.weights.scale import Scale, down_to, up_to
from rationlp.sheets.weights.whole_program import Way


@dataclass(frozen=True, slots=True)
class Ingredient:
    """So much of a candidate of the formula, measured so."""

    candidate: int
    mass: Fraction
    way: Way


@dataclass(frozen=True, slots=True)
class Scoop:
    """One thing that goes into the bucket."""

    candidate: int
    mass: Fraction
    is_carrier: bool
    way: Way | None = None


@dataclass(frozen=True, slots=True)
class Bucket:
    """The scoops in order; no scoop is more than nine times what is already in."""

    scoops: tuple[Scoop, ...]
    carrier: int | None

    @property
    def mass(self) -> Fraction:
        """All of it."""
        return sum((scoop.mass for scoop in self.scoops), Fraction(0))

    @property
    def carrier_mass(self) -> Fraction:
        """The carrier alone."""
        return sum((scoop.mass for scoop in self.scoops if scoop.is_carrier), Fraction(0))

    @property
    def carrier_share(self) -> float:
        """The carrier as a share of the bucket, 0 to 1."""
        return float(self.carrier_mass / self.mass)


def fill_bucket(
    small: Sequence[Ingredient], carriers: Sequence[Ingredient], batch: Fraction, scale: Scale
) -> Bucket | None:
    """The bucket of everything in `small`, thinned with the first of `carriers` that has enough; None if all is large.

    It is built up to 1 % of the batch, and at least half of it is carrier. The whole of it is a step of the mixer
    scale where that can be had, so that the scale shows it truly.
    """
    if not small:
        return None
    mass = sum((item.mass for item in small), Fraction(0))
    wanted = max(HAND_ADD * batch, mass / (1 - LEAST_CARRIER))
    for carrier in carriers:
        # The carrier's own remainder must stay worth weighing.
        thinner = _carrier_mass(mass, wanted, scale)
        if thinner <= carrier.mass / 2:
            return Bucket(tuple(_scoops(small, carrier.candidate, thinner, scale)), carrier.candidate)
    return Bucket(tuple(_scoops(small, None, Fraction(0), scale)), None)


def _carrier_mass(mass: Fraction, wanted: Fraction, scale: Scale) -> Fraction:
    """What brings `mass` to at least `wanted`: to a whole step of the mixer scale if the hand scale can show that."""
    whole = up_to(wanted, scale.step) - mass
    if whole % scale.hand_step == 0 and whole <= 2 * wanted:
        return whole
    return up_to(wanted - mass, scale.hand_step)


def _scoops(small: Sequence[Ingredient], carrier: int | None, thinner: Fraction, scale: Scale) -> list[Scoop]:
    """Lightest first; the carrier goes in between wherever the next scoop would be more than nine times what is in."""
    first, *others = sorted(small, key=lambda item: item.mass)
    scoops, held = [Scoop(first.candidate, first.mass, False, first.way)], first.mass

    def thin(most: Fraction) -> None:
        nonlocal held, thinner
        part = min(thinner, max(down_to(most, scale.hand_step), scale.hand_step))
        if part > 0 and carrier is not None:
            scoops.append(Scoop(carrier, part, True))
            held, thinner = held + part, thinner - part

    for item in others:
        while item.mass > (DILUTION - 1) * held and thinner > 0:
            thin((DILUTION - 1) * held)
        scoops.append(Scoop(item.candidate, item.mass, False, item.way))
        held += item.mass
    while thinner > 0:
        thin((DILUTION - 1) * held)
    return scoops
