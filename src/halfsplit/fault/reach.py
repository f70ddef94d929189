"""Which bands a fault spoils, and how: from the exact curves of the path in its plain hook-up on every band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import Model, Scene, WhatIf, build
from halfsplit.errors import HalfsplitError
from halfsplit.expect.normal import below, quantile
from halfsplit.fault.answers import table
from halfsplit.fault.hypotheses import Hypothesis
from halfsplit.hookup import Hookup
from halfsplit.unit import Band, Unit

Real = npt.NDArray[np.float64]

SEEN = ("low power", "no power", "harmonics")
"""Symptoms that the curves speak about, in the order of the last axis of an effect."""
SHARES = (np.arange(6) + 0.5) / 6
"""Middles of six equal shares of the chance of a size."""
TIMES = (2.0, 3.0)
CANCELS = 1e-7


@dataclass(frozen=True, slots=True, eq=False)
class Effect:
    """What one hypothesis does, at sizes of equal chance.

    seen : (n_size, n_band, 3) chance that the owner notices each of SEEN on each band
    touched : bands whose path holds the fault
    """

    seen: Real
    touched: tuple[str, ...]


def plain_hookup(unit: Unit, band: Band) -> Hookup:
    """The whole path, matched at both ends."""
    points = unit.path.points
    return Hookup(band.name, points[0], points[-1], reference="calibrated", instrument="analyser")


class Path:
    """The path on one band, solved once at the band and its harmonics."""

    def __init__(self, scene: Scene, band: Band) -> None:
        inside = np.linspace(band.low, band.high, 3)
        harmonics = np.outer(TIMES, inside[[0, -1]]).ravel()
        self.model = Model(scene, np.concatenate([inside, harmonics]))
        self.whatif = WhatIf(self.model.solve(np.zeros((1, len(self.model.keys)))), CANCELS)
        self.through = decibels(self.whatif.solution.transmission())

    def seen_at(self, levels: Real) -> Real:
        """Chance of noticing each of SEEN. levels : (n, F) dB, transmission with the fault; returns (n, 3)"""
        figure = table().figures
        fall = (self.through - levels)[:, :3].max(axis=1)
        rise = (levels - self.through)[:, 3:].max(axis=1)
        noticed = logistic((fall - figure["notice_db"]) / figure["notice_width_db"])
        gone = logistic((fall - figure["gone_db"]) / (0.2 * figure["gone_db"]))
        harmonic = logistic((rise - figure["harmonic_db"]) / (0.25 * figure["harmonic_db"]))
        return np.stack([noticed * (1.0 - gone), noticed * gone, harmonic * (1.0 - gone)], axis=-1)

    def seen(self, h: Hypothesis, sizes: Real) -> Real | None:
        """Chance of noticing at each size, (n, 3); None where the path on this band does not hold the fault."""
        assert h.change is not None
        at = self.model.resolve(h.change)
        if at is None:
            return None
        levels = decibels(self.whatif.through(at, sizes))
        return np.broadcast_to(self.seen_at(levels), (len(sizes), len(SEEN)))


def decibels(h: npt.NDArray[np.complexfloating]) -> Real:
    """Level of a response, dB; a response that is nothing at all is -300 dB."""
    return np.asarray(20.0 * np.log10(np.maximum(np.abs(h), 1e-15)))


def logistic(x: Real) -> Real:
    """The logistic curve, 0 to 1."""
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * x)))


def sizes_of(h: Hypothesis) -> Real:
    """Sizes of equal chance, from the prior of a hypothesis cut at its bounds."""
    if not h.sized:
        return np.full(len(SHARES), np.exp(h.middle))
    low, high = below((h.low - h.middle) / h.width), below((h.high - h.middle) / h.width)
    return np.asarray(np.exp(h.middle + h.width * quantile(low + SHARES * (high - low))))


class Reach:
    """Effects of all hypotheses of a unit on all its bands.

    refused : (band, why) of bands whose path cannot be modelled, such as with a part of unknown value
    """

    def __init__(self, unit: Unit) -> None:
        self.unit = unit
        self.hookups = tuple(plain_hookup(unit, b) for b in unit.bands)
        scenes: list[Scene] = []
        paths: list[Path | None] = []
        refused: list[tuple[str, str]] = []
        for hookup, band in zip(self.hookups, unit.bands, strict=True):
            try:
                scene = build(unit, hookup)
                paths.append(Path(scene, band))
                scenes.append(scene)
            except HalfsplitError as error:
                paths.append(None)
                refused.append((band.name, str(error)))
        self.scenes, self.paths, self.refused = tuple(scenes), tuple(paths), tuple(refused)

    def effect(self, h: Hypothesis) -> Effect | None:
        """What a hypothesis does; None for the sound unit and for mistakes of the hook-up, which do nothing to it."""
        if h.family not in ("fault", "unlisted"):
            return None
        if h.change is None:
            return self.of_variant(h)
        seen = np.zeros((len(SHARES), len(self.paths), len(SEEN)))
        touched = []
        for i, path in enumerate(self.paths):
            mine = None if path is None else path.seen(h, sizes_of(h))
            if mine is not None:
                seen[:, i] = mine
                touched.append(self.unit.bands[i].name)
        return Effect(seen, tuple(touched))

    def of_variant(self, h: Hypothesis) -> Effect | None:
        """A wrong filter by its curve; what is not listed shows on its band, a stuck contact on half of the rest."""
        v = h.variant
        assert v is not None
        seen = np.zeros((len(SHARES), len(self.paths), len(SEEN)))
        names = [b.name for b in self.unit.bands]
        if v.stuck:
            own = {b.name for b in self.unit.bands if v.stuck in self.contacts(b)}
            others = [i for i, n in enumerate(names) if n not in own]
            seen[:, others] = 0.5 / len(SEEN)
            return Effect(seen, tuple(names[i] for i in others))
        if v.band is None:
            return None
        i = names.index(v.band)
        seen[:, i] = 1.0 / len(SEEN) if v.unit is None else self.with_unit(i, v.unit)
        return Effect(seen, (v.band,))

    def with_unit(self, i: int, unit: Unit) -> Real:
        """Chance of noticing on a band where the unit is another one, (3,)."""
        mine = self.paths[i]
        try:
            other = Path(build(unit, self.hookups[i]), self.unit.bands[i])
        except HalfsplitError:  # that filter cannot be tied into this path: nobody knows what it would do
            mine = None
        return np.full(len(SEEN), 0.5 / len(SEEN)) if mine is None else np.asarray(mine.seen_at(other.through)[0])

    def contacts(self, band: Band) -> tuple[str | None, ...]:
        """Contacts of the filter of a band."""
        own = None if band.filter is None else self.unit.filter(band.filter)
        return () if own is None else (own.input, own.output)

    def effects(self, hypotheses: Sequence[Hypothesis]) -> dict[str, Effect]:
        """Effects by the key of the hypothesis."""
        found = {h.key: self.effect(h) for h in hypotheses}
        return {key: e for key, e in found.items() if e is not None}


def any_seen(seen: Real) -> Real:
    """Chance that something shows, (..., 3) to (...,)."""
    return np.asarray(1.0 - np.prod(1.0 - seen, axis=-1))
