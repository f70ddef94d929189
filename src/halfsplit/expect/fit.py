"""Evidence of hypotheses: nuisances and size integrated out by Gauss-Newton and Laplace, many at once.

All quantities are in units of prior standard deviations, so the prior is a unit normal in every direction.
source: Laplace's method, e.g. MacKay 2003, Information Theory, Inference, and Learning Algorithms, ch. 27
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import Alteration, Change
from halfsplit.expect.bench import Bench, Setup
from halfsplit.expect.normal import log_below, scaled_tail
from halfsplit.expect.residual import LN2PI, log_det_noise, residual
from halfsplit.hookup import Hookup

Real = npt.NDArray[np.float64]

STEPS = 24
PATIENCE = 2
ENOUGH = 0.02
STAGES = ((0.02, 0.1), (0.1, 0.02), (0.4, 0.002))
STAGE_STEPS = 3
FREED = 0.05


@dataclass(frozen=True, slots=True)
class Departure:
    """One way in which the unit may differ from its drawing; as it stands, none: a sound unit.

    change : what differs; None for nothing
    middle, width : the prior of ln size is normal; low, high : the bounds of ln size
    only : the hook-up to which the change is confined; life : the states of the unit (by their number) in which it
    is there, None: all
    """

    key: str
    change: Change | None = None
    middle: float = 0.0
    width: float = 0.0
    low: float = -np.inf
    high: float = np.inf
    only: Hookup | None = None
    life: frozenset[int] | None = None

    def alive(self, state: int) -> bool:
        """True where it is there in a state of the unit."""
        return self.life is None or state in self.life

    def acts_on(self, setup: Setup) -> bool:
        """True where the readings of a setup are of the unit (or the hook-up) with the change in it."""
        mine = self.only is None or self.only == setup.hookup
        return self.change is not None and not setup.baseline and mine and self.alive(setup.state)

    @property
    def sized(self) -> bool:
        """True where there is a size to be found."""
        return self.width > 0.0


SOUND = Departure("sound")
D = TypeVar("D", bound=Departure)


@dataclass(frozen=True, slots=True, eq=False)
class Rest:
    """What the readings that a hypothesis does not touch say about the nuisances that it shares with them.

    keys : the nuisances kept; precision (p, p), slope (p,) and constant of the quadratic form about `origin` (p,)
    """

    keys: npt.NDArray[np.intp]
    precision: Real
    slope: Real
    constant: float
    origin: Real

    def about(self, origin: Real) -> Rest:
        """The same quadratic form written about another origin."""
        d = origin - self.origin
        constant = self.constant + float(self.slope @ d + 0.5 * d @ self.precision @ d)
        return Rest(self.keys, self.precision, self.slope + self.precision @ d, constant, origin)


def rest_of(keys: npt.NDArray[np.intp], precision: Real, slope: Real, constant: float, theta: Real) -> Rest:
    """Marginalise all other nuisances out of a quadratic form.

    precision (P, P), slope (P,), constant : of -ln density about theta (P,), priors included
    """
    others = np.setdiff1d(np.arange(len(theta)), keys)
    kept = precision[np.ix_(keys, keys)]
    if not len(others):
        return Rest(keys, kept, slope[keys], constant, theta[keys])
    inner = precision[np.ix_(others, others)]
    cross = precision[np.ix_(keys, others)]
    solved = np.linalg.solve(inner, np.column_stack([cross.T, slope[others]]))
    constant += -0.5 * float(slope[others] @ solved[:, -1]) + 0.5 * float(np.linalg.slogdet(inner)[1])
    return Rest(keys, kept - cross @ solved[:, :-1], slope[keys] - cross @ solved[:, -1], constant, theta[keys])


@dataclass(frozen=True, slots=True, eq=False)
class Fit(Generic[D]):
    """The best explanation that one hypothesis can give.

    theta : (p,) over `keys`; s : size in prior units; ln_size : natural logarithm of the size
    log_evidence : ln of the probability density of the readings, prior weight not included
    predicted : for each setup touched, (N,) values; spread_s : posterior 1 sigma of s
    misfit : sum of squared whitened residuals; strain : sum of squared nuisances
    """

    hypothesis: D
    setups: tuple[Setup, ...]
    keys: npt.NDArray[np.intp]
    theta: Real
    s: float
    ln_size: float
    spread_s: float
    log_evidence: float
    predicted: tuple[Real, ...]
    misfit: float
    strain: float


@dataclass(slots=True, eq=False)
class State:
    """Where K cases stand: phi (K,), gradient (K, p+1), Hessian (K, p+1, p+1), misfit (K,); the size comes last."""

    phi: Real
    gradient: Real
    hessian: Real
    misfit: Real

    def of(self, which: npt.NDArray[np.intp]) -> State:
        """Some of the cases."""
        return State(self.phi[which], self.gradient[which], self.hessian[which], self.misfit[which])

    def take(self, which: npt.NDArray[np.intp], new: State, mask: npt.NDArray[np.bool_]) -> None:
        """Put the masked cases of another state in the places given."""
        self.phi[which], self.gradient[which] = new.phi[mask], new.gradient[mask]
        self.hessian[which], self.misfit[which] = new.hessian[mask], new.misfit[mask]


class Batch(Generic[D]):
    """K starts refined together on the same setups."""

    def __init__(self, bench: Bench, setups: Sequence[Setup], rest: Rest, hypotheses: Sequence[D], p: int) -> None:
        self.bench = bench
        self.setups = tuple(setups)
        self.rest = rest
        self.hypotheses = tuple(hypotheses)
        self.p = p
        self.share = 1.0
        self.floor = 0.0
        self.held = False
        self.at: list[list[Alteration | None]] = []
        for setup in self.setups:
            row: list[Alteration | None] = []
            for h in self.hypotheses:
                row.append(setup.model.resolve(h.change) if h.acts_on(setup) and h.change is not None else None)
            self.at.append(row)
        self.middle = np.array([h.middle for h in self.hypotheses])
        self.width = np.array([h.width for h in self.hypotheses])
        self.sized = self.width > 0
        with np.errstate(invalid="ignore", divide="ignore"):
            safe = np.where(self.sized, self.width, 1.0)
            self.low = np.where(self.sized, (np.array([h.low for h in self.hypotheses]) - self.middle) / safe, -np.inf)
            self.high = np.where(self.sized, (np.array([h.high for h in self.hypotheses]) - self.middle) / safe, np.inf)

    def sizes(self, s: Real) -> Real:
        """Sizes in SI units. s : (K,)."""
        return np.asarray(np.exp(self.middle + self.width * s))

    def _full(self, theta: Real) -> Real:
        out = np.zeros((len(theta), self.p))
        out[:, self.rest.keys] = theta
        return out

    def run(self, theta: Real, s: Real) -> State:
        """Objective, its gradient and Gauss-Newton Hessian over (nuisances, size), setup by setup."""
        full, size = self._full(theta), self.sizes(s)
        cases, p = theta.shape
        hessian = np.zeros((cases, p + 1, p + 1))
        hessian[:, :p, :p] = self.rest.precision
        hessian[:, p, p] = 1.0
        d = theta - self.rest.origin
        gradient = np.zeros((cases, p + 1))
        gradient[:, :p] = d @ self.rest.precision + self.rest.slope
        gradient[:, p] = s
        share = self.share
        phi = 0.5 * ((d @ self.rest.precision) * d).sum(1) + d @ self.rest.slope + self.rest.constant + 0.5 * s**2
        misfit = np.zeros(cases)
        for setup, row in zip(self.setups, self.at, strict=True):
            changes = [None if a is None else (a, float(size[k])) for k, a in enumerate(row)]
            seen = self.bench.predict(setup, full, changes, floor=self.floor)
            r, j, js = residual(setup, *seen, self.floor)
            assert j is not None
            assert js is not None
            both = np.concatenate([j, (js * self.width[:, None])[:, :, None]], axis=2)
            rough = both if share == 1.0 else both.astype(np.float32)  # a stage needs a direction, not digits
            at = np.append(np.searchsorted(self.rest.keys, setup.local), p)
            hessian[:, at[:, None], at[None, :]] += share * np.matmul(rough.transpose(0, 2, 1), rough)
            gradient[:, at] += share * np.matmul(r[:, None, :], both)[:, 0]
            misfit += (r**2).sum(1)
        return State(phi + 0.5 * share * misfit, gradient, hessian, misfit)

    def values(self, theta: Real, s: Real) -> list[Real]:
        """Predicted values of each setup, (K, N) each."""
        full, size = self._full(theta), self.sizes(s)
        out = []
        for setup, row in zip(self.setups, self.at, strict=True):
            changes = [None if a is None else (a, float(size[k])) for k, a in enumerate(row)]
            out.append(self.bench.predict(setup, full, changes, slopes=False)[0])
        return out

    def refine(self, theta: Real, s: Real, steps: int = STEPS) -> list[Fit[D]]:
        """Levenberg-Marquardt on all starts, each with its own damping; sizes stay within their bounds."""
        return self._finish(*self._descend(theta, s, steps))

    def _descend(self, theta: Real, s: Real, steps: int) -> tuple[Real, Real, State]:
        theta, s = theta.copy(), np.where(self.sized, np.clip(s, self.low, self.high), 0.0)
        state = self.run(theta, s)
        damping = np.full(len(s), 1e-2)
        idle = np.zeros(len(s), int)
        for _ in range(steps):
            live = np.flatnonzero(idle < PATIENCE)
            if not len(live):
                break
            part = self.some(live)
            dtheta, ds = part.step(state.of(live), s[live], damping[live])
            new_theta = theta[live] + dtheta
            new_s = np.where(part.sized, np.clip(s[live] + ds, part.low, part.high), 0.0)
            new = part.run(new_theta, new_s)
            better = new.phi < state.phi[live]
            small = np.abs(state.phi[live] - new.phi) < ENOUGH
            won = live[better]
            theta[won], s[won] = new_theta[better], new_s[better]
            state.take(won, new, better)
            damping[live] = np.where(better, np.maximum(damping[live] * 0.2, 1e-6), damping[live] * 6.0)
            idle[live] = np.where(small, idle[live] + 1, 0)
        return theta, s, state

    def annealed(self, theta: Real, s: Real) -> tuple[Real, Real]:
        """Starts led towards their optimum through all STAGES. returns (theta, s)."""
        for share, floor in STAGES:
            theta, s, _ = self.stage(theta, s, share, floor)
        return theta, s

    def stage(self, theta: Real, s: Real, share: float, floor: float) -> tuple[Real, Real, Real]:
        """A few steps towards the optimum of an easier problem: readings count less, and what lies deep not at all.

        share : of the readings' weight, below FREED the sizes stay where they are: the prior would draw all starts of a
        fault to one size; floor : amplitude that is added in power to through readings
        returns (theta, s, objective of each start at the full weight, with the floor)
        source: tempering of the likelihood, e.g. Neal 2001, Statistics and Computing 11, 125-139
        """
        self.share, self.floor, self.held = share, floor, share < FREED
        theta, s, state = self._descend(theta, s, STAGE_STEPS)
        self.share, self.floor, self.held = 1.0, 0.0, False
        return theta, s, state.phi + 0.5 * (1.0 - share) * state.misfit

    def linear_score(self, theta: Real, s: Real, floor: float = 0.0) -> Real:
        """Minus the least objective within reach of the starts, everything taken as linear. returns (K,).

        floor : as in `stage`
        """
        self.floor = floor
        state = self.run(theta, s)
        self.floor = 0.0
        step = np.linalg.solve(state.hessian, state.gradient[:, :, None])[:, :, 0]
        return np.asarray(0.5 * (state.gradient * step).sum(1) - state.phi)

    def some(self, which: npt.NDArray[np.intp]) -> Batch[D]:
        """The same batch with only some of its starts."""
        part = copy.copy(self)
        part.hypotheses = tuple(self.hypotheses[k] for k in which)
        part.at = [[row[k] for k in which] for row in self.at]
        for name in ("middle", "width", "sized", "low", "high"):
            setattr(part, name, getattr(self, name)[which])
        return part

    def step(self, state: State, s: Real, damping: Real) -> tuple[Real, Real]:
        """One damped step of (nuisances, size) for every case, at most 2 sigma long in any direction."""
        hessian, gradient = state.hessian.copy(), state.gradient.copy()
        stuck = (
            np.full(len(s), self.held)
            | ~self.sized
            | ((s <= self.low) & (gradient[:, -1] > 0))
            | ((s >= self.high) & (gradient[:, -1] < 0))
        )
        hessian[stuck, -1, :] = 0.0
        hessian[stuck, :, -1] = 0.0
        hessian[stuck, -1, -1] = 1.0
        gradient[stuck, -1] = 0.0
        size = np.einsum("kii->ki", hessian)
        size += damping[:, None] * (size + 1.0)
        step = -np.linalg.solve(hessian, gradient[:, :, None])[:, :, 0]
        longest = np.abs(step).max(1, keepdims=True)
        step *= np.minimum(1.0, 2.0 / np.maximum(longest, 1e-12))
        return np.asarray(step[:, :-1]), np.asarray(step[:, -1])

    def _finish(self, theta: Real, s: Real, state: State) -> list[Fit[D]]:
        hessian, gradient, phi = state.hessian, state.gradient, state.phi
        inner = hessian[:, :-1, :-1]
        log_det = np.linalg.slogdet(inner)[1]
        cross = hessian[:, :-1, -1]
        solved = np.linalg.solve(inner, cross[:, :, None])[:, :, 0]
        curvature = np.maximum(hessian[:, -1, -1] - (cross * solved).sum(1), 1e-9)
        values = self.values(theta, s)
        noise = log_det_noise(self.setups)
        out = []
        for k, h in enumerate(self.hypotheses):
            log_evidence = noise - phi[k] - 0.5 * log_det[k]
            if h.sized:
                uphill = max(gradient[k, -1], 0.0) if s[k] <= self.low[k] else 0.0
                uphill = min(gradient[k, -1], 0.0) if s[k] >= self.high[k] else uphill
                log_evidence += log_size_integral(
                    float(s[k]), float(uphill), float(curvature[k]), float(self.low[k]), float(self.high[k])
                )
            out.append(
                Fit(
                    h, self.setups, self.rest.keys, theta[k], float(s[k]), float(np.log(self.sizes(s)[k])),
                    float(curvature[k] ** -0.5), float(log_evidence), tuple(v[k] for v in values),
                    float(state.misfit[k]), float((theta[k] ** 2).sum()),
                )
            )  # fmt: skip
        return out


def log_size_integral(s: float, gradient: float, curvature: float, low: float, high: float) -> float:
    """ln of the integral over the size within its bounds, against a unit normal prior renormalised to them.

    The objective is taken as quadratic about s; one of low, high is infinite (or both).
    """
    if np.isfinite(high) and not np.isfinite(low):
        return log_size_integral(-s, -gradient, curvature, -high, np.inf)
    top = -gradient / curvature
    root = curvature**0.5
    log_prior = -0.5 * LN2PI - (log_below(-low) if np.isfinite(low) else 0.0)
    if not np.isfinite(low):
        return float(log_prior + 0.5 * LN2PI - 0.5 * np.log(curvature) + 0.5 * gradient**2 / curvature)
    x = (low - s - top) * root
    if x > 0:
        edge = gradient * (low - s) + 0.5 * curvature * (low - s) ** 2
        return float(log_prior - edge + np.log(scaled_tail(x / 2**0.5)) + 0.5 * np.log(np.pi / (2.0 * curvature)))
    peak = 0.5 * gradient**2 / curvature
    return float(log_prior + peak + 0.5 * LN2PI - 0.5 * np.log(curvature) + log_below(-x))


def linear_start(rest: Rest, r: Real, j: Real) -> tuple[Real, Real]:
    """Best nuisances for fixed slopes. r : (K, N), j : (N, p). returns theta (K, p) about the origin, gain (K,)."""
    hessian = j.T @ j + rest.precision
    gradient = r @ j + rest.slope
    step = -np.linalg.solve(hessian, gradient.T).T
    return rest.origin + step, np.asarray(-0.5 * np.einsum("kp,kp->k", step, gradient))


def fit_sound(bench: Bench) -> Fit[Departure]:
    """The best explanation of all readings of a bench by a sound unit, its nuisances at their most probable."""
    p = len(bench.keys)
    rest = Rest(np.arange(p), np.eye(p), np.zeros(p), 0.0, np.zeros(p))
    batch = Batch(bench, bench.setups, rest, [SOUND], p)
    return batch.refine(np.zeros((1, p)), np.zeros(1))[0]
