"""One sweep of one piece of coax: its length, loss, impedance, what is at its end, and where it is damaged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from halfsplit.cables.echoes import CELL, SIDE_LOBES, WINDOW, in_time, peaks
from halfsplit.cables.line import REFERENCE, fitted_one_port, fitted_through
from halfsplit.cables.notches import stub_of
from halfsplit.cables.records import CableFacts, Echo, End, Figure, LineFit, TableCheck
from halfsplit.cables.scalar import loss_law, ripple_delay
from halfsplit.cables.words import verdicts_of
from halfsplit.errors import Mistake, ReadingError
from halfsplit.network.lines import C0
from halfsplit.parts import cable_type
from halfsplit.reading import Reading, Trace, What

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]
Way = Literal["one-port", "through", "across"]

FEWEST = 16
FAINTEST = 0.01
"""A reflection smaller than this is not listed: calibration and connectors make as much."""
NOISE = 6.0
LEAST_TURNS = 0.25
"""Of a turn of the round trip's phase across the sweep: with less, length and impedance cannot be told apart."""
WORST_DELAY = 0.05
UNIFORM = 0.08
"""rms misfit above which a line is not uniform: its one-line figures mean nothing."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What is known about the piece: its type in the table, its velocity factor, its length in m; None: not known."""

    type: str | None = None
    velocity_factor: float | None = None
    metres: float | None = None
    end: End | None = None
    way: Way | None = None

    @property
    def factor(self) -> float | None:
        """The velocity factor given, else that of the type."""
        if self.velocity_factor is not None or self.type is None:
            return self.velocity_factor
        return cable_type(self.type).velocity_factor


def cable_facts(reading: Reading, wish: Wish) -> CableFacts:
    """What a sweep says about a piece of coax.

    reading : a one-port sweep of the piece alone, a through sweep, or a through sweep of a line that it hangs across
    raises ReadingError where the sweep holds no such trace or is too short, with the number that misses
    """
    trace, way = _chosen(reading, wish.way)
    f = np.asarray(trace.f)
    keep = f > 0
    f, db = f[keep], np.asarray(trace.db)[keep]
    if len(f) < FEWEST:
        raise ReadingError(Mistake(reading.name, f"{len(f)} points", f"at least {FEWEST} for a piece of coax"))
    turn = np.asarray(trace.degrees)[keep] if trace.degrees else None
    base = _blank(reading.name, f)
    if way == "across":
        facts = _across(base, f, db, wish)
    elif turn is None:
        facts = _scalar(base, f, db, way)
    else:
        g = 10.0 ** (db / 20.0) * np.exp(1j * np.radians(turn))
        facts = _one_port(base, f, g, wish) if way == "one-port" else _through(base, reading, f, g)
    facts = _in_metres(facts, wish)
    return replace(facts, verdicts=verdicts_of(facts, wish.metres, wish.velocity_factor is not None))


def _chosen(reading: Reading, way: Way | None) -> tuple[Trace, Way]:
    """The trace to work with. raises ReadingError"""
    by = {t.what: t for t in reading.traces}
    wanted = What.S11 if way == "one-port" or (way is None and What.S21 not in by) else What.S21
    if wanted not in by:
        found = ", ".join(w.value.upper() for w in by) or "nothing"
        raise ReadingError(Mistake(reading.name, f"only {found}", f"a trace of {wanted.value.upper()}"))
    return by[wanted], way or ("one-port" if wanted is What.S11 else "through")


def _blank(name: str, f: Real) -> CableFacts:
    return CableFacts(
        name, len(f), float(f[0]), float(f[-1]), None, None, None, None, (), None, None, "", (), (), None, (), ()
    )


def _one_port(base: CableFacts, f: Real, g: Complex, wish: Wish) -> CableFacts:
    """A complex one-port sweep."""
    span = float(f[-1] - f[0])
    t, h = in_time(f, g)
    half = len(t) // 2  # the second half of the period is what lies before zero time
    floor = NOISE * float(np.median(np.abs(h[:half])))
    strongest = float(np.abs(h[:half]).max())
    seen = peaks(t[:half], h[:half], 1.0 / span, max(FAINTEST, floor * 0.5, SIDE_LOBES * strongest))
    base = replace(base, window=WINDOW)
    if not seen:
        size = f"{20.0 * np.log10(max(float(np.abs(g).max()), 1e-6)):.1f} dB"
        least = max(FAINTEST, floor * 0.5)
        why = f"no echo above {least:.3f} (|S11| at most {size}): the far end is matched, or out of reach"
        return replace(base, cannot=(f"length, loss and end: {why}; leave the far end open or short it",))
    _refuse_short(base.name, f, g, seen[0][0])
    start = seen[0][0] if seen[0][0] * span > 2.0 else _slope(f, g)
    fit = fitted_one_port(f, g, start, _ends(seen[0], span, wish.end))[0]
    _refuse_unsure(base.name, fit)
    if fit.misfit > UNIFORM:
        echoes = _echoes(seen, seen[0][0], REFERENCE, _table_loss(wish, f), span)
        why = f"no uniform line fits (rms {fit.misfit:.2f} of reflection): loss and impedance cannot be told"
        delay = Figure(seen[0][0] / 2.0, 0.05 / span)
        return replace(base, electrical_metres=_times(delay, C0), echoes=echoes, cannot=(why,))
    trip = 2.0 * fit.delay.value
    echoes = _echoes(seen, trip, fit.z0.value, 2.0 * _mid_loss(fit) / trip, span)
    return replace(base, electrical_metres=_times(fit.delay, C0), fit=fit, echoes=echoes)


