"""The weighed causes of one job: each alone, two at once, and each however it comes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.fault.level_record import Levels
from halfsplit.fault.pairs import Pair
from halfsplit.fault.search import Search
from halfsplit.fault.standing import Fit
from halfsplit.fault.told import Account

Real = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """The weighed hypotheses of one job.

    fits : one for each hypothesis that was fitted, the sound unit among them
    alone : (n,) probability of each as the only cause; together : (m,) of two causes at once, one for each of `pairs`
    probability : (n,) of each as the cause to look for next: half of a pair counts for each of its two
    told : complaint and history, where something was told; levels : watts, amps and volts, where they were read
    """

    search: Search
    fits: tuple[Fit, ...]
    probability: Real
    told: Account | None
    alone: Real
    pairs: tuple[Pair, ...]
    together: Real
    levels: Levels | None = None

    def order(self) -> list[int]:
        """Indices of fits by falling probability."""
        return [int(i) for i in np.argsort(-self.probability, kind="stable")]


def posterior_of(
    search: Search, fits: Sequence[Fit], log_p: Real, pairs: Sequence[Pair], log_pair: Real, told: Account | None
) -> Posterior:
    """Normalise the weights. log_p : (n,) ln weight of each fit; log_pair : (m,) of each pair."""
    top = max(log_p.max(), log_pair.max(initial=-np.inf))
    alone, together = np.exp(log_p - top), np.exp(log_pair - top)
    whole = alone.sum() + together.sum()
    alone, together = alone / whole, together / whole
    at = {f.hypothesis.key: i for i, f in enumerate(fits)}
    either = alone.copy()
    for pair, p in zip(pairs, together, strict=True):
        for f in (pair.first, pair.second):
            if f.hypothesis.key in at:
                either[at[f.hypothesis.key]] += 0.5 * p
    return Posterior(search, tuple(fits), either / either.sum(), told, alone, tuple(pairs), together)
