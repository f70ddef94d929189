"""The expectation for a hook-up: response of a sound unit with its tolerance envelope.

Tolerances are drawn and the network is solved exactly for every draw: near a notch or a good match the
response is far from linear in the parts, and a linear band in dB is wrong there.
source: method of JCGM 101:2008 (propagation of distributions by Monte Carlo)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.expect import noise
from halfsplit.expect.bench import Bench
from halfsplit.expect.observe import Observation
from halfsplit.hookup import Hookup
from halfsplit.reading import What
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

DRAWS = 400


@dataclass(frozen=True, slots=True, eq=False)
class Expectation:
    """What a sound unit shows. Arrays (n,): dB for S21, |Gamma| for S11 and S22.

    nominal : with every part at its drawn value; low, median, high : 5, 50 and 95 % of sound units, read by this
    instrument; sigma : half of the central 68 %; below, above : 1 sigma on each side, wide enough for the outermost
    1 % too, since near a band edge the spread is lopsided and long-tailed
    """

    hookup: Hookup
    what: What
    f: Real
    nominal: Real
    low: Real
    median: Real
    high: Real
    sigma: Real
    below: Real
    above: Real


def expectation(
    unit: Unit, hookup: Hookup, what: What, f: npt.ArrayLike, rng: np.random.Generator, draws: int = DRAWS
) -> Expectation:
    """Expect a reading of a sound unit.

    f : (n,) Hz; rng : for the tolerance draws
    returns an Expectation at f
    raises HookupError for an unknown band or point, ModelError outside a measured block
    """
    grid = np.asarray(f, float)
    blank = np.zeros(len(grid))
    o = Observation("", hookup, what, grid, blank, blank, blank.astype(bool), "")
    return envelope(unit, o, rng, draws)


def envelope(unit: Unit, o: Observation, rng: np.random.Generator, draws: int = DRAWS) -> Expectation:
    """Expectation at the frequencies of an observation, with its read-out uncertainty."""
    return drawn(unit, o, rng, draws)[0]


def drawn(unit: Unit, o: Observation, rng: np.random.Generator, draws: int = DRAWS) -> tuple[Expectation, Real]:
    """Expectation of an observation, and the sound units (draws, n) that it was taken from, free of read-out noise."""
    bench = Bench(unit, [o], most=len(o.f))
    setup = bench.setups[0]
    theta = rng.standard_normal((draws + 1, len(bench.keys)))
    theta[0] = 0.0
    values, _, _ = bench.predict(setup, theta, slopes=False)
    nominal, exact = values[0], values[1:]
    reference = nominal if o.what is What.S21 else np.zeros(len(o.f))
    cov = noise.covariance(o.what, o.hookup.instrument, o.f, reference, o.sigma)
    noisy = exact + rng.standard_normal(exact.shape) @ np.linalg.cholesky(cov).T
    if o.what is not What.S21:
        noisy = np.abs(noisy)
    share = [1.0, 5.0, 15.866, 50.0, 84.134, 95.0, 99.0]
    least, low, left, median, right, high, most = np.percentile(noisy, share, axis=0)
    below = np.maximum((median - low) / 1.645, (median - least) / 2.326)
    above = np.maximum((high - median) / 1.645, (most - median) / 2.326)
    return (
        Expectation(o.hookup, o.what, o.f, nominal, low, median, high, 0.5 * (right - left), below, above),
        exact,
    )
