"""Two faults at once: the best single causes taken for granted in turn, and every other fault led to its best beside
each of them, the nuisances and both sizes fitted together."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from halfsplit.errors import HalfsplitError
from halfsplit.expect.companion import Companion
from halfsplit.expect.fit import Batch
from halfsplit.expect.normal import log_below
from halfsplit.expect.residual import residual
from halfsplit.fault.hypotheses import Hypothesis, designators
from halfsplit.fault.mixups import replaced, varied
from halfsplit.fault.search import Search, apart, jointly
from halfsplit.fault.standing import SOUND, Fit

Real = npt.NDArray[np.float64]
Progress = Callable[[float, str], None]

FIRSTS, SECONDS = 3, 2
ALIKE = 2.0
FOLLOWED = 16
CLIMBED = 24
JOINTLY = 10
IMPROVED = 2
BEHIND = 20.0
SETTLING = 12
CLEAN = (0.5, 3.0, 1.9)
"""A single cause that leaves more than this unexplained is not taken for the whole truth without trying two: misfit
for each point, worst point, and the largest strain of a sound part. Loose on purpose: a look costs time only."""
GOOD = (0.6, 3.5, 3.5)
"""Two faults that leave more than this unexplained are no explanation: with two sizes much can be bent to fit."""
ENOUGH = 12
"""Points of the readings that are off: fewer cannot carry two faults."""


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """Two faults that explain the readings together.

    first, second : each as the fit has it beside the other: its size, and what both together predict
    log_evidence : ln of the probability density of the readings, prior weights not included
    """

    first: Fit
    second: Fit
    log_evidence: float

    @property
    def keys(self) -> frozenset[str]:
        """Keys of both hypotheses."""
        return frozenset((self.first.hypothesis.key, self.second.hypothesis.key))


def unexplained(search: Search, fit: Fit, limits: tuple[float, float, float]) -> bool:
    """True where even this explanation leaves readings off, or strains a part beyond its spread. limits : as CLEAN."""
    shown = zip(search.setups, joint_values(search, fit), strict=True)
    r = np.concatenate([residual(setup, values[None], None, None)[0][0] for setup, values in shown])
    strain = float(np.abs(fit.theta).max(initial=0.0))
    poor, worst, strained = limits
    return bool((r**2).sum() > poor * len(r) or np.abs(r).max() > worst or strain > strained)


def joint_values(search: Search, fit: Fit) -> list[Real]:
    """What an explanation predicts for every setup. returns (N,) each."""
    own = {id(s.views[0].observation): v for s, v in zip(fit.setups, fit.predicted, strict=True)}
    drawn = search.sound.predicted
    return [own.get(id(s.views[0].observation), drawn[i]) for i, s in enumerate(search.setups)]


def find_pairs(
    search: Search, fits: Sequence[Fit], log_prior: Mapping[str, float], progress: Progress | None = None
) -> tuple[list[Pair], list[Fit]]:
    """Two faults at once, where one alone does not explain the readings.

    The best single causes are taken for granted in turn; then what was found beside them, so that whatever could
    stand in the place of the first is found as well.
    fits : of single causes; log_prior : ln prior weight of each by its key
    returns the pairs by falling evidence, and the single fits, those of a pair's members led on from where the pair
    left the nuisances where that serves them better
    """
    value = {f.hypothesis.key: f.log_evidence + log_prior[f.hypothesis.key] for f in fits}
    single = [f for f in fits if f.hypothesis.family in ("fault", "mix-up")]
    single.sort(key=lambda f: -value[f.hypothesis.key])
    off = sum(x.size for i, x in enumerate(search.setups) if not x.baseline and search.troubled([i]))
    if not single or off < ENOUGH or not unexplained(search, whole(search, single[0]), CLEAN):
        return [], list(fits)
    found: list[Candidate] = []
    firsts, done = first_faults(search, single), 0
    while done < len(firsts):
        found += beside_of(search, firsts[done], log_prior)
        done += 1
        if done == len(firsts) and done <= FIRSTS:
            firsts += second_faults(found, firsts)
        if progress is not None:
            progress(done / (FIRSTS + SECONDS), "trying two faults at once")
    found.sort(key=lambda c: -c.value)
    pairs = finished([c for c in found if c.value > found[0].value - BEHIND][:FOLLOWED], search.real)
    return [p for p in pairs if not unexplained(search, p.second, GOOD)], improved(search, fits, pairs)


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A pair as it looks on few points. search : the one in which the first fault is taken for granted."""

    value: float
    search: Search
    first: Fit
    second: Fit


def beside_of(search: Search, first: Fit, log_prior: Mapping[str, float]) -> list[Candidate]:
    """Everything that may be wrong besides one fault."""
    beside = accompanied(search, first)
    starts = [] if beside is None else beside.starts(None)
    if beside is None or not starts:
        return []
    own = beside.sound.log_evidence + log_prior[first.hypothesis.key]
    rough = beside.rough_gains(starts)
    return [Candidate(own + gain + log_prior[f.hypothesis.key], beside, first, f) for f, gain in rough]


def whole(search: Search, fit: Fit) -> Fit:
    """A fit to all readings at once."""
    return fit if len(fit.setups) == len(search.setups) else jointly(search, fit)


def first_faults(search: Search, ranked: Sequence[Fit]) -> list[Fit]:
    """The best single causes that these readings can tell apart."""
    out: list[Fit] = []
    for fit in ranked:
        if len(out) < FIRSTS and all(apart(search, fit, other) > ALIKE for other in out):
            out.append(fit)
    return out


