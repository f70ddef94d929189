"""Expected information of a test whose outcomes are known for every cause up to Gaussian spread."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Real = npt.NDArray[np.float64]


def entropy_bits(p: Real) -> Real:
    """Entropy of distributions along the last axis, in bits."""
    safe = np.clip(p, 1e-300, 1.0)
    return np.asarray(-(p * np.log2(safe)).sum(axis=-1))


def expected_information(
    means: Real, p: Real, place: npt.NDArray[np.intp], rng: np.random.Generator, draws: int = 24
) -> float:
    """Expected drop of entropy about the place, by sampling outcomes from the mixture that the causes predict.

    means : (n_cause, n) whitened outcome of each cause (unit normal spread); p : (n_cause,) probabilities, sum 1
    place : (n_cause,) number of the place of each cause: causes of one place need not be told apart
    draws : outcomes sampled for each cause
    returns bits, between 0 and the entropy of the places (up to sampling error)
    source: Lindley 1956, Ann. Math. Stat. 27, 986-1005
    """
    n_place = int(place.max()) + 1
    member = np.zeros((len(p), n_place))
    member[np.arange(len(p)), place] = 1.0
    before = float(entropy_bits(p @ member))
    noise = rng.standard_normal((draws, means.shape[1]))
    noise = np.concatenate([noise, -noise])
    after = 0.0
    gap = means[:, None, :] - means[None, :, :]
    square = (gap**2).sum(-1)
    for k in range(len(p)):
        if p[k] < 1e-4:
            continue
        log_like = -0.5 * square[k] - noise @ gap[k].T
        log_post = log_like + np.log(np.maximum(p, 1e-300))
        log_post -= log_post.max(axis=1, keepdims=True)
        post = np.exp(log_post)
        post /= post.sum(axis=1, keepdims=True)
        after += float(p[k]) * float(entropy_bits(post @ member).mean())
    return max(before - after, 0.0)
