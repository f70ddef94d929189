"""All readings of a job in one model: shared nuisances, one residual, one Jacobian."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import Alteration, Model, Scene, Solution, build, spread
from halfsplit.circuit.blur import blurred, reflections, transmissions
from halfsplit.circuit.instruments import signature
from halfsplit.circuit.model import mixed
from halfsplit.expect import noise
from halfsplit.expect.companion import AtWork, Companion, at_work
from halfsplit.expect.observe import Observation, Renewal
from halfsplit.hookup import Hookup
from halfsplit.reading import What
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]

DB = 20.0 / np.log(10.0)
SMALLEST_GAMMA = 0.01
MOST_POINTS = 81
MOST_SHARED = 40
OWN_FIELDS = ("value", "Q", "lead", "across")
BLUR = 0.7
"""1 sigma over the largest effect of an idle filter's resonance, wherever it may lie."""
GROWS = 1.3
"""How fast the tail of a leak in amplitude grows beyond a normal one."""


def thinned(observation: Observation, most: int) -> npt.NDArray[np.intp]:
    """Indices of at most `most` points, even in rank: neighbours of a dense sweep say the same thing."""
    n = len(observation.f)
    if n <= most:
        return np.arange(n)
    return np.unique(np.round(np.linspace(0, n - 1, most)).astype(int))


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """One observation as a setup sees it.

    value : (n,) as read; white : (n, n) whitener; own : indices into the bench's keys of (offset, leak, and the two
    quadratures of a leak with a phase of its own);
    carried : (n, m) model error shared with a baseline of the same hook-up, per nuisance carried_at (m,)
    offset_db : 1 sigma of the offset; rough : (n,) 1 sigma of point-to-point error, and of what may sneak around
    """

    observation: Observation
    index: npt.NDArray[np.intp]
    value: Real
    at_least: npt.NDArray[np.bool_]
    white: Real
    own: tuple[int, int, int, int]
    carried: Real
    carried_at: npt.NDArray[np.intp]
    offset_db: float
    rough: Real

    @property
    def size(self) -> int:
        return len(self.value)


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """A hook-up at one grid of frequencies: one model, one or more views of it.

    at : (p,) index of each of the model's nuisances among the bench's keys
    local : (q,) sorted indices of all nuisances that any view depends on: slopes are given over these
    place : (p,) where each of the model's nuisances stands in `local`
    beside : where the fault that all cases have acts; None where there is none
    """

    scene: Scene
    model: Model
    views: tuple[View, ...]
    at: npt.NDArray[np.intp]
    local: npt.NDArray[np.intp]
    place: npt.NDArray[np.intp]
    hookup: Hookup
    beside: Alteration | None = None

    @property
    def size(self) -> int:
        return sum(v.size for v in self.views)

    @property
    def baseline(self) -> bool:
        """True where this is a reading of a sound unit: no fault of today acts on it."""
        return bool(self.views[0].observation.baseline)

    @property
    def state(self) -> int:
        """Number of pieces of work that had been done on the unit."""
        return self.views[0].observation.state.number


