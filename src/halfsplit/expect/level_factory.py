"""What is known of a sound transmitter before any reading: it was adjusted to give its rated power on every band.

Tolerances alone would let a chain of three stages miss its rating by half; the adjustment ties them together. What is
held is the output without level control, so that the reserve is held too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from halfsplit.amplifier import chain_of
from halfsplit.expect.level_fit import fit
from halfsplit.expect.level_rows import LevelSet
from halfsplit.expect.levels import LevelBench
from halfsplit.hookup import Hookup
from halfsplit.reading import LevelReading, LevelRow, Shows
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

ADJUSTED_DB = 0.7
"""1 sigma of an adjusted unit's output about its drawing's, level control off, dB. source: estimate of the authors"""
SHARED = (
    "drive", "gain", "band gain", "most", "band most", "volts", "supply", "rest", "standing", "efficiency",
    "band efficiency", "best", "source", "source reactance", "hold",
)  # fmt: skip


def asked(unit: Unit, bands: Sequence[str], *, points: bool = True) -> LevelSet:
    """Figures to be predicted on each band: watts, amps and volts at the end, with points RF volts at every point."""
    names = (*(p for p, _ in chain_of(unit).places), *unit.path.points) if points else ()
    rows: list[LevelRow] = []
    for n, band in enumerate(bands):
        rows += [LevelRow(band, Shows.RF_VOLTS, p, 1.0, look=n) for p in names]
        rows.append(LevelRow(band, Shows.POWER, unit.path.points[-1], 1.0, unit.impedance, look=n))
        rows.append(LevelRow(band, Shows.SUPPLY_AMPS, "supply", 1.0, look=n))
        rows.append(LevelRow(band, Shows.SUPPLY_VOLTS, "supply", 1.0, look=n))
    hookup = Hookup(bands[0], unit.path.points[0], unit.path.points[-1])
    return LevelSet("plan", LevelReading("plan", tuple(rows), b"", ""), hookup)


def bench_of(
    unit: Unit, sets: Sequence[LevelSet], known: dict[str, float] | None = None, keys: Sequence[str] = (),
    spread: Real | None = None,
) -> LevelBench:  # fmt: skip
    """Level readings in one model, with the promise of the rated power in its priors. raises as LevelBench"""
    bench = LevelBench(unit, sets, known, keys, spread)
    promised = unit.rated_watts if unit.level_control is None else unit.level_control.watts
    if promised is None or not bench.looks:
        return bench
    new = LevelBench(unit, [asked(unit, bench.layout.bands, points=False)])
    power = np.array([f.row.shows is Shows.POWER for f in new.figures])
    new.drawn = replace(new.drawn, hold=np.full_like(new.drawn.hold, np.inf))
    middle = new.predict(new.cases(1), np.zeros((1, new.layout.size)))[0]
    new.y = np.where(power, np.maximum(middle, 10.0 * np.log10(promised)), 0.0)
    new.own = np.where(power, ADJUSTED_DB, 1e6)
    found = fit(new, new.cases(1))
    theirs = np.concatenate([np.arange(new.layout.size)[new.layout.at[n]] for n in SHARED])
    ours = np.concatenate([np.arange(bench.layout.size)[bench.layout.at[n]] for n in SHARED])
    cov = (found.root[0] @ found.root[0].T)[np.ix_(theirs, theirs)]
    bench.prior_mean[ours] = found.u[0, theirs]
    bench.prior_root[np.ix_(ours, ours)] = np.linalg.cholesky(cov)
    return bench
