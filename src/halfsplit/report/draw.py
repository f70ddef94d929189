"""Strokes of an inline SVG drawing; coordinates in paper units, everything styled by class."""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt

from halfsplit.report.markup import safe
from halfsplit.report.scales import Scale, even_ticks, frequency_ticks, tick_text

Real = npt.NDArray[np.float64]

BINS = 160


def coordinates(x: Real, y: Real) -> str:
    """Points of a line."""
    return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))


def line(x1: float, y1: float, x2: float, y2: float, kind: str) -> str:
    """A straight line."""
    return f'<line class="{kind}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'


def box(x1: float, y1: float, x2: float, y2: float, kind: str) -> str:
    """A rectangle between two corners."""
    x, y = min(x1, x2), min(y1, y2)
    return f'<rect class="{kind}" x="{x:.1f}" y="{y:.1f}" width="{abs(x2 - x1):.1f}" height="{abs(y2 - y1):.1f}"/>'


def words(x: float, y: float, text: str, kind: str = "", anchor: str = "start") -> str:
    """Text in the drawing. anchor : start, middle, end"""
    return f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{safe(text)}</text>'


def stroke(x: Real, y: Real, kind: str) -> str:
    """A line through points; a single point becomes a short dash."""
    if len(x) == 1:
        return line(x[0] - 6, y[0], x[0] + 6, y[0], kind)
    return f'<polyline class="{kind}" points="{coordinates(x, y)}"/>'


def area(x: Real, low: Real, high: Real, kind: str) -> str:
    """The field between two lines; a single point becomes a bar."""
    if len(x) == 1:
        x, low, high = np.array([x[0] - 6, x[0] + 6]), np.repeat(low, 2), np.repeat(high, 2)
    around = coordinates(np.concatenate([x, x[::-1]]), np.concatenate([high, low[::-1]]))
    return f'<polygon class="{kind}" points="{around}"/>'


def dot(x: float, y: float, kind: str, radius: float = 2.6) -> str:
    """A round mark."""
    return f'<circle class="{kind}" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>'


def downward(x: float, y: float, kind: str) -> str:
    """A mark that points down: the value is there or lower."""
    return f'<path class="{kind}" d="M{x - 3.4:.1f} {y:.1f}h6.8M{x:.1f} {y:.1f}v9m-3 -4l3 4l3 -4"/>'


def spaced(x: Real, least: float) -> list[int]:
    """Indices of points at least so far apart on the paper. x : (n,) rising"""
    out: list[int] = []
    for i, at in enumerate(x):
        if not out or at - x[out[-1]] >= least:
            out.append(i)
    return out


def window(x1: float, y1: float, x2: float, y2: float, body: str) -> str:
    """Strokes that end at the edges of a rectangle."""
    frame = f'x="{x1:.1f}" y="{y1:.1f}" width="{x2 - x1:.1f}" height="{y2 - y1:.1f}"'
    return f'<svg class="window" {frame} viewBox="{x1:.1f} {y1:.1f} {x2 - x1:.1f} {y2 - y1:.1f}">{body}</svg>'


def edge_mark(x: float, y: float, *, up: bool, kind: str) -> str:
    """A filled triangle at the edge of the paper: the line goes on beyond it."""
    d = -7 if up else 7
    return f'<path class="{kind}" d="M{x - 4.5:.1f} {y - d:.1f}h9L{x:.1f} {y:.1f}z"/>'


def thinned(f: Real, *curves: Real) -> npt.NDArray[np.intp]:
    """Which points to draw: all of a short sweep; of a long one the extremes of every curve in each narrow strip."""
    if len(f) <= 4 * BINS:
        return np.arange(len(f))
    place = np.log(f / f[0]) / np.log(f[-1] / f[0])
    edges = np.searchsorted(place, np.linspace(0.0, 1.0, BINS + 1))
    chosen = {0, len(f) - 1}
    for a, b in itertools.pairwise(edges.tolist()):
        if b > a:
            chosen.update(a + int(pick(c[a:b])) for c in curves for pick in (np.argmin, np.argmax))
    return np.array(sorted(chosen))


def runs(mask: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """(first, beyond) of each stretch of True."""
    steps = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(int), [0]])))
    return [(int(a), int(b)) for a, b in zip(steps[::2], steps[1::2], strict=True)]


def frequency_axis(x: Scale, top: float, bottom: float, *, named: bool) -> str:
    """Grid lines of the frequency axis, and its figures below where named."""
    out = []
    for tick in frequency_ticks(x):
        at = x.one(tick)
        out.append(line(at, top, at, bottom, "grid"))
        if named:
            out.append(words(at, bottom + 14, tick_text(tick / 1e6), "figure", "middle"))
    if named:
        out.append(words(0.5 * (x.start + x.end), bottom + 28, "frequency, MHz", "axis", "middle"))
    return "".join(out)


def level_axis(y: Scale, left: float, right: float, name: str, ticks: list[float] | None = None) -> str:
    """Grid lines and figures of the upright axis, its name above. ticks : None for round ones"""
    out = []
    for tick in even_ticks(y.low, y.high, 5) if ticks is None else ticks:
        at = y.one(tick)
        out += [line(left, at, right, at, "grid"), words(left - 6, at + 4, tick_text(tick), "figure", "end")]
    out.append(words(left, y.end - 7, name, "axis"))
    return "".join(out)
