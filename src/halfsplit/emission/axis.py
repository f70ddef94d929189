"""How well each known name fits each line, with the scale of the frequency axis found from all lines together.

Shapes: L lines, C candidates, G values of the scale error. source: Bayes' rule with the scale as the one shared
unknown; a line that no candidate explains is spread evenly over the span.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.emission.known import Candidate
from halfsplit.emission.records import Spectrum

Real = npt.NDArray[np.float64]

BLUNT = 3.0
"""Some lines lie this many sigma further out than they should: skirts, drift between sweeps."""
BLUNT_SHARE = 0.05
BACKGROUND = (-55.0, 20.0)
OFFSET = 1.0
"""The whole axis may be shifted by this much of what a line was read to (1 sigma), besides its scale."""
DIAL = 2e-5
"""Relative 1 sigma of what a transmitter's dial says."""
MOST_GRID, MOST_SIGMA = 2001, 4.5


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A spectrum as arrays. f, sigma, dbc : (L,); free : (L,) lines that want a name; carriers : (k,) Hz

    carriers_sigma : (k,) Hz; scale, scale_sigma : of the axis; log_known : (L, C) ln of how much better each candidate
    explains each line than "no name", -inf where it cannot
    """

    spectrum: Spectrum
    known: tuple[Candidate, ...]
    f: Real
    sigma: Real
    dbc: Real
    free: npt.NDArray[np.bool_]
    carriers: Real
    carriers_sigma: Real
    scale: float
    scale_sigma: float
    log_known: Real

    @property
    def width(self) -> float:
        """Hz of span over which a line without a name may stand."""
        return max(self.spectrum.span[1] - self.spectrum.span[0], 10.0 * float(self.sigma.max()))

    def true_f(self) -> tuple[Real, Real]:
        """Frequencies (L,) with the axis put right, and their sigma."""
        return self.f / (1.0 + self.scale), np.hypot(self.sigma, self.f * self.scale_sigma)

    def true_carriers(self) -> Real:
        """Carriers (k,) with the axis put right, Hz."""
        return np.asarray(self.carriers / (1.0 + self.scale))


def density(off: Real, sigma: Real) -> Real:
    """Density per Hz of a line `off` Hz from where it should be: mostly normal, a little wider."""
    out = np.zeros(np.broadcast_shapes(np.shape(off), np.shape(sigma)))
    for share, wider in ((1.0 - BLUNT_SHARE, 1.0), (BLUNT_SHARE, BLUNT)):
        s = wider * sigma
        out = out + share * np.exp(-0.5 * (off / s) ** 2) / (np.sqrt(2.0 * np.pi) * s)
    return out


def level_weight(dbc: Real, usual: Real, spread: Real) -> Real:
    """How much a level speaks for a name against no name: ratio of two normals, held between 1/8 and 8."""
    mean, sd = BACKGROUND
    own = np.exp(-0.5 * ((dbc - usual) / spread) ** 2) / spread
    other = np.exp(-0.5 * ((dbc - mean) / sd) ** 2) / sd
    return np.asarray(np.clip(own / np.maximum(other, 1e-12), 0.125, 8.0))


def fitted(s: Spectrum, known: Sequence[Candidate]) -> Sheet:
    """A spectrum with every known name tried on every line."""
    f, sigma = np.array([x.f for x in s.lines]), np.array([x.sigma_f for x in s.lines])
    dbc = np.array([x.dbc for x in s.lines])
    free = np.array([i not in s.carriers and x.wide is None for i, x in enumerate(s.lines)])
    carriers, own = f[list(s.carriers)], sigma[list(s.carriers)]
    weights = np.array([c.weights for c in known]).reshape(len(known), len(carriers))
    step, rel = np.array([c.step for c in known]), np.array([c.step_rel for c in known])
    var = (weights**2 @ own**2)[None, :] + sigma[:, None] ** 2 + (rel * step)[None, :] ** 2
    var += ((weights.sum(axis=1) - 1.0)[None, :] * OFFSET * sigma[:, None]) ** 2
    base = f[:, None] - (weights @ carriers)[None, :] - step[None, :]
    chance = np.array([c.presence for c in known])
    weigh = level_weight(dbc[:, None], *(np.array([[getattr(c, k) for c in known]]) for k in ("dbc", "dbc_sigma")))
    width = max(s.span[1] - s.span[0], 10.0 * float(sigma.max()))
    near = abs(base) < MOST_SIGMA * s.axis * abs(step)[None, :] + 8.0 * BLUNT * np.sqrt(var)
    near &= free[:, None] & ((abs(weights).sum(axis=1) > 0) | (step != 0.0) | (np.arange(len(f)) == 0)[:, None])
    pairs = np.argwhere(near)
    grid, log_prior = _grid(s, float(carriers.mean()), float(own.max()), step, var)
    odds = np.zeros((len(grid), len(pairs)))
    if len(pairs):
        l, c = pairs.T
        off = base[l, c][None, :] - grid[:, None] * step[c][None, :]
        odds = density(off, np.sqrt(var[l, c])[None, :]) * (chance[c] * weigh[l, c] * width)[None, :]
    total = np.ones((len(grid), len(f)))
    for i, row in enumerate(pairs):
        total[:, row[0]] += odds[:, i]
    weight = np.exp((log := log_prior + np.log(total).sum(axis=1)) - log.max())
    weight /= weight.sum()
    mean = float(weight @ grid)
    out = np.full((len(f), len(known)), -np.inf)
    share = weight @ (odds / total[:, pairs[:, 0]]) if len(pairs) else np.zeros(0)
    alone = weight @ (1.0 / total)
    for (line, c), p in zip(pairs, share, strict=True):
        out[line, c] = np.log(max(p, 1e-300)) - np.log(max(alone[line], 1e-300))
    spread = float(np.sqrt(weight @ (grid - mean) ** 2))
    return Sheet(s, tuple(known), f, sigma, dbc, free, carriers, own, mean, max(spread, 1e-9), out)


def _grid(s: Spectrum, carrier: float, sigma: float, step: Real, var: Real) -> tuple[Real, Real]:
    """Values (G,) of the scale error that are tried, and the ln of their prior with what the dial says."""
    largest = float(abs(step).max(initial=0.0))
    finest = float(np.sqrt(var.min())) / max(largest, carrier)
    n = int(np.clip(2 * MOST_SIGMA * s.axis / (0.7 * finest), 41, MOST_GRID)) | 1
    grid = np.linspace(-MOST_SIGMA * s.axis, MOST_SIGMA * s.axis, n)
    log = -0.5 * (grid / s.axis) ** 2
    if s.dial is not None:
        off = carrier - (1.0 + grid) * s.dial
        log = log - 0.5 * off**2 / (sigma**2 + (DIAL * s.dial) ** 2)
    return grid, log
