"""The whole path on one band in figures, as drawn and as 19 of 20 sound units are, against the stated limits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from halfsplit.circuit import Model, build_path, path_s
from halfsplit.quantity import db20
from halfsplit.unit import Band, Limits, Unit

Real = npt.NDArray[np.float64]

INSIDE = 25
BEYOND = 9
USUAL_MULTIPLES = (2.0, 3.0)
"""Where the attenuation is told when no limit names a multiple of its own."""
SHARE = 0.95


class Standing(StrEnum):
    """A figure against its limit."""

    WITHIN = "within"
    DOUBTFUL = "doubtful"
    OUTSIDE = "outside"
    NO_LIMIT = "no limit"


@dataclass(frozen=True, slots=True)
class PathFigure:
    """One figure in dB. times : of which multiple of the served band, None inside it; f : Hz where it is worst

    worst : of the unit as drawn; far : what 19 of 20 sound units keep to; limit : dB, None where none is stated
    """

    what: str
    times: float | None
    worst: float
    f: float
    far: float
    limit: float | None
    standing: Standing


@dataclass(frozen=True, slots=True)
class PathFigures:
    """Figures of the path on one band, loss first, then return loss, then attenuation by multiple."""

    band: str
    figures: tuple[PathFigure, ...]


def path_figures(unit: Unit, band: Band, rng: np.random.Generator, draws: int = 60) -> PathFigures:
    """Loss and return loss over the served band, attenuation at multiples of it, between the unit's impedances.

    rng : draws the sound units; the same state gives the same ones, so two drawings can be compared figure by figure
    raises ModelError where the network has no answer
    """
    stated = limits_of(unit, band)
    times = tuple(t for t, _ in stated.attenuation) or USUAL_MULTIPLES
    parts = [np.linspace(band.low, band.high, INSIDE)]
    parts += [np.linspace(t * band.low, t * band.high, BEYOND) for t in times]
    edges = np.cumsum([0, *(p.size for p in parts)])
    f, order = np.unique(np.concatenate(parts), return_inverse=True)
    model = Model(build_path(unit, band.name), f)
    theta = np.concatenate([np.zeros((1, len(model.keys))), rng.standard_normal((draws, len(model.keys)))])
    s = path_s(model.solve(theta))[..., order]
    inside = slice(edges[0], edges[1])
    loss, back = -db20(s[1, 0][:, inside]), -db20(s[0, 0][:, inside])
    out = [
        figure("loss", None, loss, parts[0], stated.loss_db, most=True),
        figure("return loss", None, back, parts[0], stated.return_loss_db, most=False),
    ]
    asked = dict(stated.attenuation)
    for k, t in enumerate(times, 1):
        beyond = -db20(s[1, 0][:, edges[k] : edges[k + 1]])
        out.append(figure("attenuation", t, beyond, parts[k], asked.get(t), most=False))
    return PathFigures(band.name, tuple(out))


def lowest_q(
    unit: Unit, band: Band, with_q: Callable[[float], Unit], allowed: float, most: float = 1e5
) -> tuple[float | None, str]:
    """The lowest Q of a part that the path bears on a band, all else as drawn, and what it keeps then.

    with_q : makes the unit with that Q; allowed : dB more than with a lossless part, unless the stated limit is tighter
    returns (Q, words); Q is None where even a lossless part does not do
    raises ModelError
    """
    f = np.linspace(band.low, band.high, BEYOND)

    def loss(q: float) -> float:
        model = Model(build_path(with_q(q), band.name), f)
        through = path_s(model.solve(np.zeros((1, len(model.keys)))))[1, 0]
        return float(np.max(-db20(through)))

    stated = limits_of(unit, band).loss_db
    least = loss(most)
    tight = stated is not None and stated < least + allowed
    limit = float(stated or 0.0) if tight else least + allowed
    because = f"the stated {stated:g} dB of loss" if tight else f"{allowed:g} dB more than with a lossless part"
    if least > limit:
        return None, because
    if loss(1.0) <= limit:
        return 1.0, because
    return float(np.exp(brentq(lambda x: loss(float(np.exp(x))) - limit, 0.0, np.log(most), xtol=0.01))), because


def limits_of(unit: Unit, band: Band) -> Limits:
    """What is stated for a band: its own limits before those of the unit."""
    own, whole = band.limits, unit.limits
    return Limits(
        own.loss_db if own.loss_db is not None else whole.loss_db,
        own.return_loss_db if own.return_loss_db is not None else whole.return_loss_db,
        own.attenuation or whole.attenuation,
    )


def figure(
    what: str, times: float | None, db: npt.NDArray[Any], f: Real, limit: float | None, *, most: bool
) -> PathFigure:
    """One figure from its curves, (1 + draws, F) dB, the drawing first. most : the largest counts, else the smallest"""
    each = db.max(axis=1) if most else db.min(axis=1)
    at = int(np.argmax(db[0])) if most else int(np.argmin(db[0]))
    far = float(np.quantile(each[1:], SHARE if most else 1.0 - SHARE))
    standing = Standing.NO_LIMIT
    if limit is not None:
        sign = 1.0 if most else -1.0
        missed = [sign * (x - limit) > 0 for x in (float(each[0]), far)]
        standing = Standing.OUTSIDE if missed[0] else Standing.DOUBTFUL if missed[1] else Standing.WITHIN
    return PathFigure(what, times, float(each[0]), float(f[at]), far, limit, standing)
