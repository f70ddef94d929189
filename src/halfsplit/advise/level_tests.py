"""Candidates on live power: watts and amps on a band, watts at the final stage itself, the drive at a test point."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.advise.causes import Suspect, numbered_parts, probabilities
from halfsplit.advise.costs import Cost
from halfsplit.advise.forecast import Forecast, told
from halfsplit.advise.records import Advice
from halfsplit.advise.sequence import information, menu
from halfsplit.advise.wording import ALWAYS, outcomes_of, rate, splits_of
from halfsplit.expect import LevelSet
from halfsplit.expect.level_cases import Cases
from halfsplit.expect.level_factory import bench_of
from halfsplit.expect.level_fit import fit
from halfsplit.expect.levels import LevelBench
from halfsplit.fault.level_causes import built
from halfsplit.fault.level_paths import PathEntry, path_cases
from halfsplit.fault.level_record import Levels
from halfsplit.hookup import Hookup
from halfsplit.quantity import Dimension, format_value
from halfsplit.reading import LevelReading, LevelRow, Shows
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

MOST_SUSPECTS = 14
BLANK = 1e6
DRIVE_POINTS = 4


@dataclass(frozen=True, slots=True)
class LevelTest:
    """One look that could be made. kind : row of the table of tests; rows : figures to be read"""

    kind: str
    title: str
    connect: str
    rows: tuple[LevelRow, ...]


@dataclass(frozen=True, slots=True, eq=False)
class LevelOption:
    """A look with what it would tell. table : (n_suspect, n_outcome) probability of each outcome"""

    advice: Advice
    cost: float
    table: Real


def level_candidates(unit: Unit, levels: Levels) -> Iterator[LevelTest]:
    """Looks that have not been made: every band into a dummy load, the final stage alone, the points of the drive."""
    last, first = unit.path.points[-1], unit.path.points[0]
    read = {(f.row.band, f.row.point, f.row.shows) for f in levels.bench.figures if f.row.load == "dummy load"}
    meters = f"wattmeter and rated dummy load at {last}, ammeter and voltmeter at the unit; key down briefly"
    alone = (
        f"take the path off behind {first}, wattmeter and dummy load there; the level control is blind: begin with "
        "little drive"
    )
    for band in (b.name for b in unit.bands):
        if (band, last, Shows.POWER) not in read or (band, "supply", Shows.SUPPLY_AMPS) not in read:
            rows = figures(band, last, unit.impedance)
            yield LevelTest("watts and amps", f"Watts and amps on {band}", f"band {band}; {meters}", rows)
    for band in levels.bench.layout.bands:
        if (band, first, Shows.POWER) not in read:
            title, rows = f"Watts at {first} on {band}, the path taken off", figures(band, first, unit.impedance)
            yield LevelTest("watts at the final stage", title, f"band {band}; {alone}", rows)
        for point in drive_points(levels):
            if (band, point, Shows.RF_VOLTS) not in read:
                row = LevelRow(band, Shows.RF_VOLTS, point, 1.0, probe="10:1 probe")
                connect = f"probe of 10:1 at {point}, ground lead short; dummy load at {last}; key down briefly"
                yield LevelTest("drive level", f"Drive level at {point} on {band}", f"band {band}; {connect}", (row,))


def figures(band: str, point: str, ohm: float) -> tuple[LevelRow, ...]:
    """Watts, amps and volts of one look."""
    return (
        LevelRow(band, Shows.POWER, point, 1.0, ohm), LevelRow(band, Shows.SUPPLY_AMPS, "supply", 1.0),
        LevelRow(band, Shows.SUPPLY_VOLTS, "supply", 1.0),
    )  # fmt: skip


def drive_points(levels: Levels) -> list[str]:
    """Places of the chain where a probe goes: its own test points, else the inputs of its stages."""
    places = [p for p, _ in levels.bench.chain.places]
    own = [p for p in places if not p.endswith(" in")]
    return (own or places)[-DRIVE_POINTS:]


def level_options(
    unit: Unit, levels: Levels, suspects: Sequence[Suspect], rng: np.random.Generator, table: dict[str, Cost]
) -> list[LevelOption]:
    """Every look on live power, with what it would tell about the part.

    rng : for sampling outcomes; table : of tests
    """
    tests, few = list(level_candidates(unit, levels)), list(suspects)[:MOST_SUSPECTS]
    if not tests or len(few) < 2:
        return []
    bench, seen = forecast(unit, levels, few, tests)
    out = []
    first = len(levels.bench.figures)
    for test in tests:
        at = np.arange(first, first + len(test.rows))
        first += len(test.rows)
        part = Forecast(seen.values[:, at], seen.cov[:, at[:, None], at[None, :]])
        out.append(option(test, part, few, suspects, rng, table[test.kind]))
    del bench
    return out


def option(
    test: LevelTest, seen: Forecast, few: Sequence[Suspect], suspects: Sequence[Suspect], rng: np.random.Generator,
    cost: Cost,
) -> LevelOption:  # fmt: skip
    """One look with its worth. Suspects beyond the few are taken to show what the few show together."""
    spoken = told(seen, rng)
    p = probabilities(tuple(few))
    rest = np.repeat((p @ spoken / p.sum())[None], len(suspects) - len(few), axis=0)
    whole = np.vstack([spoken, rest])
    group = [int(g) for g in numbered_parts(tuple(suspects))]
    bits = max(float(information(menu([1.0], [whole], group), probabilities(tuple(suspects)))[0]), 0.0)
    shows = tuple(words(test.rows, v) for v in seen.values)
    outcomes = outcomes_of(tuple(few), shows)
    advice = Advice(
        test.title, test.connect, test.kind, None, cost.minutes, cost.risk, bits, rate(bits, cost), splits_of(outcomes),
        outcomes, tuple(c for c in (cost.caution, *ALWAYS) if c),
    )  # fmt: skip
    return LevelOption(advice, cost.minutes + cost.risk_minutes, whole)


def words(rows: Sequence[LevelRow], values: Real) -> str:
    """What a look would show, in words."""
    said = []
    for row, x in zip(rows, values, strict=True):
        if row.shows is Shows.POWER:
            said.append(format_value(10.0 ** (x / 10.0), Dimension.POWER, 2))
        elif row.shows is Shows.SUPPLY_AMPS:
            said.append(format_value(10.0 ** (x / 20.0), Dimension.CURRENT, 2))
        elif row.shows is Shows.RF_VOLTS:
            said.append(f"{format_value(10.0 ** (x / 20.0), Dimension.VOLTAGE, 2)} rms")
        elif row.shows is Shows.SUPPLY_VOLTS:
            said.append(format_value(10.0 ** (x / 20.0), Dimension.VOLTAGE, 3))
    return ", ".join(said)


def forecast(
    unit: Unit, levels: Levels, suspects: Sequence[Suspect], tests: Sequence[LevelTest]
) -> tuple[LevelBench, Forecast]:
    """What every figure would be under every suspect, with the spread that the readings so far leave open."""
    old = levels.bench
    rows = tuple(_numbered(test.rows, n) for n, test in enumerate(tests))
    asked = LevelReading("asked", tuple(r for part in rows for r in part), b"", "")
    hookup = Hookup(unit.bands[0].name, unit.path.points[0], unit.path.points[-1])
    bench = bench_of(unit, [*old.sets, LevelSet("asked", asked, hookup)], old.known, old.keys, old.spread)
    true = bench.own.copy()
    known = np.arange(len(bench.y)) < len(old.y)
    bench.own = np.where(known, bench.own, BLANK)
    found = fit(bench, suspect_cases(bench, levels, suspects))
    cov = np.einsum("knp,kpq->knq", found.slope, found.root)
    cov = cov @ np.swapaxes(cov, 1, 2)
    cov[:, np.arange(len(true)), np.arange(len(true))] += true**2
    return bench, Forecast(found.predicted, cov)


def _numbered(rows: Sequence[LevelRow], look: int) -> tuple[LevelRow, ...]:
    """Figures as those of one look."""
    return tuple(
        LevelRow(r.band, r.shows, r.point, r.value, r.ohm, r.probe, r.step, r.accuracy, r.load, r.text, look)
        for r in rows
    )


def suspect_cases(bench: LevelBench, levels: Levels, suspects: Sequence[Suspect]) -> Cases:
    """One case for each suspect, at its likeliest size."""
    out: list[Cases] = []
    for s in suspects:
        h = s.fit.hypothesis
        said = levels.said.get(h.key)
        if h.key in levels.outside:
            cause = levels.outside[h.key]
            cases = built(bench, cause)
            best = int(np.argmin(np.abs(cause.sizes - said.best))) if said is not None else 0
            out.append(cases.picked(np.array([best])))
        elif said is None or h.family in ("sound", "mix-up"):
            out.append(bench.cases(1))
        else:
            size = np.array([said.best])
            out.append(path_cases(bench, [PathEntry(h, {}, size, np.zeros(1))])[0])
    return Cases.joined(out)
