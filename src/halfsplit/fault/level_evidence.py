"""What level readings say about every cause: evidence, sizes and nuisances integrated out, and what each predicts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.expect.level_cases import Cases
from halfsplit.expect.level_fit import LevelFit, fit, whitened
from halfsplit.expect.levels import LevelBench
from halfsplit.fault.level_paths import invisible

Real = npt.NDArray[np.float64]

OUTSIDE_STEPS, PATH_STEPS = 4, 2
BEHIND = 20.0
"""How far behind the best of all, in ln of probability, a rough look lets a case fall before it is left at that."""
MOST_REFINED = 90
GAIN = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Said:
    """What level readings say about one cause.

    log_evidence : ln density of the readings, sizes integrated out
    sizes, share (n,) : sizes tried, and how the readings weigh them; best : the likeliest size
    predicted (N,), u (P,), root (P, P), slope (N, P) : there; misfit (N,) squared residuals there
    cases : one case at the best size
    """

    log_evidence: float
    sizes: Real
    share: Real
    best: float
    predicted: Real
    u: Real
    root: Real
    slope: Real
    misfit: Real
    cases: Cases


def said_of(
    bench: LevelBench, cases: Sequence[Cases], sizes: Sequence[Real], log_share: Sequence[Real], log_prior: Real
) -> list[Said]:
    """Weigh causes, the first of them a sound transmitter.

    cases : of each cause, one for each of its sizes; log_share : ln chance of each size; log_prior : (n,) of each cause
    """
    whole = Cases.joined(cases)
    counts = np.array([len(c) for c in cases])
    owner = np.repeat(np.arange(len(cases)), counts)
    weight = np.concatenate(log_share) + log_prior[owner]
    first = fit(bench, whole.picked(np.zeros(1, int)))
    seen = ~invisible(bench, whole) | touched(bench, whole)
    rough = np.flatnonzero(seen)
    evidence = np.full(len(whole), first.log_evidence[0])
    fits: dict[int, tuple[LevelFit, int]] = {}
    if len(rough):
        outside = touched(bench, whole)[rough]
        for part, steps in ((rough[outside], OUTSIDE_STEPS), (rough[~outside], PATH_STEPS)):
            quick = fit(bench, whole.picked(part), steps=steps) if len(part) else first
            evidence[part] = quick.log_evidence if len(part) else evidence[part]
            for n, i in enumerate(part):
                fits[int(i)] = (quick, n)
        value = evidence[rough] + weight[rough]
        top = max(float(value.max()), float(first.log_evidence[0] + weight[0]))
        close = rough[np.argsort(-value)][:MOST_REFINED]
        close = np.array([i for i in close if evidence[i] + weight[i] > top - BEHIND], int)
        if len(close):
            fine = fit(bench, whole.picked(close))
            evidence[close] = fine.log_evidence
            for n, i in enumerate(close):
                fits[int(i)] = (fine, n)
    out = []
    for k in range(len(cases)):
        index = np.flatnonzero(owner == k)
        out.append(
            one_said(bench, whole, index, evidence[index] + np.concatenate(log_share)[index], sizes[k], fits, first)
        )
    return out


def touched(bench: LevelBench, cases: Cases) -> npt.NDArray[np.bool_]:
    """Cases that differ from a sound transmitter in anything but their path, (K,)."""
    blank = bench.cases(1)
    out = np.zeros(len(cases), bool)
    for name in Cases.__slots__:
        if name not in ("s", "node"):
            mine, sound = getattr(cases, name), getattr(blank, name)
            out |= (mine != sound).reshape(len(cases), -1).any(axis=1)
    return out


def one_said(
    bench: LevelBench, whole: Cases, index: npt.NDArray[np.intp], value: Real, sizes: Real,
    fits: dict[int, tuple[LevelFit, int]], first: LevelFit,
) -> Said:  # fmt: skip
    """One cause from its cases. value : (n,) ln evidence and share of each"""
    top = float(value.max())
    share = np.exp(value - top)
    total = float(np.log(share.sum()) + top)
    best = int(np.argmax(value))
    found, n = fits.get(int(index[best]), (first, 0))
    own = whole.picked(index[best : best + 1])
    r = whitened(bench, own, found.predicted[n][None])[0][0]
    return Said(
        total, sizes, share / share.sum(), float(sizes[best]), found.predicted[n], found.u[n], found.root[n],
        found.slope[n], r**2, own,
    )  # fmt: skip


def reasons(bench: LevelBench, sound: Said, mine: Said) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What speaks for a cause and against it, against a sound transmitter."""
    speaks_for, against = [], []
    order = np.argsort(-np.abs(sound.misfit - mine.misfit))
    for n in order:
        a, b = float(sound.misfit[n]), float(mine.misfit[n])
        label = bench.figures[n].label
        if a - b > GAIN:
            speaks_for.append(f"{label}: misfit falls from {a:.0f} to {b:.0f}")
        elif b - a > GAIN:
            against.append(f"{label}: misfit rises from {a:.0f} to {b:.0f}")
    strain = float((sound.u**2).sum() - (mine.u**2).sum())
    if strain > GAIN:
        k = int(np.argmax(np.abs(sound.u)))
        speaks_for.append(
            f"a sound transmitter would need {bench.layout.name(k)} {abs(sound.u[k]):.1f} sigma off, and more besides"
        )
    return tuple(speaks_for), tuple(against)


def size_range(said: Said) -> tuple[float, float]:
    """The central 68 % of the size."""
    order = np.argsort(said.sizes)
    held = np.cumsum(said.share[order]) - 0.5 * said.share[order]
    low, high = np.interp([0.16, 0.84], held, said.sizes[order])
    return float(low), float(high)


def apart(bench: LevelBench, a: Said, b: Said) -> float:
    """How far two causes are apart: what they predict, in units of the figures' own noise, squared, and what each asks
    of sound stages and meters to predict it."""
    sigma = np.hypot(bench.own, np.maximum(a.cases.wide[0], b.cases.wide[0]))
    strain = abs(float((a.u**2).sum() - (b.u**2).sum()))
    return float((((a.predicted - b.predicted) / sigma) ** 2).sum()) + strain