class Bench:
    """The readings of a job, with all their nuisances side by side.

    keys : names of the nuisances, each standard normal a priori; equal keys are shared between readings
    """

    def __init__(self, unit: Unit, observations: Sequence[Observation], *, most: int = MOST_POINTS) -> None:
        self.unit = unit
        self.observations = tuple(observations)
        self.most = most
        self.companion: Companion | None = None
        self.keys: list[str] = []
        self._place: dict[str, int] = {}
        self.setups: list[Setup] = []
        self.grids = repeated(self.observations)
        groups: dict[tuple[object, ...], list[Observation]] = {}
        for o in self.observations:
            groups.setdefault((o.hookup, o.f.tobytes(), o.baseline, id(o.drawing), o.state.number), []).append(o)
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
        state = members[0].state
        scene = renewed(build(unit or members[0].drawing or state.drawing or self.unit, tied), state.renewed)
        index = thinned(members[0], most or self.most)
        model = Model(scene, members[0].f[index])
        blur = blur_of(model, [o.what for o in members], behind_open=not tied.operated)
        views = tuple(self.view(o, index, scene, blur[o.what]) for o in members)
        at = np.array([self.key(named(k, members[0])) for k in model.keys], int)
        local = np.unique(np.concatenate([at, *(np.array([*v.own, *v.carried_at], int) for v in views)]))
        return Setup(scene, model, views, at, local, np.searchsorted(local, at), tied)

    def view(self, o: Observation, index: npt.NDArray[np.intp], scene: Scene, blur: Real) -> View:
        """One observation with its whitener and its own nuisances. blur : (n,) from `blur_of`."""
        value, at_least = o.value[index], o.at_least[index]
        rough = np.hypot(noise.roughness(o.value)[index], blur)
        if o.what is What.S21 and scene.around is not None:
            rough = np.hypot(rough, noise.sneaked(value, np.interp(o.f[index], *scene.around)))
        name = signature(o.hookup)
        grid = self.grids.get((name, o.what), np.zeros(0))
        carried = noise.repeating(o.what, o.f[index], value, grid) if len(grid) else np.zeros((len(index), 0))
        carried_at = np.array([self.key(f"model error {k} of {o.what} [{name}]") for k in range(len(grid))], int)
        cov = noise.covariance(
            o.what, o.hookup.instrument, o.f[index], value, o.sigma[index], rough, carried if len(grid) else None
        )
        a, b, c, d = (self.key(f"{word} [{name}]") for word in ("offset", "leak", "leak in phase", "leak across"))
        own = (a, b, c, d)
        offset_db = spread.OFFSET_DB[o.hookup.reference]
        return View(o, index, value, at_least, noise.whitener(cov), own, carried, carried_at, offset_db, rough)

    def accompanied(self, companion: Companion, p: int) -> Bench:
        """The same readings of a unit that has one fault for granted, its size the last nuisance.

        p : number of nuisances that the readings have without mix-ups
        """
        out = self.without_mixups(p)
        out.companion = companion
        out.key("size of the other fault")
        out.setups = [out.alongside(s) for s in self.setups]
        return out

    def without_mixups(self, p: int) -> Bench:
        """The same with the first p nuisances alone: those of the readings as they are said to be."""
        out = copy.copy(self)
        out.keys = self.keys[:p]
        out._place = {name: i for i, name in enumerate(out.keys)}
        return out

    def alongside(self, setup: Setup) -> Setup:
        """A setup of this unit as the companion has it."""
        at = None if self.companion is None else self.companion.at(setup)
        if at is None or self.companion is None:
            return setup
        key = self.companion.key
        local = setup.local if key < 0 else np.append(setup.local, key)
        return replace(setup, beside=at, local=local)

    def solved(self, setup: Setup, theta: Real) -> Solution:
        """Solved cases of a setup, with the companion if there is one. theta : (K, P)."""
        other = None if self.companion is None else at_work(self.companion, setup, theta)
        return setup.model.solve(theta[:, setup.at], None, None if other is None else other.beside)

    def predict(
        self, setup: Setup, theta: Real, changes: Sequence[tuple[Alteration, float] | None] | None = None,
        *, slopes: bool = True, floor: float = 0.0,
    ) -> tuple[Real, Real | None, Real | None]:  # fmt: skip
        """What the views of a setup would show.

        theta : (K, P) over all keys of the bench; floor : amplitude that is added in power to through readings
        returns values (K, N); slopes by the setup's local nuisances (K, N, q) and by ln size of the change (K, N),
        None if not asked for
        """
        other = None if self.companion is None else at_work(self.companion, setup, theta)
        solution = setup.model.solve(theta[:, setup.at], changes, None if other is None else other.beside)
        values, by_theta, by_size = [], [], []
        for view in setup.views:
            value, a, b = seen(setup, view, solution, theta, slopes, floor, other)
            if len(view.carried_at):
                value = value + theta[:, view.carried_at] @ view.carried.T
                if a is not None:
                    a[:, :, np.searchsorted(setup.local, view.carried_at)] = view.carried
            values.append(value)
            if a is not None and b is not None:
                by_theta.append(a)
                by_size.append(b)
        if not slopes:
            return np.concatenate(values, axis=1), None, None
        return np.concatenate(values, axis=1), np.concatenate(by_theta, axis=1), np.concatenate(by_size, axis=1)


