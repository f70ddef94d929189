"""What the sweep of a piece of coax says, as records."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class End(StrEnum):
    """What is at the far end of a piece of coax."""

    OPEN = "open"
    SHORT = "short"
    LOAD = "resistor"
    UNKNOWN = "not told by this reading"


@dataclass(frozen=True, slots=True)
class Figure:
    """A number with its 1 sigma, in SI units (loss in dB)."""

    value: float
    sigma: float


@dataclass(frozen=True, slots=True)
class LineFit:
    """A uniform lossy line fitted to a complex sweep.

    delay : s, one way; z0 : ohm; k1, k2 : one-way loss in dB = k1 sqrt(f/MHz) + k2 f/MHz, of the whole piece
    loss : (Hz, dB one way, 1 sigma) at round frequencies inside the sweep
    end : what is at the far end; end_ohm : the resistance there, None for open and short
    misfit : rms of |measured - fitted|; low, high : Hz, the sweep; turns : round trips of phase across the sweep
    """

    delay: Figure
    z0: Figure
    k1: float
    k2: float
    loss: tuple[tuple[float, float, float], ...]
    end: End
    end_ohm: float | None
    misfit: float
    low: float
    high: float
    turns: float


@dataclass(frozen=True, slots=True)
class Echo:
    """A place that reflects, seen in the time domain.

    round_trip : s; metres : distance for the velocity factor used; reflection : at the place itself, signed (above 0
    towards a higher impedance), loss on the way taken off; ohm : impedance beyond it if it is a plain step
    end : True for the far end
    """

    round_trip: float
    metres: float | None
    reflection: float
    ohm: float | None
    end: bool


@dataclass(frozen=True, slots=True)
class TableCheck:
    """Against the row of a cable type. metres : length used; rows : (Hz, dB/100 m measured, 1 sigma, table)."""

    type: str
    velocity_factor: float
    metres: float
    rows: tuple[tuple[float, float, float, float], ...]
    ohm: float
    source: str


@dataclass(frozen=True, slots=True)
class CableFacts:
    """What one sweep says about one piece of coax.

    electrical_metres : m of the same delay in air; velocity_factor, metres : None where neither was given
    fit : None where the sweep has no phase; echoes : by distance; resolution : m or None, limit : m or None, the
    farthest that points of this spacing show without folding back
    loss : (Hz, dB, 1 sigma) from magnitude alone, where there is no fit
    stub : quarter-wave frequencies, Hz, where the piece hangs on a line (two readings of one notch)
    verdicts : sentences, loudest first; cannot : what this sweep does not tell, with the number that misses
    """

    name: str
    points: int
    low: float
    high: float
    electrical_metres: Figure | None
    metres: Figure | None
    velocity_factor: Figure | None
    fit: LineFit | None
    echoes: tuple[Echo, ...]
    resolution: float | None
    limit: float | None
    window: str
    loss: tuple[tuple[float, float, float], ...]
    stub: tuple[tuple[End, float, float], ...]
    table: TableCheck | None
    verdicts: tuple[str, ...]
    cannot: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BandEffect:
    """A piece of coax on one band. degrees : its electrical length at mid band; loss_db : one way, matched

    hanging_db : what it takes from a 50 ohm path where it hangs across it, far end open or shorted, the more of the two
    ends; harmonic_db : the same at (times, open dB, shorted dB)
    """

    band: str
    degrees: float
    loss_db: float
    open_db: float
    short_db: float
    harmonics: tuple[tuple[int, float, float], ...]


@dataclass(frozen=True, slots=True)
class StubEffect:
    """What a coax of the unit does on each band, in place and left hanging.

    quarter : Hz where it is a quarter wave long; ref : its designator
    """

    ref: str
    type: str
    metres: float
    delay: float
    z0: float
    quarter: float
    bands: tuple[BandEffect, ...]
    text: str
