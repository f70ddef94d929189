"""All level readings of a job in one model: what a transmitter would show, and how far a sound one may stray.

Array shapes: K cases, B looks, S stages, N figures, P nuisances. Figures are compared in dB (20 log10; watts 10 log10),
temperatures in K.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.amplifier import Look as Shown
from halfsplit.amplifier import State, drawn_state, run
from halfsplit.amplifier.path import end_volts, into
from halfsplit.expect import level_noise as noise
from halfsplit.expect.level_cases import Cases, Layout
from halfsplit.expect.level_paths import THROUGH, Straying, straying
from halfsplit.expect.level_rows import Figure, LevelSet, tied
from halfsplit.reading import Shows
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]

LN_DB = 20.0 / np.log(10.0)
FAINT = 1e-12
SILENT_DB = -150.0
"""Gain of the stages behind a place where the chain is broken for a test."""


class LevelBench:
    """The level readings of a job.

    known : nuisances of the path that are known by other readings, by name; keys, spread : their covariance
    y (N,) as read; own (N,) 1 sigma of each figure alone; at_most (N,) True where the meter showed nothing
    prior_mean (P,), prior_root (P, P) : of the nuisances, see level_factory
    raises UnitError, ReadingError, HookupError
    """

    def __init__(
        self, unit: Unit, sets: Sequence[LevelSet], known: Mapping[str, float] | None = None, keys: Sequence[str] = (),
        spread: Real | None = None,
    ) -> None:  # fmt: skip
        self.unit, self.known, self.sets = unit, dict(known or {}), tuple(sets)
        self.keys, self.spread = tuple(keys), spread
        self.chain, self.looks, self.figures = tied(unit, sets)
        self.ohm = unit.impedance
        self.spots = tuple(x.path.spot for x in self.looks)
        held = np.array([x.held for x in self.looks], bool)
        solved = [x.path.solved(self.ohm, self.known) for x in self.looks]
        self.s0 = np.array([THROUGH if p is None else p.s[0] for p in solved])
        self.drawn = drawn_state(self.chain, self.spots, self.s0, held)
        self.straying: Straying = straying([x.path for x in self.looks], self.ohm, self.known, keys, spread)
        self.layout = Layout(self.chain, self.looks, len(self.straying.ways), self.figures)
        self.cut = np.zeros((len(self.chain.stages), len(self.looks)))
        for b, x in enumerate(self.looks):
            if x.drive_only:
                self.cut[self.chain.before(x.end) or 0 :, b] = SILENT_DB
        self.node0 = np.array([self._node(f, None if p is None else p.nodes) for f, p in self._with(solved)])
        read = [reading_of(f) for f in self.figures]
        self.y = np.array([r[0] for r in read])
        self.own = np.array([r[1] for r in read])
        self.at_most = np.array([f.row.value <= 0.0 for f in self.figures], bool)
        self.prior_mean, self.prior_root = np.zeros(self.layout.size), np.eye(self.layout.size)

    def _with(self, solved: Sequence[Any]) -> list[tuple[Figure, Any]]:
        """Figures with what belongs to their look."""
        return [(f, solved[f.look]) for f in self.figures]

    def _node(self, figure: Figure, nodes: Mapping[str, Complex] | None) -> Complex:
        """Volts at a figure's point for the volts at the two ends of the path, (2,)."""
        if figure.row.shows is Shows.RF_VOLTS and nodes is not None and figure.row.point in nodes:
            return np.asarray(nodes[figure.row.point][0])
        return np.array([1.0, 0.0], complex)

    def cases(self, k: int) -> Cases:
        """k cases of a sound transmitter, to be altered."""
        return Cases.sound(k, len(self.looks), len(self.chain.stages), len(self.figures), self.s0, self.node0)

    def efficiency(self, x: Mapping[str, Real]) -> Real:
        """Efficiency at rated output, (K, B)."""
        of_band = noise.EFFICIENCY_BAND_LN * self.layout.by_band1(x["band efficiency"])
        return np.asarray(self.drawn.efficiency * np.exp(self.layout.efficiency_ln * x["efficiency"] + of_band))

    def state(self, cases: Cases, u: Real) -> State:
        """The transmitter of every case at its nuisances. u : (K, P)"""
        lay, chain, d = self.layout, self.chain, self.drawn
        x = self.strayed(u)
        s = cases.s + np.einsum("kr,rbij->kbij", x["path"], self.straying.ways)
        strayed = (x["load in phase"] + 1j * x["load across"])[:, lay.load_of]
        load = cases.load_scale * lay.load_sigma * strayed
        size = np.maximum(np.abs(load) / 0.95, 1.0)
        drive = d.drive + chain.drive_sigma * x["drive"] + cases.moment * noise.MOMENT_DB * x["moment"]
        gain = (
            d.gain
            + self.cut
            + lay.gain_sigma
            * (noise.SHARED_GAIN * x["gain"][:, :, None] + noise.BAND_GAIN * lay.by_band(x["band gain"]))
        )
        final = np.arange(len(chain.stages)) == len(chain.stages) - 1
        most_sigma = np.where(final, noise.FINAL_MOST_DB, noise.MOST_DB)[:, None]
        most = d.most + most_sigma * x["most"][:, :, None]
        most = most + noise.BAND_MOST_DB * final[:, None] * lay.by_band1(x["band most"])[:, None, :]
        return State(
            drive + cases.drive, gain + cases.gain, most + cases.most,
            d.volts * (1.0 + chain.volts_sigma * x["volts"]) * cases.volts,
            d.supply_ohm * np.exp(noise.SUPPLY_OHM_LN * x["supply"]) + cases.supply_ohm,
            d.rest * np.exp(lay.rest_ln * x["rest"]),
            d.standing * np.exp(lay.standing_ln * x["standing"]) * cases.standing,
            self.efficiency(x) * cases.efficiency,
            d.best * np.exp(noise.BEST_LN * x["best"]),
            d.source * np.exp(noise.SOURCE_LN * x["source"]) + 1j * noise.SOURCE_X * self.ohm * x["source reactance"],
            d.hold * np.exp(chain.hold_sigma * x["hold"]) * cases.hold, s, load / size,
        )  # fmt: skip

    def predict(self, cases: Cases, u: Real) -> Real:
        """What every figure would be, (K, N)."""
        state = self.state(cases, u)
        shown = run(self.chain, state, self.ohm)
        return self.figures_of(cases, state, shown, self.strayed(u))

    def strayed(self, u: Real) -> dict[str, Real]:
        """The nuisances by name, (K, n) each. u : (K, P), standard normal under what is known before the readings"""
        return self.layout.split(self.prior_mean + u @ self.prior_root.T)

    def figures_of(self, cases: Cases, state: State, shown: Shown, x: Mapping[str, Real]) -> Real:
        """Figures from what the transmitter does, the meters' own scales counted in."""
        out = np.empty((len(state.drive), len(self.figures)))
        for n, f in enumerate(self.figures):
            row = f.row
            value = self._figure(f, n, cases, state, shown)
            scale = noise.METERS[row.shows].scale if row.accuracy is None else LN_DB * row.accuracy * lin(row.shows)
            if row.shows is Shows.TEMPERATURE:
                out[:, n] = value
                continue
            factor = cases.meter if row.shows is Shows.POWER else 1.0
            out[:, n] = value + scale * x[METER_OF[row.shows]][:, 0] * factor
        return out

    def _figure(self, f: Figure, n: int, cases: Cases, state: State, shown: Shown) -> Real:
        """One figure of an ideal meter, (K,) dB or K."""
        row, b = f.row, f.look
        before = self.chain.before(row.point)
        if row.shows is Shows.POWER:
            return np.asarray(shown.levels[:, before, b] - 30.0) if before is not None else db10(shown.forward[:, b])
        if row.shows is Shows.REFLECTED:
            return db10(shown.forward[:, b] * (np.abs(state.load[:, b]) ** 2 + noise.DIRECTIVITY))
        if row.shows is Shows.RF_VOLTS:
            if before is not None:
                ohm = self.chain.input_ohm[min(before, len(self.chain.input_ohm) - 1)]
                return np.asarray(shown.levels[:, before, b] - 30.0 + 10.0 * np.log10(ohm))
            return self._path_volts(n, b, cases, state, shown)
        if row.shows is Shows.SUPPLY_VOLTS:
            return 2.0 * db10(shown.volts[:, b])
        if row.shows is Shows.SUPPLY_AMPS:
            return 2.0 * db10(shown.amps[:, b])
        if row.shows is Shows.STANDING_AMPS:
            return 2.0 * db10((state.rest + state.standing)[:, 0])
        return self._temperature(f, cases, shown)

    def _path_volts(self, n: int, b: int, cases: Cases, state: State, shown: Shown) -> Real:
        """RF volts at a point of the path, dB of V rms."""
        z = shown.z[:, b]
        near = np.sqrt(shown.final[:, b] * np.abs(z) ** 2 / np.maximum(z.real, 1e-3))
        far = end_volts(state.s[:, b], state.load[:, b])
        node = cases.node[:, n]
        return 2.0 * db10(near * np.abs(node[:, 0] + node[:, 1] * far))

    def _temperature(self, f: Figure, cases: Cases, shown: Shown) -> Real:
        """A case over the sink that was read beside it, or either over the air, K."""
        thermal, heat = self.chain.final.thermal, np.maximum(shown.heat[:, f.look], 0.0)
        beside = next((g.row.value for g in self.figures if g.look == f.look and g.row.point.endswith("sink")), None)
        sink = noise.AIR + (thermal.sink_air or 0.0) * heat if beside is None else np.full(len(heat), beside)
        if f.row.point.endswith("sink"):
            return noise.AIR + (thermal.sink_air or 0.0) * heat
        return sink + (thermal.case_sink or 0.0) * cases.compound * heat / thermal.devices

    def gamma(self, cases: Cases, u: Real) -> Complex:
        """Reflection that the path presents to the final stage, (K, B)."""
        state = self.state(cases, u)
        return into(state.s, state.load)


