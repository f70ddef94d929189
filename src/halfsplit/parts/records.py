"""What is true of a part on the shelf."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """The kinds of two-terminal part that a drawing shows."""

    CAPACITOR = "capacitor"
    COIL = "coil"
    RESISTOR = "resistor"


@dataclass(frozen=True, slots=True)
class Part:
    """One two-terminal part as the drawing gives it; None means that the drawing is silent.

    value : F, H or ohm; None for a part selected on test
    tolerance : fraction (0.05 is 5 %), as printed
    q : quality factor near the served band
    lead_inductance : H, in series with a capacitor or resistor
    self_capacitance : F, across a coil
    loss_ohm : ohm in series, where the drawing gives it instead of Q
    dielectric : word for a capacitor ("mica", "ceramic", "film"...), for the table of failures
    rating : as printed ("500 V", "3 A"); parts.read_rating understands it
    """

    ref: str
    kind: Kind
    value: float | None
    tolerance: float | None = None
    q: float | None = None
    lead_inductance: float | None = None
    self_capacitance: float | None = None
    loss_ohm: float | None = None
    adjustable: bool = False
    dielectric: str | None = None
    rating: str | None = None
    stated: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Cable:
    """One piece of coax.

    z0 : ohm; velocity_factor : 1; length : m
    k1, k2 : loss in dB per 100 m = k1 sqrt(f/MHz) + k2 f/MHz
    """

    ref: str
    z0: float
    velocity_factor: float
    k1: float
    k2: float
    length: float
    type: str = ""
    note: str = ""
    rating: str | None = None
