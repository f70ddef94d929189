"""Fit a drawing to the families of filter, and find the value that alone spoils the fit."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from halfsplit.filters.families import NOTCH, RIPPLE, Model, Row, hump_db, models_of, rows_of
from halfsplit.filters.records import Family, Pass
from halfsplit.filters.shape import Shape

Array = npt.NDArray[np.float64]

PREFERRED = 0.02
"""Preferred values alone move a drawing this far (1 sigma of ln v): nearer fits are not better. Common practice."""
OFF = 0.15
"""A value this far off, alone, is worth naming."""
ROUGH = 0.05
"""A drawing this far from every family (rms of ln v) makes it worth asking whether one value alone spoils it."""
OUTSIDE = 3.0
"""Residual outside a family, in ln v: far above any drawing."""
MISPRINTS_PER_PART = 1.0 / 200
"""Chance that a printed value is wrong, before looking. A guess without source: only its order of magnitude matters."""
MISPRINT_RANGE = 2.2
"""A misprint lies anywhere within so much of ln v: a factor of 3 either way."""
SCATTERS = (
    (0.01, 0.15), (0.02, 0.25), (0.03, 0.25), (0.045, 0.15), (0.07, 0.1), (0.1, 0.05), (0.2, 0.03), (0.4, 0.02),
)  # fmt: skip
"""How far drawn values may scatter about their family (1 sigma of ln v), and how likely that is: from preferred values
of 1 % to 20 % parts. Common practice; the weights are a guess of which only the order of magnitude matters."""
USUAL = {RIPPLE: (math.log(0.03), 1.7), NOTCH: (math.log(0.8), 0.9)}
"""Where a parameter of a family lies before looking (middle, 1 sigma): ripples from 0.001 to 1 dB, notches from 1.15 to
4 times the edge. Common practice. Others lie anywhere within their bounds."""
HUMP_DB = 0.2
"""A hump lower than this is none that a designer would want."""
TRIED = 2
"""Starts of a fit that are followed to their end; of the others only the beginning is looked at."""
REPAIRED = 0.08
"""A fit without the value that spoils it has to be this near (rms of ln v): else nothing was explained."""


@dataclass(frozen=True, slots=True)
class Fit:
    """One family fitted, some rows left out.

    log_ideal : (n_row,) ln of the ideal values, SI; residual : (n_row,) ln(value/ideal), nan where no value
    shape_par : the family's own parameters; edge : rad/s; ohm : resistance
    score : -2 ln evidence of the family (less is better), see `evidence`
    """

    model: Model
    out: tuple[int, ...]
    log_ideal: Array
    residual: Array
    shape_par: Array
    edge: float
    ohm: float
    distance: float
    score: float


@dataclass(frozen=True, slots=True)
class Recognised:
    """plain : each family with all values; repaired : with a row left out that alone spoils it. Best first."""

    rows: tuple[Row, ...]
    plain: tuple[Fit, ...]
    repaired: tuple[Fit, ...]


def recognise(shape: Shape, z0: float, served: tuple[float, float] | None = None) -> Recognised:
    """Fit all families that this form can belong to.

    z0 : ohm at the input; served : Hz, lowest and highest frequency in use: a repaired fit whose pass band does not
    hold them is no explanation
    """
    rows = rows_of(shape)
    models = models_of(shape, rows)
    missing = tuple(k for k, row in enumerate(rows) if not math.isfinite(row.value))
    banded = shape.passes is Pass.BAND
    plain: list[Fit] = []
    for model in models:
        if model.family is Family.ZOLOTAREV and any(f.distance < PREFERRED for f in plain):
            continue  # a simpler family already fits as well as preferred values allow
        found = fit(model, rows, z0, missing, banded)
        if found is not None:
            plain.append(found)
    plain.sort(key=lambda f: f.score)
    repaired: list[Fit] = []
    if plain and (np.nanmax(np.abs(plain[0].residual)) > OFF * 0.8 or plain[0].distance > ROUGH):
        order = shape.order
        for first in (f for f in plain if not is_idle(f, order)):
            for out in _suspect_rows(rows, order, missing):
                again = fit(first.model, rows, z0, out, banded, start=tuple(first.shape_par.tolist()))
                if again is not None and _blames(again, missing) and _passes(again, shape.passes, served):
                    repaired.append(again)
        repaired = sorted((f for f in repaired if f.score < plain[0].score), key=lambda f: f.score)
    return Recognised(rows, tuple(plain), tuple(repaired))


def is_idle(found: Fit, order: int) -> bool:
    """Whether a fit has run out of its family: no hump worth the name, or no ripple left. Another says it better."""
    if found.shape_par.size and found.model.bounds[0] == RIPPLE and found.shape_par[0] < RIPPLE[0] + 0.1:
        return True
    return found.model.family is Family.ZOLOTAREV and hump_db(order, found.shape_par) < HUMP_DB


def _passes(found: Fit, passes: Pass, served: tuple[float, float] | None) -> bool:
    """Whether the served range lies inside the pass band of a fit, with 5 % to spare."""
    if served is None or passes not in (Pass.LOW, Pass.HIGH):
        return True
    edge = found.edge / (2.0 * math.pi)
    return edge > 0.95 * served[1] if passes is Pass.LOW else edge < 1.05 * served[0]


def _blames(found: Fit, missing: Sequence[int]) -> bool:
    """Whether the rows left out are far off and the others are not."""
    blamed = [k for k in found.out if k not in missing]
    rest = np.delete(found.residual, list(found.out))
    off = bool(np.abs(found.residual[blamed]).min() > OFF and np.abs(rest).max() < OFF)
    return off and found.distance < REPAIRED


def _suspect_rows(rows: Sequence[Row], order: int, missing: tuple[int, ...]) -> list[tuple[int, ...]]:
    """Each row alone, and each pair of mirror rows that the drawing gives the same value (printed once, wrong once)."""
    out: list[tuple[int, ...]] = []
    for k, row in enumerate(rows):
        if k in missing:
            continue
        out.append((*missing, k))
        for j in range(k + 1, len(rows)):
            other = rows[j]
            mirror = other.arm == order - 1 - row.arm and other.partner == row.partner
            if mirror and abs(other.value / row.value - 1.0) < 0.02:
                out.append((*missing, k, j))
    return out


def fit(
    model: Model,
    rows: Sequence[Row],
    z0: float,
    out: tuple[int, ...] = (),
    banded: bool = False,
    free_ohm: bool = False,
    start: tuple[float, ...] | None = None,
) -> Fit | None:
    """Least squares of ln v over the rows kept. returns None where they cannot fix the parameters.

    Two mirror rows count as one value here: a symmetrical family cannot learn two things from them. Where a part has no
    value one more is needed: a family that fits whatever the others are is no ground to supply it from.
    """
    keep = np.array([k for k in range(len(rows)) if k not in out], int)
    scales = 1 + banded + free_ohm
    n_par = len(model.bounds) + scales
    unknown = any(not math.isfinite(row.value) for row in rows)
    if _distinct(model, rows, keep) < n_par + unknown:
        return None
    turn, edge, centre, ohm = (
        np.array([getattr(r, k) for r in rows], float) for k in ("turn", "edge", "centre", "ohm")
    )
    logs = np.array([math.log(r.value) if math.isfinite(r.value) else math.nan for r in rows])
    design = np.stack([edge, *([centre] if banded else []), *([ohm] if free_ohm else [])], axis=1)
    known = np.zeros(len(rows)) if free_ohm else ohm * math.log(z0)
    fixed = turn * logs + known

    def left(p: Array) -> tuple[Array, Array]:
        try:
            ln_g = np.log(model.values(p))
        except (ArithmeticError, ValueError):
            return np.full(len(rows), OUTSIDE), np.zeros(scales)
        scale = np.linalg.lstsq(design[keep], (ln_g - fixed)[keep], rcond=None)[0]
        return fixed + design @ scale - ln_g, scale

    p, slopes = _best_start(model, lambda p: left(p)[0][keep], model.starts if start is None else (start,))
    residual, scale = left(p)
    if np.abs(residual[keep]).min() >= OUTSIDE:
        return None
    sse = float(np.sum(residual[keep] ** 2))
    distance = math.sqrt(sse / max(len(keep) - n_par, 1))
    score = -2.0 * (evidence(sse, slopes, p, model.bounds, design[keep]) + _misprinted(rows, out))
    ideal = (np.log(model.values(p)) - design @ scale - known) * turn
    r = float(np.exp(scale[-1])) if free_ohm else z0
    return Fit(model, out, ideal, turn * residual, p, float(np.exp(scale[0])), r, distance, score)


def _best_start(
    model: Model, residual: Callable[[Array], Array], starts: Sequence[tuple[float, ...]]
) -> tuple[Array, Array]:
    """The best of least squares from the nearest starts, and the slopes of the residual there."""
    if not model.bounds:
        return np.zeros(0), np.zeros((0, 0))
    low, high = np.array(model.bounds).T
    best: tuple[float, Array, Array] | None = None
    inside = [np.clip(start, low + 1e-9, high - 1e-9) for start in starts]
    inside.sort(key=lambda start: float(np.sum(residual(start) ** 2)))
    for start in inside[:TRIED]:
        found = least_squares(
            residual,
            start,
            bounds=(low, high),
            x_scale=0.3,
            xtol=1e-6,
            ftol=1e-7,
            gtol=1e-9,
            diff_step=(1e-4,) * len(start),
        )
        if best is None or found.cost < best[0]:
            best = (float(found.cost), np.asarray(found.x), np.asarray(found.jac))
    assert best is not None
    return best[1], best[2]


def _distinct(model: Model, rows: Sequence[Row], keep: Array) -> int:
    """How many different ideal values the kept rows have in this family, at its first start."""
    try:
        g = model.values(np.array(model.starts[0]))[keep]
    except (ArithmeticError, ValueError):
        return len(keep)
    marks = {(round(math.log(v), 6), rows[k].ohm, rows[k].turn) for v, k in zip(g.tolist(), keep.tolist(), strict=True)}
    return len(marks)


def evidence(sse: float, slopes: Array, p: Array, bounds: Sequence[tuple[float, float]], design: Array) -> float:
    """ln of the probability density of the values, scatter and parameters integrated out (Laplace's method).

    A family with more parameters fits nearer; that counts only where it has to place them sharply to do so.
    sse : of ln v; slopes : (n, n_par) of the residual by the family's own parameters p, what scale takes up taken off;
    design : (n, n_scale) slopes by frequency and resistance, which may be anything
    source: e.g. MacKay 2003, Information Theory, Inference, and Learning Algorithms, ch. 28
    """
    n, scales = design.shape
    usual = [USUAL.get(b, (0.5 * (b[0] + b[1]), 0.5 * (b[1] - b[0]))) for b in bounds]
    middle, width = np.array(usual).reshape(-1, 2).T
    unusual = 0.5 * float(np.sum(((p - middle) / width) ** 2))
    known = width[:, None] * (slopes.T @ slopes) * width if bounds else np.zeros((0, 0))
    by_scale = float(np.linalg.slogdet(design.T @ design / (2.0 * math.pi))[1])
    terms = []
    for sigma, weight in SCATTERS:
        fit = -0.5 * n * math.log(2.0 * math.pi * sigma**2) - 0.5 * sse / sigma**2
        sharp = -0.5 * float(np.linalg.slogdet(np.eye(len(width)) + known / sigma**2)[1])
        terms.append(math.log(weight) + fit + sharp - unusual - 0.5 * by_scale + scales * math.log(sigma))
    return float(np.logaddexp.reduce(terms))


def _misprinted(rows: Sequence[Row], out: Sequence[int]) -> float:
    """ln probability density of the values left out: one slip, somewhere within a factor of 3; mirror rows share it."""
    given = [k for k in out if math.isfinite(rows[k].value)]
    if not given:
        return 0.0
    same = len(given) - 1
    return math.log(MISPRINTS_PER_PART) - math.log(MISPRINT_RANGE) + same * (-math.log(2.5 * PREFERRED) - 0.25)