def _ends(main: tuple[float, complex], span: float, told: End | None) -> tuple[End, ...]:
    """Which ends to try: what was told; else by the sign of the main echo where the sweep is wide enough to see it."""
    if told is not None:
        return (told,)
    angle = abs(float(np.degrees(np.angle(main[1]))))
    loaded = (End.LOAD,) if abs(main[1]) < 0.8 else ()
    if main[0] * span > 2.0 and angle < 50.0:
        return (End.OPEN, *loaded)
    if main[0] * span > 2.0 and angle > 130.0:
        return (End.SHORT, *loaded)
    return (End.OPEN, End.SHORT, *loaded)


def _slope(f: Real, g: Complex) -> float:
    """Round trip in s from the slope of the phase."""
    return max(-float(np.polyfit(f, np.unwrap(np.angle(g)), 1)[0]) / (2.0 * np.pi), 1e-11)


def _refuse_short(name: str, f: Real, g: Complex, round_trip: float) -> None:
    """A sweep that turns the phase by less than a quarter of a turn cannot tell length from impedance."""
    span = float(f[-1] - f[0])
    guess = round_trip if round_trip * span > 2.0 else _slope(f, g)
    turns = guess * span
    if turns < LEAST_TURNS:
        need = float(f[0]) + LEAST_TURNS / guess
        raise ReadingError(
            Mistake(
                name,
                f"from {f[0] / 1e6:g} to {f[-1] / 1e6:g} MHz the round trip turns by {turns:.3f} of a turn: too short "
                "to tell length from impedance",
                f"a sweep that turns it by {LEAST_TURNS:g} or more: up to about {need / 1e6:.0f} MHz for a piece as "
                "short as this seems",
            )
        )


def _refuse_unsure(name: str, fit: LineFit) -> None:
    share = fit.delay.sigma / fit.delay.value
    if share > WORST_DELAY and fit.misfit <= UNIFORM:
        raise ReadingError(
            Mistake(
                name,
                f"the delay comes out as {fit.delay.value * 1e9:.2f} ns within {100 * share:.0f} % only",
                f"a wider or quieter sweep (it must tell the delay within {100 * WORST_DELAY:.0f} %)",
            )
        )


def _echoes(seen: Sequence[tuple[float, complex]], end: float, z0: float, loss: float, span: float) -> tuple[Echo, ...]:
    """Echoes by distance, without those that only come round again.

    end : s, round trip of the far end; loss : dB per s of round trip, at mid sweep
    """
    cell = CELL / span
    out = []
    for t, h in sorted(seen, key=lambda x: x[0]):
        is_end = abs(t - end) < cell
        if t > end + cell or (t < cell and not is_end):
            continue
        r = float(np.clip(np.sign(h.real) * abs(h) * 10.0 ** (loss * t / 20.0), -1.0, 1.0))
        ohm = None if is_end or abs(r) > 0.9 else z0 * (1.0 + r) / (1.0 - r)
        out.append(Echo(t, None, r, ohm, is_end))
    return tuple(out)


def _table_loss(wish: Wish, f: Real) -> float:
    """Loss of the type in the table, dB per s of round trip, at mid sweep; 0 where no type was given."""
    if wish.type is None or wish.factor is None:
        return 0.0
    row, mhz = cable_type(wish.type), 0.5 * float(f[0] + f[-1]) / 1e6
    return (row.k1 * float(np.sqrt(mhz)) + row.k2 * mhz) / 100.0 * C0 * wish.factor


def _mid_loss(fit: LineFit) -> float:
    mhz = 0.5 * (fit.low + fit.high) / 1e6
    return fit.k1 * float(np.sqrt(mhz)) + fit.k2 * mhz


