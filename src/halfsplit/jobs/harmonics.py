"""Harmonics as evidence: what the filter of a band left of a harmonic is a reading of that filter, if a rough one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from halfsplit import emission
from halfsplit.emission import Kind, NamedSpectrum
from halfsplit.expect import Observation
from halfsplit.hookup import Hookup
from halfsplit.jobs.records import Job
from halfsplit.jobs.spectra import expected
from halfsplit.reading import What
from halfsplit.unit import Unit

SURE = 0.9
"""Of a line named with less than this only "there or lower" counts."""


def with_harmonics(loaded: Job) -> Job:
    """The job with its harmonics after the filter among the observations; the same job where there are none.

    The through loss at n times the carrier is what was read less what stood before the filter, with the error of that
    forecast (`emission.FILTER_SIGMA_DB`): in the joint likelihood a harmonic weighs as a sweep of one rough point.
    """
    if not loaded.spectra:
        return loaded
    named = emission.level_tested(emission.name_lines(loaded.spectra, loaded.unit.plan))
    found = [o for n in named if (o := observed(loaded.unit, n, named)) is not None]
    return replace(loaded, observations=(*loaded.observations, *found)) if found else loaded


def observed(unit: Unit, n: NamedSpectrum, every: Sequence[NamedSpectrum]) -> Observation | None:
    """One spectrum after the filter as a through reading at its harmonics; None where it has none to tell of."""
    s = n.spectrum
    if s.raw or s.baseline or s.signal != "carrier":
        return None
    beyond = {x.order: x for x in expected(unit, n, every)}
    rows: list[tuple[float, float, float, bool]] = []
    for order, x in sorted(beyond.items()):
        here = [v for v in n.lines if v.name.order == order and v.name.kind in (Kind.HARMONIC, Kind.OWN)]
        spread, nominal = float(np.hypot(x.sigma_db, s.sigma_db)), -x.filter_db
        if here:
            v = here[0]
            bound = v.line.at_most or v.name.kind is Kind.OWN or v.probability < SURE
            rows.append((x.f, nominal + v.line.dbc - x.dbc, spread, bound))
        elif np.isfinite(s.floor_dbc) and s.span[0] < x.f < s.span[1]:
            rows.append((x.f, nominal + s.floor_dbc - x.dbc, spread, True))
    if not any(not bound for *_, bound in rows):
        return None
    f, value, sigma = (np.array(c, float) for c in list(zip(*rows, strict=True))[:3])
    hookup = Hookup(s.band, unit.path.points[0], unit.path.points[-1], reference="calibrated", source_lead=0.0,
                    detector_lead=0.0, instrument="analyser", note="harmonics of a spectrum")  # fmt: skip
    bounds = np.array([row[3] for row in rows])
    return Observation(s.key, hookup, What.S21, f, value, sigma, bounds, f"{s.band}, harmonics")