METER_OF = {
    Shows.POWER: "wattmeter",
    Shows.REFLECTED: "wattmeter",
    Shows.RF_VOLTS: "probe",
    Shows.SUPPLY_VOLTS: "voltmeter",
    Shows.SUPPLY_AMPS: "ammeter",
    Shows.STANDING_AMPS: "ammeter",
}


def lin(shows: Shows) -> float:
    """Share of 20 log10 that a kind of figure has: watts are 10 log10."""
    return 0.5 if shows in (Shows.POWER, Shows.REFLECTED) else 1.0


def db10(x: Real) -> Real:
    """10 log10, with a floor where there is nothing."""
    return np.asarray(10.0 * np.log10(np.maximum(x, FAINT)))


def reading_of(f: Figure) -> tuple[float, float]:
    """A figure as it is compared, and its own 1 sigma: dB, or K."""
    row = f.row
    meter = noise.METERS[row.shows]
    step = row.step / np.sqrt(12.0)
    if row.shows is Shows.TEMPERATURE:
        wide = noise.SINK_K if row.point.endswith("sink") else 0.0
        return row.value, float(np.hypot(np.hypot(meter.own, step), wide))
    share = lin(row.shows)
    value = max(row.value, row.step, FAINT)
    own = np.hypot(meter.own, noise.MODEL_DB.get(row.shows, 0.0))
    return float(share * 20.0 * np.log10(value)), float(np.hypot(own, share * LN_DB * step / value))
