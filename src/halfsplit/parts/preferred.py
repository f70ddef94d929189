"""Preferred values: the E series of IEC 60063."""

from __future__ import annotations

import math

_E24 = (
    1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
    3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
)  # fmt: skip

TOLERANCES = {6: 0.20, 12: 0.10, 24: 0.05, 48: 0.02, 96: 0.01, 192: 0.005}
"""Tolerance that goes with each series (fraction). Source: IEC 60063, from memory."""


def series(n: int) -> tuple[float, ...]:
    """The n values of one decade, 1 <= value < 10.

    n : 3, 6, 12, 24, 48, 96 or 192
    raises ValueError for any other n
    source: IEC 60063:2015 table 1 (E24, exact list; E12, E6, E3 are every second, fourth, eighth) and table 2
    (E192 = 10^(k/192) to two decimals, with the exception 9.20 instead of 9.19; E96, E48 are every second, fourth)
    """
    if n in (3, 6, 12, 24):
        return _E24[:: 24 // n]
    if n not in (48, 96, 192):
        raise ValueError(f"there is no series E{n}; known: E3, E6, E12, E24, E48, E96, E192")
    step = 192 // n
    return tuple(9.2 if k == 185 else round(10 ** (k / 192), 2) for k in range(0, 192, step))


def nearest(value: float, n: int) -> float:
    """The value of series E`n` nearest to `value` by ratio.

    value : above zero, any unit; returns the same unit
    raises ValueError for a value that is not above zero, or an unknown series
    """
    if not (value > 0 and math.isfinite(value)):
        raise ValueError(f"{value!r} has no nearest preferred value; a finite value above zero is needed")
    decade = math.floor(math.log10(value))
    near = (float(f"{v}e{d}") for d in (decade - 1, decade, decade + 1) for v in series(n))
    return min(near, key=lambda v: abs(math.log(v / value)))
