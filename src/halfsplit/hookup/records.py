"""The hook-up: what goes back in the drawer after the test."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Pad:
    """A matched attenuator between instrument and unit. loss_db : dB; ohm : its impedance."""

    loss_db: float
    ohm: float = 50.0


@dataclass(frozen=True, slots=True)
class Termination:
    """A resistor tied from a point to ground for the test."""

    point: str
    ohm: float


@dataclass(frozen=True, slots=True)
class Hookup:
    """How the instruments are tied on for one test.

    band : name of the band that is switched on
    drive, read : points; read is None for a pure one-port reading
    source_ohm, detector_ohm : ohm; source_tolerance, detector_tolerance : fraction (1 sigma), None: not known
    source_lead, detector_lead : m of clip lead, None: not known, 0 for coax right to the point
    detector_capacitance : F across the detector (a probe)
    source_pad, detector_pad : pads right at the unit
    reference : "through" the reading is relative to a through connection taken with the same leads;
                "calibrated" a two-port analyser calibrated at the unit's sockets;
                "none" the level of the source is only known by its dial
    lifted : "REF" (a part, cable or relay lifted at its first end) or "REF at POINT"
    bridged : pairs of points joined by a short lead
    terminated : resistors tied on
    operated, released : relays worked by hand, whatever the band asks
    instrument : "analyser", "sweeper" (scalar: generator and log detector) or "meter"
    """

    band: str
    drive: str
    read: str | None = None
    source_ohm: float = 50.0
    detector_ohm: float = 50.0
    source_tolerance: float | None = None
    detector_tolerance: float | None = None
    source_lead: float | None = None
    detector_lead: float | None = None
    detector_capacitance: float = 0.0
    source_pad: Pad | None = None
    detector_pad: Pad | None = None
    reference: Literal["through", "calibrated", "none"] = "through"
    lifted: tuple[str, ...] = ()
    bridged: tuple[tuple[str, str], ...] = ()
    terminated: tuple[Termination, ...] = ()
    operated: tuple[str, ...] = ()
    released: tuple[str, ...] = ()
    instrument: Literal["analyser", "sweeper", "meter"] = "sweeper"
    note: str = ""
