"""What faults of the path do to watts and amps: the path of every look solved with every fault at several sizes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.amplifier import presented
from halfsplit.errors import HalfsplitError
from halfsplit.expect.level_cases import Cases
from halfsplit.expect.level_paths import look_path
from halfsplit.expect.levels import LevelBench
from halfsplit.fault.hypotheses import Hypothesis, Variant
from halfsplit.reading import Shows
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]

BAND_WIDE_DB = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class PathEntry:
    """A hypothesis about the path, to be seen by level readings.

    known : nuisances of the path where this hypothesis has been fitted to sweeps, by name
    sizes : (n,) in SI units or factors; log_share : (n,) ln of the chance of each
    """

    hypothesis: Hypothesis
    known: Mapping[str, float]
    sizes: Real
    log_share: Real


def path_cases(bench: LevelBench, entries: Sequence[PathEntry]) -> list[Cases]:
    """The cases of every entry, one for each of its sizes; in the order given."""
    counts = [len(e.sizes) for e in entries]
    starts = np.concatenate([[0], np.cumsum(counts)]).astype(int)
    whole = bench.cases(int(starts[-1]))
    for b in range(len(bench.looks)):
        solve_look(bench, b, entries, starts, whole)
    for k, entry in enumerate(entries):
        if entry.hypothesis.variant is not None:
            vary(bench, entry.hypothesis.variant, whole, slice(starts[k], starts[k + 1]))
    return [whole.picked(np.arange(starts[k], starts[k + 1])) for k in range(len(entries))]


def solve_look(
    bench: LevelBench, b: int, entries: Sequence[PathEntry], starts: npt.NDArray[np.intp], whole: Cases
) -> None:
    """Write the path of one look into the cases, all hypotheses that it holds in one go."""
    path = bench.looks[b].path
    if path.model is None:
        return
    rows, thetas, changes = list[int](), list[Real](), list[Any]()
    for k, entry in enumerate(entries):
        h = entry.hypothesis
        at = None if h.change is None else path.model.resolve(h.change)
        own = bool(entry.known)
        if at is None and not own:
            continue
        theta = path.theta({**bench.known, **entry.known})[0]
        for n, size in enumerate(entry.sizes):
            rows.append(int(starts[k]) + n)
            thetas.append(theta)
            changes.append(None if at is None else (at, float(size)))
    if not rows:
        return
    solved = presented(path.model, np.array(thetas), bench.ohm, changes)
    whole.s[rows, b] = solved.s
    for n, f in enumerate(bench.figures):
        if f.look == b and f.row.shows is Shows.RF_VOLTS and f.row.point in solved.nodes:
            whole.node[rows, n] = solved.nodes[f.row.point]


def vary(bench: LevelBench, variant: Variant, whole: Cases, rows: slice) -> None:
    """Another filter in the path, a contact that stays closed, or a discrepancy that is not listed."""
    for b, look in enumerate(bench.looks):
        if variant.band is not None and look.band.name != variant.band:
            continue
        if variant.wide:
            for n, f in enumerate(bench.figures):
                if f.look == b and f.row.shows is not Shows.TEMPERATURE:
                    whole.wide[rows, n] = BAND_WIDE_DB
            continue
        if look.path.model is None or (variant.unit is None and not variant.stuck):
            continue
        hookup = look.path.hookup
        if variant.stuck:
            if selects(bench.unit, look.band.name, variant.stuck):
                continue
            hookup = replace(hookup, operated=(*hookup.operated, variant.stuck))
        try:
            other = look_path(variant.unit or bench.unit, look.path.spot, hookup, through=False)
        except HalfsplitError:
            continue  # such a mix-up cannot be tied on: it stays as drawn, and these looks do not speak for it
        solved = other.solved(bench.ohm, bench.known)
        assert solved is not None
        whole.s[rows, b] = solved.s
        for n, f in enumerate(bench.figures):
            if f.look == b and f.row.shows is Shows.RF_VOLTS and f.row.point in solved.nodes:
                whole.node[rows, n] = solved.nodes[f.row.point]


def selects(unit: Unit, band: str, contact: str) -> bool:
    """True where a band's own filter sits behind this contact."""
    own = unit.band(band).filter
    chosen = None if own is None else unit.filter(own)
    return chosen is not None and contact in (chosen.input, chosen.output)


def invisible(bench: LevelBench, cases: Cases) -> npt.NDArray[np.bool_]:
    """Cases in which these looks would show what a sound transmitter shows, (K,)."""
    same = np.abs(cases.s - bench.s0).max(axis=(1, 2, 3)) < INVISIBLE
    still = np.abs(cases.node - bench.node0).max(axis=(1, 2), initial=0.0) < INVISIBLE
    return np.asarray(same & still & (cases.wide.max(axis=1, initial=0.0) == 0.0))


INVISIBLE = 2e-3
"""Change of a scattering parameter that no wattmeter shows: 0.02 dB."""
