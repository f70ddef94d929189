"""Where the job stands if the unit is sound: the fit of a sound unit, and what each setup says about the nuisances."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from halfsplit.expect import Bench, Observation, Setup
from halfsplit.expect.bench import MOST_POINTS
from halfsplit.expect.fit import Batch, Rest, rest_of
from halfsplit.expect.fit import Fit as AnyFit
from halfsplit.expect.residual import residual
from halfsplit.fault.hypotheses import Hypothesis, Place
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]
Fit = AnyFit[Hypothesis]

SOUND = Hypothesis("sound", family="sound", places=(Place("sound", "sound", 1.0),))
FEW_SETUPS = 6
MANY = 61
COARSE = 33
STRAINED = 2.6
SETTLING = 5
ALONE = 16
NEARLY = 4
TRIED_FINE = 3
TRUSTED = 1.0
SIGNS = ((0.0, 0.0), (1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0))
"""Leaks in units of their spread, in phase and across, from which the sound unit is tried."""
Base = tuple[Real, dict[int, tuple[Real, Real]]]


class Standing:
    """The readings of a job beside the best that a sound unit can do.

    setups : at full detail; coarse : the same on few points; real : number of nuisances without those of mix-ups
    sound : the fit of the sound unit; theta0 : its nuisances, (real,); origin : where they are drawn, (real,)
    """

    def __init__(self, unit: Unit, observations: Sequence[Observation]) -> None:
        self.bench = Bench(unit, observations, most=MANY if len(observations) > FEW_SETUPS else MOST_POINTS)
        self.setups = tuple(self.bench.setups)
        self.real = len(self.bench.keys)
        self.origin = np.zeros(self.real)
        self.coarse = tuple(self.bench.setup([v.observation for v in s.views], most=COARSE) for s in self.setups)
        self.settle(self.fitted_sound())

    def settle(self, sound: Fit) -> None:
        """Take a fit of the sound unit for the best one."""
        self.sound = sound
        self.theta0 = sound.theta
        self.sound_score = -0.5 * (sound.misfit + sound.strain)
        self._linear = {i: self.linear(s, sound.theta) for i, s in enumerate(self.setups)}
        self._bases: dict[tuple[int, ...], Base] = {}

    def everything(self, p: int | None = None) -> Rest:
        """The prior alone, over the nuisances of the readings as they are said to be, or over the first p of all."""
        p = self.real if p is None else p
        return Rest(np.arange(p), np.eye(p), np.zeros(p), 0.0, np.zeros(p))

    def fitted_sound(self) -> Fit:
        """The best explanation by a sound unit, from the drawn values: on few points first, then on all."""
        starts = np.array([self.signed(self.origin, x, y) for x, y in SIGNS])
        rough = Batch(self.bench, self.coarse, self.everything(), [SOUND] * len(starts), self.real)
        theta, s = rough.annealed(starts, np.zeros(len(starts)))
        best = sorted(rough.refine(theta, s, SETTLING), key=lambda f: -f.log_evidence)[:TRIED_FINE]
        batch = Batch(self.bench, self.setups, self.everything(), [SOUND] * len(best), self.real)
        fine = batch.refine(np.array([f.theta for f in best]), np.zeros(len(best)))
        return max(fine, key=lambda f: f.log_evidence)

    def signed(self, theta: Real, in_phase: float, across: float) -> Real:
        """Nuisances with the leaks that add in amplitude set: from one sign of them no path leads to the other."""
        out = theta.copy()
        for i, key in enumerate(self.bench.keys[: len(theta)]):
            if key.startswith(("leak in phase", "leak across")):
                out[i] = in_phase if key.startswith("leak in phase") else across
        return out

    def linear(self, setup: Setup, theta: Real) -> tuple[Real, Real]:
        """Whitened residual (N,) and slopes (N, q) over its local nuisances, of one setup at theta, as drawn."""
        r, j, _ = residual(setup, *self.bench.predict(setup, theta[None]))
        assert j is not None
        return r[0], j[0]

    def slopes(self, touched: Sequence[int], keys: npt.NDArray[np.intp], theta: Real) -> tuple[Real, Real]:
        """Whitened residual (N,) and slopes (N, p) of the touched setups over the keys, as drawn."""
        rs, js = [], []
        for i in touched:
            r, j = self.linear(self.setups[i], theta)
            full = np.zeros((len(r), len(keys)))
            full[:, np.searchsorted(keys, self.setups[i].local)] = j
            rs.append(r)
            js.append(full)
        return np.concatenate(rs), np.concatenate(js)

    def base(self, touched: Sequence[int]) -> Base:
        """The nuisances as the untouched setups alone would have them, and how these setups look from there.

        A sound unit that explains the touched setups badly is bent out of shape by them; what the others say about
        the nuisances must not be taken from there.
        returns theta (real,), {setup: (residual, slopes)} of the untouched setups
        """
        key = tuple(touched)
        if key not in self._bases:
            others = [i for i in range(len(self.setups)) if i not in touched]
            if not self.troubled(touched):
                self._bases[key] = (self.theta0, {i: self._linear[i] for i in others})
            elif not others:
                self._bases[key] = (self.origin, {})
            elif (near := self.linearly(others)) is not None:
                self._bases[key] = near
            else:
                own = [self.setups[i] for i in others]
                batch = Batch(self.bench, own, self.everything(), [SOUND] * 2, len(self.bench.keys))
                starts = np.array([self.theta0, self.origin + np.clip(self.theta0 - self.origin, -1.0, 1.0)])
                hard = self.troubled(others) and len(self.setups) <= FEW_SETUPS
                steps = ALONE if hard else NEARLY
                theta = max(batch.refine(starts, np.zeros(2), steps), key=lambda f: f.log_evidence).theta
                self._bases[key] = (theta, {i: self.linear(self.setups[i], theta) for i in others})
        return self._bases[key]

    def linearly(self, others: Sequence[int]) -> Base | None:
        """The same from the slopes at the sound fit, in a job of many readings: the others hardly move the nuisances.

        None where the job is small, or where they move farther than the slopes can be trusted
        """
        if len(self.setups) <= FEW_SETUPS:
            return None
        precision, slope = np.eye(self.real), self.theta0 - self.origin
        for i in others:
            at, (r, j) = self.setups[i].local, self._linear[i]
            precision[at[:, None], at[None, :]] += j.T @ j
            slope[at] += j.T @ r
        step = -np.linalg.solve(precision, slope)
        if np.abs(step).max() > TRUSTED:
            return None
        forms = {i: (r + j @ step[self.setups[i].local], j) for i in others for r, j in [self._linear[i]]}
        return self.theta0 + step, forms

    def rest(self, touched: Sequence[int], setups: Sequence[Setup] | None = None) -> Rest:
        """What the untouched setups and the priors say about the nuisances of the touched ones.

        setups : what stands in the place of the touched ones, if not themselves
        """
        p = len(self.bench.keys)
        theta = np.zeros(p)
        theta[: self.real], untouched = self.base(touched)
        precision, slope = np.eye(p), theta.copy()
        constant = 0.5 * float(theta @ theta)
        for i, (r, j) in untouched.items():
            at = self.setups[i].local
            precision[at[:, None], at[None, :]] += j.T @ j
            slope[at] += j.T @ r
            constant += 0.5 * float(r @ r)
        keys = self.keys_of([self.setups[i] for i in touched] if setups is None else setups)
        return rest_of(keys, precision, slope, constant, theta)

    def spread(self) -> Real:
        """Posterior covariance of the nuisances about the fit of a sound unit, (P, P) over the real keys."""
        precision = np.eye(self.real)
        for i, (_, j) in self._linear.items():
            at = self.setups[i].local
            precision[at[:, None], at[None, :]] += j.T @ j
        return np.asarray(np.linalg.inv(precision))

    def known(self) -> frozenset[str]:
        """Parts of this very unit that an earlier reading of it, when it was sound, went through."""
        before = [s for s in self.setups if s.views[0].observation.baseline == "unit"]
        return frozenset(e.place for s in before for e in s.scene.elements if e.is_part)

    def keys_of(self, setups: Sequence[Setup]) -> npt.NDArray[np.intp]:
        """All nuisances that any of these setups depends on."""
        return np.unique(np.concatenate([s.local for s in setups]))

    def touched(self, h: Hypothesis) -> tuple[int, ...]:
        """Setups that a change acts on."""
        assert h.change is not None
        return tuple(i for i, s in enumerate(self.setups) if h.acts_on(s) and s.model.resolve(h.change) is not None)

    def troubled(self, touched: Sequence[int]) -> bool:
        """True where a sound unit explains these setups badly, or only by straining a part beyond its spread."""
        r = np.concatenate([self._linear[i][0] for i in touched])
        strain = np.abs(self.theta0[self.keys_of([self.setups[i] for i in touched])]).max()
        return bool((r**2).sum() > 0.6 * len(r) or np.abs(r).max() > 3.5 or strain > STRAINED)
