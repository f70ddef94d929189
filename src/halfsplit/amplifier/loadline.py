"""The load line: what a stage that is limited in current and in voltage delivers into any load.

source: S. C. Cripps 1983, A theory for the prediction of GaAs FET load-pull power contours, IEEE MTT-S Digest, 221-223
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]


def permitted(z: npt.ArrayLike, best_ohm: npt.ArrayLike, swing: npt.ArrayLike = 1.0) -> Real:
    """Most power into a load, against the most into the best load (1).

    z : ohm, of any shape; best_ohm : ohm; swing : voltage that the supply permits, against the nominal one
    returns the shape of all broadcast; a load without a real part takes nothing
    """
    z, best = np.asarray(z, complex), np.asarray(best_ohm, float)
    size = np.maximum(np.abs(z), 1e-12)
    amps = np.minimum(1.0, np.asarray(swing, float) * best / size)
    return np.asarray(np.maximum(z.real, 0.0) / best * amps**2)


@dataclass(frozen=True, slots=True)
class Contour:
    """Loads that cost a given power, as two arcs that meet: constant resistance and constant conductance.

    low_ohm, high_ohm : where it crosses the real axis; reactance : ohm, where the arc of constant resistance ends;
    susceptance : siemens, where that of constant conductance ends
    """

    db: float
    low_ohm: float
    high_ohm: float
    reactance: float
    susceptance: float

    def points(self, n: int = 41) -> Complex:
        """The closed contour, (2 n,) ohm, from the low end round by inductive loads."""
        x = np.linspace(-self.reactance, self.reactance, n)
        b = np.linspace(-self.susceptance, self.susceptance, n)
        return np.concatenate([self.low_ohm + 1j * x, 1.0 / (1.0 / self.high_ohm + 1j * b)])


def contour(db: float, best_ohm: float) -> Contour:
    """The contour that costs `db` (zero or more) against the best load. raises ValueError below zero."""
    if db < 0.0:
        raise ValueError(f"a contour costs zero dB or more, not {db}")
    share = 10.0 ** (-db / 10.0)
    low, high = best_ohm * share, best_ohm / share
    reactance = math.sqrt(max(best_ohm**2 - low**2, 0.0))
    susceptance = math.sqrt(max(1.0 / best_ohm**2 - 1.0 / high**2, 0.0))
    return Contour(db, low, high, reactance, susceptance)


def at_swr(swr: float) -> tuple[float, float]:
    """(worst, best) power in dB against the best load, over all phases of a standing wave ratio referred to it.

    raises ValueError below 1
    """
    if swr < 1.0:
        raise ValueError(f"a standing wave ratio is 1 or more, not {swr}")
    return -10.0 * math.log10(swr), 10.0 * math.log10(2.0 * swr / (1.0 + swr**2))
