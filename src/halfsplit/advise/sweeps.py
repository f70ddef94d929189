"""Candidates of one kind: sweeps between any two points, with what every cause predicts for them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from halfsplit.advise.causes import Suspect
from halfsplit.circuit import points_of
from halfsplit.circuit.alter import Alteration
from halfsplit.errors import HalfsplitError
from halfsplit.expect import Observation, Setup
from halfsplit.expect.noise import covariance
from halfsplit.fault.search import Search
from halfsplit.hookup import Hookup
from halfsplit.reading import What
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

POINTS = 31
MOST_POINTS = 7


@dataclass(frozen=True, slots=True, eq=False)
class Sweep:
    """A sweep that could be made. what : S21 or S11; f : (n,) Hz."""

    hookup: Hookup
    what: What
    f: Real


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """What every suspect predicts for a sweep: values (n_suspect, n) and the whitener (n, n) of their spread."""

    values: Real
    white: Real


def candidates(unit: Unit, search: Search, suspects: tuple[Suspect, ...]) -> Iterator[Sweep]:
    """Sweeps not yet made, on the bands that the suspects touch, between path points and the ends of the filter."""
    model = search.setups[0].hookup
    done = {(s.hookup.band, s.hookup.drive, s.hookup.read, v.observation.what) for s in search.setups for v in s.views}
    for band in bands_in_play(unit, search, suspects):
        low, high = band_span(unit, band)
        f = np.geomspace(low, high, POINTS)
        points = worthwhile_points(unit, band)
        for i, drive in enumerate(points):
            for read in points[i + 1 :]:
                if (band, drive, read, What.S21) not in done:
                    yield Sweep(as_usual(model, band, drive, read), What.S21, f)
            if i < len(points) - 1 and not any((band, drive, r, What.S11) in done for r in (*points, None)):
                yield Sweep(as_usual(model, band, drive, points[-1]), What.S11, f)


def as_usual(model: Hookup, band: str, drive: str, read: str) -> Hookup:
    """The hook-up used so far, tied to other points."""
    return replace(model, band=band, drive=drive, read=read, lifted=(), bridged=(), terminated=(), note="")


def bands_in_play(unit: Unit, search: Search, suspects: tuple[Suspect, ...]) -> list[str]:
    """Bands measured so far, those of the suspects first; and one band not yet measured, to clear shared parts."""
    measured = list(dict.fromkeys(s.hookup.band for s in search.setups))
    weight = dict.fromkeys(measured, 0.0)
    for s in suspects:
        for setup in s.fit.setups:
            weight[setup.hookup.band] = weight.get(setup.hookup.band, 0.0) + s.probability / len(s.fit.setups)
    ordered = sorted(measured, key=lambda b: -weight[b])[:2]
    fresh = [b.name for b in unit.bands if b.name not in measured][:1]
    return ordered + fresh


def band_span(unit: Unit, name: str) -> tuple[float, float]:
    """Frequencies worth sweeping for a band: from half of it to four times."""
    band = unit.band(name)
    return 0.5 * band.low, min(4.0 * band.high, 250e6)


def worthwhile_points(unit: Unit, band: str) -> list[str]:
    """Path points in order, thinned to the ends and those next to the filter; and the ends of the filter."""
    own = unit.band(band).filter
    known = points_of(unit)
    path = list(unit.path.points)
    if len(path) > MOST_POINTS:
        keep = np.unique(np.round(np.linspace(0, len(path) - 1, MOST_POINTS)).astype(int))
        path = [path[i] for i in keep]
    ends = [f"{own} in", f"{own} out"] if own is not None else []
    return insert_ends(unit, path, [e for e in ends if e in known])


def insert_ends(unit: Unit, path: list[str], ends: list[str]) -> list[str]:
    """The filter's ends at their place in the order of the path."""
    if not ends or "filter" not in unit.path.order:
        return path
    before = set(unit.path.order[: unit.path.order.index("filter")])
    at = sum(p in before for p in path)
    return path[:at] + ends + path[at:]


def forecast(search: Search, sweep: Sweep, suspects: tuple[Suspect, ...]) -> Forecast | None:
    """Predict a sweep for every suspect; None where it cannot be tied on (a point that this band does not have)."""
    n = len(sweep.f)
    blank = np.zeros(n)
    o = Observation("", sweep.hookup, sweep.what, sweep.f, blank, blank, blank.astype(bool), "")
    try:
        setup = search.bench.setup([o])
        values = np.array([predict(search, setup, s) for s in suspects])
    except HalfsplitError:
        return None
    centre = values[0]
    theta = np.zeros(len(search.bench.keys))
    theta[: search.real] = search.theta0
    _, slopes, _ = search.bench.predict(setup, theta[None])
    assert slopes is not None
    spread = np.eye(len(theta))
    spread[: search.real, : search.real] = search.spread()
    local = slopes[0] @ spread[setup.local[:, None], setup.local[None, :]]
    cov = local @ slopes[0].T
    cov += covariance(sweep.what, sweep.hookup.instrument, sweep.f, centre, blank)
    return Forecast(values, np.linalg.inv(np.linalg.cholesky(cov)))


def predict(search: Search, setup: Setup, s: Suspect) -> Real:
    """What one suspect predicts for a setup, at its own nuisances."""
    theta = np.zeros(len(search.bench.keys))
    theta[: search.real] = search.theta0
    theta[s.fit.keys] = s.fit.theta
    h = s.fit.hypothesis
    variant = h.variant
    if variant is not None and variant.unit is not None and variant.band == setup.hookup.band:
        other = search.bench.setup([v.observation for v in setup.views], variant.unit)
        theta = np.concatenate([theta, np.zeros(len(search.bench.keys) - len(theta))])
        return np.asarray(search.bench.predict(other, theta[None], slopes=False)[0][0])
    at: Alteration | None = None
    if h.change is not None and h.only is None:
        at = setup.model.resolve(h.change)
    change = None if at is None else (at, float(np.exp(s.fit.ln_size)))
    return np.asarray(search.bench.predict(setup, theta[None], [change], slopes=False)[0][0])
