"""How the analyser was tied to the unit for a spectrum, and from what it showed to lines at the tapped point."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, Literal

import numpy as np

from halfsplit.emission.peaks import Peaks, is_list, listed, peaks_of
from halfsplit.emission.records import Line, Signal, Spectrum
from halfsplit.errors import Mistake, ReadingError
from halfsplit.quantity import dbm_from_watt, watt_from_dbm
from halfsplit.reading import SpectralReading
from halfsplit.unit import Band, Unit

ANALYSER_DBM = 30.0
"""An input of 1 W is the usual limit of an analyser; common practice."""
SIGMA_DB = 1.5
"""1 sigma of a level against another on one display: scale and flatness of the usual analyser; common practice."""
AXIS = 1e-4
"""1 sigma of the scale of an analyser's frequency axis where nothing is said; common practice."""
TONES_APART, TONES_EVEN = 30e3, 3.0
"""Two lines within this many Hz and dB of each other are taken for the tones of a two-tone test."""
PEP_OF_TONE, MEAN_OF_TONES = 20.0 * math.log10(2.0), 10.0 * math.log10(2.0)
"""Two equal tones: PEP is 4 times the power of one, the mean is twice. source: RR Nos. 1.157, 1.158."""


@dataclass(frozen=True, slots=True)
class Tap:
    """One spectrum's hook-up.

    band : name, "" to find it by the carrier; point : where the signal was taken from the unit
    pad_db : dB between the point and the analyser, all pads together; pad_watts : W that they stand, None not said
    coupler : (Hz, dB) of a directional coupler or sampler before the pads, () none; straight lines over log f
    attenuation_db : of the analyser's own input, None not said; rbw : Hz, None; axis, sigma_db : 1 sigma
    dial : Hz, what the transmitter was set to, None; watts : W by the wattmeter, None; watts_are : what these are
    """

    band: str
    point: str
    pad_db: float = 0.0
    pad_watts: float | None = None
    coupler: tuple[tuple[float, float], ...] = ()
    attenuation_db: float | None = None
    rbw: float | None = None
    axis: float = AXIS
    sigma_db: float = SIGMA_DB
    dial: float | None = None
    watts: float | None = None
    watts_are: Literal["mean", "PEP"] = "PEP"
    signal: Signal | None = None
    note: str = ""

    def to_dict(self) -> dict[str, Any]:
        """As JSON values."""
        return {**asdict(self), "coupler": [list(x) for x in self.coupler]}

    @staticmethod
    def from_dict(data: Mapping[str, Any]) -> Tap:
        """The tap of `to_dict`. raises ReadingError for a field that this version does not know"""
        strange = sorted(set(data) - {f.name for f in fields(Tap)})
        if strange:
            raise ReadingError(
                Mistake("spectrum in the job file", ", ".join(strange), "fields that this version knows")
            )
        return Tap(**{**data, "coupler": tuple((float(f), float(db)) for f, db in data.get("coupler", ()))})

    def in_front(self, f: float) -> float:
        """dB between the point and the analyser at f (Hz), its own attenuator left out."""
        if not self.coupler:
            return self.pad_db
        at = [math.log(x) for x, _ in self.coupler]
        return self.pad_db + float(np.interp(math.log(max(f, 1.0)), at, [db for _, db in self.coupler]))

    def words(self) -> str:
        """The hook-up in one line."""
        parts = [f"{self.band}: spectrum at {self.point}, transmitter keyed"]
        if self.coupler:
            low, high = (f(db for _, db in self.coupler) for f in (min, max))
            parts.append(f"coupler {low:g} dB" if low == high else f"coupler {low:g} to {high:g} dB")
        if self.pad_db:
            stands = "" if self.pad_watts is None else f" for {self.pad_watts:g} W"
            parts.append(f"pads {self.pad_db:g} dB{stands}")
        if self.attenuation_db is not None:
            parts.append(f"analyser's attenuator {self.attenuation_db:g} dB")
        if self.rbw is not None:
            parts.append(f"resolution {self.rbw:g} Hz")
        if self.dial is not None:
            parts.append(f"dial {self.dial / 1e6:.6g} MHz")
        if self.watts is not None:
            parts.append(f"{self.watts:g} W {self.watts_are}")
        return ", ".join(parts) + (f" ({self.note})" if self.note else "")


