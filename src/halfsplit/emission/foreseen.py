"""Harmonics after the filter, foreseen from those before it and from what the filter does at their frequencies."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import Model, build
from halfsplit.hookup import Hookup
from halfsplit.quantity import db20
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

SIGMA_DB = (0.0, 0.0, 10.0, 6.0)
"""dB, 1 sigma of raw harmonic + filter against what was read after the filter, of even [2] and odd [3] orders.

An amplifier is no 50 ohm source at its harmonics, and how well a balanced stage cancels the even ones hangs on the load
that the filter presents there. source: three readings each of a measured 1 kW push-pull amplifier with known filters:
odd 6.3 dB rms; even 2.7 and 11.3 dB off and one at least 18.5.
"""
LEAK_DB = -85.0
"""dB past any filter of a unit, through the air and along its chassis. source: measured filter bank, -70 to -90 dB."""
SAME_UNIT_DB = 2.5
"""dB, 1 sigma of a harmonic of the same unit read again; common practice (2 to 3 dB)."""


@dataclass(frozen=True, slots=True)
class Raw:
    """A harmonic before the filter. dbc, sigma_db : dB relative to the carrier; source : where it comes from"""

    dbc: float
    sigma_db: float
    source: str


@dataclass(frozen=True, slots=True)
class Foreseen:
    """A harmonic after the filter. order; f : Hz; filter_db : loss there less the loss at the carrier

    dbc, sigma_db : dB relative to the carrier; source : of the raw harmonic; read : that was read on this unit
    """

    order: int
    f: float
    raw_dbc: float
    filter_db: float
    dbc: float
    sigma_db: float
    source: str
    read: bool = False


@cache
def _rows() -> tuple[Mapping[str, object], ...]:
    text = files("halfsplit.emission").joinpath("raw.toml").read_text(encoding="utf-8")
    return tuple(tomllib.loads(text)["row"])


def usual_raw(kind: str, order: int) -> Raw | None:
    """What a stage of that kind usually makes; of an unknown kind the widest row. None beyond the table."""
    rows = [r for r in _rows() if r["order"] == order]
    own = [r for r in rows if r["kind"] == kind] or [r for r in rows if r["kind"] == "any"]
    if not own:
        return None
    return Raw(float(str(own[0]["dbc"])), float(str(own[0]["sigma_db"])), str(own[0]["source"]))


def filter_beyond(unit: Unit, band: str, carrier: float, orders: Sequence[int]) -> Real:
    """Loss (n,) in dB that the path adds at the harmonics over that at the carrier, between its impedances.

    raises HookupError, ModelError
    """
    f = carrier * np.array([1.0, *orders])
    hookup = Hookup(band, unit.path.points[0], unit.path.points[-1], reference="calibrated", source_lead=0.0,
                    detector_lead=0.0, instrument="analyser")  # fmt: skip
    model = Model(build(unit, hookup), f)
    loss = -db20(model.solve(np.zeros((1, len(model.keys)))).transmission()[0])
    return np.asarray(loss[1:] - loss[0])


def foreseen(
    unit: Unit, band: str, carrier: float, raw: Mapping[int, Raw], orders: Sequence[int] = (2, 3, 4, 5)
) -> tuple[Foreseen, ...]:
    """Harmonics after the filter of a band.

    carrier : Hz; raw : by order, what was read before the filter; where there is nothing, what a stage usually makes
    """
    kind = next((s.kind for s in unit.stages if s.name in unit.path.order), "")
    known = {n: r for n in orders if (r := raw.get(n) or usual_raw(kind, n)) is not None}
    beyond = filter_beyond(unit, band, carrier, tuple(known))
    beyond = -10.0 * np.log10(10.0 ** (-beyond / 10.0) + 10.0 ** (LEAK_DB / 10.0))
    return tuple(
        Foreseen(
            n,
            n * carrier,
            r.dbc,
            float(db),
            r.dbc - float(db),
            float(np.hypot(SIGMA_DB[2 + n % 2], r.sigma_db)),
            r.source,
            n in raw,
        )
        for (n, r), db in zip(known.items(), beyond, strict=True)
    )
