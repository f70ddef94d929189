"""Ladders for the checks, built as records of the unit room."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import ladder_response
from halfsplit.filters import Ladder, capacitor_value, coil_value
from halfsplit.parts import Kind, Part
from halfsplit.quantity import db20
from halfsplit.unit import Filter, Rung

Array = npt.NDArray[np.float64]


def capacitor(n: int, farad: float, q: float | None = None) -> Rung:
    return Rung("shunt", (Part(f"C{n}", Kind.CAPACITOR, farad, q=q),))


def coil(n: int, henry: float, q: float | None = None, ohm: float | None = None) -> Rung:
    return Rung("series", (Part(f"L{n}", Kind.COIL, henry, q=q, loss_ohm=ohm),))


def trap(n: int, henry: float, farad: float, q: float | None = None) -> Rung:
    parts = (Part(f"L{n}", Kind.COIL, henry, q=q), Part(f"C{n}", Kind.CAPACITOR, farad))
    return Rung("series", parts, "across")


def shunt_first(
    g: Sequence[float] | Array,
    partner: Sequence[float] | Array | None = None,
    hertz: float = 1e6,
    ohm: float = 50.0,
    q_coil: float | None = None,
    q_capacitor: float | None = None,
) -> Filter:
    """A prototype brought to `hertz` and `ohm`, first arm in shunt."""
    rungs = []
    for k, value in enumerate(g):
        if k % 2 == 0:
            rungs.append(capacitor(k + 1, capacitor_value(value, hertz, ohm), q_capacitor))
        elif partner is not None and partner[k] > 0:
            across = capacitor_value(partner[k], hertz, ohm)
            rungs.append(trap(k + 1, coil_value(value, hertz, ohm), across, q_coil))
        else:
            rungs.append(coil(k + 1, coil_value(value, hertz, ohm), q_coil))
    return Filter("F", tuple(rungs))


def series_first(g: Sequence[float] | Array, hertz: float = 1e6, ohm: float = 50.0) -> Filter:
    """A prototype brought to `hertz` and `ohm`, first arm in series."""
    rungs = [
        capacitor(k + 1, capacitor_value(v, hertz, ohm)) if k % 2 else coil(k + 1, coil_value(v, hertz, ohm))
        for k, v in enumerate(g)
    ]
    return Filter("F", tuple(rungs))


def from_ladder(made: Ladder, hertz: float = 1e6) -> Filter:
    return shunt_first(made.main, made.partner, hertz)


def loss(chosen: Filter, f: Sequence[float] | Array, ohm: float = 50.0) -> Array:
    """Insertion loss in dB. f : Hz"""
    return -db20(ladder_response(chosen, np.asarray(f, float), ohm)[:, 1, 0])


def return_loss(chosen: Filter, f: Sequence[float] | Array, ohm: float = 50.0) -> Array:
    """Return loss at the input in dB. f : Hz"""
    return -db20(ladder_response(chosen, np.asarray(f, float), ohm)[:, 0, 0])