def spectrum_of(unit: Unit, tap: Tap, reading: SpectralReading, key: str) -> Spectrum:
    """A reading as a spectrum at the tapped point.

    raises ReadingError where no carrier stands on a band of the unit, or pads and analyser cannot have stood the power
    """
    shown = shown_of(reading, tap)
    band, places = carriers_of(unit, tap, shown, reading.name)
    signal: Signal = tap.signal or ("two tones" if len(places) == 2 else "carrier")
    strongest = max(places, key=lambda i: shown.level[i])
    front = [0.0 if shown.relative else tap.in_front(f) for f in shown.f]
    level = [x + a for x, a in zip(shown.level, front, strict=True)]
    reference = level[strongest]
    mean = MEAN_OF_TONES if len(places) == 2 else 0.0
    pep = PEP_OF_TONE if len(places) == 2 else 0.0
    watts = powers(tap, math.nan if shown.relative else reference, mean, pep)
    absolute = dbm_of_reference(tap, shown.relative, reference, mean, pep)
    warnings = [*reading.warnings, *stood(tap, shown, level, reading.name)]
    lines = tuple(
        Line(f, s, absolute + x - reference, x - reference, bound, wide)
        for f, s, x, bound, wide in zip(shown.f, shown.sigma_f, level, shown.at_most, shown.wide, strict=True)
    )
    floor = shown.floor + (0.0 if shown.relative or shown.floor_relative else tap.in_front(band.low))
    floor_dbc = floor if shown.floor_relative else floor - reference
    total = math.nan if tap.attenuation_db is None else tap.in_front(band.low) + tap.attenuation_db
    warnings += power_differs(tap, shown.relative, reference, mean, pep)
    return Spectrum(
        key, band.name, tap.point, lines, places, shown.span, signal, floor_dbc, tap.rbw, tap.axis, tap.dial, total,
        tap.sigma_db, watts, before_filter(unit, tap.point), metered=tap.watts is not None, warnings=tuple(warnings),
    )  # fmt: skip


def before_filter(unit: Unit, point: str) -> bool:
    """Whether a point of the path lies before its filter."""
    order = unit.path.order
    return "filter" in order and point in order and order.index(point) < order.index("filter")


def shown_of(reading: SpectralReading, tap: Tap) -> Peaks:
    """What the analyser showed as lines, whether they were typed or a trace. raises ReadingError"""
    if reading.trace is not None:
        return (listed if is_list(reading.trace) else peaks_of)(reading.trace, tap.rbw)
    if len({x.relative for x in reading.lines}) > 1:
        return mixed_levels(reading, tap)
    relative = reading.lines[0].relative
    sigma = [max(x.step / 2.0, (tap.rbw or 0.0) / 20.0) for x in reading.lines]
    floor = math.nan if reading.floor is None else reading.floor
    f = [x.f for x in reading.lines]
    span = (0.0, 1.05 * max(f)) if len(f) < 2 or min(f) < 0.6 * max(f) else near_span(f)
    return Peaks(
        tuple(f), tuple(sigma), tuple(x.level for x in reading.lines), tuple(x.at_most for x in reading.lines),
        tuple(x.wide for x in reading.lines), span, floor, relative, relative or reading.floor_relative,
    )  # fmt: skip


def near_span(f: list[float]) -> tuple[float, float]:
    """Range of lines that all stand close together, as on a display about the carrier."""
    room = 0.15 * (max(f) - min(f))
    return min(f) - room, max(f) + room


def mixed_levels(reading: SpectralReading, tap: Tap) -> Peaks:
    """Lines some of which are in dBm and some relative to the carrier: all in dBm, by the strongest of those."""
    from dataclasses import replace

    reference = max(x.level for x in reading.lines if not x.relative)
    lines = tuple(replace(x, level=x.level + reference * x.relative, relative=False) for x in reading.lines)
    floor, relative = reading.floor, reading.floor_relative
    if floor is not None and relative:
        floor, relative = floor + reference, False
    return shown_of(replace(reading, lines=lines, floor=floor, floor_relative=relative), tap)


def carriers_of(unit: Unit, tap: Tap, shown: Peaks, name: str) -> tuple[Band, tuple[int, ...]]:
    """The band and the places of the carrier or of both tones. raises ReadingError where none stands on a band"""
    bands = [b for b in unit.bands if not tap.band or b.name == tap.band]
    narrow = [i for i in range(len(shown.f)) if shown.wide[i] is None and not shown.at_most[i]]
    if not narrow:
        raise ReadingError(Mistake(name, "no line above the noise", "a spectrum with the carrier in it"))
    strongest = max(narrow, key=lambda i: shown.level[i])
    if tap.dial is not None:
        strongest = min(narrow, key=lambda i: abs(shown.f[i] - float(tap.dial or 0.0)))
        room = 6.0 * math.hypot(tap.axis * tap.dial, shown.sigma_f[strongest]) + TONES_APART
        if abs(shown.f[strongest] - tap.dial) > room:
            found = f"no line near {tap.dial / 1e6:g} MHz; the nearest is {shown.f[strongest] / 1e6:.6g} MHz"
            raise ReadingError(Mistake(name, found, "the carrier among the lines; --carrier says what the dial shows"))
    f = shown.f[strongest]
    room = 4.0 * math.hypot(tap.axis * f, shown.sigma_f[strongest])
    here = [b for b in bands if b.low - room <= f <= b.high + room]
    if not here:
        listed = ", ".join(f"{b.name} {b.low / 1e6:g} to {b.high / 1e6:g} MHz" for b in unit.bands)
        where = f"not on {tap.band}" if tap.band else "on no band of the unit"
        expected = f"the carrier as the strongest line, on a band ({listed}); or --carrier with what the dial shows"
        raise ReadingError(Mistake(name, f"the strongest line stands at {f / 1e6:.6g} MHz, {where}", expected))
    return here[0], tones(shown, strongest, narrow, tap.signal)