def _through(base: CableFacts, reading: Reading, f: Real, s21: Complex) -> CableFacts:
    """A complex through sweep."""
    step = float(np.diff(f).max())
    s11 = next((t for t in reading.traces if t.what is What.S11 and t.degrees and len(t.f) == base.points), None)
    g = None if s11 is None else 10.0 ** (np.asarray(s11.db) / 20.0) * np.exp(1j * np.radians(s11.degrees))
    fit = fitted_through(f, s21, g)
    turns = fit.delay.value * float(f[-1] - f[0])
    _refuse_unsure(base.name, fit)
    limit = 0.5 / step
    cannot: tuple[str, ...] = ()
    if g is None:
        cannot = ("impedance: a through sweep alone hardly shows it; sweep the reflection too",)
    if fit.delay.value > 0.8 * limit or turns < 1e-3:
        cannot += (f"length beyond {limit * C0:.1f} m of electrical length folds back at this spacing of points",)
    return replace(base, electrical_metres=_times(fit.delay, C0), fit=fit, cannot=cannot)


def _scalar(base: CableFacts, f: Real, db: Real, way: Way) -> CableFacts:
    """Magnitude alone: loss, and the length where a ripple shows it."""
    trips = 2.0 if way == "one-port" else 1.0
    loss = loss_law(f, -db / trips)
    delay = ripple_delay(f, db)
    cannot = ["impedance and end: a sweep without phase does not show them"]
    if delay is None:
        cannot.append("length: no ripple stands out of this magnitude; measure with phase, or hang it across a line")
    metres = None if delay is None else _times(delay, C0)
    return replace(base, electrical_metres=metres, loss=loss, cannot=tuple(cannot))


def _across(base: CableFacts, f: Real, db: Real, wish: Wish) -> CableFacts:
    """A piece that hangs across a line: notches where it is an odd quarter wave (open) or a half wave (shorted)."""
    ways = stub_of(base.name, f, db, wish.end)
    best = ways[0]
    delay = Figure(0.25 / best[1], 0.25 / best[1] * max(best[2], 1e-4))
    cannot: tuple[str, ...] = ()
    if len(ways) > 1:
        other = ways[1]
        cannot = (
            f"open or shorted: one notch fits a quarter wave of {best[1] / 1e6:.3f} MHz ({best[0].value} far end) as "
            f"well as of {other[1] / 1e6:.3f} MHz ({other[0].value}); say --end, or sweep to three times the notch",
        )
    return replace(base, electrical_metres=_times(delay, C0), stub=ways, cannot=cannot)


def _times(x: Figure, factor: float) -> Figure:
    return Figure(x.value * factor, x.sigma * factor)


def _in_metres(facts: CableFacts, wish: Wish) -> CableFacts:
    """Lengths in m of cable where the velocity factor is known, the velocity factor where the length is."""
    factor, metres, electrical = wish.factor, wish.metres, facts.electrical_metres
    speed = None
    if electrical is not None and metres is not None:
        speed = Figure(metres / electrical.value, metres / electrical.value * electrical.sigma / electrical.value)
    if factor is None and speed is not None:
        factor = speed.value
    known = Figure(factor, 0.0) if factor is not None else None
    length = None if electrical is None or factor is None else _times(electrical, factor)
    if factor is not None and facts.echoes:
        near = tuple(replace(e, metres=0.5 * e.round_trip * C0 * factor) for e in facts.echoes)
        facts = replace(facts, echoes=near)
    scale = C0 * (factor or 1.0)
    if facts.window:
        span = facts.high - facts.low
        step = span / (facts.points - 1)
        facts = replace(facts, resolution=0.5 * CELL / span * scale, limit=0.25 / step * scale)
    facts = replace(facts, metres=length, velocity_factor=speed or known)
    return replace(facts, table=_against_table(facts, wish, length))


def _against_table(facts: CableFacts, wish: Wish, length: Figure | None) -> TableCheck | None:
    """Loss per 100 m against the row of the type."""
    if wish.type is None:
        return None
    row = cable_type(wish.type)
    metres = wish.metres if wish.metres is not None else None if length is None else length.value
    loss = facts.fit.loss if facts.fit is not None else facts.loss
    if metres is None or not loss:
        return TableCheck(row.name, row.velocity_factor, metres or 0.0, (), row.z0, row.source)
    rows = tuple(
        (hz, 100.0 * db / metres, 100.0 * s / metres, row.k1 * float(np.sqrt(hz / 1e6)) + row.k2 * hz / 1e6)
        for hz, db, s in loss
    )
    return TableCheck(row.name, row.velocity_factor, metres, rows, row.z0, row.source)
