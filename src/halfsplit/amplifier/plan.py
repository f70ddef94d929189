"""The chain as the drawing has it, with what had to be assumed because the drawing is silent."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from halfsplit.amplifier.chain import COMPRESSED_DB, saturated
from halfsplit.errors import Mistake, UnitError
from halfsplit.unit import Stage, Unit

TYPICAL_EFFICIENCY = 0.5
"""source: common practice, 45 to 60 % of broadband HF push-pull stages at rated power (data sheets agree)"""
TYPICAL_KNEE = 0.08
"""Share of the supply that the devices keep. source: common practice"""
TYPICAL_STANDING = 0.06
"""Standing current against that at rated output, class AB. source: common practice"""
TYPICAL_REST = 0.08
"""What the rest of the unit takes, against the final stage. source: common practice; an estimate"""
TYPICAL_SUPPLY_DROP = 0.02
"""Share of the supply lost in leads at rated current. source: common practice; an estimate"""
GAIN_TOLERANCE = 3.0
DRIVE_TOLERANCE = 1.5
HEADROOM_DB = 25.0
"""Saturated output of an earlier stage over what it has to give, where the drawing is silent: it does not limit."""


@dataclass(frozen=True, slots=True)
class Spot:
    """One band at one frequency, Hz."""

    band: str
    f: float


@dataclass(frozen=True, slots=True)
class Chain:
    """The chain in figures. S stages, the final one last.

    order : stages and points; places : (point, number of stages before it); gain : by stage and band, dB;
    gain_sigma : (S,) dB; most_dbm : (S,) saturated output; drive : by band, dBm at the first place; drive_sigma : dB
    input_ohm : (S,); rated_watts : of the final stage; volts : of its supply; knee, standing, efficiency, best_ohm,
    source_ohm : of the final stage; supply_ohm; rest_amps; hold_watts : None without level control; hold_sigma
    stated : names of the figures that the drawing states; assumed : sentences
    """

    stages: tuple[Stage, ...]
    order: tuple[str, ...]
    places: tuple[tuple[str, int], ...]
    gain: tuple[tuple[tuple[str, float], ...], ...]
    gain_sigma: tuple[float, ...]
    most_dbm: tuple[float, ...]
    drive: tuple[tuple[str, float], ...]
    drive_sigma: float
    drive_ohm: float
    input_ohm: tuple[float, ...]
    rated_watts: float
    volts: float
    knee: float
    standing: float
    efficiency: float
    best_ohm: float
    source_ohm: float
    supply_ohm: float
    rest_amps: float
    volts_sigma: float
    hold_watts: float | None
    hold_sigma: float
    stated: frozenset[str]
    assumed: tuple[str, ...]

    @property
    def final(self) -> Stage:
        """The final stage."""
        return self.stages[-1]

    def drive_of(self, band: str) -> float:
        """Level at the first place on a band, dBm."""
        return dict(self.drive)[band]

    def gain_of(self, stage: int, band: str) -> float:
        """Gain of a stage on a band, dB."""
        by_band = dict(self.gain[stage])
        return by_band[band]

    def before(self, point: str) -> int | None:
        """Number of stages before a point of the chain; None where it is no such point."""
        return dict(self.places).get(point)


class _Silent:
    """Collects what the drawing states and what has to be assumed."""

    def __init__(self) -> None:
        self.stated: set[str] = set()
        self.assumed: list[str] = []

    def or_typical(self, name: str, value: float | None, typical: float, words: str) -> float:
        """The stated value, or the typical one with a sentence."""
        if value is not None:
            self.stated.add(name)
            return value
        self.assumed.append(words)
        return typical


def stages_in_order(unit: Unit) -> tuple[Stage, ...]:
    """Stages from the exciter to the final one. raises UnitError where the unit has none"""
    by_name = {s.name: s for s in unit.stages}
    named = [by_name[n] for n in unit.drive.order if n in by_name]
    final = [by_name[n] for n in unit.path.order if n in by_name]
    rest = [s for s in unit.stages if s not in named and s not in final]
    last = [s for s in final if s not in named]
    found = tuple([*named, *last] if named else [*rest, *last])
    if not found:
        raise UnitError(
            Mistake(
                "stage", "no stage in the unit file", 'a table [stage.FINAL] with output = "40 W" for watts and amps'
            )
        )
    return found


def chain_of(unit: Unit) -> Chain:
    """The chain of a unit in figures. raises UnitError where there is no stage, or no output or supply is stated"""
    stages, said = stages_in_order(unit), _Silent()
    final = stages[-1]
    rated = final.output_watts or unit.rated_watts
    volts = final.supply_volts or unit.supply_volts
    mistakes = []
    if rated is None:
        mistakes.append(
            Mistake(f"stage.{final.name}.output", "not stated", 'output = "40 W", or rated_power in [unit]')
        )
    if volts is None:
        mistakes.append(Mistake("unit.supply", "not stated", 'supply = "13.8 V"'))
    if rated is None or volts is None:
        raise UnitError(*mistakes)
    said.stated |= {"rated", "volts"}
    gain = _gains(unit, stages, rated, said)
    figures = _final_figures(unit, final, rated, volts, said)
    drive, sigma = _drive(unit, gain, rated, said)
    most = [saturated(rated)]
    level = saturated(rated)
    for k in range(len(stages) - 2, -1, -1):
        level -= float(np.mean([g for _, g in gain[k + 1]]))
        own = stages[k].output_watts
        most.insert(0, level + HEADROOM_DB if own is None else saturated(own))
    control = unit.level_control
    return Chain(
        stages, _order(unit, stages), _places(unit, stages), gain, tuple(_gain_sigma(s) for s in stages), tuple(most),
        drive, sigma, unit.drive.ohm, tuple(s.input_ohm or unit.drive.ohm for s in stages), rated, volts, *figures,
        (unit.supply.tolerance or 0.06) / 2.0,
        None if control is None else control.watts,
        0.05 if control is None or control.tolerance is None else control.tolerance / 2.0,
        frozenset(said.stated), tuple(said.assumed),
    )  # fmt: skip


def _gains(
    unit: Unit, stages: tuple[Stage, ...], rated: float, said: _Silent
) -> tuple[tuple[tuple[str, float], ...], ...]:
    """By stage, (band, dB) for every band. What is not stated shares what the drive needs to give the rated output."""
    out: list[list[tuple[str, float]]] = [[] for _ in stages]
    full = 10.0 * float(np.log10(rated)) + 30.0 + COMPRESSED_DB
    for band in (b.name for b in unit.bands):
        given = [_stated_gain(s, band) for s in stages]
        silent = [k for k, g in enumerate(given) if g is None]
        wanted = 0.0 if unit.drive.dbm is None else full - unit.drive.dbm - sum(g for g in given if g is not None)
        for k, g in enumerate(given):
            out[k].append((band, wanted / len(silent) if g is None else g))
            if g is None:
                said.assumed.append(f"gain of {stages[k].name} on {band} is not stated: taken as what gives the output")
    said.stated |= {f"gain of {s.name}" for s in stages if s.gain}
    return tuple(tuple(rows) for rows in out)


def _stated_gain(stage: Stage, band: str) -> float | None:
    """Gain of a stage on a band, dB; the mean of the other bands where only these are stated, None where none is."""
    given = {name: db for name, db, _ in stage.gain}
    if band in given or "all" in given:
        return given.get(band, given.get("all"))
    return float(np.mean(list(given.values()))) if given else None


def _gain_sigma(stage: Stage) -> float:
    """1 sigma of a stage's gain, dB: half of what the drawing states as its tolerance."""
    stated = [t for _, _, t in stage.gain if t is not None]
    return 0.5 * (stated[0] if stated else GAIN_TOLERANCE)


