"""Sources that no drawing names: a steady frequency, a step from the carrier, a line that moves some other way.

Each is taken in if it explains the lines of all spectra together better than lines without a name do, its own frequency
being spread over the span beforehand. source: Bayes factors, the best source first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from halfsplit.emission.axis import Sheet, density

Real = npt.NDArray[np.float64]
What = Literal["fixed", "step", "moving"]

PRIOR: dict[What, float] = {"fixed": 0.7, "step": 0.25, "moving": 0.05}
"""Of lines that nothing known explains; common practice of the bench, in round figures."""
SEEN = 0.8
"""Chance that a line which should be there and is strong enough is in the list."""
MOST = 24
GAIN = 1.5
"""ln of the Bayes factor above which a source is taken in."""
FIXED = tuple((0.0, float(k), p) for k, p in ((1, 0.95), (2, 0.3), (3, 0.2), (4, 0.1)))
STEP = (
    *((1.0, sign * k, p) for k, p in ((1, 0.95), (2, 0.3), (3, 0.15), (4, 0.05)) for sign in (1.0, -1.0)),
    *((n, sign, p) for n, p in ((2.0, 0.25), (3.0, 0.25), (4.0, 0.08)) for sign in (1.0, -1.0)),
    (0.0, 1.0, 0.1),
)
SLOPES = (-3.0, -2.0, -1.0, 2.0, 3.0, 4.0)


@dataclass(frozen=True, slots=True)
class Source:
    """A source. hz : its frequency, its step from the carrier, or the frequency it would have at carrier zero

    slope : of a moving one, Hz per Hz of carrier
    """

    what: What
    hz: float
    slope: float = 0.0

    def lines(self) -> tuple[tuple[float, float, float], ...]:
        """(times carrier, times hz, chance) of each line that it makes."""
        if self.what == "fixed":
            return FIXED
        return STEP if self.what == "step" else ((self.slope, 1.0, 0.95),)


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A sheet as the search needs it. f, sigma : (L,) with the axis put right; log_any : (L,) ln of 1 + all names"""

    sheet: Sheet
    f: Real
    sigma: Real
    carrier: float
    carrier_sigma: float
    log_any: Real


def view(sheet: Sheet) -> View:
    """A sheet with its axis put right."""
    f, sigma = sheet.true_f()
    with np.errstate(over="ignore"):
        log_any = np.log1p(np.exp(np.minimum(sheet.log_known, 200.0)).sum(axis=1))
    carriers = sheet.true_carriers()
    own = float(np.hypot(sheet.carriers_sigma.max(), carriers.mean() * sheet.scale_sigma))
    return View(sheet, f, sigma, float(carriers.mean()), own, log_any)


def spread_of(v: View, times: float) -> Real:
    """1 sigma (L,) of a line less `times` the carrier: what the axis does to both of them falls out in part."""
    s = v.sheet
    own = np.hypot(s.sigma, times * float(s.carriers_sigma.max()) / np.sqrt(len(s.carriers)))
    return np.asarray(np.hypot(own, (v.f - times * v.carrier) * s.scale_sigma))


def explains(v: View, source: Source) -> Real:
    """ln (L, J) of how much better each line of a source explains each line of a sheet than no name does."""
    out = []
    for times, k, chance in source.lines():
        off = v.f - times * v.carrier - k * source.hz
        p = chance * density(off, spread_of(v, times)) * v.sheet.width
        out.append(np.where(v.sheet.free, np.log(np.maximum(p, 1e-300)), -np.inf))
    return np.stack(out, axis=1)


def lost(v: View, source: Source, found: Real) -> float:
    """ln of the chance that the lines which a source should make and that are not in the list were only missed."""
    low, high = (x / (1.0 + v.sheet.scale) for x in v.sheet.spectrum.span)
    out = 0.0
    for j, (times, k, chance) in enumerate(source.lines()):
        at = times * v.carrier + k * source.hz
        if low < at < high and not (found[:, j] > np.log(chance) - 4.0).any() and chance > 0.5:
            hidden = bool((abs(v.f - at) < 6.0 * spread_of(v, times)).any())
            out += 0.0 if hidden else float(np.log(1.0 - SEEN * chance))
    return out


