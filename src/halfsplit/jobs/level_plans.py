"""The level plan, and what the final stage does on each band: verbs that need no reading, and use those there are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from halfsplit.amplifier import contour, permitted, run
from halfsplit.amplifier.path import transfer
from halfsplit.amplifier.thermal import warmth
from halfsplit.errors import InputError, Mistake
from halfsplit.expect import LevelSet
from halfsplit.expect import level_noise as noise
from halfsplit.expect.level_factory import asked, bench_of
from halfsplit.expect.levels import LevelBench
from halfsplit.jobs.drawing import load_unit
from halfsplit.jobs.sources import is_job
from halfsplit.jobs.work import load_job
from halfsplit.journal import open_job
from halfsplit.reading import LevelRow, Shows
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

SEED = 20261125
DRAWS = 300
WARM_AIR = 298.15


@dataclass(frozen=True, slots=True)
class PlanRow:
    """One test point on one band. dbm, volts : (5 %, middle, 95 %) of sound transmitters, V rms on ohm

    read : (key, dBm) of figures read there
    """

    band: str
    point: str
    ohm: float
    dbm: tuple[float, float, float]
    volts: tuple[float, float, float]
    read: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class LevelPlan:
    """The level plan of a unit. assumed : what the drawing does not say"""

    unit: str
    rows: tuple[PlanRow, ...]
    assumed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BandPower:
    """What the final stage does on one band, as drawn; (5 %, middle, 95 %) where three figures stand.

    z : ohm presented by coax, relays, filter and load
    final, out : W from the stage and in the load; loss_db : of the path
    volts, amps : of the supply; efficiency : of the whole unit; heat : W in the stage; junction : K, None: not stated
    by_drive, by_supply, by_control : W that each would permit; limited_by : the least of them
    load_db : what the presented load costs against the best one
    """

    band: str
    z: complex
    final: float
    out: tuple[float, float, float]
    loss_db: float
    volts: float
    amps: tuple[float, float, float]
    efficiency: tuple[float, float, float]
    heat: float
    junction: float | None
    by_drive: float
    by_supply: float
    by_control: float | None
    limited_by: str
    load_db: float


@dataclass(frozen=True, slots=True)
class ReadPower:
    """One look with watts, amps and volts. dc, rf, heat : W; junction : K, None: not stated"""

    key: str
    band: str
    point: str
    rf: float
    dc: float
    efficiency: float
    heat: float
    junction: float | None


@dataclass(frozen=True, slots=True)
class PowerPlan:
    """All bands. best_ohm : load line; contour_ohm : (dB, low, high, reactance) of loads that cost so much

    swept : sentences on power with and without the path against its loss; most_junction : K
    """

    unit: str
    bands: tuple[BandPower, ...]
    best_ohm: float
    contour_ohm: tuple[tuple[float, float, float, float], ...]
    read: tuple[ReadPower, ...]
    with_and_without: tuple[str, ...]
    most_junction: float | None
    assumed: tuple[str, ...]


def source_of(source: Path) -> tuple[Unit, tuple[LevelSet, ...]]:
    """The unit of a job or a unit file, and the level readings of a job."""
    if is_job(source):
        with open_job(source) as file:
            job = load_job(file)
        return job.unit, job.levels
    return load_unit(source)[0], ()


def chosen(unit: Unit, band: str | None) -> tuple[str, ...]:
    """The bands that are asked for. raises InputError"""
    names = tuple(b.name for b in unit.bands)
    if band is not None and band not in names:
        raise InputError(Mistake("--band", f"no band {band!r}", f"one of: {', '.join(names)}"))
    return names if band is None else (band,)


def thirds(x: Real) -> tuple[float, float, float]:
    """5 %, middle and 95 % of draws."""
    low, middle, high = np.quantile(x, [0.05, 0.5, 0.95])
    return float(low), float(middle), float(high)


def drawn(bench: LevelBench) -> Real:
    """What sound transmitters would show to ideal meters, (DRAWS, N)."""
    u = np.random.default_rng(SEED).standard_normal((DRAWS, bench.layout.size))
    for name in ("wattmeter", "ammeter", "voltmeter", "probe"):
        u[:, bench.layout.at[name]] = 0.0  # they stand apart from the priors that hang together
    return bench.predict(bench.cases(DRAWS), u)


def levels(source: Path, band: str | None = None) -> LevelPlan:
    """Level of every test point on every band. raises UnitError, InputError, JobFileError"""
    unit, sets = source_of(source)
    bench = bench_of(unit, [asked(unit, chosen(unit, band))])
    values, rows = drawn(bench), []
    for n, f in enumerate(bench.figures):
        if f.row.shows is not Shows.RF_VOLTS:
            continue
        before = bench.chain.before(f.row.point)
        ohm = unit.impedance if before is None else bench.chain.input_ohm[min(before, len(bench.chain.stages) - 1)]
        low, middle, high = thirds(values[:, n])
        shift = 30.0 - 10.0 * float(np.log10(ohm))
        volts = (10.0 ** (low / 20.0), 10.0 ** (middle / 20.0), 10.0 ** (high / 20.0))
        read = tuple(
            (s.key, dbm_of(r, ohm))
            for s in sets
            for r in s.reading.rows
            if (r.band, r.point) == (f.row.band, f.row.point)
            and r.shows in (Shows.POWER, Shows.RF_VOLTS)
            and r.value > 0
        )
        rows.append(PlanRow(f.row.band, f.row.point, ohm, (low + shift, middle + shift, high + shift), volts, read))
    return LevelPlan(unit.name, tuple(rows), bench.chain.assumed)


def dbm_of(row: LevelRow, ohm: float) -> float:
    """A figure in dBm; volts on the impedance of their point."""
    watts = row.value if row.shows is Shows.POWER else row.value**2 / ohm
    return 10.0 * float(np.log10(watts)) + 30.0


def power(source: Path, band: str | None = None) -> PowerPlan:
    """Power, current, efficiency and heat on every band. raises UnitError, InputError, JobFileError"""
    unit, sets = source_of(source)
    bands = chosen(unit, band)
    bench = bench_of(unit, [asked(unit, bands)])
    chain, values = bench.chain, drawn(bench)
    shown = run(chain, bench.drawn, bench.ohm)
    rows = tuple(band_power(bench, values, b, name, shown) for b, name in enumerate(bands))
    lines = tuple(
        (c.db, c.low_ohm, c.high_ohm, c.reactance) for c in (contour(x, chain.best_ohm) for x in (1.0, 2.0, 3.0))
    )
    read = tuple(p for s in sets for p in read_powers(bench, s) if p.band in bands)
    compared = tuple(x for b in bands for x in with_and_without(unit, sets, b))
    thermal = chain.final.thermal
    return PowerPlan(unit.name, rows, chain.best_ohm, lines, read, compared, thermal.most_junction, chain.assumed)


def band_power(bench: LevelBench, values: Real, b: int, name: str, shown: object) -> BandPower:
    """One band."""
    from halfsplit.amplifier import Look

    assert isinstance(shown, Look)
    chain, d = bench.chain, bench.drawn
    at = {f.row.shows: n for n, f in enumerate(bench.figures) if f.look == b and f.row.shows is not Shows.RF_VOLTS}
    p, a, v = (values[:, at[s]] for s in (Shows.POWER, Shows.SUPPLY_AMPS, Shows.SUPPLY_VOLTS))
    z = complex(shown.z[0, b])
    swing = (shown.volts[0, b] - chain.knee) / (chain.volts - chain.knee)
    supply = 10.0 ** ((chain.most_dbm[-1] - 30.0) / 10.0) * float(
        permitted(z, chain.best_ohm, swing) / permitted(bench.ohm, chain.best_ohm)
    )
    matched = abs(bench.ohm + chain.source_ohm) ** 2 / abs(z + chain.source_ohm) ** 2 * z.real / bench.ohm
    drive = 10.0 ** ((shown.levels[0, -2, b] + shown.held_db[0, b] + d.gain[0, -1, b] - 30.0) / 10.0) * matched
    through = float(transfer(d.s, d.load)[0, b])
    control = None if chain.hold_watts is None else chain.hold_watts / through
    limits = {"drive and gain": drive, "supply and load": supply, "level control": control}
    heat = float(shown.heat[0, b])
    return BandPower(
        name, z, float(shown.final[0, b]), thirds(10.0 ** (p / 10.0)), -10.0 * float(np.log10(through)),
        float(shown.volts[0, b]), thirds(10.0 ** (a / 20.0)), thirds(10.0 ** ((p - a / 2.0 - v / 2.0) / 10.0)), heat,
        warmth(chain.final.thermal, heat, WARM_AIR).junction, drive, supply, control,
        min((x, n) for n, x in limits.items() if x is not None)[1],
        10.0 * float(np.log10(permitted(z, chain.best_ohm))),
    )  # fmt: skip


def read_powers(bench: LevelBench, one: LevelSet) -> list[ReadPower]:
    """Input, efficiency and heat of every look that has watts, amps and volts; the rest of the unit taken as drawn."""
    out = []
    for look in dict.fromkeys(r.look for r in one.reading.rows):
        rows = [r for r in one.reading.rows if r.look == look]
        rf, amps, volts = (
            next((r for r in rows if r.shows is s), None) for s in (Shows.POWER, Shows.SUPPLY_AMPS, Shows.SUPPLY_VOLTS)
        )
        if rf is None or amps is None or volts is None or bench.chain.before(rf.point) is not None:
            continue
        dc = amps.value * volts.value
        heat = max(dc - bench.chain.rest_amps * volts.value - rf.value, 0.0)
        sink = next((r.value for r in rows if r.shows is Shows.TEMPERATURE and r.point.endswith("sink")), None)
        junction = warmth(bench.chain.final.thermal, heat, noise.AIR, sink).junction
        out.append(ReadPower(one.key, rf.band, rf.point, rf.value, dc, rf.value / dc, heat, junction))
    return out


def with_and_without(unit: Unit, sets: Sequence[LevelSet], band: str) -> list[str]:
    """Watts at the final stage's own output and behind the path, against what the path loses: what the two say."""
    ends = (unit.path.points[0], unit.path.points[-1])
    found: dict[str, tuple[LevelSet, LevelRow]] = {}
    for s in sets:
        for r in s.reading.rows:
            if r.band == band and r.shows is Shows.POWER and r.point in ends and r.value > 0:
                found[r.point] = (s, r)
    if len(found) < 2:
        return []
    (before_set, before), (after_set, after) = found[ends[0]], found[ends[1]]
    lost = 10.0 * float(np.log10(before.value / after.value))
    bench = bench_of(unit, [asked(unit, [band])])
    path = -10.0 * float(np.log10(transfer(bench.drawn.s, bench.drawn.load)[0, 0]))
    shown = run(bench.chain, bench.drawn, bench.ohm)
    direct = {
        name: amps_of(s, r) for name, (s, r) in zip(ends, ((before_set, before), (after_set, after)), strict=True)
    }
    head = (
        f"{band}: {before.value:.3g} W at {ends[0]} ({before_set.key}), {after.value:.3g} W at {ends[1]} "
        f"({after_set.key}): {lost:.1f} dB; matched, the drawn path loses {path:.2f} dB"
    )
    return [f"{head}. {meaning(lost - path, direct[ends[0]], direct[ends[1]], complex(shown.z[0, 0]), bench)}"]