def _drive(
    unit: Unit, gain: tuple[tuple[tuple[str, float], ...], ...], rated: float, said: _Silent
) -> tuple[tuple[tuple[str, float], ...], float]:
    """Level at the first place by band, dBm, and its 1 sigma, dB. Not stated: what gives the rated output on each."""
    if unit.drive.dbm is not None:
        said.stated.add("drive")
        return tuple((b.name, unit.drive.dbm) for b in unit.bands), 0.5 * (unit.drive.tolerance_db or DRIVE_TOLERANCE)
    full = 10.0 * float(np.log10(rated)) + 30.0 + COMPRESSED_DB
    level = tuple((b.name, full - sum(dict(g)[b.name] for g in gain)) for b in unit.bands)
    said.assumed.append("drive is not stated: taken as what gives the rated output on each band")
    return level, DRIVE_TOLERANCE


def _final_figures(
    unit: Unit, final: Stage, rated: float, volts: float, said: _Silent
) -> tuple[float, float, float, float, float, float, float]:
    """knee, standing, efficiency, best_ohm, source_ohm, supply_ohm, rest_amps."""
    name = final.name
    efficiency = said.or_typical(
        "efficiency",
        final.efficiency,
        TYPICAL_EFFICIENCY,
        f"efficiency of {name} is not stated: taken 50 % at rated output",
    )
    amps = rated / efficiency / volts
    knee = said.or_typical(
        "knee",
        final.knee_volts,
        TYPICAL_KNEE * volts,
        f"knee voltage of {name} is not stated: taken {TYPICAL_KNEE * volts:.1f} V",
    )
    still = {"A": 1.0, "B": 0.0, "C": 0.0}.get(final.operation, TYPICAL_STANDING) * amps
    standing = said.or_typical(
        "standing", final.standing_amps, still, f"standing current of {name} is not stated: taken {still:.2f} A"
    )
    ohm = unit.impedance
    best = said.or_typical("best", final.optimum_ohm, ohm, f"best load of {name} is not stated: taken {ohm:g} ohm")
    source = said.or_typical(
        "source", final.output_ohm, ohm, f"output impedance of {name} is not stated: taken {ohm:g} ohm, or far from it"
    )
    lead = TYPICAL_SUPPLY_DROP * volts / amps
    supply = said.or_typical(
        "supply", unit.supply.ohm, lead, f"resistance of supply and leads is not stated: taken {1e3 * lead:.0f} mohm"
    )
    rest = said.or_typical(
        "rest", unit.supply.rest_amps, TYPICAL_REST * amps,
        f"current of the rest of the unit is not stated: taken {TYPICAL_REST * amps:.2f} A",
    )  # fmt: skip
    return knee, standing, efficiency, best, source, supply, rest


def _order(unit: Unit, stages: tuple[Stage, ...]) -> tuple[str, ...]:
    """Stages and points of the chain in order."""
    order = unit.drive.order or tuple(s.name for s in stages)
    missing = tuple(s.name for s in stages if s.name not in order)
    return (*order, *missing)


def _places(unit: Unit, stages: tuple[Stage, ...]) -> tuple[tuple[str, int], ...]:
    """Every point of the chain, with the number of stages before it."""
    names, out, before = [s.name for s in stages], [], 0
    for entry in _order(unit, stages):
        if entry in names:
            out.append((f"{entry} in", before))
            before += 1
        else:
            out.append((entry, before))
    return tuple(out)
