"""All readings of a job in one model: shared nuisances, one residual, one Jacobian."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import Alteration, Model, Scene, Solution, build, spread
from halfsplit.circuit.instruments import signature
from halfsplit.expect import noise
from halfsplit.expect.observe import Observation
from halfsplit.hookup import Hookup
from halfsplit.reading import What
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]

DB = 20.0 / np.log(10.0)
SMALLEST_GAMMA = 0.01
MOST_POINTS = 81


def thinned(observation: Observation, most: int) -> npt.NDArray[np.intp]:
    """Indices of at most `most` points, even in rank: neighbours of a dense sweep say the same thing."""
    n = len(observation.f)
    if n <= most:
        return np.arange(n)
    return np.unique(np.round(np.linspace(0, n - 1, most)).astype(int))


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """One observation as a setup sees it.

    value : (n,) as read; white : (n, n) whitener; own : indices into the bench's keys of (offset, leak);
    offset_db : 1 sigma of the offset
    """

    observation: Observation
    index: npt.NDArray[np.intp]
    value: Real
    at_least: npt.NDArray[np.bool_]
    white: Real
    own: tuple[int, int]
    offset_db: float

    @property
    def size(self) -> int:
        return len(self.value)


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """A hook-up at one grid of frequencies: one model, one or more views of it.

    at : (p,) index of each of the model's nuisances among the bench's keys
    """

    scene: Scene
    model: Model
    views: tuple[View, ...]
    at: npt.NDArray[np.intp]
    hookup: Hookup

    @property
    def size(self) -> int:
        return sum(v.size for v in self.views)


class Bench:
    """The readings of a job, with all their nuisances side by side.

    keys : names of the nuisances, each standard normal a priori; equal keys are shared between readings
    """

    def __init__(self, unit: Unit, observations: Sequence[Observation], *, most: int = MOST_POINTS) -> None:
        self.unit = unit
        self.observations = tuple(observations)
        self.most = most
        self.keys: list[str] = []
        self._place: dict[str, int] = {}
        self.setups: list[Setup] = []
        groups: dict[tuple[object, ...], list[Observation]] = {}
        for o in self.observations:
            groups.setdefault((o.hookup, o.f.tobytes()), []).append(o)
        for members in groups.values():
            self.setups.append(self.setup(members))

    def key(self, name: str) -> int:
        """Index of a nuisance, entered when it is new."""
        if name not in self._place:
            self._place[name] = len(self.keys)
            self.keys.append(name)
        return self._place[name]

    def setup(
        self,
        members: Sequence[Observation],
        unit: Unit | None = None,
        hookup: Hookup | None = None,
        most: int | None = None,
    ) -> Setup:
        """A setup for observations of one hook-up; `unit` and `hookup` other than the real ones model a mix-up."""
        tied = hookup or members[0].hookup
        scene = build(unit or self.unit, tied)
        index = thinned(members[0], most or self.most)
        model = Model(scene, members[0].f[index])
        views = tuple(self.view(o, index) for o in members)
        at = np.array([self.key(k) for k in model.keys], int)
        return Setup(scene, model, views, at, tied)

    def view(self, o: Observation, index: npt.NDArray[np.intp]) -> View:
        """One observation with its whitener and its own two nuisances."""
        value, at_least = o.value[index], o.at_least[index]
        rough = noise.roughness(o.value)[index]
        cov = noise.covariance(o.what, o.hookup.instrument, o.f[index], value, o.sigma[index], rough)
        name = signature(o.hookup)
        own = (self.key(f"offset [{name}]"), self.key(f"leak [{name}]"))
        return View(o, index, value, at_least, noise.whitener(cov), own, spread.OFFSET_DB[o.hookup.reference])

    def predict(
        self, setup: Setup, theta: Real, changes: Sequence[tuple[Alteration, float] | None] | None = None,
        *, slopes: bool = True,
    ) -> tuple[Real, Real | None, Real | None]:  # fmt: skip
        """What the views of a setup would show.

        theta : (K, P) over all keys of the bench
        returns values (K, N); slopes by theta (K, N, P) and by ln size of the change (K, N), None if not asked for
        """
        solution = setup.model.solve(theta[:, setup.at], changes)
        values, by_theta, by_size = [], [], []
        for view in setup.views:
            value, a, b = seen(setup, view, solution, theta, slopes)
            values.append(value)
            if a is not None and b is not None:
                by_theta.append(a)
                by_size.append(b)
        if not slopes:
            return np.concatenate(values, axis=1), None, None
        return np.concatenate(values, axis=1), np.concatenate(by_theta, axis=1), np.concatenate(by_size, axis=1)


def seen(
    setup: Setup, view: View, solution: Solution, theta: Real, slopes: bool
) -> tuple[Real, Real | None, Real | None]:
    """One view: values (K, n), slopes (K, n, P) and (K, n)."""
    if view.observation.what is What.S21:
        return seen_through(setup, view, solution, theta, slopes)
    at_detector = view.observation.what is What.S22
    g = solution.reflection(at_detector=at_detector)
    size = np.sqrt(np.abs(g) ** 2 + SMALLEST_GAMMA**2)
    if not slopes:
        return size, None, None
    by_theta, by_size = solution.reflection_slopes(at_detector=at_detector)
    out = np.zeros((len(theta), view.size, theta.shape[1]))
    unit = np.conj(g) / size
    out[:, :, setup.at] = np.swapaxes((unit[:, None, :] * by_theta).real, 1, 2)
    return size, out, (unit * by_size).real


def seen_through(
    setup: Setup, view: View, solution: Solution, theta: Real, slopes: bool
) -> tuple[Real, Real | None, Real | None]:
    """A through reading in dB: the path, the leak past it added in power, the offset of the instrument."""
    h = solution.transmission()
    offset = view.offset_db * theta[:, view.own[0], None]
    leak = leak_of(setup, view, theta)
    power = np.abs(h) ** 2 + leak**2
    value = 0.5 * DB * np.log(power) + offset
    if not slopes:
        return value, None, None
    by_theta, by_size = solution.transmission_slopes()
    out = np.zeros((len(theta), view.size, theta.shape[1]))
    unit = DB * np.conj(h) / power
    out[:, :, setup.at] = np.swapaxes((unit[:, None, :] * by_theta).real, 1, 2)
    out[:, :, view.own[0]] = view.offset_db
    out[:, :, view.own[1]] = DB * leak**2 / power * spread.LEAK.sigma
    return value, out, (unit * by_size).real


def leak_of(setup: Setup, view: View, theta: Real) -> Real:
    """Amplitude of the direct leak past the unit, rising with the root of frequency. returns (K, n)."""
    size = spread.LEAK.typical * np.exp(spread.LEAK.sigma * theta[:, view.own[1], None])
    return np.asarray(size * np.sqrt(setup.model.f / 1e8))
