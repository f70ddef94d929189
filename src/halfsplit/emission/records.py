"""A spectrum ready to be explained, and what its lines turned out to be."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

Signal = Literal["carrier", "two tones", "voice"]


class Kind(StrEnum):
    """What a line is."""

    CARRIER = "carrier"
    HARMONIC = "harmonic"
    HALF = "half-harmonic"
    THIRD = "sub-harmonic of a third"
    SIDEBAND = "moving sideband"
    HUM = "supply hum"
    FIXED = "fixed line"
    OSCILLATOR = "oscillator or clock"
    PRODUCT = "mixing product"
    INTERMODULATION = "intermodulation of the tones"
    HUMP = "noise hump"
    OWN = "analyser's own product"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a spectrum, referred to the point that was tapped.

    f : Hz as the analyser showed it; sigma_f : Hz, 1 sigma of reading that line off, the axis itself left out
    dbm : dBm at the point, NaN where only ratios are known; dbc : dB relative to the carrier (of two tones: to one)
    at_most : the level is only known to be there or lower; wide : Hz of a broad hump, None for a line
    """

    f: float
    sigma_f: float
    dbm: float
    dbc: float
    at_most: bool = False
    wide: float | None = None


@dataclass(frozen=True, slots=True)
class Spectrum:
    """One spectrum of the unit on one band.

    lines : rising in frequency; carriers : places of the carrier, or of both tones, in `lines`
    span : Hz, lowest and highest frequency that was looked at; floor_dbc : dB below which nothing shows, NaN not known
    rbw : Hz, None not known; axis : 1 sigma of the scale of the frequency axis (1e-4 is 0.01 %)
    dial : Hz, what the transmitter was set to, None not known
    in_front : dB of attenuation in front of the analyser's mixer, NaN not known
    sigma_db : dB, 1 sigma of a level relative to the carrier; watts : (mean, PEP) W, NaN where not known
    raw : taken before the filter; baseline : of this unit when it was sound; metered : watts are a wattmeter's
    """

    key: str
    band: str
    point: str
    lines: tuple[Line, ...]
    carriers: tuple[int, ...]
    span: tuple[float, float]
    signal: Signal
    floor_dbc: float
    rbw: float | None
    axis: float
    dial: float | None
    in_front: float
    sigma_db: float
    watts: tuple[float, float]
    raw: bool = False
    baseline: bool = False
    metered: bool = False
    warnings: tuple[str, ...] = ()

    @property
    def carrier(self) -> float:
        """Hz of the carrier, or the middle of the tones, as the analyser showed it."""
        found = [self.lines[i].f for i in self.carriers]
        return sum(found) / len(found)


@dataclass(frozen=True, slots=True)
class Name:
    """A name for a line: kind and words; f : Hz where the line should then stand on this analyser's axis."""

    kind: Kind
    text: str
    f: float
    order: int = 0
    step: float = 0.0


@dataclass(frozen=True, slots=True)
class Named:
    """A line with its name. also : other names that fit, with their probabilities; reason, means : sentences"""

    line: Line
    name: Name
    probability: float
    also: tuple[tuple[Name, float], ...] = ()
    reason: str = ""
    means: str = ""


@dataclass(frozen=True, slots=True)
class NamedSpectrum:
    """A spectrum with its lines named, in order of frequency.

    scale, scale_sigma : of the frequency axis, found from the lines (1e-4 is 0.01 % high); advice : sentences
    """

    spectrum: Spectrum
    lines: tuple[Named, ...]
    scale: float
    scale_sigma: float
    advice: tuple[str, ...] = ()
