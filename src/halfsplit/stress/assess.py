"""The stress of every place of a path at power: worst over the band, the load's angle and its SWR, against ratings."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import Model, build_path, known_band
from halfsplit.errors import ModelError
from halfsplit.parts import Rating, read_rating
from halfsplit.stress.circle import reflection
from halfsplit.stress.forms import Path, Sort, Spot, path_of
from halfsplit.stress.peaks import Peaks, balance_error, closer, high_figures, peaks_of, rows_of
from halfsplit.stress.records import Balance, BandStress, Case, Margin, PlaceStress, Signal, Use, Worst
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

GRID = 121
"""Frequencies looked at over a band before every peak is looked at again more closely."""
DRAWS = 99
"""Sound units drawn for the upper figures."""
DRAW_GRID = 25
UNITS_BELOW = 0.95
ANGLES = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
"""Where the power balance is checked: a form with two coefficients that closes at three angles closes at all."""


def band_stress(unit: Unit, band: str, case: Case, rng: np.random.Generator, draws: int = DRAWS) -> BandStress:
    """The stress of every place on one band.

    rng : draws the sound units that the upper figures are taken from
    raises HookupError for a band that is not there, ModelError where the path passes nothing or the case has no bound
    """
    found = known_band(unit, band)
    scene = build_path(unit, band)

    def solved(f: Real) -> tuple[Path, tuple[Spot, ...], Peaks]:
        model = Model(scene, f)
        path = path_of(model, np.zeros((1, len(model.keys))))
        spots = path.spots()
        return path, spots, peaks_of(path, spots, case)

    try:
        path, spots, coarse = solved(np.linspace(found.low, found.high, GRID))
        near_path, near_spots, fine = solved(closer(coarse))
        grid = np.linspace(found.low, found.high, DRAW_GRID)
        high = high_figures(scene, grid, case, rng, draws, UNITS_BELOW)
    except ValueError as error:
        raise ModelError(str(error)) from error
    table = Figures(coarse.joined(fine), high, case, unit.impedance)
    printed = ratings_of(unit)
    places = [
        rated(place_of(spot, own, table, band), printed)
        for spot, own in zip(spots, rows_of(spots), strict=True)
        if spot.sort is not Sort.OTHER
    ]
    errors = [float(balance_error(p, s, ANGLES, case).max()) for p, s in ((path, spots), (near_path, near_spots))]
    balance = balance_of(path, case, max(errors))
    return BandStress(
        band, found.low, found.high, found.filter, case, tuple(sorted(places, key=nearest_first)), balance
    )


@dataclass(frozen=True, slots=True)
class Figures:
    """What the figures of a place are read from. high : (n,), of sound units; ohm : of the path"""

    peaks: Peaks
    high: Real
    case: Case
    ohm: float

    def worst(self, rows: Sequence[int], squared: float, *, root: bool) -> Worst | None:
        """The largest of some rows. squared : by what the squared amplitude is multiplied; root : an amplitude"""
        if not rows:
            return None
        value = self.peaks.value[rows, 0]
        k, n = np.unravel_index(int(np.argmax(value)), value.shape)
        gamma = reflection(self.case.swr) * np.exp(1j * self.peaks.angle[rows[int(k)], 0, n])
        figures = [float(value[k, n]), float(self.peaks.matched[rows, 0].max()), float(self.high[rows].max())]
        top, matched, high = (np.sqrt(squared * max(x, 0.0)) if root else squared * x for x in figures)
        load = self.ohm * (1.0 + gamma) / (1.0 - gamma)
        return Worst(float(top), float(self.peaks.f[n]), complex(load), float(matched), float(max(high, top)))


def place_of(spot: Spot, own: Mapping[str, list[int]], table: Figures, band: str) -> PlaceStress:
    """One place in volts, amps, watts and VA.

    A forward wave of P watts has a squared peak of 2 P. The mean square of a carrier is half of its squared peak, that
    of two equal tones a quarter, and their mean power is half of the peak envelope power
    """
    watts = table.case.watts
    mean = 0.5 if table.case.signal is Signal.CARRIER else 0.25
    volts, amps = own["volts"], own["amps"]
    peak = table.worst(volts, 2.0 * watts, root=True)
    rms = table.worst(volts, 2.0 * watts * mean, root=True)
    current = table.worst(amps, 2.0 * watts * mean, root=True)
    lost = table.worst(own["watts"], 4.0 * watts * mean, root=False)
    va = None
    if spot.sort in (Sort.PART, Sort.CONTACT) and rms is not None and current is not None:
        peaks = table.peaks
        both = Figures(
            Peaks(
                peaks.f, np.sqrt(peaks.value[volts] * peaks.value[amps]), peaks.angle[volts],
                np.sqrt(peaks.matched[volts] * peaks.matched[amps]),
            ),
            np.sqrt(table.high[volts] * table.high[amps]), table.case, table.ohm,
        )  # fmt: skip
        va = both.worst([0], 2.0 * watts * mean, root=False)
    return PlaceStress(spot.place, spot.sort, band, peak, rms, current, lost, va)


def nearest_first(place: PlaceStress) -> tuple[float, float]:
    """Nearest to a limit first, then by VA, then by volts."""
    weight = place.va.value if place.va else place.peak_volts.value * 1e-3 if place.peak_volts else 0.0
    return -place.share, -weight


def ratings_of(unit: Unit) -> Mapping[str, str]:
    """What is printed, by designator: parts, relays, switches, cables."""
    parts = [p for f in unit.filters for p in f.parts] + [b.part for x in unit.blocks for b in x.branches]
    rows = [(p.ref, p.rating) for p in parts]
    rows += [(r.name, r.rating) for r in unit.relays] + [(s.name, s.rating) for s in unit.switches]
    rows += [(c.ref, c.rating) for c in unit.cables]
    return {name: text for name, text in rows if text is not None}


def rated(place: PlaceStress, printed: Mapping[str, str]) -> PlaceStress:
    """The place against what is printed on it, where that can be understood."""
    text = printed.get(re.sub(r" contact.*", "", place.place))
    if text is None:
        return place
    try:
        limits = read_rating(text)
    except ValueError:
        return replace(place, rating=text)
    uses = sorted(uses_of(place, limits), key=lambda u: -u.share)
    return replace(place, rating=text, uses=tuple(uses))


def uses_of(place: PlaceStress, limits: Rating) -> list[Use]:
    """Each printed limit against the place."""
    out = []
    for name in limits.given:
        worst: Worst | None = getattr(place, name)
        if worst is None:
            continue
        limit = float(getattr(limits, name))
        margin = Margin.OUTSIDE if worst.value > limit else Margin.DOUBTFUL if worst.high > limit else Margin.WITHIN
        out.append(Use(name, limit, worst.value, worst.high, worst.value / limit, margin))
    return out


def balance_of(path: Path, case: Case, error: float) -> Balance:
    """The power balance into a matched load at the frequency of the largest loss."""
    taken = 2.0 * path.waves.taken().at(0.0)[0]
    k = int(np.argmax(taken))
    into = case.watts * float(taken[k])
    return Balance(float(path.model.f[k]), into, case.watts, into - case.watts, error)
