"""The search: every fault led to its best explanation of the readings, from coarse to fine, and weighed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import WhatIf
from halfsplit.expect import AS_IT_CAME, Observation, Setup
from halfsplit.expect.fit import STAGES, STEPS, Batch, Rest, linear_start
from halfsplit.expect.residual import log_det_noise
from halfsplit.fault.curves import grid_of, screened
from halfsplit.fault.hypotheses import Hypothesis, catalogue
from halfsplit.fault.lives import Work, lived
from halfsplit.fault.mixups import fit_mixups
from halfsplit.fault.standing import FEW_SETUPS, SOUND, Fit, Standing
from halfsplit.fault.weights import Weights
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]
Progress = Callable[[float, str], None]

REFINED = 30
WORTH = 5.0
ROUGHLY = 25.0
GAIN = 1.0
COARSE_STEPS = 10
FARTHEST_START = 2.5
NEAR_BEST = 8.0
SAME_SIZE = 0.25
AGAIN = 8
CLOSE = 8.0
CHECKED = 8
FAR_BEHIND = (300.0, 120.0, 60.0)
"""After each stage of the climb: how far behind the best objective a start is given up."""


@dataclass(frozen=True, slots=True, eq=False)
class Start:
    """Where the refinement of a hypothesis begins, and what the screening thinks of it."""

    hypothesis: Hypothesis
    touched: tuple[int, ...]
    theta: Real
    s: float
    score: float


class Search(Standing):
    """One job: where it stands if the unit is sound, and every other explanation fitted against that."""

    def __init__(
        self, unit: Unit, observations: Sequence[Observation], weights: Weights, works: Sequence[Work] = ()
    ) -> None:
        super().__init__(unit, observations)
        self.weights = weights
        self.most_climbed: int | None = None
        self.works = tuple(works)
        self.today = works[-1].after if works else AS_IT_CAME
        now = [s for s in self.setups if not s.baseline]
        scenes = tuple(s.scene for s in now)
        hookups = tuple(dict.fromkeys(s.hookup for s in now))
        listed = catalogue(unit, scenes, hookups, weights, self.known())
        self.hypotheses = lived(listed, works, frozenset(s.state for s in now))

    def run(self, progress: Progress | None) -> list[Fit]:
        """Fit whatever may matter. returns one fit for each hypothesis that was followed to the end, sound apart."""
        fits = self.refine(self.starts(progress), progress)
        to_beat = max(f.log_evidence for f in [*fits, self.sound])
        fits += fit_mixups(self, self.hypotheses, to_beat, progress)
        fits = self.checked(fits)
        self.improve_sound(fits)
        return fits

    def checked(self, fits: Sequence[Fit]) -> list[Fit]:
        """Those that may win, fitted again to all readings at once: what untouched ones say was taken as linear."""
        value = {f.hypothesis.key: f.log_evidence + float(np.log(f.hypothesis.weight)) for f in fits}
        best = max(value.values(), default=0.0)
        ranked = sorted(fits, key=lambda f: -value[f.hypothesis.key])
        close = [f for f in ranked if value[f.hypothesis.key] > best - CLOSE and len(f.setups) < len(self.setups)]
        again = {f.hypothesis.key: jointly(self, f) for f in close[:CHECKED]}
        return [again.get(f.hypothesis.key, f) for f in fits]

    def groups(self) -> dict[tuple[int, ...], list[Hypothesis]]:
        """Hypotheses that are a change of the drawn unit, by the setups that they act on."""
        out: dict[tuple[int, ...], list[Hypothesis]] = {}
        for h in self.hypotheses:
            if h.change is not None:
                touched = self.touched(h)
                if touched:
                    out.setdefault(touched, []).append(h)
        return out

    def starts(self, progress: Progress | None) -> list[Start]:
        """Starts of every hypothesis that may matter."""
        out: list[Start] = []
        groups = self.groups()
        for n, (touched, members) in enumerate(groups.items()):
            off = [i for i in touched if self.troubled([i])]
            if len(self.setups) > FEW_SETUPS and not off and any(self.troubled([i]) for i in range(len(self.setups))):
                continue
            if off:
                out += self.climbed(touched, members, off)
            else:
                found = self.screened(touched, members, self.rest(touched))
                out += [s for s in found if s.score > -WORTH]
            if progress is not None:
                progress(0.1 + 0.5 * (n + 1) / len(groups), "comparing every fault at every size")
        return out

    def climbed(self, touched: tuple[int, ...], members: Sequence[Hypothesis], off: Sequence[int]) -> list[Start]:
        """Starts of faults where readings are off: led there from the drawn values, at several sizes each.

        In a large job, faults of the shared path are tried on the readings that are off first: one that explains
        nothing there is not followed through all the others. Where `most_climbed` is set, only so many of the best of
        a set of readings are followed, by the screening.
        """
        large = len(touched) > FEW_SETUPS and len(off) < len(touched)
        if self.most_climbed and len(members) > self.most_climbed:
            tried = self.screened(tuple(off), members, self.rest(off))
            tried.sort(key=lambda s: -s.score)
            members = [s.hypothesis for s in tried[: self.most_climbed]]
        elif large:
            tried = self.screened(tuple(off), members, self.rest(off))
            members = [s.hypothesis for s in tried if s.score > GAIN]
        if not members:
            return []
        climbed = self.climb(tuple(off) if large else touched, members)
        if not large:
            return climbed
        keys, at = self.keys_of([self.setups[i] for i in touched]), self.keys_of([self.setups[i] for i in off])
        out = []
        for start in climbed:
            theta = self.base(touched)[0][keys]
            theta[np.searchsorted(keys, at)] = start.theta
            out.append(replace(start, touched=touched, theta=theta))
        return out

    def climb(self, touched: tuple[int, ...], members: Sequence[Hypothesis]) -> list[Start]:
        """Lead faults from the drawn values to where they serve these setups best; the hopeless fall by the way."""
        rest, base = self.rest(touched), self.base(touched)[0]
        work = [(h, s) for h in members for s in sizes_of(h)]
        own = [self.coarse[i] for i in touched]
        batch = Batch(self.bench, own, rest, [h for h, _ in work], len(self.bench.keys))
        theta, s = np.repeat(base[None, rest.keys], len(work), axis=0), np.array([x for _, x in work])
        for (share, floor), far in zip(STAGES, FAR_BEHIND, strict=True):
            theta, s, phi = batch.stage(theta, s, share, floor)
            kept = survivors([h.key for h in batch.hypotheses], s, phi, far)
            batch, theta, s = batch.some(kept), theta[kept], s[kept]
        return [Start(h, touched, theta[k], float(s[k]), 0.0) for k, h in enumerate(batch.hypotheses)]

    def screened(self, touched: tuple[int, ...], members: Sequence[Hypothesis], rest: Rest) -> list[Start]:
        """Score hypotheses by their exact curves on a grid of sizes, the nuisances taken linear about the sound unit.

        The score of a start is its gain over the sound unit, treated alike.
        """
        base = self.theta0
        about = rest.about(base[rest.keys])
        curves = self.base_curves(touched, base)
        sound, j = self.slopes(touched, rest.keys, base)
        reference = float(linear_start(about, sound[None], j)[1][0]) - 0.5 * float((sound**2).sum())
        out = []
        for h in members:
            s = grid_of(h)
            r = np.concatenate([screened(setup, w, h, s, base) for setup, w in curves], axis=1)
            theta, gain = linear_start(about, r, j)
            score = gain - 0.5 * (r**2).sum(1) - 0.5 * s**2 - reference
            k = int(np.argmax(score))
            start = about.origin + np.clip(theta[k] - about.origin, -FARTHEST_START, FARTHEST_START)
            out.append(Start(h, touched, start, float(s[k]), float(score[k])))
        return out

    def base_curves(self, touched: Sequence[int], base: Real) -> list[tuple[Setup, WhatIf]]:
        """Solved cases at the base, from which every change follows exactly."""
        setups = [self.setups[i] for i in touched]
        return [(s, WhatIf(self.bench.solved(s, base[None]), 1e-7)) for s in setups]

    def refine(self, starts: Sequence[Start], progress: Progress | None) -> list[Fit]:
        """Refine in two passes: every start that may matter on few points, the best of them on all points."""
        log_weight = {h.key: float(np.log(h.weight)) for h in self.hypotheses}
        rough = self.rough_gains(starts)
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
            sound = [Start(SOUND, touched, theta[keys], 0.0, 0.0) for theta in (self.theta0, self.base(touched)[0])]
            fits = self.refine_all([*members, *sound], coarse=True)
            base = next(f.log_evidence for f in fits if f.hypothesis is SOUND)
            out += [(f, f.log_evidence - base) for f in fits if f.hypothesis is not SOUND]
        return out

    def swapped(self, fits: Sequence[Fit]) -> list[Start]:
        """Starts of the best hypotheses from the nuisances that served their neighbour best: a way out of poor
        optima."""
        out = []
        best = max((f.log_evidence for f in fits), default=0.0)
        for f in fits:
            near = [g for g in fits if g is not f and len(g.keys) == len(f.keys) and (g.keys == f.keys).all()]
            if near and f.log_evidence > best - NEAR_BEST:
                g = min(near, key=lambda g: g.misfit + g.strain)
                out.append(Start(f.hypothesis, self.touched(f.hypothesis), g.theta, f.s, 0.0))
        return out

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

    def improve_sound(self, fits: Sequence[Fit]) -> bool:
        """Fit the sound unit again from where the best faults left the nuisances: it must not lose by a poor start.

        returns True where it came out better: what untouched readings say about the nuisances has changed with it
        """
        full = sorted((f for f in fits if len(f.theta) >= self.real), key=lambda f: f.misfit + f.strain)[:AGAIN]
        nuisances = [f.theta[: self.real] for f in full if f.keys[self.real - 1] == self.real - 1]
        starts = np.array([self.signed(x, 0.0, 0.0) if i % 2 else x for i, x in enumerate(nuisances)])
        if not len(starts):
            return False
        batch = Batch(self.bench, self.setups, self.everything(), [SOUND] * len(starts), len(self.bench.keys))
        again = batch.refine(starts, np.zeros(len(starts)))
        best = max([self.sound, *again], key=lambda f: f.log_evidence)
        if best is self.sound:
            return False
        self.settle(best)
        return True


def jointly(search: Standing, f: Fit) -> Fit:
    """One explanation fitted to all readings at once."""
    own = {id(s.views[0].observation): s for s in f.setups}
    setups = [own.get(id(s.views[0].observation), s) for s in search.setups]
    touched = tuple(i for i, s in enumerate(search.setups) if id(s.views[0].observation) in own)
    p = len(search.bench.keys)
    theta = np.zeros(p)
    theta[: search.real] = search.base(touched)[0]
    theta[f.keys] = f.theta
    return Batch(search.bench, setups, search.everything(p), [f.hypothesis], p).refine(theta[None], np.array([f.s]))[0]


def sizes_of(h: Hypothesis) -> tuple[float, ...]:
    """Sizes from which a fault is led to its best, in prior units: small, middling and large."""
    if not h.sized:
        return (0.0,)
    low, high = (h.low - h.middle) / h.width, (h.high - h.middle) / h.width
    if np.isfinite(low):
        return (low + 0.1, low + 0.8, low + 2.0)
    if np.isfinite(high):
        return (high - 0.1, high - 0.8, high - 2.0)
    return (0.0,)


def survivors(keys: Sequence[str], s: Real, phi: Real, far: float) -> npt.NDArray[np.intp]:
    """Starts worth following: not far behind the best of all, and not where a better start of the same fault went.

    s : (n,) sizes in prior units; phi : (n,) objectives; far : how far behind is too far
    """
    kept: list[int] = []
    for k in np.argsort(phi, kind="stable"):
        same = [i for i in kept if keys[i] == keys[k]]
        if phi[k] < phi.min() + far and len(same) < 2 and all(abs(s[i] - s[k]) > SAME_SIZE for i in same):
            kept.append(int(k))
    return np.array(sorted(kept), int)


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


def apart(search: Search, a: Fit, b: Fit) -> float:
    """Squared distance of what two explanations predict, in units of the readings' noise: twice the expected
    ln of the odds by which these readings tell them apart."""
    total = 0.0
    for i, setup in enumerate(search.setups):
        first = 0
        pa, pb = predicted(search, a, i), predicted(search, b, i)
        for view in setup.views:
            part = slice(first, first + view.size)
            total += float(((view.white @ (pa[part] - pb[part])) ** 2).sum())
            first += view.size
    return total
