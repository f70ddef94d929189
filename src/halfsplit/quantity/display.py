"""From a float to text, as a bench sheet would show it."""

from __future__ import annotations

import math
from decimal import Decimal

from halfsplit.quantity.records import Dimension
from halfsplit.quantity.units import WORDS

_POWERS = {"p": -12, "n": -9, "u": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}
_LOGARITHMIC = (Dimension.DECIBEL, Dimension.LEVEL, Dimension.CARRIER)


def format_value(value: float, dimension: Dimension, digits: int = 4) -> str:
    """The quantity with prefix and unit: "560 pF", "7.05 MHz", "-0.40 dB".

    value : in the unit that `Dimension` states
    digits : significant digits (decibels: two places below 10, one above)
    """
    if dimension is Dimension.TEMPERATURE:
        return _join(_number(value - 273.15, digits), "°C")
    if dimension is Dimension.FRACTION:
        return _join(_number(value * 100, digits), "%")
    unit = WORDS[dimension].out
    if dimension in _LOGARITHMIC:
        return _join(_decibels(value), unit)
    if not math.isfinite(value) or value == 0:
        return _join(_number(value, digits), unit)
    if dimension is Dimension.TIME and abs(value) >= 60:
        return _join(_number(value / 60, digits), "min")
    prefix = _prefix(value, WORDS[dimension].prefixes, digits)
    shown = "\u00b5" if prefix == "u" else prefix
    return _join(_number(value, digits, _POWERS[prefix]), shown + unit)


def _join(number: str, unit: str) -> str:
    return f"{number} {unit}".strip()


def _prefix(value: float, prefixes: tuple[str, ...], digits: int) -> str:
    """The largest prefix that leaves at least 1 in front, after rounding; the smallest one otherwise."""
    rounded = abs(Decimal(f"{value:.{digits - 1}e}"))
    return next((p for p in reversed(prefixes) if rounded.scaleb(-_POWERS[p]) >= 1), prefixes[0])


def _number(value: float, digits: int, power: int = 0) -> str:
    if not math.isfinite(value):
        return "-inf" if value < 0 else ("inf" if value > 0 else "nan")
    scaled = Decimal(f"{value:.{digits - 1}e}").scaleb(-power)
    if scaled == 0:
        return "0"
    text = f"{scaled:f}" if 1e-4 <= abs(scaled) < 10**7 else f"{scaled.normalize():e}"
    return text.rstrip("0").rstrip(".") if "." in text and "e" not in text.lower() else text


def _decibels(value: float) -> str:
    if not math.isfinite(value):
        return _number(value, 4)
    text = f"{value:.2f}" if abs(value) < 9.995 else f"{value:.1f}"
    return text[1:] if float(text) == 0 and text.startswith("-") else text


def hertz(f: float) -> str:
    """A frequency with its unit. f : Hz"""
    return format_value(float(f), Dimension.FREQUENCY)


def percent(p: float, *, spoken: bool = False) -> str:
    """A probability a person can read, never rounded to certainty. spoken : in words, as within a sentence"""
    if p < 0.01:
        return "under 1 %" if spoken else "<1 %"
    if p > 0.99:
        return "over 99 %" if spoken else ">99 %"
    return f"{100 * p:.0f} %"
