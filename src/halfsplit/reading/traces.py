"""From arrays to the traces of a reading, with the flags that belong to them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from halfsplit.reading.curve import Real, floor, resolution
from halfsplit.reading.records import Trace, What

ZERO_DB = -300.0  # stands for a column of exact zeros, which was not measured


def finished(trace: Trace, by_hand: bool = False) -> tuple[Trace, list[str]]:
    """The trace with its read-out step and its floor marked, and the warnings that go with it.

    Points at or below the floor are set to the floor and flagged: the instrument only showed "not above this".
    by_hand : typed figures; these are too few to show a step or a floor
    """
    warnings: list[str] = []
    f, db = np.array(trace.f), np.array(trace.db)
    if trace.resolution_db is None and not by_hand and trace.what is not What.IMPEDANCE:
        trace = replace(trace, resolution_db=resolution(db))
    if trace.independent and trace.what in (What.S21, What.S12):
        found = None if by_hand else floor(f, db)
        if found and not trace.at_least:
            level, sentence = found
            flags = db <= level
            warnings.append(f"{trace.what.value.upper()}: {sentence} ({int(flags.sum())} of {len(db)} points)")
            trace = replace(trace, db=_floats(np.maximum(db, level)), at_least=tuple(bool(x) for x in flags))
        if db.max() > 0.2:
            warnings.append(
                f"{trace.what.value.upper()} rises to {db.max():+.2f} dB: a passive path has no gain, "
                "so the reference, the match or the offset is wrong, or an amplifier is in the path"
            )
    if trace.independent and trace.what in (What.S11, What.S22):
        warnings += _not_passive(trace.what.value.upper(), db)
    return trace, warnings


def _not_passive(label: str, db: Real) -> list[str]:
    above = db > 0.05
    if not above.any():
        return []
    worst = 10 ** (db.max() / 20)
    return [
        f"|{label}| > 1: uncalibrated, or something active in the path "
        f"({int(above.sum())} of {len(db)} points, worst {worst:.4g})"
    ]


def _floats(values: Real) -> tuple[float, ...]:
    return tuple(float(v) for v in values)


def span(f: tuple[float, ...]) -> str:
    """The frequencies of a trace in words: "201 points 0.5-30 MHz"."""
    points = "1 point" if len(f) == 1 else f"{len(f)} points"
    if f[0] == f[-1]:
        return f"{points} {f[0] / 1e6:.6g} MHz"
    return f"{points} {f[0] / 1e6:.6g}-{f[-1] / 1e6:.6g} MHz"
