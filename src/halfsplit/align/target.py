"""What a filter has to do in its path, and how far a response is from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import Model, build
from halfsplit.hookup import Hookup
from halfsplit.unit import Limits, Unit

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]

INSIDE = 15
BESIDE = 5
DEFAULT_RETURN = 20.0
"""dB wanted where the unit file states none; common practice for a transmitter's filter. A drawing that gives less:
what it gives, less RETURN_SLACK."""
RETURN_SLACK = 3.0
LOSS_SLACK = 0.2
STOP_SLACK = 4.0
"""dB that a filter may stay behind its own drawing where the unit file states no limit. Common practice."""
AIM = (0.05, 0.8, 2.0)
"""What is aimed at: loss so far below its limit (dB), reflection this share of it, attenuation so far above (dB)."""
UNIT_OF = (0.1, 0.03, 1.0)
"""What counts as one in the shortfall: dB of loss, of |reflection|, dB of attenuation."""


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit. what : "loss", "return loss", "attenuation"; times : multiple of the band; stated : by the file."""

    what: str
    times: float
    db: float
    stated: bool


class Plain:
    """The path of a band between 50 ohm, from the nuisances of a bench.

    f : (n,) Hz: INSIDE points of the served band, then BESIDE points at every multiple that has a limit
    keys : names of the bench's nuisances; those of this scene that it does not have stay at their middle
    """

    def __init__(self, unit: Unit, hookup: Hookup, keys: Sequence[str]) -> None:
        band = unit.band(hookup.band)
        self.limits = _stated(unit.limits, band.limits)
        times = sorted({t for t, _ in self.limits.attenuation} or {2.0, 3.0})
        grids = [np.linspace(band.low, band.high, INSIDE)]
        grids += [np.linspace(t * band.low, t * band.high, BESIDE) for t in times]
        self.times = tuple(times)
        self.f = np.concatenate(grids)
        through = Hookup(hookup.band, hookup.drive, hookup.read, instrument="analyser", reference="calibrated")
        self.model = Model(build(unit, through), self.f)
        place = {key: k for k, key in enumerate(keys)}
        own = [(i, place[key]) for i, key in enumerate(self.model.keys) if key in place]
        self.mine, self.theirs = np.array(own, int).reshape(-1, 2).T

    def figures(self, theta: Real) -> tuple[Real, Real, Real]:
        """Loss in the band (K, INSIDE) dB, |reflection| where it is driven, attenuation (K, times, BESIDE) dB.

        theta : (K, P) over the keys of the bench
        """
        own = np.zeros((len(theta), len(self.model.keys)))
        own[:, self.mine] = theta[:, self.theirs]
        solution = self.model.solve(own)
        loss = -20.0 * np.log10(np.abs(solution.transmission()))
        gamma = np.abs(solution.reflection()[:, :INSIDE])
        beside = loss[:, INSIDE:].reshape(len(theta), len(self.times), BESIDE)
        return loss[:, :INSIDE], gamma, beside

    def limits_for(self, theta: Real) -> tuple[Limit, ...]:
        """The limits to be met: stated ones, else from the drawing itself. theta : (1, P), the unit as drawn"""
        loss, gamma, beside = self.figures(theta)
        stated = self.limits
        drawn_return = -20.0 * np.log10(float(gamma.max()))
        usual = min(DEFAULT_RETURN, max(drawn_return - RETURN_SLACK, 0.7 * drawn_return))
        out = [
            Limit("loss", 1.0, stated.loss_db or float(loss.max()) + LOSS_SLACK, stated.loss_db is not None),
            Limit(
                "return loss", 1.0, stated.return_loss_db or float(usual), stated.return_loss_db is not None,
            ),
        ]  # fmt: skip
        wanted = dict(stated.attenuation)
        for k, t in enumerate(self.times):
            out.append(Limit("attenuation", t, wanted.get(t, float(beside[0, k].min()) - STOP_SLACK), t in wanted))
        return tuple(out)

    def worst(self, theta: Real) -> Real:
        """The figure of each limit, (K, n_limit) dB, in the order of `limits_for`."""
        loss, gamma, beside = self.figures(theta)
        return np.column_stack([loss.max(1), -20.0 * np.log10(gamma.max(1)), beside.min(2)])

    def shortfall(self, theta: Real, limits: Sequence[Limit], aim: float = 1.0) -> Real:
        """What is missing at every point, (K, n) in units of UNIT_OF, 0 where the aim is met.

        aim : 1 to aim at the margins of AIM, 0 at the limits themselves
        """
        loss, gamma, beside = self.figures(theta)
        least = np.array([x.db for x in limits])
        most_gamma = 10.0 ** (-least[1] / 20.0) * (1.0 - aim * (1.0 - AIM[1]))
        parts = [
            (loss - (least[0] - aim * AIM[0])) / UNIT_OF[0],
            (gamma - most_gamma) / UNIT_OF[1],
            ((least[2:, None] + aim * AIM[2]) - beside).reshape(len(theta), -1) / UNIT_OF[2],
        ]
        return np.asarray(np.maximum(np.concatenate(parts, axis=1), 0.0))

    def met(self, theta: Real, limits: Sequence[Limit]) -> npt.NDArray[np.bool_]:
        """Whether every limit is met, (K,)."""
        return np.asarray(self.shortfall(theta, limits, 0.0).max(axis=1) <= 0.0)


def _stated(unit: Limits, band: Limits) -> Limits:
    """The limits of a band: its own before those of the unit."""
    wanted = dict(unit.attenuation) | dict(band.attenuation)
    return Limits(
        band.loss_db if band.loss_db is not None else unit.loss_db,
        band.return_loss_db if band.return_loss_db is not None else unit.return_loss_db,
        tuple(sorted(wanted.items())),
    )
