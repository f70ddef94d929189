"""Watts, amps, volts and temperatures against what a sound transmitter of this drawing would show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.expect.level_factory import bench_of
from halfsplit.expect.level_rows import LevelSet, named
from halfsplit.expect.levels import LevelBench, lin
from halfsplit.quantity import Dimension, format_value
from halfsplit.reading import LevelRow, Shows
from halfsplit.unit import Unit
from halfsplit.verdict.judge import word_of
from halfsplit.verdict.records import SEVERITY, BandVerdict, Word

Real = npt.NDArray[np.float64]

DRAWS = 400
DIMENSIONS = {
    Shows.POWER: Dimension.POWER,
    Shows.REFLECTED: Dimension.POWER,
    Shows.RF_VOLTS: Dimension.VOLTAGE,
    Shows.SUPPLY_VOLTS: Dimension.VOLTAGE,
    Shows.SUPPLY_AMPS: Dimension.CURRENT,
    Shows.STANDING_AMPS: Dimension.CURRENT,
    Shows.TEMPERATURE: Dimension.TEMPERATURE,
}
UNITS = {Dimension.POWER: "W", Dimension.VOLTAGE: "V", Dimension.CURRENT: "A", Dimension.TEMPERATURE: "K"}


@dataclass(frozen=True, slots=True)
class LevelVerdict:
    """One figure against its expectation. read, expected, low, high : W, V, A, K, or 1 for an efficiency

    low, high : 5 and 95 % of sound transmitters; sigma : distance from the middle in units of the tolerance
    """

    key: str
    band: str
    name: str
    point: str
    word: Word
    text: str
    read: float
    expected: float
    low: float
    high: float
    unit: str
    sigma: float


def judge_levels(unit: Unit, sets: Sequence[LevelSet], rng: np.random.Generator) -> tuple[LevelVerdict, ...]:
    """Judge every figure, and the efficiency of every look that has watts, amps and volts.

    rng : for the tolerance draws. raises UnitError, ReadingError, HookupError
    """
    if not sets:
        return ()
    bench = bench_of(unit, sets)
    cases = bench.cases(DRAWS)
    drawn = bench.predict(cases, rng.standard_normal((DRAWS, bench.layout.size)))
    drawn = drawn + bench.own * rng.standard_normal(drawn.shape)
    out = [one_figure(bench, n, drawn[:, n]) for n in range(len(bench.figures))]
    for look in range(len(bench.looks)):
        out += efficiencies(bench, look, drawn)
    return tuple(out)


def distance(read: float, drawn: Real) -> tuple[float, Real]:
    """How far a figure is from the middle of what was drawn, in sigma of that side, and (5, 50, 95 %)."""
    low, below, middle, above, high = np.quantile(drawn, [0.05, 0.1587, 0.5, 0.8413, 0.95])
    side = above - middle if read > middle else middle - below
    return float((read - middle) / max(side, 1e-6)), np.array([low, middle, high])


def back(row: LevelRow, x: Real) -> Real:
    """From what is compared to W, V, A or K."""
    return x if row.shows is Shows.TEMPERATURE else 10.0 ** (x / (20.0 * lin(row.shows)))


def one_figure(bench: LevelBench, n: int, drawn: Real) -> LevelVerdict:
    """One figure."""
    figure, row = bench.figures[n], bench.figures[n].row
    sigma, ends = distance(float(bench.y[n]), drawn)
    if bench.at_most[n] and sigma > 0.0:
        sigma = 0.0
    low, middle, high = (float(x) for x in back(row, ends))
    dimension = DIMENSIONS[row.shows]
    shown = [format_value(x, dimension, 3) for x in (row.value, middle, low, high)]
    word = word_of(sigma)
    text = f"{named(row)}: {shown[0]}, expected {shown[1]} ({shown[2]} to {shown[3]})"
    if word is not Word.WITHIN and row.shows is not Shows.TEMPERATURE:
        gap = float(bench.y[n] - ends[1])
        text += f": {abs(gap):.1f} dB {'low' if gap < 0 else 'high'}, {abs(sigma):.1f} sigma"
    elif word is not Word.WITHIN:
        text += f": {abs(sigma):.1f} sigma"
    if row.load == "antenna" and row.shows in (Shows.POWER, Shows.REFLECTED):
        text += "; into the antenna: a dummy load would say more"
    return LevelVerdict(
        figure.key, row.band, named(row), row.point, word, text, row.value, middle, low, high, UNITS[dimension], sigma
    )


def efficiencies(bench: LevelBench, look: int, drawn: Real) -> list[LevelVerdict]:
    """Efficiency of a look from its own watts, amps and volts: RF out over all of the DC in."""
    found: dict[Shows, int] = {}
    for n, f in enumerate(bench.figures):
        if f.look == look:
            found.setdefault(f.row.shows, n)
    wanted = (Shows.POWER, Shows.SUPPLY_AMPS, Shows.SUPPLY_VOLTS)
    if any(s not in found for s in wanted) or bench.looks[look].drive_only:
        return []
    p, a, v = (found[s] for s in wanted)
    if bench.at_most[p]:
        return []
    read = float(bench.y[p] - bench.y[a] / 2.0 - bench.y[v] / 2.0)
    sigma, ends = distance(read, drawn[:, p] - drawn[:, a] / 2.0 - drawn[:, v] / 2.0)
    low, middle, high = (float(x) for x in 10.0 ** (ends / 10.0))
    share, word = 10.0 ** (read / 10.0), word_of(sigma)
    watts = bench.figures[a].row.value * bench.figures[v].row.value
    text = (
        f"efficiency of the whole unit: {100 * share:.0f} %, expected {100 * middle:.0f} % ({100 * low:.0f} to "
        f"{100 * high:.0f} %); {watts:.3g} W in, {watts * (1.0 - share):.3g} W of heat"
    )
    if word is not Word.WITHIN:
        text += f": {abs(sigma):.1f} sigma"
    key, band = bench.figures[p].key, bench.figures[p].row.band
    return [LevelVerdict(key, band, "efficiency", "", word, text, share, middle, low, high, "", sigma)]


def with_levels(bands: Sequence[BandVerdict], levels: Sequence[LevelVerdict]) -> tuple[BandVerdict, ...]:
    """Verdicts by band with the level figures counted in: the worst word and the line that says why."""
    out = {b.band: b for b in bands}
    for v in sorted(levels, key=lambda v: abs(v.sigma)):
        old = out.get(v.band)
        label = f"{v.band}: {v.name}"
        if old is None:
            out[v.band] = BandVerdict(v.band, v.word, v.text, (label,))
            continue
        louder = SEVERITY[v.word] > SEVERITY[old.word] or (
            v.word is old.word and not any(b.band == v.band for b in bands)
        )
        word, headline = (v.word, v.text) if louder else (old.word, old.headline)
        out[v.band] = BandVerdict(v.band, word, headline, (*old.readings, label))
    return tuple(out.values())
