"""The ideal class-B stage: efficiency, current, power from supply and load, harmonics of a half sine.

source: Krauss, Bostian & Raab 1980, Solid State Radio Engineering, ch. 12; closed formulas of any text on the class
"""

from __future__ import annotations

import math


def efficiency(swing: float) -> float:
    """Efficiency (1) of an ideal class-B stage at a fraction of the full voltage swing (0..1).

    raises ValueError outside
    """
    if not 0.0 <= swing <= 1.0:
        raise ValueError(f"a swing lies between 0 and 1, not {swing}")
    return math.pi / 4.0 * swing


def supply_amps(watts: float, volts: float) -> float:
    """Direct current, A, of an ideal push-pull class-B stage at full swing. watts : out; volts : of the supply"""
    return watts / (math.pi / 4.0) / volts


def push_pull_watts(volts: float, across_ohm: float, kept_volts: float = 0.0) -> float:
    """Most power, W, of a push-pull stage: 2 (V - kept)^2 / R.

    across_ohm : from device to device, as the output transformer shows the load; kept_volts : knee or saturation
    """
    return 2.0 * (volts - kept_volts) ** 2 / across_ohm


def best_load(volts: float, kept_volts: float, watts: float) -> float:
    """Load line of one device, ohm: (V - kept)^2 / (2 P). watts : of that device"""
    return (volts - kept_volts) ** 2 / (2.0 * watts)


def half_sine(order: int) -> float:
    """Fourier coefficient of a half sine of peak 1: order 0 is the mean, 1 the fundamental, 2, 4, 6... the harmonics.

    raises ValueError below zero
    """
    if order < 0:
        raise ValueError(f"an order is 0, 1, 2..., not {order}")
    if order == 0:
        return 1.0 / math.pi
    if order == 1:
        return 0.5
    return 0.0 if order % 2 else -2.0 * (-1.0) ** (order // 2) / (math.pi * (order**2 - 1.0))