def tones(shown: Peaks, strongest: int, narrow: list[int], signal: Signal | None) -> tuple[int, ...]:
    """The carrier alone, or both tones where two lines stand close together and equally strong."""
    f, top = shown.f[strongest], shown.level[strongest]
    room = TONES_EVEN if signal is None else 10.0
    near = [
        i for i in narrow
        if i != strongest and abs(shown.f[i] - f) < TONES_APART and shown.level[i] > top - room
    ]  # fmt: skip
    if signal in ("carrier", "voice") or not near or (signal is None and len(near) > 1):
        return (strongest,)
    other = max(near, key=lambda i: shown.level[i])
    return tuple(sorted((strongest, other)))


def powers(tap: Tap, reference: float, mean: float, pep: float) -> tuple[float, float]:
    """(mean, PEP) in W: by the wattmeter where it was read, else by the level of the carrier (dBm, NaN not known)."""
    if tap.signal == "voice":
        pep_read = tap.watts is not None and tap.watts_are == "PEP"
        read = math.nan if tap.watts is None else tap.watts
        return (math.nan, read) if pep_read else (read, math.nan)
    if tap.watts is not None:
        step = pep - mean
        if tap.watts_are == "PEP":
            return watt_from_dbm(dbm_from_watt(tap.watts) - step), tap.watts
        return tap.watts, watt_from_dbm(dbm_from_watt(tap.watts) + step)
    if math.isnan(reference):
        return math.nan, math.nan
    return watt_from_dbm(reference + mean), watt_from_dbm(reference + pep)


def dbm_of_reference(tap: Tap, relative: bool, reference: float, mean: float, pep: float) -> float:
    """dBm of the carrier (of two tones: of one) at the point, NaN not known."""
    if not relative:
        return reference
    return math.nan if tap.watts is None else dbm_from_watt(tap.watts) - (pep if tap.watts_are == "PEP" else mean)


def power_differs(tap: Tap, relative: bool, reference: float, mean: float, pep: float) -> list[str]:
    """A sentence where wattmeter and analyser disagree by more than both can be off."""
    if tap.watts is None or relative:
        return []
    expected = dbm_from_watt(tap.watts) - (pep if tap.watts_are == "PEP" else mean)
    off = reference - expected
    if abs(off) < 3.0:
        return []
    return [
        f"the carrier comes to {watt_from_dbm(reference + mean):.3g} W at {tap.point}, the wattmeter says "
        f"{tap.watts:g} W ({tap.watts_are}): {off:+.1f} dB apart; check pads and coupler"
    ]


def stood(tap: Tap, shown: Peaks, level: list[float], name: str) -> list[str]:
    """What pads and analyser had to take. returns warnings; raises ReadingError beyond a rating"""
    if shown.relative:
        return []
    watts = sum(watt_from_dbm(x - (tap.in_front(f) - tap.pad_db)) for x, f in zip(level, shown.f, strict=True))
    at_input = dbm_from_watt(sum(watt_from_dbm(x) for x in shown.level))
    mistakes, warnings = [], []
    if tap.pad_watts is not None and watts > tap.pad_watts:
        expected = "a pad or coupler that stands it; the loss of an overloaded pad is not what it says"
        mistakes.append(Mistake(name, f"{watts:.3g} W into pads for {tap.pad_watts:g} W", expected))
    if at_input > ANALYSER_DBM:
        expected = f"at most {ANALYSER_DBM:g} dBm (1 W, the usual limit): more pads, or say the pads that were there"
        mistakes.append(Mistake(name, f"{at_input:.1f} dBm at the analyser", expected))
    if mistakes:
        raise ReadingError(*mistakes)
    if tap.pad_db and tap.pad_watts is None and watts > 1.0:
        warnings.append(f"{watts:.3g} W go into the pads, and their rating was not said (--pad-rating)")
    return warnings
