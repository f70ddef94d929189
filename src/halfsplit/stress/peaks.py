"""The worst load for every place of a path, at every frequency and for every unit drawn, in closed form."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import Model, Scene
from halfsplit.stress.circle import Form, reflection, worst
from halfsplit.stress.forms import Path, Spot, path_of
from halfsplit.stress.records import Case, Held

Complex = npt.NDArray[Any]
Real = npt.NDArray[np.float64]

QUANTITIES = ("volts", "amps", "watts")
CLOSER = 15
"""Frequencies looked at between the two neighbours of every peak."""


@dataclass(frozen=True, slots=True)
class Peaks:
    """Largest squared amplitude (or power) for 1 W of forward wave, with the angle of the load that does it.

    f : (F,) Hz; value : (n, K, F); angle : (n, K, F) rad; matched : (n, K, F) into a matched load
    """

    f: Real
    value: Real
    angle: Real
    matched: Real

    def joined(self, other: Peaks) -> Peaks:
        """Both together, the frequencies of the other one behind."""
        return Peaks(
            np.concatenate([self.f, other.f]),
            *(np.concatenate([getattr(self, n), getattr(other, n)], axis=2) for n in ("value", "angle", "matched")),
        )


def rows_of(spots: tuple[Spot, ...]) -> tuple[Mapping[str, list[int]], ...]:
    """For each spot the rows of the table of forms that are its volts, amps and watts."""
    out, row = [], 0
    for spot in spots:
        own = {}
        for name, count in zip(QUANTITIES, (len(spot.volts), len(spot.amps), int(spot.watts is not None)), strict=True):
            own[name] = list(range(row, row + count))
            row += count
        out.append(own)
    return tuple(out)


def stacked(spots: tuple[Spot, ...]) -> Form:
    """All forms of all spots in one, (n, K, F), in the order of `rows_of`."""
    forms = [x for s in spots for x in (*s.volts, *s.amps, *((s.watts,) if s.watts is not None else ()))]
    return Form(*(np.stack([getattr(x, n) for x in forms]) for n in ("a", "b", "c")))


def source_reflection(case: Case, ohm: float) -> float:
    """Reflection of the last stage where the drive is held, else 0."""
    if case.held is not Held.DRIVE or case.source_ohm is None:
        return 0.0
    return (case.source_ohm - ohm) / (case.source_ohm + ohm)


def peaks_of(path: Path, spots: tuple[Spot, ...], case: Case) -> Peaks:
    """The worst load for every place and quantity. raises ValueError where the case has no bound"""
    g = reflection(case.swr)
    form = stacked(spots)
    held = 1.0 / (1.0 - g * g) if case.held is Held.DELIVERED else 1.0
    back: Complex = np.zeros((), complex)
    if case.held is Held.DRIVE:
        back = path.waves.seen_back(source_reflection(case, path.model.scene.z0))
    value, angle = worst(form, g, np.broadcast_to(back, form.a.shape))
    return Peaks(path.model.f, held * value, angle, np.asarray(form.a, float))


def closer(found: Peaks) -> Real:
    """Frequencies between the neighbours of every peak of a grid. returns (m,) Hz"""
    f, tops = found.f, np.unique(np.argmax(found.value[:, 0], axis=1))
    return np.unique(
        np.concatenate([np.linspace(f[max(t - 1, 0)], f[min(t + 1, len(f) - 1)], CLOSER + 2) for t in tops])
    )


def high_figures(scene: Scene, f: Real, case: Case, rng: np.random.Generator, draws: int, share: float) -> Real:
    """What that share of sound units stays below, for each row of the table of forms. returns (n,) for 1 W"""
    model = Model(scene, f)
    path = path_of(model, rng.standard_normal((draws, len(model.keys))))
    return np.asarray(np.quantile(peaks_of(path, path.spots(), case).value.max(axis=2), share, axis=1))


def balance_error(path: Path, spots: tuple[Spot, ...], angles: Real, case: Case) -> Real:
    """|taken - load - lost| / taken, of a matched load and of loads at those angles. returns (1 + len(angles), F)

    taken comes from the waves at the first point, lost from volts and admittances of every single branch
    """
    g = np.concatenate([[0.0], reflection(case.swr) * np.exp(1j * angles)])[:, None]
    taken = path.waves.taken()
    lost = np.sum([s.watts.at(g[:, :, None]) for s in spots if s.watts is not None], axis=0)
    load = 0.5 * (1.0 - np.abs(g[:, :, None]) ** 2)
    into = taken.at(g[:, :, None])
    return np.asarray(np.abs(into - load - lost) / np.abs(into))[:, 0]