def second_faults(found: Sequence[Candidate], firsts: Sequence[Fit]) -> list[Fit]:
    """What was found beside the first faults, the best of it, without what has been a first fault already."""
    out: list[Fit] = []
    taken = {f.hypothesis.key for f in firsts}
    for c in sorted(found, key=lambda c: -c.value):
        if c.second.hypothesis.key not in taken and len(out) < SECONDS:
            taken.add(c.second.hypothesis.key)
            out.append(c.second)
    return out


def accompanied(search: Search, first: Fit) -> Search | None:
    """The same search in a unit (or with a hook-up) that has one fault already. None where it cannot be tied on."""
    h, out, p = first.hypothesis, copy.copy(search), search.real
    theta = np.zeros(p)
    theta[:] = search.base(touched_by(search, first))[0]
    inside = first.keys < p
    theta[first.keys[inside]] = first.theta[inside]
    if h.variant is not None:
        if not with_variant(search, out, h):
            return None
        theta = np.concatenate([theta, np.zeros(out.real - p)])
        out.origin = np.zeros(out.real)
    else:
        assert h.change is not None
        low, high = bounds(h)
        companion = Companion(h.change, h.only, p if h.sized else -1, h.middle, h.width, low, high, h.life)
        out.bench = search.bench.accompanied(companion, p)
        out.setups = tuple(out.bench.setups)
        out.coarse = tuple(out.bench.alongside(s) for s in search.coarse)
        out.real = p + 1
        theta = np.append(theta, first.s)
        out.origin = np.append(np.zeros(p), first.s if h.sized else 0.0)
    mine = designators(h)
    out.most_climbed = CLIMBED
    out.hypotheses = tuple(x for x in search.hypotheses if x.change is not None and not designators(x) & mine)
    batch = Batch(out.bench, out.setups, out.everything(), [SOUND], out.real)
    out.settle(batch.refine(theta[None], np.zeros(1), SETTLING)[0])
    return out


def with_variant(search: Search, out: Search, h: Hypothesis) -> bool:
    """Tie the readings on as a mix-up has them. returns False where that is not possible."""
    assert h.variant is not None
    touched = replaced(search, h.variant)
    out.bench = search.bench.without_mixups(search.real)
    try:
        out.setups = tuple(varied(out, s, h.variant) if i in touched else s for i, s in enumerate(search.setups))
        out.coarse = tuple(varied(out, s, h.variant) if i in touched else s for i, s in enumerate(search.coarse))
    except HalfsplitError:
        return False
    out.real = len(out.bench.keys)
    return True


def touched_by(search: Search, fit: Fit) -> tuple[int, ...]:
    """Indices of the setups that a fit acts on."""
    own = {id(s.views[0].observation) for s in fit.setups}
    return tuple(i for i, s in enumerate(search.setups) if id(s.views[0].observation) in own)


def bounds(h: Hypothesis) -> tuple[float, float]:
    """Bounds of a size in prior units."""
    return ((h.low - h.middle) / h.width, (h.high - h.middle) / h.width) if h.sized else (-np.inf, np.inf)


def finished(chosen: Sequence[Candidate], real: int) -> list[Pair]:
    """Pairs refined on all points, the best of them on all readings at once; each pair once. real : as in Search."""
    fits: list[Candidate] = []
    for beside in {id(c.search): c.search for c in chosen}.values():
        own = {c.second.hypothesis.key: c for c in chosen if c.search is beside}
        for fit in beside.refine_all(beside.starts_of([c.second for c in own.values()]), coarse=False):
            c = own[fit.hypothesis.key]
            fits.append(Candidate(c.value + fit.log_evidence - c.second.log_evidence, beside, c.first, fit))
    best: dict[frozenset[str], Pair] = {}
    for c in sorted(fits, key=lambda c: -c.value)[:JOINTLY]:
        pair = joined(real, c.first, jointly(c.search, c.second))
        if pair is not None and (pair.keys not in best or pair.log_evidence > best[pair.keys].log_evidence):
            best[pair.keys] = pair
    return sorted(best.values(), key=lambda x: -x.log_evidence)


def improved(search: Search, fits: Sequence[Fit], pairs: Sequence[Pair]) -> list[Fit]:
    """The single fits, those of the best pairs' members once more from the pair's nuisances."""
    out = {f.hypothesis.key: f for f in fits}
    for pair in pairs[:IMPROVED]:
        for fit in (pair.first, pair.second):
            h = fit.hypothesis
            if h.change is not None and h.key in out:
                batch = Batch(
                    search.bench, search.setups, search.everything(len(search.bench.keys)), [h], len(search.bench.keys)
                )
                theta = np.zeros((1, len(search.bench.keys)))
                theta[0, fit.keys] = fit.theta
                again = batch.refine(theta, np.array([fit.s]))[0]
                if again.log_evidence > out[h.key].log_evidence:
                    out[h.key] = again
    return list(out.values())


def joined(real: int, first: Fit, both: Fit) -> Pair | None:
    """A pair from the joint fit of both. None where the first has shrunk to nothing beside the second."""
    h, log_evidence = first.hypothesis, both.log_evidence
    s = first.s
    if h.variant is None and h.sized:
        s = float(both.theta[-1])
        low, high = bounds(h)
        if not low <= s <= high:
            return None
        log_evidence -= log_below(-low) if np.isfinite(low) else log_below(high) if np.isfinite(high) else 0.0
    inside = both.keys < real
    keys, theta = both.keys[inside], both.theta[inside]
    both = replace(both, keys=keys, theta=theta, log_evidence=log_evidence)
    one = replace(both, hypothesis=h, s=s, ln_size=float(h.middle + h.width * s), spread_s=first.spread_s)
    return Pair(one, both, log_evidence)
