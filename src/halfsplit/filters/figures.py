"""Figures of merit of a ladder from its response: served bands, cut-off, notches, hump."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from halfsplit.circuit import ladder_response
from halfsplit.filters.records import Harmonic, Hump, Notch, Served
from halfsplit.filters.shape import Shape
from halfsplit.parts import Kind, Part
from halfsplit.quantity import db20
from halfsplit.unit import Band, Filter

Array = npt.NDArray[np.float64]

COIL_Q = 130.0
"""Assumed where a drawing is silent: typical of coils in measured transmitter filters (79 to 218)."""
CAPACITOR_Q = 1000.0
"""Assumed where a drawing is silent: C0G specification sheets say 1000 or more from 30 pF up (row P18)."""
HALF_POWER_DB = 10.0 * float(np.log10(2.0))
POINTS_IN_BAND = 201
POINTS_WIDE = 1501
CLEAR_HUMP_DB = 0.1
WELL_MATCHED = 20.0
"""dB; a drawing with this return loss in its served band is no misprint."""


def with_losses(chosen: Filter) -> tuple[Filter, tuple[str, ...]]:
    """The filter with Q assumed where its drawing gives neither Q nor resistance, and what was assumed, in words."""
    silent = [p for p in chosen.parts if p.q is None and p.loss_ohm is None]
    words = []
    for kind, q in ((Kind.COIL, COIL_Q), (Kind.CAPACITOR, CAPACITOR_Q)):
        refs = [p.ref for p in silent if p.kind is kind]
        if refs:
            words.append(f"Q {q:.0f} assumed for {', '.join(refs)}: the drawing gives none")

    def filled(part: Part) -> Part:
        if part not in silent or part.kind is Kind.RESISTOR:
            return part
        return replace(part, q=COIL_Q if part.kind is Kind.COIL else CAPACITOR_Q)

    rungs = tuple(replace(r, parts=tuple(filled(p) for p in r.parts)) for r in chosen.rungs)
    return replace(chosen, rungs=rungs), tuple(words)


def loss_of(chosen: Filter, z0: float) -> Callable[[npt.ArrayLike], Array]:
    """Insertion loss of the ladder in dB as a function of frequency in Hz."""
    return lambda f: -db20(ladder_response(chosen, np.atleast_1d(np.asarray(f, float)), z0)[:, 1, 0])


def served_in(chosen: Filter, band: Band, z0: float) -> Served:
    """The filter in one served band."""
    f = np.linspace(band.low, band.high, POINTS_IN_BAND)
    s = ladder_response(chosen, f, z0)
    loss = -db20(s[:, 1, 0])
    worst = np.maximum(np.abs(s[:, 0, 0]), np.abs(s[:, 1, 1])).max()
    at = loss_of(chosen, z0)
    times = tuple(Harmonic(n, float(at(n * band.low)[0]), float(at(n * band.high)[0])) for n in (2, 3, 4, 5))
    return Served(
        band.name, band.low, band.high, float(loss[0]), float(loss[-1]), float(loss.max()),
        float(np.ptp(loss)), -db20(float(worst)), times,
    )  # fmt: skip


def cutoffs_of(
    chosen: Filter, served: tuple[float, float] | None, z0: float, around: float
) -> tuple[float | None, float | None]:
    """Lower and upper -3 dB point, against the least loss in the served range (without one: anywhere).

    around : Hz, the middle of the search, from a hundredth of it to a hundred times. returns (Hz or None, Hz or None)
    """
    loss = loss_of(chosen, z0)
    wide = np.geomspace(around / 100.0, around * 100.0, 2 * POINTS_WIDE)
    if served is None:
        best = float(wide[np.argmin(loss(wide))])
        served = (best, best)
    least = float(loss(np.linspace(*served, POINTS_IN_BAND)).min())
    up = np.concatenate([[served[1]], wide[wide > served[1]]])
    down = np.concatenate([[served[0]], wide[wide < served[0]][::-1]])
    return _first_crossing(loss, down, least), _first_crossing(loss, up, least)


def _first_crossing(loss: Callable[[npt.ArrayLike], Array], f: Array, least: float) -> float | None:
    """Where the loss first exceeds `least` by 3 dB on the way along f; None where it does not."""

    def over(x: float) -> float:
        return float(loss(x)[0]) - least - HALF_POWER_DB

    beyond = np.flatnonzero(loss(f) - least >= HALF_POWER_DB)
    if beyond.size == 0 or beyond[0] == 0:
        return None
    return float(brentq(over, float(f[beyond[0] - 1]), float(f[beyond[0]]), xtol=1e-3))


def notches_of(chosen: Filter, shape: Shape, z0: float) -> tuple[Notch, ...]:
    """What each trap does. Where traps lie close together one peak may answer for two."""
    loss = loss_of(chosen, z0)
    out = []
    for k in shape.traps:
        arm = shape.arms[k]
        assert arm.coil is not None and arm.capacitor is not None
        own = 1.0 / (2.0 * np.pi * np.sqrt(arm.coil * arm.capacitor))
        f = own * np.linspace(0.95, 1.05, POINTS_WIDE)
        depth = loss(f)
        peak = int(np.argmax(depth))
        out.append(Notch(arm.refs, float(own), float(f[peak]), float(depth[peak])))
    return tuple(out)


def hump_below(chosen: Filter, served: Sequence[Served], z0: float) -> Hump | None:
    """The largest loss below the lowest served band, where it peaks above the loss of every served band."""
    if not served:
        return None
    low = min(s.low for s in served)
    f = np.geomspace(low / 50.0, low, POINTS_WIDE)
    s = ladder_response(chosen, f, z0)
    loss = -db20(s[:, 1, 0])
    inner = (loss[1:-1] > loss[:-2]) & (loss[1:-1] >= loss[2:])
    peaks = np.flatnonzero(inner) + 1
    if peaks.size == 0:
        return None
    top = int(peaks[np.argmax(loss[peaks])])
    if loss[top] < max(s.loss_most for s in served) + CLEAR_HUMP_DB:
        return None
    worst = max(abs(s[top, 0, 0]), abs(s[top, 1, 1]))
    return Hump(float(f[top]), float(loss[top]), -db20(float(worst)))


def return_loss_below(chosen: Filter, low: float, z0: float) -> tuple[float, float]:
    """Smallest return loss between a tenth of `low` and `low`. returns (Hz, dB)"""
    f = np.geomspace(low / 10.0, low, POINTS_WIDE)
    s = ladder_response(chosen, f, z0)
    worst = np.maximum(np.abs(s[:, 0, 0]), np.abs(s[:, 1, 1]))
    k = int(np.argmax(worst))
    return float(f[k]), -db20(float(worst[k]))


def mends(chosen: Filter, factors: Mapping[str, float], bands: Sequence[Band], z0: float) -> bool:
    """Whether a filter serves its bands clearly better with some values multiplied: what a corrected misprint would do.

    factors : by what each named part would be multiplied. Better is: 3 dB more return loss where it is below 20 dB, or
    6 dB more attenuation at twice and three times the band where the match does not suffer. Without bands nothing
    speaks against.
    """
    if not bands or any(p.value is None for p in chosen.parts):
        return True
    rungs = tuple(
        replace(r, parts=tuple(replace(p, value=(p.value or 0.0) * factors.get(p.ref, 1.0)) for p in r.parts))
        for r in chosen.rungs
    )
    (match, stop), (mended_match, mended_stop) = (
        _match_and_stop(f, bands, z0) for f in (chosen, replace(chosen, rungs=rungs))
    )
    if match < WELL_MATCHED and mended_match > match + 3.0:
        return True
    return mended_stop > stop + 6.0 and mended_match > min(match, WELL_MATCHED) - 1.0


def _match_and_stop(chosen: Filter, bands: Sequence[Band], z0: float) -> tuple[float, float]:
    """Smallest return loss in the bands and smallest attenuation at 2 and 3 times their edges, dB."""
    served = [served_in(chosen, band, z0) for band in bands]
    stop = [level for s in served for h in s.harmonics if h.times <= 3 for level in (h.at_low, h.at_high)]
    return min(s.return_loss for s in served), min(stop)


def uneven_pairs(shape: Shape) -> tuple[tuple[tuple[str, ...], float, tuple[str, ...], float], ...]:
    """The one pair of mirror values that differs (by more than 15 %) in a ladder whose other pairs agree within 5 %.

    returns (refs, value, mirror refs, its value), or nothing; values in SI
    """
    pairs = []
    for k, arm in enumerate(shape.arms[: shape.order // 2]):
        other = shape.arms[-1 - k]
        for refs, value, mirror, its in (
            (arm.coil_refs, arm.coil, other.coil_refs, other.coil),
            (arm.capacitor_refs, arm.capacitor, other.capacitor_refs, other.capacitor),
        ):
            if value is not None and its is not None and np.isfinite(value * its):
                pairs.append((refs, value, mirror, its))
    pairs.sort(key=lambda p: abs(np.log(p[1] / p[3])))
    off = [abs(float(np.log(p[1] / p[3]))) for p in pairs]
    alone = len(off) >= 2 and off[-1] > 0.15 and off[-2] < 0.05 and all(a <= b for a, b in pairwise(off))
    return (pairs[-1],) if alone else ()
