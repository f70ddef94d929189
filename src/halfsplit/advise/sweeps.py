"""Candidates of one kind: sweeps between any two points, what lies outside taken off, or a piece bridged."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from halfsplit.advise.causes import Suspect
from halfsplit.circuit import points_of
from halfsplit.fault.search import Search
from halfsplit.hookup import Hookup
from halfsplit.reading import What
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

POINTS = 31
MOST_POINTS = 7


@dataclass(frozen=True, slots=True, eq=False)
class Sweep:
    """A sweep that could be made. what : S21 or S11; f : (n,) Hz; kind : row of the table of tests."""

    hookup: Hookup
    what: What
    f: Real
    kind: str


def candidates(unit: Unit, search: Search, suspects: tuple[Suspect, ...]) -> Iterator[Sweep]:
    """Sweeps not yet made of the unit as it is, on the bands that the suspects touch, between path points and the ends
    of the filter.

    What follows the points is taken off, where a jumper can be lifted or a relay released. A filter that would be left
    hanging open at one end is not measured around: its sharp resonances say little and mislead.
    """
    model = next(s.hookup for s in search.setups if not s.baseline)
    fresh = [s for s in search.setups if not s.baseline and s.state == search.today.number]
    done = {(bare(s.hookup), v.observation.what) for s in fresh for v in s.views}
    for n, band in enumerate(bands_in_play(unit, search, suspects)):
        low, high = band_span(unit, band)
        f = np.geomspace(low, high, POINTS)
        points = worthwhile_points(unit, band)
        whole = as_usual(model, band, points[0], points[-1])
        every = [*pairs(unit, whole, points, f), *(bridgings(unit, whole, f) if n == 0 else ())]
        for sweep in every:
            if (bare(sweep.hookup), sweep.what) not in done:
                yield sweep


def bare(h: Hookup) -> tuple[object, ...]:
    """What tells one hook-up from another, the instruments aside; a return loss does not ask what reads."""
    return h.band, h.drive, h.read, h.lifted, h.released, h.bridged


def pairs(unit: Unit, whole: Hookup, points: list[str], f: Real) -> Iterator[Sweep]:
    """Between any two points, what lies outside taken off; and return loss looking into each, the end terminated."""
    for i, drive in enumerate(points[:-1]):
        left = None if i == 0 else taken_off(unit, whole.band, drive, -1)
        if left is None and i and hanging(unit, whole.band, drive, -1):
            continue
        for j in range(i + 1, len(points)):
            last = j == len(points) - 1
            right = None if last else taken_off(unit, whole.band, points[j], 1)
            if right is None and not last and hanging(unit, whole.band, points[j], 1):
                continue
            yield Sweep(tied(whole, drive, points[j], left, right), What.S21, f, "through sweep")
        yield Sweep(tied(whole, drive, points[-1], left, None), What.S11, f, "return loss sweep")


def tied(whole: Hookup, drive: str, read: str, *off: tuple[str, str] | None) -> Hookup:
    """A hook-up between two points with some pieces off. off : ("lifted" or "released", what)."""
    names = {kind: tuple(x[1] for x in off if x is not None and x[0] == kind) for kind in ("lifted", "released")}
    return replace(whole, drive=drive, read=read, lifted=names["lifted"], released=names["released"])


def neighbour(unit: Unit, band: str, point: str, side: int) -> str:
    """What stands beside a point in the path: a piece, "filter" for its contact, "ladder" for the filter itself."""
    own = unit.band(band).filter
    if own is not None and point in (f"{own} in", f"{own} out"):
        return "filter" if side == (-1 if point.endswith(" in") else 1) else "ladder"
    at = unit.path.order.index(point) + side
    return unit.path.order[at] if 0 <= at < len(unit.path.order) else ""


def taken_off(unit: Unit, band: str, point: str, side: int) -> tuple[str, str] | None:
    """How the path on one side of a point (1 behind, -1 before) is taken off without soldering; None: it cannot be.

    A jumper is lifted at its first end, so before a point it hangs there as a stub; a relay is released, but not one
    that holds both ends of a filter.
    """
    piece, relays = neighbour(unit, band, point, side), {r.name for r in unit.relays}
    if piece in {c.ref for c in unit.cables}:
        return "lifted", piece
    if piece == "filter":
        own = unit.band(band).filter
        chosen = None if own is None else unit.filter(own)
        if chosen is None or chosen.input == chosen.output:
            return None
        inner = point in (f"{own} in", f"{own} out")
        first = (side < 0) if inner else (side > 0)
        piece = (chosen.input if first else chosen.output) or ""
    return ("released", piece) if piece in relays else None


def hanging(unit: Unit, band: str, point: str, side: int) -> bool:
    """Whether the filter would hang on that side of a point."""
    own, order = unit.band(band).filter, unit.path.order
    if own is None or "filter" not in order:
        return False
    if point in (f"{own} in", f"{own} out"):
        return neighbour(unit, band, point, side) == "ladder"
    return (order.index("filter") > order.index(point)) == (side > 0)


def bridgings(unit: Unit, whole: Hookup, f: Real) -> Iterator[Sweep]:
    """End to end with a jumper or relay of the path bridged."""
    order, pieces = unit.path.order, {c.ref for c in unit.cables} | {r.name for r in unit.relays}
    for before, piece, behind in zip(order, order[1:], order[2:], strict=False):
        if piece in pieces and before in unit.path.points and behind in unit.path.points:
            yield Sweep(replace(whole, bridged=((before, behind),)), What.S21, f, "bridge and sweep again")


def as_usual(model: Hookup, band: str, drive: str, read: str) -> Hookup:
    """The hook-up used so far, tied to other points."""
    return replace(model, band=band, drive=drive, read=read, lifted=(), bridged=(), released=(), terminated=(), note="")


def bands_in_play(unit: Unit, search: Search, suspects: tuple[Suspect, ...]) -> list[str]:
    """Bands measured so far, those of the suspects first; and one band not yet measured, to clear shared parts."""
    measured = list(dict.fromkeys(s.hookup.band for s in search.setups if not s.baseline))
    weight = dict.fromkeys(measured, 0.0)
    for s in suspects:
        for setup in s.fit.setups:
            weight[setup.hookup.band] = weight.get(setup.hookup.band, 0.0) + s.probability / len(s.fit.setups)
    ordered = sorted(measured, key=lambda b: -weight[b])[:2]
    fresh = [b.name for b in unit.bands if b.name not in measured][:1]
    return ordered + fresh


def band_span(unit: Unit, name: str) -> tuple[float, float]:
    """Frequencies worth sweeping for a band: from half of it to four times."""
    band = unit.band(name)
    return 0.5 * band.low, min(4.0 * band.high, 250e6)


def worthwhile_points(unit: Unit, band: str) -> list[str]:
    """Path points in order, thinned to the ends and those next to the filter; and the ends of the filter."""
    own = unit.band(band).filter
    known = points_of(unit)
    path = list(unit.path.points)
    if len(path) > MOST_POINTS:
        keep = np.unique(np.round(np.linspace(0, len(path) - 1, MOST_POINTS)).astype(int))
        path = [path[i] for i in keep]
    ends = [f"{own} in", f"{own} out"] if own is not None else []
    return insert_ends(unit, path, [e for e in ends if e in known])


def insert_ends(unit: Unit, path: list[str], ends: list[str]) -> list[str]:
    """The filter's ends at their place in the order of the path."""
    if not ends or "filter" not in unit.path.order:
        return path
    before = set(unit.path.order[: unit.path.order.index("filter")])
    at = sum(p in before for p in path)
    return path[:at] + ends + path[at:]
