"""What can be said about a measured curve before anything is known about the unit."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.errors import Mistake, ReadingError

Real = npt.NDArray[np.float64]

_ABSURD_HZ = 1e12
_HIGH_HZ = 1e10
_LOWEST_HIGH_HZ = 1e9


def dropped(count: int, why: str) -> list[str]:
    """The warning for points left out, none for zero of them."""
    return [f"{count} {'point' if count == 1 else 'points'} dropped: {why}"] if count else []


def checked_frequencies(name: str, f: Real) -> list[str]:
    """Warnings about frequencies (Hz, any order) that a transmitter of HF hardly has.

    raises ReadingError for negative ones and for those above 1 THz, where the unit must be wrong
    """
    if f.min() < 0:
        raise ReadingError(Mistake(name, f"a frequency below zero ({f.min():.6g} Hz)", "frequencies from 0 Hz up"))
    if f.max() > _ABSURD_HZ:
        raise ReadingError(
            Mistake(name, f"a frequency of {f.max():.4g} Hz", "at most 1 THz; is the unit of frequency right?")
        )
    if f.max() > _HIGH_HZ or f.min() > _LOWEST_HIGH_HZ:
        shown = f"{f.min() / 1e9:.6g}-{f.max() / 1e9:.6g} GHz"
        return [f"frequencies of {shown} are far above HF: is the unit of frequency right?"]
    return []


def refuse_two_sweeps(name: str, f: Real, db: Real) -> None:
    """Refuse values at one frequency that contradict each other: two sweeps in one file have no mean.

    f : (n,) Hz, any order; db : (n,)
    raises ReadingError where two values at the same frequency differ by more than 3 dB
    """
    order = np.argsort(f, kind="stable")
    same = np.diff(f[order]) == 0
    steps = np.abs(np.diff(db[order]))
    if (same & (steps > 3)).any():
        k = int(np.argmax(np.where(same, steps, 0)))
        where, a, b = f[order][k] / 1e6, db[order][k], db[order][k + 1]
        found = f"two values at {where:.6g} MHz: {a:.2f} and {b:.2f} dB"
        raise ReadingError(Mistake(name, found, "one sweep per reading; part the sweeps into files"))


def merged(f: Real, values: npt.NDArray[Any]) -> tuple[Real, npt.NDArray[Any], list[str]]:
    """Sorted by frequency, values at the same frequency averaged.

    f : (n,) Hz; values : (n, ...); returns the two and warnings about what was done
    """
    warnings: list[str] = []
    steps = np.diff(f)
    if len(f) > 1 and (steps < 0).any():
        falling = "the frequencies fall" if (steps <= 0).all() else "the frequencies jump back"
        warnings.append(f"{falling}: points sorted")
        order = np.argsort(f, kind="stable")
        f, values = f[order], values[order]
    single, first, count = np.unique(f, return_index=True, return_counts=True)
    if len(single) == len(f):
        return f, values, warnings
    mean = np.add.reduceat(values, first, axis=0) / count.reshape(-1, *[1] * (values.ndim - 1))
    alike = np.repeat(values[first], count, axis=0)
    spread = np.nan_to_num(np.abs(values - alike)).reshape(len(f), -1).max(axis=1)
    same = np.maximum.reduceat(spread, first) == 0
    mean[same] = values[first][same]  # no rounding where nothing had to be averaged
    extra = len(f) - len(single)
    differ = f", at {int((~same).sum())} of these frequencies the values differ" if not same.all() else ""
    warnings.append(f"{extra} doubled {'frequency' if extra == 1 else 'frequencies'} merged (mean){differ}")
    return single, mean, warnings


def resolution(db: Real) -> float | None:
    """The step of the read-out in dB, from values that only occur at its multiples; None where that is not clear."""
    if len(db) < 20:
        return None
    levels = np.unique(np.round(db, 6))
    if not 5 <= len(levels) <= 0.75 * len(db):  # a read-out in steps shows the same value again and again
        return None
    gaps = np.diff(levels)
    smallest = float(gaps.min())
    if smallest < 0.009:
        return None
    small = gaps[gaps < 1.6 * smallest]
    if len(small) < 4:
        return None
    step = float(np.median(small))
    for _ in range(5):  # each pass fits the step over a longer stretch of levels
        counts = np.round((levels - levels[-1]) / step)
        step = float(counts @ (levels - levels[-1]) / (counts @ counts))
    misfit = float(np.abs(levels - levels[-1] - np.round((levels - levels[-1]) / step) * step).max())
    return float(f"{step:.3g}") if misfit < 0.2 * step and step > 0.011 else None


def floor(f: Real, db: Real) -> tuple[float, str] | None:
    """The level below which the instrument showed nothing but itself, and the sentence that says so.

    f : (n,) Hz rising; db : (n,); returns (dB, sentence) or None
    A run of equal lowest values is a clipped display; values that jump up and down by more than 3 dB between
    neighbouring frequencies far down are noise.
    """
    lowest = float(db.min())
    at_lowest = db == lowest
    run = _longest_run(at_lowest)
    if run >= 3 and run < len(db) and lowest <= -50:
        return lowest, f'the display is clipped at {lowest:g} dB: treat as "at least"'
    return _noise_floor(f, db)


def _longest_run(flags: npt.NDArray[np.bool_]) -> int:
    longest = here = 0
    for flag in flags:
        here = here + 1 if flag else 0
        longest = max(longest, here)
    return longest


def _noise_floor(f: Real, db: Real) -> tuple[float, str] | None:
    if len(db) < 3:
        return None
    top = np.maximum(np.maximum(db[:-2], db[1:-1]), db[2:])
    bend = db[:-2] - 2 * db[1:-1] + db[2:]
    close = (f[2:] - f[:-2]) < 0.15 * f[1:-1]
    for level in range(-60, -160, -5):
        inside = close & (top <= level)
        count = int(inside.sum())
        if not count:
            continue
        rough = inside & (np.abs(bend) > 3)
        turns = int((np.diff(np.sign(bend[rough])) != 0).sum()) if rough.any() else 0
        enough = turns >= 4 if level > -80 else turns >= min(4, count - 1)
        if rough.sum() >= 0.4 * count and rough.any() and enough:
            high = float(np.percentile(top[rough], 90))
            shown = 5 * math.ceil(round(high / 5, 9))
            return float(shown), f'below about {shown} dB only noise: treat as "at least"'
    return None
