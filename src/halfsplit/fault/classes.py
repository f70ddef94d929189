"""Which of some listed fault classes a circuit has, all other parts being anywhere within their tolerances.

A class is one part in a stated range, or none. Its evidence is the integral of the likelihood of all readings over the
values of ALL parts:

1. the most probable values are sought by Gauss-Newton with exact slopes, from several sizes of the fault;
2. about them the readings are linear in the logarithms of the values (what cannot be told apart are mostly products
   and ratios of values: straight lines there), so the posterior is nearly a normal one, cut off at the hard limits;
3. draws from that cut-off normal distribution, one coordinate after the other, are weighed against the exact response
   and the exact prior: importance sampling, unbiased whatever was approximated on the way.

Step 2 alone errs where tolerances are uniform: along what the readings do not see, the posterior is the prior's box.
source: Geweke 1989, Econometrica 57(6), 1317-1339 (importance sampling); Geweke 1991, Hajivassiliou & McFadden 1990 and
Keane 1994, Econometrica 62(1), 95-116 (drawing from a normal distribution within limits, coordinate by coordinate).
All from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.special import log_ndtr, ndtr, ndtri

from halfsplit.circuit import LumpedModel
from halfsplit.fault.spreads import LN2PI, Spread

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]

DECIBEL = 20.0 / float(np.log(10.0))
FLAT = 0.25  # precision given to a coordinate within hard limits: wide enough to fill its box
STEPS = 8
STARTS = (-1.4, -0.7, 0.0, 0.7, 1.4)  # sizes to start from, where a range is wide, in its t
WIDE = 0.1
FEW = 32  # draws to begin with
ENOUGH = 0.92  # share of them that must count (evidence then good to 0.05 nats), else all draws are made
HOPELESS = 12.0  # nats behind the best, by the normal approximation: not drawn, its approximation stands
SETS = 200  # sets of readings fitted at once
POINTS = 100_000  # frequencies times cases solved at once: what a processor's cache likes


@dataclass(frozen=True, slots=True)
class FaultClass:
    """One class.

    name : as printed; place : what is at fault, "" for none: classes of one place can be added up
    part : ref of the part whose value lies in `spread` instead of its tolerance; both None for the sound circuit
    weight : prior, up to a common factor
    """

    name: str
    place: str = ""
    part: str | None = None
    spread: Spread | None = None
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class ClassPosterior:
    """The answer for K sets of readings.

    log_evidence : (K, H) nats, up to a constant for each set; probability : (K, H)
    effective : (K, H) effective number of draws behind each evidence, 0 where none were made
    """

    classes: tuple[FaultClass, ...]
    log_evidence: Real
    probability: Real
    effective: Real

    def of(self, groups: Sequence[Sequence[str]]) -> Real:
        """Probability of groups of places. groups : G lists of places. returns (K, G)."""
        member = np.array([[float(c.place in group) for group in groups] for c in self.classes])
        return np.asarray(self.probability @ member)


@dataclass(frozen=True, slots=True)
class Levels:
    """How readings are shown: dB with independent normal errors.

    noise_db : standard deviation; floor_db : (O,) each response's floor, added as power; -inf for none
    """

    noise_db: float
    floor_db: tuple[float, ...]


class ClassProblem:
    """A circuit, the tolerances of all its parts, its fault classes, and how readings are taken.

    sound : a Spread for each part, in the circuit's order
    raises ModelError where the circuit as drawn, or with the middle of a class, does not settle: its AC answer would
    mean nothing; ValueError where a class names a part without its spread
    """

    def __init__(
        self, model: LumpedModel, sound: Sequence[Spread], classes: Sequence[FaultClass], levels: Levels
    ) -> None:
        self.model, self.classes, self.levels = model, tuple(classes), levels
        self.sound = tuple(sound)
        if len(self.sound) != len(model.circuit.parts) or len(levels.floor_db) != len(model.observed):
            raise ValueError("one spread for each part and one floor for each response are needed")
        self.floor = 10.0 ** (np.array(levels.floor_db)[:, None] / 10.0)
        for c in self.classes:
            if (c.part is None) != (c.spread is None):
                raise ValueError(f"class {c.name}: a part and its spread come together")
            model.require_stable(np.exp([s.middle for s in self.spreads(c)]), f"class {c.name}")

    def spreads(self, chosen: FaultClass) -> tuple[Spread, ...]:
        """Spreads of all parts under a class."""
        if chosen.part is None or chosen.spread is None:
            return self.sound
        at = self.model.circuit.index(chosen.part)
        return (*self.sound[:at], chosen.spread, *self.sound[at + 1 :])

    def shown(self, values: Real) -> Real:
        """What would be read, without noise. values : (K, P). returns (K, O, F) dB."""
        h = self.model.responses(values)
        return np.asarray(10.0 * np.log10(h.real**2 + h.imag**2 + self.floor))

    def shown_slopes(self, values: Real) -> tuple[Real, Real]:
        """The same (K, O, F) dB, and its derivatives by the logarithms of the values (K, O, P, F)."""
        h, moved = self.model.slopes(values)
        power = h.real**2 + h.imag**2 + self.floor
        slope = DECIBEL * (moved * h.conj()[:, :, None]).real / power[:, :, None]
        return np.asarray(10.0 * np.log10(power)), slope

    def weigh(self, readings: Real, rng: np.random.Generator, draws: int = 256) -> ClassPosterior:
        """The posterior of the classes for each of K sets of readings.

        readings : (K, O, F) dB; rng : for the draws
        draws : most for each class and set; a few are made first, and are enough where nearly all of them count
        raises ValueError for readings of another shape, or that are not finite
        """
        if readings.ndim != 3 or readings.shape[1:] != (len(self.model.observed), len(self.model.f)):
            raise ValueError(f"readings of shape (K, {len(self.model.observed)}, {len(self.model.f)}) are needed")
        if not np.isfinite(readings).all():
            raise ValueError("a reading is not a number: leave its frequency out of the problem")
        uniform = rng.random((draws, len(self.sound)))
        shape = (len(readings), len(self.classes))
        effective, log_evidence = np.zeros(shape), np.zeros(shape)
        for part in _in_parts(np.arange(len(readings)), SETS):
            log_evidence[part], effective[part] = self._evidence(readings[part], uniform)
        score = log_evidence + np.log([c.weight for c in self.classes])
        probability = np.exp(score - score.max(axis=1, keepdims=True))
        probability /= probability.sum(axis=1, keepdims=True)
        return ClassPosterior(self.classes, log_evidence, probability, effective)

    def _evidence(self, readings: Real, uniform: Real) -> tuple[Real, Real]:
        """Log evidence and effective number of draws, (K, H) each. uniform : (M, P) in 0..1."""
        fits = [_Fit(self, c, readings) for c in self.classes]
        rough = np.stack([fit.approximate for fit in fits], axis=1)
        effective, log_evidence = np.zeros_like(rough), rough.copy()
        for h, fit in enumerate(fits):
            which = np.flatnonzero(rough[:, h] > rough.max(axis=1) - HOPELESS)
            for some in (uniform[:FEW], uniform):
                for part in _in_parts(which, POINTS // (len(some) * len(self.model.f))):
                    log_evidence[part, h], effective[part, h] = fit.draw(part, some)
                which = which[effective[which, h] < ENOUGH * FEW]
        return log_evidence, effective


class _Fit:
    """One class fitted to K sets of readings. t : (K, P) most probable; approximate : (K,) log evidence, normal."""

    def __init__(self, problem: ClassProblem, chosen: FaultClass, readings: Real) -> None:
        self.problem, self.readings = problem, readings
        self.spreads = problem.spreads(chosen)
        self.middle = np.array([s.middle for s in self.spreads])
        self.width = np.array([s.width for s in self.spreads])
        self.low, self.high = np.array([s.limits for s in self.spreads]).T
        self.precision = np.array([FLAT if s.boxed else 1.0 for s in self.spreads])
        self.first = 0 if chosen.part is None else problem.model.circuit.index(chosen.part)
        self.t = self._start(chosen.part is not None and bool(self.width[self.first] > WIDE))
        self._climb()

    def _values(self, t: Real) -> Real:
        return np.asarray(np.exp(self.middle + self.width * t))

    def _residual(self, shown: Real, which: Any = slice(None)) -> Real:
        off = (shown - self.readings[which]) / self.problem.levels.noise_db
        return np.asarray(off.reshape(len(off), -1))

    def _solved(self, t: Real, which: Any = slice(None)) -> tuple[Real, Real, Real]:
        """Objective (K,), gradient (K, P) and Gauss-Newton Hessian (K, P, P)."""
        shown, slope = self.problem.shown_slopes(self._values(t))
        r = self._residual(shown, which)
        j = np.moveaxis(slope, 2, 1).reshape(len(t), len(self.width), -1)
        j = j * (self.width / self.problem.levels.noise_db)[:, None]
        jt = np.swapaxes(j, 1, 2)
        hessian = j @ jt + np.diag(self.precision)
        gradient = (j @ r[:, :, None])[:, :, 0] + self.precision * t
        return 0.5 * (r * r).sum(1) + 0.5 * (self.precision * t * t).sum(1), gradient, hessian

    def _start(self, sized: bool) -> Real:
        """The best of one linear step from each size; the slopes there serve all readings."""
        best, at = np.full(len(self.readings), np.inf), np.zeros((len(self.readings), len(self.width)))
        for size in STARTS if sized else (0.0,):
            t0 = np.zeros((1, len(self.width)))
            t0[0, self.first] = size
            shown, slope = self.problem.shown_slopes(self._values(t0))
            j = np.moveaxis(slope, 2, 1).reshape(len(self.width), -1)
            j = j * (self.width / self.problem.levels.noise_db)[:, None]
            hessian = j @ j.T + np.diag(self.precision)
            gradient = self._residual(shown) @ j.T + self.precision * t0
            for share in (1.0, 0.3, 0.0):
                t = np.clip(t0 - share * np.linalg.solve(hessian, gradient.T).T, self._inner(-1), self._inner(1))
                r = self._residual(self.problem.shown(self._values(t)))
                phi = 0.5 * (r * r).sum(1) + 0.5 * (self.precision * t * t).sum(1)
                better = phi < best
                best[better], at[better] = phi[better], t[better]
        return at

    def _inner(self, side: int) -> Real:
        """Limits of the search: the box, or six standard deviations."""
        return np.asarray(np.maximum(self.low, -6.0) if side < 0 else np.minimum(self.high, 6.0))

    def _climb(self) -> None:
        """Gauss-Newton with damping within the limits; a case that got worse goes back and shortens its step."""
        t, damping = self.t, np.full(len(self.t), 1e-6)
        phi, gradient, hessian = self._solved(t)
        for _ in range(STEPS):
            stuck = ((t <= self.low) & (gradient > 0)) | ((t >= self.high) & (gradient < 0))
            free = (~stuck).astype(float)
            inner = hessian * free[:, :, None] * free[:, None, :]
            size = np.einsum("kii->ki", inner)
            size += damping[:, None] * size + stuck
            step = np.linalg.solve(inner, (gradient * free)[:, :, None])[:, :, 0]
            step *= np.minimum(1.0, 2.0 / np.maximum(np.abs(step).max(1, keepdims=True), 1e-12))
            tried = np.clip(t - step, self._inner(-1), self._inner(1))
            phi_, gradient_, hessian_ = self._solved(tried)
            better = phi_ < phi
            t[better], phi[better] = tried[better], phi_[better]
            gradient[better], hessian[better] = gradient_[better], hessian_[better]
            damping = np.where(better, damping * 0.1, np.maximum(damping, 1e-3) * 10.0)
        self.t, self.gradient, self.hessian = t, gradient, hessian
        self.approximate = -phi - 0.5 * np.linalg.slogdet(hessian)[1] + 0.5 * float(np.log(self.precision).sum())

    def draw(self, which: npt.NDArray[np.intp], uniform: Real) -> tuple[Real, Real]:
        """Log evidence and effective number of draws for some of the sets. uniform : (M, P) in 0..1."""
        order = [self.first, *(i for i in range(len(self.width)) if i != self.first)]
        covariance = np.linalg.inv(self.hessian[which])
        middle = self.t[which] - np.einsum("kij,kj->ki", covariance, self.gradient[which])
        lower = np.linalg.cholesky(covariance[:, order][:, :, order])
        z = np.zeros((len(which), len(uniform), len(order)))
        t, log_weight = np.zeros_like(z), np.zeros(z.shape[:2])
        for k, i in enumerate(order):
            at = middle[:, i, None] + np.einsum("kj,kmj->km", lower[:, k, :k], z[:, :, :k])
            scale = lower[:, k, k, None]
            z[:, :, k], log_share = _within((self.low[i] - at) / scale, (self.high[i] - at) / scale, uniform[:, i])
            t[:, :, i] = np.clip(at + scale * z[:, :, k], self.low[i], self.high[i])
            log_weight += self.spreads[i].log_density(t[:, :, i])
            log_weight += log_share + 0.5 * (z[:, :, k] ** 2 + LN2PI) + np.log(scale)
        shown = self.problem.shown(self._values(t).reshape(-1, len(order))).reshape(*z.shape[:2], -1)
        off = (shown - self.readings[which].reshape(len(which), 1, -1)) / self.problem.levels.noise_db
        log_weight -= 0.5 * (off * off).sum(2)
        top = log_weight.max(axis=1, keepdims=True)
        weight = np.exp(log_weight - np.where(np.isfinite(top), top, 0.0))
        total = weight.sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            log_evidence = np.where(total > 0, top[:, 0] + np.log(total / len(uniform)), -np.inf)
            effective = np.where(total > 0, total**2 / (weight**2).sum(axis=1), 0.0)
        return log_evidence, effective


def _in_parts(which: npt.NDArray[np.intp], most: int) -> list[npt.NDArray[np.intp]]:
    """Some sets in turns of at most `most` (at least one)."""
    return np.array_split(which, -(-len(which) // max(1, most))) if len(which) else []


def _within(low: Real, high: Real, uniform: Real) -> tuple[Real, Real]:
    """Standard normal draws between limits. low, high : (K, M); uniform : (M,). returns z (K, M), ln share (K, M)."""
    flip = low > 0  # work in the lower tail, where small probabilities keep their digits
    a, b = np.where(flip, -high, low), np.where(flip, -low, high)
    pa, pb = ndtr(a), ndtr(b)
    z = ndtri(pa + np.where(flip, 1.0 - uniform, uniform) * (pb - pa))
    z = np.clip(z, np.maximum(a, -38.0), np.minimum(b, 38.0))
    top, bottom = log_ndtr(b), log_ndtr(a)
    with np.errstate(divide="ignore"):
        log_share = top + np.log1p(-np.exp(np.minimum(bottom - top, 0.0)))
    return np.where(flip, -z, z), np.maximum(log_share, -1e4)