def gain(views: Sequence[View], source: Source, sigma: float) -> float:
    """ln of the Bayes factor for a source. sigma : Hz, how well the line that gave it tells its frequency"""
    total = float(np.log(PRIOR[source.what]))
    total += float(np.log(np.sqrt(2.0 * np.pi) * sigma / max(v.sheet.width for v in views)))
    for v in views:
        found = explains(v, source)
        total += float(np.logaddexp(0.0, found.max(axis=1) - v.log_any)[v.sheet.free].sum())
        total += lost(v, source, found)
    return total


def proposals(v: View, several: bool) -> list[tuple[Source, float]]:
    """Sources that would explain a line which has no good name yet, with the sigma of their frequency.

    several : carriers of more than one frequency are at hand, so that other ways of moving can be told
    """
    out: list[tuple[Source, float]] = []
    for i in np.flatnonzero(v.sheet.free & (v.log_any < 4.0)):
        f = float(v.f[i])
        out.append((Source("fixed", f), float(spread_of(v, 0.0)[i])))
        for n in (1.0, 2.0, 3.0):
            sigma = float(spread_of(v, n)[i])
            step = abs(f - n * v.carrier)
            if step > 5.0 * sigma and not of_the_carrier(v, step, sigma):
                out.append((Source("step", step), sigma))
                if n == 1.0:
                    out.append((Source("step", step / 2.0), sigma / 2.0))
        if several:
            out += [(Source("moving", f - a * v.carrier, a), float(spread_of(v, a)[i])) for a in SLOPES]
    return out


def of_the_carrier(v: View, step: float, sigma: float) -> bool:
    """Whether a step is a multiple of half or a third of the carrier, or of half the distance of the tones.

    Such lines have names already, and a source of that step would only be another word for them.
    """
    carriers = v.sheet.true_carriers()
    lattices = [v.carrier / 2.0, v.carrier / 3.0]
    if len(carriers) == 2:
        lattices.append(abs(carriers[1] - carriers[0]) / 2.0)
    return any(abs(step - round(step / x) * x) < 4.0 * sigma for x in lattices)


def searched(sheets: Sequence[Sheet]) -> tuple[tuple[Source, ...], tuple[View, ...]]:
    """The sources that the lines of all sheets ask for, strongest first, and the sheets with these known."""
    views = [view(s) for s in sheets]
    carriers = np.array([v.carrier for v in views])
    several = bool(np.ptp(carriers) > 20.0 * max(v.carrier_sigma for v in views))
    taken: list[Source] = []
    while len(taken) < MOST:
        tried = [p for v in views for p in proposals(v, several)]
        scored = [(gain(views, source, sigma), i) for i, (source, sigma) in enumerate(tried)]
        if not scored or max(scored)[0] < GAIN:
            break
        best = tried[max(scored)[1]][0]
        taken.append(refined(views, best))
        views = [heeded(v, taken[-1]) for v in views]
    return tuple(taken), tuple(views)


def refined(views: Sequence[View], source: Source) -> Source:
    """A source with its frequency as the mean of all lines that it explains, weighted by how well each tells it."""
    top = bottom = 0.0
    for v in views:
        found = explains(v, source)
        for j, (times, k, chance) in enumerate(source.lines()):
            i = int(found[:, j].argmax())
            if found[i, j] - v.log_any[i] > 0.0 and found[i, j] > np.log(chance):
                sigma = float(spread_of(v, times)[i]) / abs(k)
                top += float(v.f[i] - times * v.carrier) / k / sigma**2
                bottom += 1.0 / sigma**2
    return source if bottom == 0.0 else Source(source.what, top / bottom, source.slope)


def heeded(v: View, source: Source) -> View:
    """A view in which the lines of a source have a name."""
    log_any = np.logaddexp(v.log_any, explains(v, source).max(axis=1))
    return View(v.sheet, v.f, v.sigma, v.carrier, v.carrier_sigma, np.asarray(log_any))
