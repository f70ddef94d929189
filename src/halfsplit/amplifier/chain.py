"""A chain of stages: gain, and limiting that sets in softly."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Real = npt.NDArray[np.float64]

SOFT = 3.0
"""Sharpness of the knee (p in watts: the curve is 1 dB down where small-signal gain would just reach saturation)."""
NEPER = 10.0 / (SOFT * float(np.log(10.0)))
COMPRESSED_DB = 10.0 / SOFT * float(np.log10(2.0))
"""Saturated power over that at 1 dB of compression, dB, for this sharpness: 1.003."""


def limited(dbm: Real, most_dbm: Real) -> Real:
    """Output of a stage, dBm. dbm : what small-signal gain would give; most_dbm : its saturated output; same shape.

    source: the knee of C. Rapp 1991, Proc. 2nd European Conf. on Satellite Communications, 179-184, written for power
    """
    over = np.clip((dbm - most_dbm) / NEPER, -200.0, 200.0)
    return np.asarray(dbm - NEPER * np.log1p(np.exp(over)))


def saturated(watts_at_1db: float) -> float:
    """Saturated output, dBm, of a stage that gives so many watts at 1 dB of compression."""
    return 10.0 * float(np.log10(watts_at_1db)) + 30.0 + COMPRESSED_DB


def at_most_one(x: Real) -> Real:
    """The smaller of x and 1, the corner rounded: (1 + x^-8)^(-1/8). x : positive, of any shape"""
    low, ratio = np.minimum(x, 1.0), np.minimum(x, 1.0 / np.maximum(x, 1e-12))
    eighth = ((ratio * ratio) ** 2) ** 2
    return np.asarray(low / np.sqrt(np.sqrt(np.sqrt(1.0 + eighth))))
