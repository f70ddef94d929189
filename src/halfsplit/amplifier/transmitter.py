"""The whole transmitter, key down: chain, final stage into the load that the path presents, supply, level control.

Array shapes: K cases, S stages, B spots (one band at one frequency with the load at one place). The model of the final
stage is the load line with a soft knee; its current is that of class B upon a standing current: in proportion to the RF
current that it drives. source: Cripps 1983 (load line); Krauss, Bostian & Raab 1980 (current of class B)
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.amplifier.chain import COMPRESSED_DB, at_most_one, limited
from halfsplit.amplifier.path import impedance, into, transfer
from halfsplit.amplifier.plan import Chain, Spot

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]

ROUNDS = 14
SETTLED = 2e-4
"""V and dB: the supply and the level control have settled."""
CONTROL_SOFT = 0.15
"""dB over which a level control sets in."""


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """A transmitter in K cases at B spots.

    drive (K, B) dBm at the first place; gain (K, S, B) dB; most (K, S, B) dBm saturated at nominal supply and load
    volts, supply_ohm, rest, standing (K, 1); efficiency (K, B) at rated output; best (K, 1) ohm; source (K, 1) ohm
    hold (K, B) W of forward power, inf where nothing holds it; s (K, B, 2, 2) of the path; load (K, B) reflection
    """

    drive: Real
    gain: Real
    most: Real
    volts: Real
    supply_ohm: Real
    rest: Real
    standing: Real
    efficiency: Real
    best: Real
    source: Complex
    hold: Real
    s: Complex
    load: Complex


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """What the transmitter does.

    levels (K, S + 1, B) dBm at the first place and behind every stage

    final (K, B) W that the final stage delivers; out (K, B) W in the load; forward (K, B) W at the load
    volts (K, B) V at the unit; amps (K, B) A of the whole unit; final_amps (K, B); z (K, B) ohm presented
    held_db (K, B) by which the level control takes the drive back
    """

    levels: Real
    final: Real
    out: Real
    forward: Real
    volts: Real
    amps: Real
    final_amps: Real
    z: Complex
    held_db: Real

    @property
    def heat(self) -> Real:
        """Heat of the final stage, W, (K, B)."""
        return np.asarray(self.volts * self.final_amps - self.final)


def drawn_state(chain: Chain, spots: tuple[Spot, ...], s: Complex, held: npt.NDArray[np.bool_]) -> State:
    """The transmitter as drawn, one case.

    s : (B, 2, 2) of the path; held : (B,) where the level control sees the output
    """
    stages = range(len(chain.stages))
    gain = np.array([[chain.gain_of(k, x.band) for x in spots] for k in stages])
    most = np.repeat(np.array(chain.most_dbm)[:, None], len(spots), axis=1)
    hold = np.where(held, np.inf if chain.hold_watts is None else chain.hold_watts, np.inf)
    one = np.ones((1, 1))
    return State(
        np.array([[chain.drive_of(x.band) for x in spots]]), gain[None], most[None], chain.volts * one,
        chain.supply_ohm * one, chain.rest_amps * one, chain.standing * one,
        chain.efficiency * np.ones((1, len(spots))), chain.best_ohm * one, chain.source_ohm * one.astype(complex),
        hold[None], s[None], np.zeros((1, len(spots)), complex),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class _Load:
    """What the final stage sees, and what of it does not change while supply and level control settle. (K, B) each."""

    z: Complex
    matched_db: Real
    size: Real
    best: Real
    share_db: Real
    drawn: Real


def _load(state: State, ohm: float) -> _Load:
    """The load of every case."""
    z = impedance(into(state.s, state.load), ohm)
    real, size = np.maximum(z.real, 1e-3), np.maximum(np.abs(z), 1e-9)
    matched = np.abs(ohm + state.source) ** 2 / np.abs(z + state.source) ** 2 * real / ohm
    nominal = at_most_one(state.best / ohm) ** 2 * ohm
    return _Load(z, 10.0 * np.log10(matched), size, state.best, 10.0 * np.log10(real / nominal), ohm / real)


def run(chain: Chain, state: State, ohm: float) -> Look:
    """Key down. ohm : reference of the path and nominal load of the final stage."""
    load = _load(state, ohm)
    through = transfer(state.s, state.load)
    swr_loss = np.maximum(1.0 - np.abs(state.load) ** 2, 1e-3)
    volts = np.broadcast_to(state.volts, load.z.shape).copy()
    held = np.zeros(load.z.shape)
    levels, final, amps = _pass(chain, state, load, volts, held)
    for n in range(ROUNDS):
        least = 0.05 * state.volts
        step = np.maximum(state.volts - state.supply_ohm * (amps + state.rest), least) - volts
        volts = volts + (1.0 if n < 2 else 0.7) * step
        back = _held(state, held, final * through / swr_loss)
        settled = np.abs(step).max() < SETTLED and np.abs(back - held).max() < SETTLED
        held = back
        levels, final, amps = _pass(chain, state, load, volts, held)
        if settled:
            break
    out = final * through
    stacked = np.stack(levels, axis=1)
    return Look(stacked, final, out, out / swr_loss, volts, amps + state.rest, amps, load.z, held)


def _held(state: State, held: Real, forward: Real) -> Real:
    """How far the drive is taken back, dB: so far that the forward power is what the control holds."""
    with np.errstate(divide="ignore", over="ignore"):
        wanted = held + 10.0 * np.log10(np.maximum(forward, 1e-9) / state.hold)
        soft = CONTROL_SOFT * np.logaddexp(0.0, np.clip(wanted, -100.0, 100.0) / CONTROL_SOFT)
    return np.where(np.isfinite(state.hold), soft, 0.0)


def _pass(chain: Chain, state: State, load: _Load, volts: Real, held: Real) -> tuple[list[Real], Real, Real]:
    """One pass down the chain: S + 1 levels (K, B) dBm, W from the final stage (K, B), its amps (K, B)."""
    level = state.drive - held
    levels = [level]
    for k in range(state.gain.shape[1] - 1):
        level = limited(level + state.gain[:, k], state.most[:, k])
        levels.append(level)
    swing = np.clip((volts - chain.knee) / (chain.volts - chain.knee), 0.02, 3.0)
    most = state.most[:, -1] + load.share_db + 20.0 * np.log10(at_most_one(swing * load.best / load.size))
    out = limited(level + state.gain[:, -1] + load.matched_db, most)
    levels.append(out)
    watts = 10.0 ** ((out - 30.0) / 10.0)
    return levels, watts, _amps(chain, state, load, watts)


def _amps(chain: Chain, state: State, load: _Load, watts: Real) -> Real:
    """Direct current of the final stage, (K, B) A: the standing current, and what the RF current takes beyond it."""
    if chain.final.operation == "A":
        return np.broadcast_to(state.standing, watts.shape).copy()
    rated = chain.rated_watts / (state.efficiency * chain.volts)
    squared = watts / chain.rated_watts * load.drawn
    still = np.minimum(state.standing, rated)
    # the two add in squares: with small drive the standing current already carries the signal
    return np.asarray(np.sqrt(state.standing**2 + (rated**2 - still**2) * squared))


def with_path(state: State, s: Complex, load: Complex | None = None) -> State:
    """Another path and load in the place of these."""
    return replace(state, s=s, load=state.load if load is None else load)


def rated_dbm(chain: Chain) -> float:
    """Output of the final stage at 1 dB of compression, dBm."""
    return chain.most_dbm[-1] - COMPRESSED_DB
