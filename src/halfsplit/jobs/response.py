"""The response of a filter as it is drawn, to be looked at while the values are typed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import ladder_response
from halfsplit.quantity import db20
from halfsplit.unit import Band, Filter, Unit

Real = npt.NDArray[np.float64]
POINTS = 400
FLOOR_DB = -140.0


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """f : (n,) Hz; db : (n,) S21 in dB; bands : that use the filter"""

    f: Real
    db: Real
    bands: tuple[Band, ...]


def drawn_response(unit: Unit, chosen: Filter) -> Drawn | None:
    """S21 of a filter between its own impedance at both ends, over the bands that use it and their harmonics.

    returns None where a part has no value or no band uses the filter; coils without Q take 130, as in `check`
    """
    bands = tuple(b for b in unit.bands if b.filter == chosen.name)
    if not bands or not chosen.rungs or any(p.value is None for p in chosen.parts):
        return None
    low, high = min(b.low for b in bands), max(b.high for b in bands)
    f = np.geomspace(0.3 * low, 6.0 * high, POINTS)
    s21 = ladder_response(chosen, f, chosen.impedance or unit.impedance, 130.0)[:, 1, 0]
    return Drawn(f, np.maximum(db20(s21), FLOOR_DB), bands)