def named(key: str, o: Observation) -> str:
    """Name of a nuisance: a twin has parts of its own, and its leads, strays and instruments in common."""
    own = o.baseline == "twin" and key.endswith((" value", " Q", " scale", " across", " coupling"))
    return f"twin's {key}" if own else key


def renewed(scene: Scene, renewals: Sequence[Renewal]) -> Scene:
    """A scene with the strays of some places drawn anew: under names of their own, as wide as they are now."""
    if not renewals:
        return scene
    by_place = {r.place: r for r in renewals}
    params, nears = [], []
    for p in scene.params:
        place, _, field = p.key.rpartition(" ")
        r = by_place.get(place) if field in OWN_FIELDS else None
        sigma = p.sigma if r is None or r.sigma is None or field != "value" else r.sigma
        params.append(p if r is None else replace(p, key=f"{place} since {r.tag} {field}", sigma=sigma))
    for near in scene.nears:
        pair = near.key.removesuffix(" coupling")
        tags = [r.tag for r in renewals if r.place in pair.split("-")]
        nears.append(replace(near, key=f"{pair} since {tags[-1]} coupling") if tags else near)
    return replace(scene, params=tuple(params), nears=tuple(nears))


def repeated(observations: Sequence[Observation]) -> dict[tuple[str, What], Real]:
    """Frequencies at which the model's error is shared, for hook-ups that were read in more than one state of the unit,
    such as of a sound one and again now."""
    found: dict[tuple[str, What], list[Observation]] = {}
    for o in observations:
        found.setdefault((signature(o.hookup), o.what), []).append(o)
    out = {}
    for key, members in found.items():
        if len({(bool(o.baseline), o.state.number) for o in members}) > 1:
            low, high = min(o.f.min() for o in members), max(o.f.max() for o in members)
            count = int(np.clip(np.ceil(np.log(high / low) / noise.LENGTH), 2, MOST_SHARED))
            out[key] = np.geomspace(low, high, count)
    return out


def blur_of(model: Model, whats: Sequence[What], *, behind_open: bool) -> dict[What, Real]:
    """What the idle filters' resonances may add or take at each point, 1 sigma in the unit of the observation.

    behind_open : False where an idle contact is closed: its filter then loads the path broadly, not in narrow notches
    """
    solution = model.solve(np.zeros((1, len(model.keys))))
    z = blurred(solution) if behind_open else None
    out: dict[What, Real] = {}
    for what in whats:
        if z is None:
            out[what] = np.zeros(len(model.f))
        elif what is What.S21:
            gap = DB * np.log(np.abs(transmissions(solution, z) / solution.transmission()))
            out[what] = np.minimum(BLUR * np.abs(gap).max(axis=0), noise.MOST_SNEAKED)
        else:
            at_detector = what is What.S22
            g = np.abs(reflections(solution, z, at_detector=at_detector))
            out[what] = BLUR * np.abs(g - np.abs(solution.reflection(at_detector=at_detector))).max(axis=0)
    return out


def seen(
    setup: Setup, view: View, solution: Solution, theta: Real, slopes: bool, floor: float = 0.0,
    other: AtWork | None = None,
) -> tuple[Real, Real | None, Real | None]:  # fmt: skip
    """One view: values (K, n), slopes (K, n, q) over the setup's local nuisances, and (K, n)."""
    if view.observation.what is What.S21:
        return seen_through(setup, view, solution, theta, slopes, floor, other)
    at_detector = view.observation.what is What.S22
    g = solution.reflection(at_detector=at_detector)
    size = gamma_size(g)
    if not slopes:
        return size, None, None
    by_field, by_size = solution.reflection_by_field(at_detector=at_detector)
    out = np.zeros((len(theta), view.size, len(setup.local)))
    unit = np.conj(g) / size
    slopes_into(out, setup, real_product(unit, by_field), other)
    return size, out, (unit * by_size).real


