"""From a trace of an analyser to its lines and humps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.reading import Trace

Real = npt.NDArray[np.float64]

ABOVE_NOISE = (6.0, 13.0)
OF_SCATTER = 2.3
"""A line must stand this many times the scatter of the noise (its 90 % point less its middle) above the noise about it,
within those dB. Of log-detected noise that is 12 dB, which one point in 60 000 passes (an exponential distribution of
power: 90 % at 5.2 dB above its middle); averaging narrows it. """
HUMP = 6.0
"""dB that smoothed noise must rise for a hump."""
BROAD = 6.0
"""A peak this many times wider than the narrowest ones is a hump."""


@dataclass(frozen=True, slots=True)
class Peaks:
    """What an analyser showed, as lines. Tuples (L,): Hz, Hz (1 sigma), dBm or dBc as shown, bound, Hz wide or None.

    span : Hz; floor : dBm (dBc where floor_relative), NaN not known; relative : levels are relative to the carrier
    """

    f: tuple[float, ...]
    sigma_f: tuple[float, ...]
    level: tuple[float, ...]
    at_most: tuple[bool, ...]
    wide: tuple[float | None, ...]
    span: tuple[float, float]
    floor: float
    relative: bool = False
    floor_relative: bool = False


def peaks_of(trace: Trace, rbw: float | None) -> Peaks:
    """Lines and humps of a trace. rbw : Hz, None not known: the narrowest peaks then show what a line looks like.

    A line stands clear of the noise about it and has a valley of 6 dB on both sides; its frequency is the top of a
    parabola through three points. What is much broader than a line, or noise that rises smoothly, is a hump.
    """
    from scipy.ndimage import median_filter
    from scipy.signal import find_peaks, peak_widths

    f, db = np.array(trace.f), np.array(trace.db)
    bin_hz = float(np.median(np.diff(f)))
    size = max(len(db) // 12, 9) | 1
    noise = median_filter(db, size, mode="nearest")
    at, _ = find_peaks(db, prominence=6.0)
    scatter = float(np.percentile(db - noise, 90.0))
    least = float(np.clip(OF_SCATTER * scatter, *ABOVE_NOISE))
    if db[0] > noise[0] + least and db[0] > db[1]:
        at = np.concatenate([[0], at])
    at = at[db[at] > noise[at] + least]
    width = peak_widths(db, at, rel_height=0.5)[0] * bin_hz if len(at) else np.zeros(0)
    usual = max(rbw or 0.0, bin_hz, float(np.median(width)) if len(width) and rbw is None else 0.0)
    broad = width > BROAD * usual
    tops = [refined(f, db, int(i)) for i in at[~broad]]
    humps = swells(f, noise, usual)
    sigma = max(bin_hz / np.sqrt(12.0), (rbw or 0.0) / 20.0)
    wide: list[float | None] = [*[None] * len(tops), *[w for _, _, w in humps]]
    found = [*tops, *[(x, y) for x, y, _ in humps]]
    order = np.argsort([x for x, _ in found])
    return Peaks(
        tuple(found[i][0] for i in order), tuple(float(sigma) for _ in order), tuple(found[i][1] for i in order),
        tuple(False for _ in order), tuple(wide[i] for i in order), (float(f[0]), float(f[-1])),
        float(np.median(noise)),
    )  # fmt: skip


def refined(f: Real, db: Real, i: int) -> tuple[float, float]:
    """Frequency and level of a peak, from a parabola through its top three points."""
    if i in (0, len(f) - 1):
        return float(f[i]), float(db[i])
    a, b, c = db[i - 1], db[i], db[i + 1]
    bend = a - 2.0 * b + c
    shift = 0.0 if bend >= 0 else float(np.clip(0.5 * (a - c) / bend, -0.5, 0.5))
    step = f[i + 1] - f[i] if shift > 0 else f[i] - f[i - 1]
    return float(f[i] + shift * step), float(b - 0.25 * (a - c) * shift)


def swells(f: Real, noise: Real, usual: float) -> list[tuple[float, float, float]]:
    """(Hz, level, Hz wide) of every rise of the noise itself: where its running middle stands well above the floor."""
    floor = float(np.percentile(noise, 30.0))
    high = noise > floor + HUMP
    edges = np.flatnonzero(np.diff(np.concatenate([[0], high.astype(int), [0]])))
    out = []
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        wide = float(f[b - 1] - f[a])
        if wide > BROAD * usual:
            top = int(a + noise[a:b].argmax())
            out.append((float(f[top]), float(noise[top]), wide))
    return out


FEWEST_POINTS, EVEN = 50, 1.5
"""A trace has at least so many points and no step so much longer than the usual; anything else is a list of lines."""


def is_list(trace: Trace) -> bool:
    """Whether the rows of a file are lines that somebody wrote down, not the points of a sweep."""
    steps = np.diff(trace.f)
    return len(trace.f) < FEWEST_POINTS or bool(steps.max() > EVEN * np.median(steps) and len(trace.f) < 200)


def listed(trace: Trace, rbw: float | None) -> Peaks:
    """The rows of a list as lines; they were read to the last decimal that any of them has."""
    f = np.array(trace.f)
    step = next((10.0**k for k in range(6, -1, -1) if (abs(f / 10.0**k - np.round(f / 10.0**k)) < 1e-6).all()), 1.0)
    sigma = max(step / 2.0, (rbw or 0.0) / 20.0)
    bounds = trace.at_least or (False,) * len(f)
    return Peaks(
        trace.f, (sigma,) * len(f), trace.db, bounds, (None,) * len(f), (0.0, 1.05 * float(f[-1])), float("nan")
    )  # fmt: skip
