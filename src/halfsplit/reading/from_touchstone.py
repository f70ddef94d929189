"""A reading out of a Touchstone file."""

from __future__ import annotations

import numpy as np

from halfsplit.errors import Mistake, ReadingError
from halfsplit.reading.curve import Real
from halfsplit.reading.records import Reading, Trace, What
from halfsplit.reading.touchstone import Touchstone, parse_touchstone
from halfsplit.reading.traces import ZERO_DB, finished, span
from halfsplit.reading.two_port import Complex, renormalised

Z0 = 50.0
_PLACE = {What.S21: (1, 0), What.S11: (0, 0), What.S12: (0, 1), What.S22: (1, 1)}


def touchstone_reading(name: str, raw: bytes) -> Reading:
    """The reading in a Touchstone file, referred to 50 ohm.

    raises ReadingError listing every mistake, with its line
    """
    data = parse_touchstone(name, raw)
    warnings = list(data.warnings)
    dependent, notes = _one_way(data)
    warnings += notes
    s = data.s
    if any(r != Z0 for r in data.references):
        s = _to_fifty(name, data, warnings)
    traces: list[Trace] = []
    for what, place in _PLACE.items():
        if max(place) >= s.shape[1] or place in data.absent:
            continue
        trace, dropped_at = _trace(what, place, data, s, dependent)
        warnings += dropped_at
        if trace:
            trace, notes = finished(trace)
            traces.append(trace)
            warnings += notes
    if not traces:
        raise ReadingError(Mistake(name, "every value is zero", "measured values"))
    return Reading(name, raw, tuple(traces), _understood(name, data, traces), tuple(warnings))


def _to_fifty(name: str, data: Touchstone, warnings: list[str]) -> Complex:
    if data.absent or (data.zero and data.s.shape[1] == 2):
        raise ReadingError(
            Mistake(
                name,
                f"a reference of {_ohms(data)} ohm and columns that were not measured",
                "all four S-parameters, or a file referred to 50 ohm",
            )
        )
    warnings.append(f"renormalised from {_ohms(data)} ohm to 50 ohm")
    try:
        return renormalised(data.s, np.array(data.references), np.full(len(data.references), Z0))
    except np.linalg.LinAlgError:
        raise ReadingError(Mistake(name, "S-parameters that cannot be referred to 50 ohm", "a passive path")) from None


def _ohms(data: Touchstone) -> str:
    return " and ".join(dict.fromkeys(f"{r:g}" for r in data.references))


def _one_way(data: Touchstone) -> tuple[set[tuple[int, int]], list[str]]:
    """Places that carry no knowledge of their own: zeros or copies from an instrument that measures one way."""
    if data.s.shape[1] == 1:
        return set(), []
    s = data.s
    reverse = {(0, 1), (1, 1)}
    if reverse <= data.zero | data.absent:
        return reverse, ["reverse side not measured: S12 and S22 are zero or empty at every point"]
    mirrored = np.array_equal(s[:, 0, 1], s[:, 1, 0])
    if mirrored and np.array_equal(s[:, 1, 1], s[:, 0, 0]):
        return reverse, ["S12, S22 are exact copies of S21, S11: not counted as readings of their own"]
    if mirrored:
        return {(0, 1)}, ["S12 is an exact copy of S21: not counted as a reading of its own"]
    if (0, 1) in data.zero:
        return {(0, 1)}, ["S12 is zero at every point: not measured, or an amplifier"]
    return set(), []


def _trace(
    what: What, place: tuple[int, int], data: Touchstone, s: Complex, dependent: set[tuple[int, int]]
) -> tuple[Trace | None, list[str]]:
    values, f = s[:, *place], data.f
    if not values.any():
        if place not in dependent:
            return None, [f"{what.value.upper()} is zero at every point and was left out"]
        zeros = (ZERO_DB,) * len(f)
        return Trace(what, _floats(f), zeros, _floats(0 * f), z0=Z0, independent=False), []
    size = np.abs(values)
    keep = size > 0
    notes: list[str] = []
    if not keep.all():
        gone = int((~keep).sum())
        notes = [f"{what.value.upper()}: {gone} {'value' if gone == 1 else 'values'} of exactly zero left out"]
    db = 20 * np.log10(size[keep])
    degrees = np.degrees(np.angle(values[keep]))
    return Trace(
        what, _floats(f[keep]), _floats(db), _floats(degrees), z0=Z0, independent=place not in dependent
    ), notes


def _floats(values: Real) -> tuple[float, ...]:
    return tuple(float(v) for v in values)


def _understood(name: str, data: Touchstone, traces: list[Trace]) -> str:
    labels = " ".join(t.what.value.upper() for t in traces if t.independent)
    form = {"DB": "in dB", "MA": "as magnitude and angle", "RI": "as real and imaginary part"}[data.form]
    kind = "" if data.kind == "S" else f" (from {data.kind}-parameters)"
    return f"{name}: Touchstone, {span(_floats(data.f))}, {labels} {form}{kind}, {_ohms(data)} ohm"


def complex_two_port(data: bytes, name: str) -> tuple[tuple[float, ...], tuple[complex, ...], float]:
    """The S-parameters of a measured two-port, for a block that is taken as measured.

    returns f (n,) Hz rising; s (4 n,) in the order S11 S12 S21 S22 point by point; the reference in ohm
    (50 where the two ports of the file differ)
    raises ReadingError for a file that is no two-port or was measured one way only
    """
    found = parse_touchstone(name, data)
    if found.s.shape[1] != 2:
        raise ReadingError(Mistake(name, "a one-port file", "a two-port file for a measured block"))
    unmeasured = found.absent | ({(0, 1), (1, 1)} if {(0, 1), (1, 1)} <= found.zero else frozenset())
    if unmeasured:
        raise ReadingError(
            Mistake(name, "reverse side not measured: S12, S22 are zero or empty", "all four S-parameters")
        )
    s, first = found.s, found.references[0]
    if found.references[1] != first:
        s, first = renormalised(s, np.array(found.references), np.full(2, Z0)), Z0
    return _floats(found.f), tuple(complex(v) for v in s.reshape(-1)), first