def raised(value: Real, floor: float) -> Real:
    """A through reading in dB with a floor (an amplitude) added in power; as it is for 0."""
    return np.asarray(0.5 * DB * np.log(10.0 ** (value / 10.0) + floor**2)) if floor else value


def gamma_size(g: Complex) -> Real:
    """|Gamma| as a reading shows it: near a perfect match what is left is the instrument's own reflection."""
    return np.asarray(np.sqrt(np.abs(g) ** 2 + SMALLEST_GAMMA**2))


def slopes_into(out: Real, setup: Setup, by_field: Real, other: AtWork | None) -> None:
    """Write slopes by field (n, K, F) into slopes by local nuisance (K, F, q)."""
    out[:, :, setup.place] = np.swapaxes(mixed(setup.model.mix, by_field), 1, 2)
    if other is not None and other.place >= 0:
        out[:, :, other.place] = by_field[-1] * other.slope


def seen_through(
    setup: Setup, view: View, solution: Solution, theta: Real, slopes: bool, floor: float,
    other: AtWork | None = None,
) -> tuple[Real, Real | None, Real | None]:  # fmt: skip
    """A through reading in dB: the path, the leak past it added in power, the offset of the instrument."""
    offset = view.offset_db * theta[:, view.own[0], None]
    leak = leak_of(setup, view, theta)
    h = solution.transmission() + phased_leak(setup, view, theta)
    power = np.abs(h) ** 2 + leak**2 + floor**2
    value = 0.5 * DB * np.log(power) + offset
    if not slopes:
        return value, None, None
    by_field, by_size = solution.transmission_by_field()
    out = np.zeros((len(theta), view.size, len(setup.local)))
    unit = DB * np.conj(h) / power
    slopes_into(out, setup, real_product(unit, by_field), other)
    offset_at, leak_at, phase_at, across_at = np.searchsorted(setup.local, view.own)
    out[:, :, offset_at] = view.offset_db
    out[:, :, leak_at] = DB * leak**2 / power * leak_sigma(view, theta)
    in_phase, across = (phased_size(setup, theta[:, i, None], slope=True) for i in view.own[2:])
    out[:, :, phase_at] = unit.real * in_phase
    out[:, :, across_at] = -unit.imag * across
    return value, out, (unit * by_size).real


def real_product(unit: Complex, by_field: Complex) -> Real:
    """Real part of unit (K, F) times by_field (n, K, F)."""
    return np.asarray(unit.real * by_field.real - unit.imag * by_field.imag)


def leak_of(setup: Setup, view: View, theta: Real) -> Real:
    """Amplitude of the direct leak past the unit, rising with the root of frequency. returns (K, n).

    More leak than usual is as rare as its spread says; less than usual, down to none at all, is common.
    """
    size = spread.LEAK.typical * np.exp(leak_sigma(view, theta) * theta[:, view.own[1], None])
    return np.asarray(size * np.sqrt(setup.model.f / 1e8))


def phased_leak(setup: Setup, view: View, theta: Real) -> Complex:
    """A leak that keeps one phase over the sweep and adds to the path in amplitude. returns (K, n)."""
    in_phase, across = (phased_size(setup, theta[:, i, None]) for i in view.own[2:])
    return np.asarray(in_phase + 1j * across)


def phased_size(setup: Setup, x: Real, *, slope: bool = False) -> Real:
    """One quadrature of such a leak, rising with frequency, or its slope by x; large ones are rarer, not unheard of.

    x : (K, 1) standard normal a priori. returns (K, n)
    """
    grown = np.cosh(GROWS * x) if slope else np.sinh(GROWS * x) / GROWS
    return np.asarray(spread.LEAK.typical * grown * (setup.model.f / 1e8))


def leak_sigma(view: View, theta: Real) -> Real:
    """1 sigma of ln leak on the side where theta is. returns (K, 1)."""
    return np.where(theta[:, view.own[1], None] > 0, spread.LEAK.sigma, spread.NO_LEAK.sigma)
