"""Single-layer air coils: what one has, how many turns it needs, which way and how far to squeeze or stretch it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from halfsplit.parts import windings

ENAMEL = 1.08
"""Enamelled wire over its copper: 6 % at 1 mm, 10 % at 0.4 mm (IEC 60317 grade 1, from memory); touching turns."""
WIDEST_PITCH = 0.5
"""Pitch / diameter beyond which the turns are no stack of rings any more: 3 % off there (see windings.round_wire)."""
THICKEST_WIRE = 0.34
BY_HAND = 0.03
"""What callipers and hands leave open in the inductance of a coil (common practice)."""
FORMULA = 0.01


class CoilError(ValueError):
    """A coil that cannot be, or that the formulas do not cover. found, expected : in words, with what misses"""

    def __init__(self, found: str, expected: str) -> None:
        super().__init__(f"{found}; expected {expected}")
        self.found, self.expected = found, expected


@dataclass(frozen=True, slots=True)
class AirCoil:
    """One coil. diameter : m between wire centres; length : m, turns times pitch; wire : m, the copper's diameter

    raises CoilError for one that cannot be or that the formulas do not cover
    """

    diameter: float
    length: float
    turns: float
    wire: float

    def __post_init__(self) -> None:
        for name in ("diameter", "length", "wire"):
            if not (getattr(self, name) > 0 and math.isfinite(getattr(self, name))):
                raise CoilError(f"a {name} of {1e3 * getattr(self, name):.3g} mm", "more than zero")
        if not self.turns >= 1.0:
            raise CoilError(f"{self.turns:g} turns", "one turn or more: less than one is a piece of wire")
        if self.wire > THICKEST_WIRE * self.diameter:
            found = f"wire of {1e3 * self.wire:.3g} mm on a diameter of {1e3 * self.diameter:.3g} mm"
            raise CoilError(found, f"wire up to {1e3 * THICKEST_WIRE * self.diameter:.3g} mm there")
        if self.pitch < self.wire * (1 - 1e-9):
            found = f"{self.turns:g} turns of {1e3 * self.wire:.3g} mm wire on {1e3 * self.length:.3g} mm"
            raise CoilError(found, f"{1e3 * self.turns * self.wire:.3g} mm or more: turns would lie over each other")
        if self.pitch > WIDEST_PITCH * self.diameter * (1 + 1e-9):
            found = f"a pitch of {1e3 * self.pitch:.3g} mm on a diameter of {1e3 * self.diameter:.3g} mm"
            expected = (
                f"up to {1e3 * WIDEST_PITCH * self.diameter:.3g} mm: beyond it the formula is off by more than 3 %"
            )
            raise CoilError(found, expected)

    @property
    def pitch(self) -> float:
        """From turn to turn, m."""
        return self.length / self.turns

    @property
    def henry(self) -> float:
        """Inductance, H."""
        return windings.round_wire(self.diameter, self.length, self.turns, self.wire)

    @property
    def spread(self) -> float:
        """How far the real coil may be off, as a share: the hands, the formula, and where in the wire the current runs.

        In thick touching turns it crowds to their inside: up to half a wire off the diameter, taken as half of that
        """
        crowding = 0.5 * self.wire / self.diameter * (self.wire / self.pitch) ** 2
        return BY_HAND + FORMULA * max(1.0, 3.0 * self.pitch / (WIDEST_PITCH * self.diameter)) + crowding

    @property
    def farad(self) -> float:
        """What stands for its resonance, F."""
        return windings.self_capacitance(self.diameter, self.length)

    @property
    def resonance(self) -> float:
        """Its own resonance, Hz, some 10 % (half of what the capacitance is known to)."""
        return 1.0 / (2.0 * math.pi * math.sqrt(self.henry * self.farad))

    @property
    def wire_length(self) -> float:
        """Wire in the winding, without leads, m."""
        return self.turns * math.hypot(math.pi * self.diameter, self.pitch)

    def q(self, f: float) -> float:
        """Estimate of its Q, never above what the skin alone allows. f : Hz"""
        return min(windings.air_q(self.diameter, self.length, f), self.q_of_skin(f))

    def q_of_skin(self, f: float) -> float:
        """Q if the turns did not see each other: an upper bound. f : Hz"""
        return 2.0 * math.pi * f * self.henry / windings.skin_ohms(self.wire_length, self.wire, f)

    def stretched(self, length: float) -> AirCoil:
        """The same wire and turns at another length."""
        return AirCoil(self.diameter, length, self.turns, self.wire)


def shortest(turns: float, wire: float) -> float:
    """Length of touching enamelled turns, m."""
    return turns * wire * ENAMEL


def longest(turns: float, diameter: float) -> float:
    """Length at which the formulas end, m."""
    return turns * WIDEST_PITCH * diameter


def length_for(henry: float, diameter: float, turns: float, wire: float) -> float:
    """Length at which a coil has that inductance, m.

    raises CoilError where neither touching turns nor the widest pitch reach it, with what they reach
    """
    from scipy.optimize import brentq

    low, high = shortest(turns, wire), longest(turns, diameter)
    most, least = (AirCoil(diameter, x, turns, wire).henry for x in (low, high))
    if not least <= henry <= most:
        end, reach = ("touching turns", most) if henry > most else (f"{1e3 * high:.3g} mm", least)
        raise CoilError(
            f"{1e6 * henry:.4g} uH from {turns:g} turns on {1e3 * diameter:.3g} mm",
            f"{'at most' if henry > most else 'at least'} {1e6 * reach:.4g} uH ({end}): "
            f"{'more' if henry > most else 'fewer'} turns",
        )
    return float(brentq(lambda x: AirCoil(diameter, x, turns, wire).henry - henry, low, high, xtol=1e-9))


MOST_TURNS = 500.0


def turns_at_pitch(henry: float, diameter: float, wire: float, pitch: float) -> float:
    """Turns that make the inductance at a given pitch, a fraction of a turn included. raises CoilError"""
    from scipy.optimize import brentq

    def off(turns: float) -> float:
        return AirCoil(diameter, turns * pitch, turns, wire).henry - henry

    if off(1.0) > 0:
        least = 1e6 * (off(1.0) + henry)
        raise CoilError(
            f"{1e6 * henry:.4g} uH on {1e3 * diameter:.3g} mm", f"at least {least:.4g} uH, that of one turn"
        )
    if off(MOST_TURNS) < 0:
        most = 1e6 * (off(MOST_TURNS) + henry)
        raise CoilError(
            f"{1e6 * henry:.4g} uH on {1e3 * diameter:.3g} mm", f"at most {most:.4g} uH ({MOST_TURNS:g} turns)"
        )
    return float(brentq(off, 1.0, MOST_TURNS, xtol=1e-9))


def turns_at_length(henry: float, diameter: float, wire: float, length: float) -> float:
    """Turns that make the inductance on a given length. raises CoilError where they do not fit, or need more room"""
    from scipy.optimize import brentq

    fewest, most = max(1.0, length / (WIDEST_PITCH * diameter)), length / wire
    if most < fewest:
        raise CoilError(f"a length of {1e3 * length:.3g} mm", f"{1e3 * wire:.3g} mm or more: room for one turn")
    ends = [AirCoil(diameter, length, n, wire).henry for n in (fewest, most)]
    if not ends[0] <= henry <= ends[1]:
        raise CoilError(
            f"{1e6 * henry:.4g} uH on {1e3 * diameter:.3g} mm by {1e3 * length:.3g} mm",
            f"{1e6 * ends[0]:.4g} uH ({fewest:.2g} turns) to {1e6 * ends[1]:.4g} uH ({most:.3g} touching turns)",
        )
    return float(brentq(lambda n: AirCoil(diameter, length, n, wire).henry - henry, fewest, most, xtol=1e-9))


class Move(StrEnum):
    """What to do with a coil."""

    LEAVE = "leave"
    SQUEEZE = "squeeze"
    STRETCH = "stretch"
    ADD = "add turns"
    REMOVE = "remove turns"


@dataclass(frozen=True, slots=True)
class Adjustment:
    """Which way and how far. by : m of length, negative is squeezing; turns : to add (negative: to remove)

    length : m, afterwards; coil : as it is then; reach : H, what this coil reaches by stretching and by squeezing alone
    """

    move: Move
    by: float
    turns: float
    length: float
    coil: AirCoil
    reach: tuple[float, float]


CLOSE = 0.005
"""Nearer than this to the wanted value there is nothing to do by hand."""
LARGEST_STRETCH = 1.5
"""Rather than stretch a coil beyond this times its length, a turn is taken off where that gets there (our choice)."""


def adjustment(coil: AirCoil, wanted: float, present: float | None = None) -> Adjustment:
    """From the coil as it is to the inductance wanted: by its length, else by whole turns and then its length.

    wanted, present : H; present is what was measured: the formula is scaled to it. None: the formula's own figure
    raises CoilError where no whole number of turns gets there
    """
    scale = (present or coil.henry) / coil.henry
    target = wanted / scale
    ends = tuple(scale * x for x in reach(coil))
    if abs(target / coil.henry - 1.0) < CLOSE:
        return Adjustment(Move.LEAVE, 0.0, 0.0, coil.length, coil, (ends[0], ends[1]))
    here = _remade(coil, target, coil.turns)
    step, turns = (1.0 if target > coil.henry else -1.0), coil.turns
    while (here is None or here.length > LARGEST_STRETCH * coil.length) and 1.0 <= turns + step <= MOST_TURNS:
        turns += step
        other = _remade(coil, target, turns)
        if other is None and here is not None:
            break
        here = other
    if here is None:
        raise CoilError(
            f"{1e6 * wanted:.4g} uH from a coil of {1e6 * coil.henry * scale:.4g} uH on {1e3 * coil.diameter:.3g} mm",
            f"{1e6 * ends[0]:.4g} to {1e6 * ends[1]:.4g} uH with its turns, or another diameter",
        )
    by, added = here.length - coil.length, here.turns - coil.turns
    move = Move.ADD if added > 0 else Move.REMOVE if added < 0 else Move.SQUEEZE if by < 0 else Move.STRETCH
    return Adjustment(move, by, added, here.length, here, (ends[0], ends[1]))


def reach(coil: AirCoil) -> tuple[float, float]:
    """Inductance of a coil stretched to the widest pitch and squeezed until its turns touch, H."""
    low = min(shortest(coil.turns, coil.wire), coil.length)
    return coil.stretched(longest(coil.turns, coil.diameter)).henry, coil.stretched(low).henry


def _remade(coil: AirCoil, henry: float, turns: float) -> AirCoil | None:
    """The same wire and diameter with other turns, at the length that makes the inductance; None where none does."""
    try:
        return AirCoil(coil.diameter, length_for(henry, coil.diameter, turns, coil.wire), turns, coil.wire)
    except CoilError:
        return None
