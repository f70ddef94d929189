"""A reading in its hook-up, ready to be compared: one quantity over frequency with its own uncertainty."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import known_band
from halfsplit.errors import Mistake, ReadingError
from halfsplit.hookup import Hookup
from halfsplit.reading import Reading, Trace, What
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

LOWEST, HIGHEST = 50e3, 300e6
Baseline = Literal["", "unit", "twin"]
USED = (What.S21, What.S12, What.S11, What.S22)


@dataclass(frozen=True, slots=True)
class Renewal:
    """What is not the same any more since work was done on the unit.

    place : part whose own strays are drawn anew; tag : key of the work, as in the names of the new strays
    sigma : 1 sigma of ln value now, None: as of any such part
    """

    place: str
    tag: str
    sigma: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """The unit between two pieces of work.

    number : of work that was done before, 0 for the unit as it came; renewed : the latest renewal of each place
    drawing : with the values of replaced parts, None where they are as drawn
    """

    number: int = 0
    renewed: tuple[Renewal, ...] = ()
    drawing: Unit | None = None


AS_IT_CAME = State()


@dataclass(frozen=True, slots=True, eq=False)
class Observation:
    """One trace of one reading in one hook-up.

    key : of the reading in the job; label : what to call it in a sentence
    f : (n,) Hz; value : (n,) dB for S21, |Gamma| for S11 and S22
    sigma : (n,) white uncertainty of the read-out alone, same unit; at_least : (n,) True where S21 is only known
    to be at or below the value
    baseline : "" for a reading of the unit as it is now; "unit" for one of this unit when it was sound, "twin" for one
    of a sound unit built alike; drawing : of a baseline, where it was built to another edition than the job's
    state : of the unit when it was read
    """

    key: str
    hookup: Hookup
    what: What
    f: Real
    value: Real
    sigma: Real
    at_least: npt.NDArray[np.bool_]
    label: str
    baseline: Baseline = ""
    drawing: Unit | None = None
    state: State = AS_IT_CAME


def observe(unit: Unit, hookup: Hookup, reading: Reading, key: str) -> tuple[Observation, ...]:
    """The traces of a reading that the model can speak of.

    A reverse column that only mirrors the forward one is left out; S12 stands for S21 of the turned hook-up.
    raises ReadingError where no trace is left, or where frequencies lie outside the model; HookupError for a band
    that the unit does not have
    """
    known_band(unit, hookup.band)
    out = []
    for trace in reading.traces:
        if trace.what in USED and trace.independent:
            if trace.what in (What.S21, What.S12) and hookup.read is None:
                continue
            if trace.what is What.S22 and hookup.read is None:
                continue
            out.append(observed(hookup, trace, reading.name, key))
    if not out:
        kinds = ", ".join(t.what.value for t in reading.traces) or "nothing"
        expected = "a through or reflection reading that fits the hook-up's points"
        if any(t.what is What.LEVEL for t in reading.traces):
            expected += "; levels with the key down are a spectrum: add --spectrum"
        raise ReadingError(Mistake(reading.name, f"only {kinds}", expected))
    return tuple(out)


def observed(hookup: Hookup, trace: Trace, name: str, key: str) -> Observation:
    """One trace as an observation."""
    f, db = np.asarray(trace.f), np.asarray(trace.db)
    at_least = np.asarray(trace.at_least, bool) if trace.at_least else np.zeros(len(f), bool)
    stated = np.asarray(trace.sigma_db) if trace.sigma_db else np.zeros(len(f))
    keep = f > 0
    outside = keep & ((f < LOWEST) | (f > HIGHEST))
    if outside.any() or not keep.any():
        found = f"{f[outside][0] / 1e6:g} MHz" if outside.any() else "no point above 0 Hz"
        raise ReadingError(
            Mistake(name, found, f"frequencies from {LOWEST / 1e6:g} to {HIGHEST / 1e6:g} MHz, where the model holds")
        )
    f, db, at_least, stated = f[keep], db[keep], at_least[keep], stated[keep]
    step = (trace.resolution_db or 0.0) / np.sqrt(12.0)
    sigma_db = np.sqrt(stated**2 + step**2)
    points = f"{hookup.drive} to {hookup.read}"
    if trace.what in (What.S21, What.S12):
        label = f"{hookup.band}: through {points}"
        return Observation(key, hookup, What.S21, f, db, sigma_db, at_least, label)
    gamma = 10.0 ** (db / 20.0)
    sigma = gamma * sigma_db * np.log(10.0) / 20.0
    at = hookup.drive if trace.what is What.S11 else hookup.read
    label = f"{hookup.band}: return loss at {at}"
    return Observation(key, hookup, trace.what, f, gamma, sigma, np.zeros(len(f), bool), label)
