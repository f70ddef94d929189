"""The two plots of a reading: the trace as the instrument drew it, and how far it is from a sound unit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.quantity import hertz
from halfsplit.reading import What
from halfsplit.report import draw
from halfsplit.report.markup import safe
from halfsplit.report.scales import Scale, frequency_scale, level_scale
from halfsplit.unit import Band
from halfsplit.verdict import Verdict

Real = npt.NDArray[np.float64]

WIDTH, LEFT, RIGHT = 470.0, 46.0, 458.0
CLEAR = 110.0  # as far as the name of the upright axis reaches
HARMONICS = (2, 3, 4, 5)
MARKS = 24
DEEPEST_RETURN_LOSS = 60.0


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """A reading ready to be drawn. Arrays (n,): level or return loss in dB, so that down is worse in both.

    off, off_low, off_high : reading and 90 % band minus the expected middle, dB; z : in units of tolerance
    at_least : True where the value is there or lower; silent : True where that says nothing
    """

    f: Real
    read: Real
    expected: Real
    low: Real
    high: Real
    off: Real
    off_low: Real
    off_high: Real
    z: Real
    at_least: npt.NDArray[np.bool_]
    silent: npt.NDArray[np.bool_]
    served: npt.NDArray[np.bool_]


def return_loss(gamma: Real) -> Real:
    """Return loss in dB. gamma : (n,) |Gamma|"""
    out: Real = np.minimum(-20.0 * np.log10(np.maximum(gamma, 1e-9)), DEEPEST_RETURN_LOSS)
    return out


def curves_of(v: Verdict, band: Band, at_least: npt.NDArray[np.bool_]) -> Curves:
    """A verdict as curves. at_least : (n,)"""
    served = (v.f >= band.low) & (v.f <= band.high)
    if v.what is What.S21:
        read, expected, low, high, z = v.read, v.expected, v.low, v.high, v.deviation_sigma
    else:
        read, expected, low, high = (return_loss(x) for x in (v.read, v.expected, v.high, v.low))
        z = -v.deviation_sigma
    silent = at_least & (v.deviation == 0.0)
    off = np.where(silent, 0.0, read - expected)
    return Curves(v.f, read, expected, low, high, off, low - expected, high - expected, z, at_least, silent, served)


def figure(title: str, height: float, body: str) -> str:
    """A drawing that scales with the page."""
    name = safe(title)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.0f}" role="img" '
        f'aria-label="{name}"><title>{name}</title>{body}</svg>'
    )


def served_band(x: Scale, band: Band, top: float, bottom: float, *, named: bool) -> str:
    """The served band as a light field between dashed lines, and the ranges of its harmonics as bars at the top."""
    out = []
    if band.high >= x.low and band.low <= x.high:
        a, b = x.one(band.low), x.one(band.high)
        out.append(draw.box(a, top, max(b, a + 2.0), bottom, "served"))
        out += [draw.line(at, top, at, bottom, "servededge") for at in (a, max(b, a + 2.0))]
        if named and 0.5 * (a + b) > LEFT + CLEAR:
            out.append(draw.words(min(0.5 * (a + b), RIGHT - 22), top - 5, "served", "small", "middle"))
    for n in HARMONICS:
        if named and band.low * n >= x.low and band.high * n <= x.high:
            a, b = x.one(band.low * n), x.one(band.high * n)
            out.append(draw.box(a - 1.0, top, b + 1.0, top + 4, "harmonic"))
            out.append(draw.words(0.5 * (a + b), top + 15, f"{n}f", "small", "middle"))
    return "".join(out)


def joined(c: Curves, x: Scale, y: Scale, value: Real, skip: npt.NDArray[np.bool_], kind: str) -> str:
    """A line through the points that are not skipped, with marks on some of them."""
    out = []
    for a, b in draw.runs(~skip):
        chosen = a + draw.thinned(c.f[a:b], value[a:b])
        out.append(draw.stroke(x.at(c.f[chosen]), y.free(value[chosen]), kind))
    known = np.flatnonzero(~skip & (value >= y.low) & (value <= y.high))
    few = known if len(known) <= MARKS else known[draw.spaced(x.at(c.f[known]), 38.0)]
    dots = "".join(draw.dot(x.one(c.f[i]), y.one(value[i]), "mark") for i in few)
    return draw.window(x.start, y.end, x.end, y.start, "".join(out)) + dots


def down_marks(c: Curves, x: Scale, y: Scale, value: Real, mask: npt.NDArray[np.bool_]) -> str:
    """Marks of points that are only known to be there or lower."""
    found = np.flatnonzero(mask)
    few = found[draw.spaced(x.at(c.f[found]), 10.0)]
    return "".join(draw.downward(x.one(c.f[i]), y.one(value[i]), "least") for i in few)


def trace(c: Curves, v: Verdict, band: Band) -> str:
    """The trace over the range of sound units, as the instrument would draw it."""
    top, bottom = 34.0, 296.0
    x = frequency_scale(c.f, LEFT, RIGHT)
    shown = np.concatenate([c.read, c.expected, c.high, np.maximum(c.low, min(c.read.min(), c.expected.min()) - 12.0)])
    y = level_scale(float(shown.min()), float(shown.max()), bottom, top, 2.0)
    few = draw.thinned(c.f, c.read, c.low, c.high, c.expected)
    at = x.at(c.f[few])
    name = "level, dB" if v.what is What.S21 else "return loss, dB"
    body = [
        served_band(x, band, top, bottom, named=True),
        draw.frequency_axis(x, top, bottom, named=True),
        draw.level_axis(y, LEFT, RIGHT, name),
        draw.area(at, y.at(c.low[few]), y.at(c.high[few]), "sound"),
        draw.stroke(at, y.at(c.expected[few]), "expected"),
        joined(c, x, y, c.read, c.at_least, "reading"),
        down_marks(c, x, y, c.read, c.at_least),
        draw.box(LEFT, top, RIGHT, bottom, "frame"),
    ]
    return figure(f"{v.label}: reading, {name}, over the range of sound units", 330.0, "".join(body))


def reach(c: Curves) -> float:
    """Half height of the deviation in dB. Where the served band is off it sets the scale, and the rest may leave it."""
    matters = c.served & (np.abs(c.z) >= 2.0)
    if not matters.any():
        matters = c.served | (np.abs(c.z) >= 2.0) | (c.off_high - c.off_low <= 4.0)
    if not matters.any():
        matters = np.ones(len(c.f), bool)
    return max(1.0, 1.3 * float(np.abs(c.off[matters]).max()))


def beyond(c: Curves, x: Scale, y: Scale, value: Real, unit: str) -> str:
    """A triangle with its figure where the line leaves the paper and the tolerance too."""
    out = []
    for up in (True, False):
        outside = ((value > y.high) if up else (value < y.low)) & ~c.silent & (np.abs(c.z) >= 2.0)
        for a, b in sorted(draw.runs(outside), key=lambda r: -float(np.abs(value[r[0] : r[1]]).max()))[:3]:
            i = a + int(np.argmax(np.abs(value[a:b])))
            at, edge = x.one(c.f[i]), y.end if up else y.start
            out.append(draw.edge_mark(at, edge, up=up, kind="edge"))
            side = "end" if at > 0.5 * (LEFT + RIGHT) else "start"
            shift = -8 if side == "end" else 8
            out.append(draw.words(at + shift, edge + (11 if up else -4), f"{value[i]:+.0f}{unit}", "small", side))
    return "".join(out)


def loudest(c: Curves, x: Scale, y: Scale, value: Real) -> str:
    """A ring and a figure at the point that is farthest off, in the served band first; none where all is quiet."""
    served = bool((c.served & (np.abs(c.z) >= 2.0)).any())
    here = c.served if served else ~c.silent
    i = int(np.argmax(np.where(here, np.abs(c.z), -1.0)))
    if abs(c.z[i]) < (2.0 if served else 3.0) or not y.low <= value[i] <= y.high:
        return ""
    at, level = x.one(c.f[i]), y.one(value[i])
    side, shift = ("end", -9.0) if at > 0.55 * WIDTH else ("start", 9.0)
    text = f"{c.off[i]:+.1f} dB at {hertz(c.f[i])}"
    height = min(max(level + 4.0, y.end + 14), y.start - 6)
    return draw.dot(at, level, "ring", 5.0) + draw.words(at + shift, height, text, "loud", side)


def deviation(c: Curves, v: Verdict, band: Band) -> str:
    """Reading minus the expected middle: in dB above, in units of tolerance below."""
    x = frequency_scale(c.f, LEFT, RIGHT)
    half = reach(c)
    y1 = Scale(-half, half, 164.0, 34.0)
    far = float(np.clip(1.1 * np.abs(c.z).max(), 4.0, 12.0))
    y2 = Scale(-far, far, 296.0, 196.0)
    few = draw.thinned(c.f, c.off_low, c.off_high)
    body = [
        served_band(x, band, y1.end, y1.start, named=False),
        draw.frequency_axis(x, y1.end, y1.start, named=False),
        draw.level_axis(y1, LEFT, RIGHT, "deviation, dB"),
        draw.area(x.at(c.f[few]), y1.at(c.off_low[few]), y1.at(c.off_high[few]), "sound"),
        draw.line(LEFT, y1.one(0.0), RIGHT, y1.one(0.0), "zero"),
        joined(c, x, y1, c.off, c.at_least, "reading"),
        down_marks(c, x, y1, c.off, c.at_least & ~c.silent),
        beyond(c, x, y1, c.off, " dB"),
        loudest(c, x, y1, c.off),
        draw.box(LEFT, y1.end, RIGHT, y1.start, "frame"),
        served_band(x, band, y2.end, y2.start, named=False),
        *zones(y2),
        draw.frequency_axis(x, y2.end, y2.start, named=True),
        draw.level_axis(y2, LEFT, RIGHT, "in units of tolerance (sigma)", sigma_ticks(far)),
        draw.line(LEFT, y2.one(0.0), RIGHT, y2.one(0.0), "zero"),
        joined(c, x, y2, c.z, c.at_least, "reading"),
        down_marks(c, x, y2, c.z, c.at_least & ~c.silent),
        beyond(c, x, y2, c.z, ""),
        draw.box(LEFT, y2.end, RIGHT, y2.start, "frame"),
    ]
    return figure(f"{v.label}: deviation from a sound unit in dB and in units of tolerance", 330.0, "".join(body))


def sigma_ticks(far: float) -> list[float]:
    """Ticks of the axis in units of tolerance, 2 or 3 among them. far : its end"""
    step = 2.0 if far < 6.0 else 3.0
    return [step * n for n in range(-int(far / step), int(far / step) + 1)]


def zones(y: Scale) -> list[str]:
    """Beyond 2 sigma lightly shaded, beyond 3 sigma more; the lines between them."""
    out = []
    for sign in (1.0, -1.0):
        a, b, end = (y.one(sign * z) for z in (2.0, 3.0, y.high))
        out += [draw.box(LEFT, a, RIGHT, b, "zone2"), draw.box(LEFT, b, RIGHT, end, "zone3")]
        out += [draw.line(LEFT, a, RIGHT, a, "two"), draw.line(LEFT, b, RIGHT, b, "three")]
    return out