def amps_of(one: LevelSet, row: LevelRow) -> float | None:
    """Supply amps that were read in the same look."""
    rows = (r for r in one.reading.rows if r.look == row.look and r.shows is Shows.SUPPLY_AMPS)
    return next((r.value for r in rows), None)


NEAR_DB = 0.6
"""Two readings of one wattmeter, moved over, and the path's own spread, dB. source: estimate of the authors"""


def meaning(gap: float, alone: float | None, behind: float | None, z: complex, bench: LevelBench) -> str:
    """What it means that watts fall by more or less than the matched loss of the path."""
    if abs(gap) <= NEAR_DB:
        return "The two agree within the meter: what is missing is lost in the path, as a sweep would show it"
    if gap < 0:
        held = bench.chain.hold_watts is not None
        why = (
            "the level control makes up for the path (blind with the path off, it holds nothing back)"
            if held
            else ("the load that the path presents suits the stage better than 50 ohm, or the first reading was low")
        )
        return f"Less is lost than a matched sweep would show: {why}"
    shown = f"the drawn path presents {z.real:.0f}{z.imag:+.0f}j ohm, and the stage is no 50 ohm source"
    if alone is None or behind is None:
        why = f"dissipated, or not drawn because of mismatch ({shown}); amps in both looks tell which"
        return f"More is lost than matched: {why}"
    ratio = 20.0 * np.log10(behind / alone)
    if ratio < -0.25 * gap - 0.3:
        why = f"mismatch, the stage is loaded otherwise ({shown})"
        return f"More is lost than matched and the current falls with it: {why}"
    return (
        "More is lost than matched while the current stays: it is dissipated in the path, feel for heat with the key up"
    )
