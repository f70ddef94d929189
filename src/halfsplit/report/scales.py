"""Axes: where a value lies on the paper, and which values are worth a tick."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Real = npt.NDArray[np.float64]

SETS = ((1.0, 2.0, 5.0), (1.0, 3.0), (1.0,), (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0))


@dataclass(frozen=True, slots=True)
class Scale:
    """From a value to paper units. low < high; start, end : paper; log : logarithmic, both ends above zero."""

    low: float
    high: float
    start: float
    end: float
    log: bool = False

    def at(self, value: npt.ArrayLike) -> Real:
        """Place on the paper, kept within the axis. value : (n,); returns (n,)"""
        return self.free(np.clip(np.asarray(value, float), self.low, self.high))

    def free(self, value: npt.ArrayLike) -> Real:
        """Place on the paper or beyond its edge. value : (n,), above zero on a logarithmic axis; returns (n,)"""
        v = np.asarray(value, float)
        if self.log:
            share = np.log(v / self.low) / math.log(self.high / self.low)
        else:
            share = (v - self.low) / (self.high - self.low)
        return np.asarray(self.start + share * (self.end - self.start), float)

    def one(self, value: float) -> float:
        """Place of one value."""
        return float(self.at([value])[0])


def frequency_scale(f: Real, start: float, end: float) -> Scale:
    """Logarithmic axis over the points; one point, or equal ones, stand in the middle of a tenth each way."""
    low, high = float(f.min()), float(f.max())
    if high / low < 1.02:
        low, high = low / 1.1, high * 1.1
    return Scale(low, high, start, end, log=True)


def level_scale(low: float, high: float, start: float, end: float, least: float = 1.0) -> Scale:
    """Linear axis with some air. least : smallest span, in the unit of the axis."""
    span = max(high - low, least)
    middle, half = 0.5 * (low + high), 0.54 * span
    return Scale(middle - half, middle + half, start, end)


def even_ticks(low: float, high: float, wanted: int) -> list[float]:
    """Round values between low and high, about as many as wanted."""
    raw = (high - low) / max(wanted, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= 0.75 * raw)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [n * step for n in range(first, last + 1)]


def frequency_ticks(scale: Scale) -> list[float]:
    """Hz: the round values of a logarithmic axis; even steps where the axis is short."""
    for mantissas in SETS:
        decades = range(math.floor(math.log10(scale.low)), math.ceil(math.log10(scale.high)) + 1)
        found = [m * 10.0**d for d in decades for m in mantissas]
        found = [x for x in found if scale.low * 0.9999 <= x <= scale.high * 1.0001]
        if 3 <= len(found) <= 8:
            return found
    return even_ticks(scale.low, scale.high, 4)


def tick_text(value: float) -> str:
    """A tick's figure, without exponent or trailing zeros."""
    text = f"{value:.6g}"
    if "e" in text:
        text = f"{value:.9f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text.replace("-", "\u2212")
