"""The search: fit the sound unit, screen every fault with exact curves, refine the best, weigh the evidence."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import WhatIf
from halfsplit.errors import HalfsplitError
from halfsplit.expect import Bench, Observation, Setup
from halfsplit.expect.bench import MOST_POINTS
from halfsplit.expect.fit import STEPS, Batch, Rest, linear_start, log_det_noise, residual, rest_of
from halfsplit.expect.fit import Fit as AnyFit
from halfsplit.fault.curves import grid_of, screened, wide_white
from halfsplit.fault.hypotheses import Hypothesis, Variant, catalogue
from halfsplit.fault.weights import Weights
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]
Progress = Callable[[float, str], None]

REFINED = 30
WORTH = 14.0
ROUGHLY = 25.0
STRAINED = 2.6
HOPELESS = 60.0
FAR_OFF = 250.0
GAIN = 1.0
FEW_SETUPS = 6
COARSE = 33
MANY = 61
SWAPS = 1
COARSE_STEPS = 18
FARTHEST_START = 2.5
SOUND = Hypothesis("sound", family="sound")
Fit = AnyFit[Hypothesis]


@dataclass(frozen=True, slots=True, eq=False)
class Start:
    """Where the refinement of a hypothesis begins, and what the screening thinks of it."""

    hypothesis: Hypothesis
    touched: tuple[int, ...]
    theta: Real
    s: float
    score: float


class Search:
    """One job: its bench, the fit of the sound unit, and what each setup says about the nuisances there."""

    def __init__(self, unit: Unit, observations: Sequence[Observation], weights: Weights) -> None:
        self.bench = Bench(unit, observations, most=MANY if len(observations) > FEW_SETUPS else MOST_POINTS)
        self.weights = weights
        self.setups = tuple(self.bench.setups)
        scenes = tuple(s.scene for s in self.setups)
        hookups = tuple(dict.fromkeys(s.hookup for s in self.setups))
        self.hypotheses = catalogue(unit, scenes, hookups, weights)
        self.real = len(self.bench.keys)
        self.coarse = tuple(self.bench.setup([v.observation for v in s.views], most=COARSE) for s in self.bench.setups)
        self.sound = self.fitted_sound()
        self.theta0 = self.sound.theta
        self.sound_score = -0.5 * (self.sound.misfit + self.sound.strain)
        self._linear = [self.linear(s, self.theta0) for s in self.setups]

    def everything(self) -> Rest:
        """The prior alone, over all keys."""
        p = len(self.bench.keys)
        keys = np.arange(p)
        return Rest(keys, np.eye(p), np.zeros(p), 0.0, np.zeros(p))

    def fitted_sound(self) -> Fit:
        """The best explanation by a sound unit, from the drawn values: on few points first, then on all."""
        rough = Batch(self.bench, self.coarse, self.everything(), [SOUND], self.real)
        start = rough.refine(np.zeros((1, self.real)), np.zeros(1), COARSE_STEPS)[0].theta
        batch = Batch(self.bench, self.setups, self.everything(), [SOUND], self.real)
        return batch.refine(start[None], np.zeros(1))[0]

    def improve_sound(self, fits: Sequence[Fit]) -> bool:
        """Fit the sound unit again from where the best faults left the nuisances: it must not lose by a poor start.

        returns True where it came out better: what untouched readings say about the nuisances has changed with it
        """
        full = sorted((f for f in fits if len(f.theta) == self.real), key=lambda f: f.misfit + f.strain)[:3]
        if not full:
            return False
        batch = Batch(self.bench, self.setups, self.everything(), [SOUND] * len(full), len(self.bench.keys))
        again = batch.refine(np.array([f.theta for f in full]), np.zeros(len(full)))
        best = max([self.sound, *again], key=lambda f: f.log_evidence)
        if best is self.sound:
            return False
        self.sound, self.theta0 = best, best.theta
        self.sound_score = -0.5 * (best.misfit + best.strain)
        self._linear = [self.linear(s, self.theta0) for s in self.setups]
        return True

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

    def rest(self, touched: Sequence[int], setups: Sequence[Setup] | None = None) -> Rest:
        """What the untouched setups and the priors say about the nuisances of the touched ones.

        setups : what stands in the place of the touched ones, if not themselves
        """
        p = len(self.bench.keys)
        theta = np.zeros(p)
        theta[: self.real] = self.theta0
        precision, slope = np.eye(p), theta.copy()
        constant = 0.5 * float(theta @ theta)
        for i, (r, j) in enumerate(self._linear):
            if i not in touched:
                at = self.setups[i].local
                precision[at[:, None], at[None, :]] += j.T @ j
                slope[at] += j.T @ r
                constant += 0.5 * float(r @ r)
        keys = self.keys_of([self.setups[i] for i in touched] if setups is None else setups)
        return rest_of(keys, precision, slope, constant, theta)

    def spread(self) -> Real:
        """Posterior covariance of the nuisances about the fit of a sound unit, (P, P) over the real keys."""
        precision = np.eye(self.real)
        for setup, (_, j) in zip(self.setups, self._linear, strict=True):
            precision[setup.local[:, None], setup.local[None, :]] += j.T @ j
        return np.asarray(np.linalg.inv(precision))

    def keys_of(self, setups: Sequence[Setup]) -> npt.NDArray[np.intp]:
        """All nuisances that any of these setups depends on."""
        return np.unique(np.concatenate([s.local for s in setups]))

    def touched(self, h: Hypothesis) -> tuple[int, ...]:
        """Setups that a change acts on."""
        assert h.change is not None
        return tuple(
            i
            for i, s in enumerate(self.setups)
            if (h.only is None or h.only == s.hookup) and s.model.resolve(h.change) is not None
        )

    def screen(self, progress: Progress | None) -> list[Start]:
        """Best start of every hypothesis that is a change of the drawn unit, from two bases."""
        groups: dict[tuple[int, ...], list[Hypothesis]] = {}
        for h in self.hypotheses:
            if h.change is not None:
                groups.setdefault(self.touched(h), []).append(h)
        starts: list[Start] = []
        wanted = [t for t in groups if t and self.worth_screening(t)]
        for n, (touched, members) in enumerate(groups.items()):
            if touched in wanted:
                rest = self.rest(touched)
                followed = self.worth_following(touched, members)
                bases = [np.zeros(self.real), self.theta0] if self.troubled(touched) else [self.theta0]
                for base in bases if followed else []:
                    starts += self.screen_group(touched, followed, rest, base)
            if progress is not None:
                progress(0.1 + 0.4 * (n + 1) / len(groups), "comparing every fault at every size")
        return starts

    def worth_following(self, touched: tuple[int, ...], members: Sequence[Hypothesis]) -> Sequence[Hypothesis]:
        """In a large job, faults of the shared path are tried on the readings that are off first: one that explains
        nothing there is not followed through all the others."""
        off = tuple(i for i in touched if self.troubled([i]))
        if len(touched) <= FEW_SETUPS or not off or len(off) == len(touched):
            return members
        tried = self.screen_group(off, members, self.rest(off), self.theta0)
        return [s.hypothesis for s in tried if s.score > self.sound_score + GAIN]

    def worth_screening(self, touched: Sequence[int]) -> bool:
        """In a large job where some readings are off, faults that touch only readings that are not are passed over."""
        if len(self.setups) <= FEW_SETUPS or not any(self.troubled([i]) for i in range(len(self.setups))):
            return True
        return any(self.troubled([i]) for i in touched)

    def screen_group(
        self, touched: tuple[int, ...], members: Sequence[Hypothesis], rest: Rest, base: Real
    ) -> list[Start]:
        """Score hypotheses that act on the same setups, with nuisances taken linear about the base."""
        about = rest.about(base[rest.keys])
        curves = self.base_curves(touched, base)
        _, j = self.slopes(touched, rest.keys, base)
        out = []
        for h in members:
            s = grid_of(h)
            r = np.concatenate([screened(setup, w, h, s, base) for setup, w in curves], axis=1)
            theta, gain = linear_start(about, r, j)
            score = gain - 0.5 * (r**2).sum(1) - about.constant - 0.5 * s**2
            k = int(np.argmax(score))
            start = about.origin + np.clip(theta[k] - about.origin, -FARTHEST_START, FARTHEST_START)
            out.append(Start(h, touched, start, float(s[k]), float(score[k])))
        return out

    def base_curves(self, touched: Sequence[int], base: Real) -> list[tuple[Setup, WhatIf]]:
        """Solved cases at the base, from which every change follows exactly."""
        setups = [self.setups[i] for i in touched]
        return [(s, WhatIf(s.model.solve(base[None, s.at]), 1e-7)) for s in setups]

    def refine(self, starts: Sequence[Start], progress: Progress | None) -> list[Fit]:
        """Refine in two passes: every start that may matter on few points, the best of them on all points."""
        log_weight = {h.key: float(np.log(h.weight)) for h in self.hypotheses}
        rough = self.rough_gains([s for s in starts if self.promising(s)])
        best = max((gain + log_weight[f.hypothesis.key] for f, gain in rough), default=0.0)
        ranked = sorted(rough, key=lambda x: -(x[1] + log_weight[x[0].hypothesis.key]))
        chosen = [f for f, gain in ranked if gain + log_weight[f.hypothesis.key] > best - ROUGHLY][:REFINED]
        if progress is not None:
            progress(0.7, "refining the best explanations")
        fits = self.refine_all(self.starts_of(chosen), coarse=False)
        fits = better_of(fits, self.refine_all(self.swapped(fits), coarse=False))
        if self.improve_sound(fits) and any(len(f.theta) < self.real for f in fits):
            fits = self.refine_all(self.starts_of(fits), coarse=False)
        return fits

    def starts_of(self, fits: Sequence[Fit]) -> list[Start]:
        """Starts from where fits ended."""
        return [Start(f.hypothesis, self.touched(f.hypothesis), f.theta, f.s, 0.0) for f in fits]

    def rough_gains(self, starts: Sequence[Start]) -> list[tuple[Fit, float]]:
        """Refine on few points. returns the fits with their gain in ln evidence over a sound unit, fitted alike."""
        groups: dict[tuple[int, ...], list[Start]] = {}
        for s in starts:
            groups.setdefault(s.touched, []).append(s)
        out = []
        for touched, members in groups.items():
            keys = self.keys_of([self.setups[i] for i in touched])
            sound = Start(SOUND, touched, self.theta0[keys], 0.0, 0.0)
            fits = self.refine_all([*members, sound], coarse=True)
            base = next(f.log_evidence for f in fits if f.hypothesis is SOUND)
            out += [(f, f.log_evidence - base) for f in fits if f.hypothesis is not SOUND]
        return out

    def swapped(self, fits: Sequence[Fit]) -> list[Start]:
        """Starts of every hypothesis from the nuisances that served its neighbours best: a way out of poor optima."""
        out = []
        for f in fits:
            near = [g for g in fits if g is not f and len(g.keys) == len(f.keys) and (g.keys == f.keys).all()]
            for g in sorted(near, key=lambda g: g.misfit + g.strain)[:SWAPS]:
                out.append(Start(f.hypothesis, self.touched(f.hypothesis), g.theta, f.s, 0.0))
        return out

    def promising(self, start: Start) -> bool:
        """Where a sound unit explains most of the touched readings, only starts that come near it are followed up."""
        trouble = sum(self.troubled([i]) for i in start.touched)
        if 2 * trouble > len(start.touched):
            return start.score > self.sound_score - FAR_OFF
        return start.score > self.sound_score + (GAIN if len(self.setups) > FEW_SETUPS else -WORTH)

    def refine_all(self, starts: Sequence[Start], *, coarse: bool) -> list[Fit]:
        """Refine starts, those that touch the same setups together; the better fit of each hypothesis is kept."""
        groups: dict[tuple[int, ...], list[Start]] = {}
        for s in starts:
            groups.setdefault(s.touched, []).append(s)
        fits: list[Fit] = []
        for touched, members in groups.items():
            own = self.coarse if coarse else self.setups
            batch = Batch(
                self.bench, [own[i] for i in touched], self.rest(touched),
                [m.hypothesis for m in members], len(self.bench.keys),
            )  # fmt: skip
            steps = COARSE_STEPS if coarse else STEPS
            found = batch.refine(np.array([m.theta for m in members]), np.array([m.s for m in members]), steps)
            noise = log_det_noise([s for i, s in enumerate(own) if i not in touched])
            fits += [replace(fit, log_evidence=fit.log_evidence + noise) for fit in found]
        return better_of(fits)

    def variants(self, progress: Progress | None) -> list[Fit]:
        """Fit the mix-ups and the unlisted discrepancy."""
        out = []
        work = [h for h in self.hypotheses if h.variant is not None]
        for n, h in enumerate(work):
            assert h.variant is not None
            touched = self.variant_touched(h.variant)
            if touched and (h.variant.wide or self.worth_a_fit(h.variant, touched)):
                fit = self.fit_variant(h, h.variant, touched)
                if fit is not None:
                    out.append(fit)
            if progress is not None:
                progress(0.9 + 0.1 * (n + 1) / len(work), "trying mix-ups")
        return out

    def worth_a_fit(self, variant: Variant, touched: Sequence[int]) -> bool:
        """A mix-up is fitted where a sound unit does not explain its readings; a stuck contact shows on most bands."""
        if variant.stuck:
            return 2 * sum(self.troubled([i]) for i in touched) >= len(touched)
        return self.troubled(touched)

    def troubled(self, touched: Sequence[int]) -> bool:
        """True where a sound unit explains these setups badly, or only by straining a part beyond its spread."""
        r = np.concatenate([self._linear[i][0] for i in touched])
        strain = np.abs(self.theta0[self.keys_of([self.setups[i] for i in touched])]).max()
        return bool((r**2).sum() > 0.6 * len(r) or np.abs(r).max() > 3.5 or strain > STRAINED)

    def variant_touched(self, variant: Variant) -> tuple[int, ...]:
        """Setups that a variant replaces."""
        return tuple(
            i
            for i, s in enumerate(self.setups)
            if (variant.hookup is None or s.hookup == variant.hookup)
            and (not variant.stuck or not self.uses(s.hookup.band, variant.stuck))
            and (variant.band is None or s.hookup.band == variant.band)
        )

    def uses(self, band: str, contact: str) -> bool:
        """True where a band's own filter sits behind this contact."""
        own = self.bench.unit.band(band).filter
        chosen = None if own is None else self.bench.unit.filter(own)
        return chosen is not None and contact in (chosen.input, chosen.output)

    def fit_variant(self, h: Hypothesis, variant: Variant, touched: tuple[int, ...]) -> Fit | None:
        """Evidence of a mix-up: the touched setups as the mix-up has them. None where it cannot be tied on."""
        try:
            setups = [self.varied(self.setups[i], variant) for i in touched]
        except HalfsplitError:
            return None
        p = len(self.bench.keys)
        rest = self.rest(touched, setups)
        batch = Batch(self.bench, setups, rest, [h], p)
        score = float(batch.linear_score(np.zeros((1, len(rest.keys))), np.zeros(1))[0])
        if not variant.wide and score < self.sound_score - HOPELESS:
            return None
        fit = batch.refine(np.zeros((1, len(rest.keys))), np.zeros(1), steps=12)[0]
        noise = log_det_noise([s for i, s in enumerate(self.setups) if i not in touched])
        return replace(fit, log_evidence=fit.log_evidence + noise)

    def varied(self, setup: Setup, variant: Variant) -> Setup:
        """A setup as a variant has it."""
        views = setup.views
        to_hookup = variant.to_hookup
        if variant.stuck:
            to_hookup = replace(setup.hookup, operated=(*setup.hookup.operated, variant.stuck))
        if variant.unit is not None or to_hookup is not None:
            members = [v.observation for v in setup.views]
            setup = self.bench.setup(members, variant.unit, to_hookup)
            views = setup.views
        if variant.wide:
            views = tuple(replace(v, white=wide_white(v)) for v in views)
        if variant.offset_db:
            views = tuple(replace(v, offset_db=variant.offset_db) for v in views)
        return replace(setup, views=views)


def better_of(*sets: Sequence[Fit]) -> list[Fit]:
    """The better fit of each hypothesis."""
    best: dict[str, Fit] = {}
    for fit in (f for fits in sets for f in fits):
        old = best.get(fit.hypothesis.key)
        if old is None or fit.log_evidence > old.log_evidence:
            best[fit.hypothesis.key] = fit
    return list(best.values())


def predicted(search: Search, fit: Fit, i: int) -> Real:
    """What an explanation predicts for setup i; where it does not touch the setup, what a sound unit shows."""
    setup = search.setups[i]
    for own, values in zip(fit.setups, fit.predicted, strict=True):
        same = own is setup or (own.views[0].observation is setup.views[0].observation)
        if same and len(values) == setup.size:
            return values
    return search.sound.predicted[i]
