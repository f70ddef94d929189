"""Watts, amps, volts and temperatures: what the meters showed with the key down, row by row."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Shows(StrEnum):
    """What one figure is."""

    POWER = "power"  # W into a stated impedance that ends the path there
    REFLECTED = "reflected power"  # W coming back from the load
    RF_VOLTS = "RF volts"  # V rms, in circuit
    SUPPLY_VOLTS = "supply volts"  # V at the unit
    SUPPLY_AMPS = "supply amps"  # A of the whole unit
    STANDING_AMPS = "standing amps"  # A of the whole unit, keyed without drive
    TEMPERATURE = "temperature"  # K


@dataclass(frozen=True, slots=True)
class LevelRow:
    """One figure.

    band : name of the band; shows : what it is
    point : where, "supply" for volts and amps, "FINAL case" for a temperature
    value : W, V rms, A or K at the unit: pad and probe are counted in
    ohm : impedance that a power is stated on, None for everything else; probe : as stated, "" none
    step : of the read-out, same unit as value; accuracy : 1 sigma as a fraction, None: usual for its kind
    load : "dummy load" or "antenna" at the end of the path; text : as it was written
    look : figures of one look, read together with the key down, have the same number
    """

    band: str
    shows: Shows
    point: str
    value: float
    ohm: float | None = None
    probe: str = ""
    step: float = 0.0
    accuracy: float | None = None
    load: str = "dummy load"
    text: str = ""
    look: int = 0


@dataclass(frozen=True, slots=True)
class LevelReading:
    """A table of such figures. name : file, or "typed"; original : as it came in; understood : in one line"""

    name: str
    rows: tuple[LevelRow, ...]
    original: bytes
    understood: str
    warnings: tuple[str, ...] = ()
