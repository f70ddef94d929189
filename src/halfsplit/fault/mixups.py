"""Mix-ups: another unit or hook-up than the one said, and the discrepancy that no list explains."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from halfsplit.errors import HalfsplitError
from halfsplit.expect import Setup
from halfsplit.expect.fit import STAGES, Batch, Rest
from halfsplit.expect.residual import log_det_noise
from halfsplit.fault.curves import wide_white
from halfsplit.fault.hypotheses import Hypothesis, Variant
from halfsplit.fault.standing import FEW_SETUPS, Fit, Standing

Real = npt.NDArray[np.float64]
Progress = Callable[[float, str], None]

HOPELESS = 40.0
ROUGH_STEPS = 4
FAR_OFF = (150.0, 100.0, 60.0)
"""After each stage: how far the objective may lie above one half for each point before a mix-up is given up."""


def fit_mixups(
    standing: Standing, hypotheses: Sequence[Hypothesis], to_beat: float, progress: Progress | None
) -> list[Fit]:
    """Fit the mix-ups and the unlisted discrepancy.

    to_beat : the best ln evidence found so far: a mix-up that comes nowhere near is not followed to its end
    """
    out: list[Fit] = []
    work = [h for h in hypotheses if h.variant is not None]
    for n, h in enumerate(work):
        assert h.variant is not None
        touched = tuple(i for i in replaced(standing, h.variant) if h.alive(standing.setups[i].state))
        if touched and worth_a_fit(standing, h.variant, touched):
            fit = fit_one(standing, h, h.variant, touched, to_beat)
            if fit is not None:
                out.append(fit)
                to_beat = max(to_beat, fit.log_evidence)
        if progress is not None:
            progress(0.9 + 0.1 * (n + 1) / len(work), "trying mix-ups")
    return out


def worth_a_fit(standing: Standing, variant: Variant, touched: Sequence[int]) -> bool:
    """A mix-up is fitted where a sound unit does not explain its readings; a stuck contact shows on most bands.

    Something not listed is always possible; in a large job it is looked for where the readings are off
    """
    if variant.wide and len(standing.setups) <= FEW_SETUPS:
        return True
    if variant.stuck:
        return 2 * sum(standing.troubled([i]) for i in touched) >= len(touched)
    return standing.troubled(touched)


def replaced(standing: Standing, variant: Variant) -> tuple[int, ...]:
    """Setups that a variant replaces."""
    return tuple(
        i
        for i, s in enumerate(standing.setups)
        if not s.baseline
        and (variant.hookup is None or s.hookup == variant.hookup)
        and (not variant.stuck or not uses(standing, s.hookup.band, variant.stuck))
        and (variant.band is None or s.hookup.band == variant.band)
    )


def uses(standing: Standing, band: str, contact: str) -> bool:
    """True where a band's own filter sits behind this contact."""
    own = standing.bench.unit.band(band).filter
    chosen = None if own is None else standing.bench.unit.filter(own)
    return chosen is not None and contact in (chosen.input, chosen.output)


def fit_one(
    standing: Standing, h: Hypothesis, variant: Variant, touched: tuple[int, ...], to_beat: float
) -> Fit | None:
    """Evidence of a mix-up: the touched setups as it has them. None where it cannot be tied on or is hopeless."""
    noise = log_det_noise([s for i, s in enumerate(standing.setups) if i not in touched])
    theta: Real | None = None
    if not variant.wide:
        coarse = tied_on(standing, [standing.coarse[i] for i in touched], variant)
        theta = None if coarse is None else led_towards(standing, h, touched, coarse)
        if theta is None:
            return None
    setups = tied_on(standing, [standing.setups[i] for i in touched], variant)
    if setups is None:
        return None
    rest = standing.rest(touched, setups)
    batch = Batch(standing.bench, setups, rest, [h], len(standing.bench.keys))
    if theta is None:
        theta = drawn(standing, rest, touched)
    elif float(batch.linear_score(theta, np.zeros(1))[0]) + log_det_noise(setups) + noise < to_beat - HOPELESS:
        return None
    fit = batch.refine(theta, np.zeros(1))[0]
    return replace(fit, log_evidence=fit.log_evidence + noise)


def drawn(standing: Standing, rest: Rest, touched: Sequence[int]) -> Real:
    """Nuisances to start from: as the untouched setups have them, the mix-up's own at their typical values. (1, p)."""
    theta = np.zeros((1, len(rest.keys)))
    inside = rest.keys < standing.real
    theta[0, inside] = standing.base(touched)[0][rest.keys[inside]]
    return theta


def led_towards(standing: Standing, h: Hypothesis, touched: Sequence[int], coarse: Sequence[Setup]) -> Real | None:
    """Nuisances near the best of a mix-up, found on few points, (1, p); None where it is hopeless."""
    rest = standing.rest(touched, coarse)
    batch = Batch(standing.bench, coarse, rest, [h], len(standing.bench.keys))
    theta, s = drawn(standing, rest, touched), np.zeros(1)
    points = sum(x.size for x in coarse)
    if -float(batch.linear_score(theta, s, STAGES[0][1])[0]) - rest.constant > 0.5 * points + FAR_OFF[0]:
        return None
    for (share, floor), far in zip(STAGES, FAR_OFF, strict=True):
        theta, s, phi = batch.stage(theta, s, share, floor)
        if float(phi[0]) - rest.constant > 0.5 * points + far:
            return None
    return np.asarray(batch.refine(theta, s, ROUGH_STEPS)[0].theta[None])


def tied_on(standing: Standing, setups: Sequence[Setup], variant: Variant) -> list[Setup] | None:
    """Setups as a variant has them; None where one of them cannot be tied on."""
    try:
        return [varied(standing, s, variant) for s in setups]
    except HalfsplitError:
        return None


def varied(standing: Standing, setup: Setup, variant: Variant) -> Setup:
    """A setup as a variant has it."""
    views = setup.views
    to_hookup = variant.to_hookup
    if variant.stuck:
        to_hookup = replace(setup.hookup, operated=(*setup.hookup.operated, variant.stuck))
    if variant.unit is not None or to_hookup is not None:
        members = [v.observation for v in setup.views]
        setup = standing.bench.setup(members, variant.unit, to_hookup, most=len(setup.model.f))
        views = setup.views
    if variant.wide:
        views = tuple(replace(v, white=wide_white(v)) for v in views)
    if variant.offset_db:
        views = tuple(replace(v, offset_db=variant.offset_db) for v in views)
    return replace(setup, views=views)
