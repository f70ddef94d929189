"""What these readings cannot exclude, and the test that would show it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from halfsplit.advise.forecast import Beliefs
from halfsplit.advise.sweeps import Sweep, candidates
from halfsplit.advise.wording import sweep_title
from halfsplit.circuit import How
from halfsplit.expect import Setup
from halfsplit.fault import Posterior, Ranking
from halfsplit.fault.hypotheses import Hypothesis
from halfsplit.fault.records import Blind
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

SHOWS = 6.0  # squared distance; half of it is the drop of ln likelihood that counts as shown (fault/blind.py: 3)


def with_tests(unit: Unit, posterior: Posterior, ranking: Ranking) -> Ranking:
    """The same ranking; every fault that may have gone unseen has the test that would show it.

    A sweep is named where one still to be made would show the fault at half of the size; else the test by hand.
    """
    if not ranking.cannot_exclude:
        return ranking
    search = posterior.search
    by_key = {h.key: h for h in search.hypotheses}
    blind = [b for b in ranking.cannot_exclude if b.key in by_key]
    hypotheses, sizes = [by_key[b.key] for b in blind], [half_of(by_key[b.key], b.size) for b in blind]
    beliefs = Beliefs(search, [search.sound])
    best, title = np.zeros(len(blind)), [""] * len(blind)
    for sweep in candidates(unit, search, ()):
        setup = beliefs.setup(sweep)
        if setup is None:
            continue
        far = distances(beliefs, sweep, setup, hypotheses, sizes)
        for i in np.flatnonzero(far > np.maximum(best, SHOWS)):
            best[i], title[i] = far[i], sweep_title(sweep)
    tests = {b.key: by_sweep(t) if t else by_hand(by_key[b.key], b) for b, t in zip(blind, title, strict=True)}
    return replace(ranking, cannot_exclude=tuple(replace(b, test=tests.get(b.key, "")) for b in ranking.cannot_exclude))


def half_of(h: Hypothesis, size: float | None) -> float:
    """Half of the size that would have shown; where none would, the usual size of such a fault."""
    if size is None:
        return float(np.exp(h.middle + (h.width if np.isfinite(h.low) or not np.isfinite(h.high) else -h.width)))
    return float(np.sqrt(size)) if h.change is not None and h.change.how is How.VALUE else 0.5 * size


def distances(
    beliefs: Beliefs, sweep: Sweep, setup: Setup, hypotheses: Sequence[Hypothesis], sizes: Sequence[float]
) -> Real:
    """Squared distance of each fault from a sound unit in a sweep, what is not known of the sound unit allowed for."""
    seen = beliefs.forecast(sweep, setup)
    white = np.linalg.inv(np.linalg.cholesky(seen.cov[0]))
    changes = []
    for h, size in zip(hypotheses, sizes, strict=True):
        at = None if h.change is None else setup.model.resolve(h.change)
        changes.append(None if at is None else (at, size))
    theta = np.repeat(beliefs.full(), len(changes), axis=0)
    values = beliefs.search.bench.predict(setup, theta, changes, slopes=False)[0]
    return np.asarray((((values - seen.values[0]) @ white.T) ** 2).sum(1))


def by_sweep(title: str) -> str:
    """A sweep as the test that would show it."""
    return f"{title} would show it from half that size"


def by_hand(h: Hypothesis, b: Blind) -> str:
    """The test at the place itself."""
    how = None if h.change is None else h.change.how
    if how is How.VALUE:
        return f"{b.place} lifted and measured would show it"
    if how is How.OHM:
        ohmic = "joint" in b.place or "contact" in b.place
        return f"ohms across {b.place} would show it" if ohmic else f"{b.place} lifted and its Q measured would show it"
    return f"a short lead across {b.place} while sweeping would show it"
