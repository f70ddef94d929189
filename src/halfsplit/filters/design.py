"""A low-pass for a served band and the harmonics it takes away: family, stock values, and how many of a lot will do."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from halfsplit.filters import prototypes
from halfsplit.filters.figures import CAPACITOR_Q, COIL_Q
from halfsplit.filters.records import Family
from halfsplit.filters.sampled import Arms, arms_of, draw_values, in_blocks, responses
from halfsplit.filters.synthesis import Ladder, elliptic_ladder, equal_ripple_zeros, ladder_from_zeros
from halfsplit.parts import Kind, Part, nearest, series
from halfsplit.unit import Filter, Rung

Real = npt.NDArray[np.float64]

ORDERS = (3, 5, 7, 9)
EDGES = (1.02, 1.04, 1.06, 1.08, 1.1, 1.13, 1.16, 1.2, 1.25, 1.3, 1.36, 1.43, 1.5)
IN_BAND, AT_HARMONIC = 21, 11
SPARES = (2.0, 5.0, 9.0)
"""dB of return loss beyond the wish that a nominal design is tried with: tolerances eat them."""
SPARE_STOP = 2.0
CLOSE = 0.025
"""A single preferred value this near is taken; otherwise two in parallel make it up."""
LEAST_FARAD = 2.2e-12
TRIED = 8


@dataclass(frozen=True, slots=True)
class Wish:
    """What is wanted of a low-pass.

    low, high : Hz, the served band; stops : (times, dB) least attenuation at that multiple of all of the band
    return_loss : dB, least in the band; loss : dB, most in the band, None for none; ohm : at both ends
    coil_q, capacitor_q : Q; coil_tolerance, capacitor_tolerance : fractions; e_series : 6, 12, 24...
    order : None for any; first : what the ladder begins with; share : of a lot that is to meet all of it
    """

    low: float
    high: float
    stops: tuple[tuple[float, float], ...]
    return_loss: float = 20.0
    loss: float | None = None
    ohm: float = 50.0
    coil_q: float = COIL_Q
    capacitor_q: float = CAPACITOR_Q
    coil_tolerance: float = 0.05
    capacitor_tolerance: float = 0.05
    e_series: int = 24
    order: int | None = None
    first: str = "shunt"
    share: float = 0.8


@dataclass(frozen=True, slots=True)
class Figures:
    """A filter against a wish, all dB, worst over the band: loss, return loss, attenuation for each stop."""

    loss: float
    return_loss: float
    stops: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Yield:
    """How many of a lot would do. draws : how many were drawn; all : share that meets every wish

    loss, return_loss, stops : share that meets each; low : 5 % figures (loss: 95 %), as Figures
    """

    draws: int
    all: float
    loss: float | None
    return_loss: float
    stops: tuple[float, ...]
    low: Figures


@dataclass(frozen=True, slots=True)
class Design:
    """One design. made_up : (ref, stock values in parallel) for each capacitor; ideal : values before stock, in order

    figures : with the stock values and the losses of the wish; lot : None where it was not sampled
    """

    family: Family
    order: int
    edge: float
    ripple_db: float | None
    filter: Filter
    ideal: tuple[float, ...]
    made_up: tuple[tuple[str, tuple[float, ...]], ...]
    figures: Figures
    lot: Yield | None = None

    @property
    def count(self) -> int:
        """Number of parts to buy or wind."""
        coils = sum(p.kind is Kind.COIL for p in self.filter.parts)
        return coils + sum(len(values) for _, values in self.made_up)


@dataclass(frozen=True, slots=True)
class Prototype:
    """A candidate before its values: a low-pass prototype with its edge in Hz."""

    family: Family
    order: int
    edge: float
    ripple_db: float | None
    ladder: Ladder


class Impossible(ValueError):
    """No design meets the wish. nearest : what came nearest; missing : in words, with the number that misses"""

    def __init__(self, missing: str, nearest_figures: Figures) -> None:
        super().__init__(missing)
        self.missing = missing
        self.nearest = nearest_figures


def designs(wish: Wish, rng: np.random.Generator, draws: int = 2000, most: int = 3) -> tuple[Design, ...]:
    """Designs that meet a wish, the best first: fewest parts of those with enough good ones in a lot, else most good.

    rng : for the lot; draws : its size
    raises Impossible where nothing does
    """
    f, parts = grid(wish), candidates(wish)
    rated = sorted(((slack(wish, made), made) for made in parts), key=lambda x: -x[0])
    if not rated or rated[0][0] < 0:
        raise Impossible(*_missing(wish, rated))
    able = [made for room, made in rated if room >= 0]
    able.sort(key=lambda made: np.count_nonzero(made.ladder.main) + np.count_nonzero(made.ladder.partner))
    kept: list[Design] = []
    for made in able[: 2 * TRIED]:
        if len(kept) >= TRIED:
            break
        found = in_stock(wish, made, f)
        if meets(wish, found.figures):
            kept.append(replace(found, lot=lot(wish, found.filter, rng, draws)))
    if not kept:
        best = max((in_stock(wish, made, f) for made in able[:TRIED]), key=lambda d: d.figures.return_loss)
        raise Impossible(f"series E{wish.e_series} is too coarse: {_words(wish, best.figures)}", best.figures)
    good = sorted((d for d in kept if d.lot is not None and d.lot.all >= wish.share), key=lambda d: d.count)
    rest = sorted((d for d in kept if d not in good), key=lambda d: -(d.lot.all if d.lot else 0.0))
    return tuple((*good, *rest)[:most])


def grid(wish: Wish) -> Real:
    """Frequencies at which a wish is checked: IN_BAND in the band, then AT_HARMONIC at each stop."""
    parts = [np.linspace(wish.low, wish.high, IN_BAND)]
    parts += [np.linspace(t * wish.low, t * wish.high, AT_HARMONIC) for t, _ in wish.stops]
    return np.concatenate(parts)


def candidates(wish: Wish) -> list[Prototype]:
    """Prototypes that may do: for each family and order the edge that leaves most to spare."""
    out = []
    for family, order in _families(wish):
        best: tuple[float, Prototype] | None = None
        for made in _placed(wish, family, order):
            room = slack(wish, made)
            if best is None or room > best[0]:
                best = (room, made)
        if best is not None:
            out.append(best[1])
    return out


def _families(wish: Wish) -> Iterator[tuple[Family, int]]:
    orders = ORDERS if wish.order is None else (wish.order,)
    for order in orders:
        yield Family.CHEBYSHEV, order
        yield Family.BUTTERWORTH, order
        if order % 2 and order >= 3:
            yield Family.ELLIPTIC, order
        if order % 2 and order >= 5:
            yield Family.TRAPS, order


def _placed(wish: Wish, family: Family, order: int) -> Iterator[Prototype]:
    """One family at several edges above the band."""
    none = np.zeros(order)
    for spare, by in product(SPARES, EDGES):
        ripple = -10.0 * math.log10(1.0 - 10.0 ** (-(wish.return_loss + spare) / 10.0))
        edge = wish.high * by
        try:
            if family is Family.CHEBYSHEV:
                yield Prototype(family, order, edge, ripple, Ladder(prototypes.chebyshev_g(order, ripple), none))
            elif family is Family.BUTTERWORTH:
                wide = edge * (10.0 ** (ripple / 10.0) - 1.0) ** (-1.0 / (2 * order))
                yield Prototype(family, order, wide, None, Ladder(prototypes.butterworth_g(order), none))
            elif family is Family.ELLIPTIC:
                first = min((t for t, _ in wish.stops), default=2.0)
                ladder = elliptic_ladder(order, ripple, max(first * wish.low / edge, 1.05))
                yield Prototype(family, order, edge, ripple, ladder)
            else:
                yield from _with_one_notch(wish, order, edge, ripple)
        except ArithmeticError:
            continue


def _with_one_notch(wish: Wish, order: int, edge: float, ripple: float) -> Iterator[Prototype]:
    """Equal ripple with one trap, set on the lowest stop, in each series arm in turn."""
    first = min((t for t, _ in wish.stops), default=2.0)
    notch = first * math.sqrt(wish.low * wish.high) / edge
    if notch < 1.1:
        return
    arms = (order - 1) // 2
    x = equal_ripple_zeros(order, [notch])
    for arm in range((arms + 1) // 2):
        made = ladder_from_zeros(x, ripple, [notch if k == arms // 2 - arm else None for k in range(arms)])
        if (made.main > 0).all() and (made.partner >= 0).all():
            yield Prototype(Family.TRAPS, order, edge, ripple, made)


def laid_out(wish: Wish, made: Prototype) -> Filter:
    """The ladder with its exact values, numbered along the ladder."""
    w, rungs = 2.0 * math.pi * made.edge, []
    for k, (g, partner) in enumerate(zip(made.ladder.main, made.ladder.partner, strict=True)):
        shunt = (k % 2 == 0) == (wish.first == "shunt")
        farad, henry = 1.0 / (w * wish.ohm), wish.ohm / w
        main = _capacitor(wish, f"C{k + 1}", float(g) * farad) if shunt else _coil(wish, f"L{k + 1}", float(g) * henry)
        if not partner:
            rungs.append(Rung("shunt" if shunt else "series", (main,)))
            continue
        other = (
            _coil(wish, f"L{k + 1}", float(partner) * henry)
            if shunt
            else _capacitor(wish, f"C{k + 1}", float(partner) * farad)
        )
        rungs.append(Rung("shunt" if shunt else "series", (main, other), "with" if shunt else "across"))
    return Filter("design", tuple(rungs), impedance=wish.ohm)


def _capacitor(wish: Wish, ref: str, value: float) -> Part:
    return Part(ref, Kind.CAPACITOR, value, wish.capacitor_tolerance, wish.capacitor_q)


def _coil(wish: Wish, ref: str, value: float) -> Part:
    return Part(ref, Kind.COIL, value, wish.coil_tolerance, wish.coil_q)


def slack(wish: Wish, made: Prototype) -> float:
    """Least room to the wish in dB, losses included; below 0 it fails."""
    return room(wish, figures(wish, laid_out(wish, made)))


def room(wish: Wish, have: Figures) -> float:
    """Least of what a filter has beyond the wish, dB (loss counts tenfold)."""
    each = [have.return_loss - wish.return_loss]
    each += [a - want for a, (_, want) in zip(have.stops, wish.stops, strict=True)]
    if wish.loss is not None:
        each.append(10.0 * (wish.loss - have.loss))
    return float(min(each))


def meets(wish: Wish, have: Figures) -> bool:
    """Whether a filter meets a wish."""
    return room(wish, have) >= 0.0


def figures(wish: Wish, chosen: Filter) -> Figures:
    """A filter of coils and capacitors against a wish. raises ValueError for other parts"""
    arms = arms_of(chosen)
    values = np.array([arms.values])
    return _worst(wish, *in_blocks(arms, values, grid(wish), wish.ohm))[0]


def _worst(wish: Wish, through: Real, back: Real) -> list[Figures]:
    """Figures of many filters from |S21|^2 and |S11|^2, (D, n) each over `grid`."""
    loss = (-10.0 * np.log10(through[:, :IN_BAND])).max(axis=1)
    back_db = (-10.0 * np.log10(np.maximum(back[:, :IN_BAND], 1e-12))).min(axis=1)
    beside = -10.0 * np.log10(through[:, IN_BAND:].reshape(len(through), -1, AT_HARMONIC))
    stops = beside.min(axis=2) if len(wish.stops) else np.zeros((len(through), 0))
    return [Figures(float(a), float(b), tuple(s)) for a, b, s in zip(loss, back_db, stops.tolist(), strict=True)]


def made_up(value: float, e_series: int) -> tuple[float, ...]:
    """Preferred values in parallel that make up a capacitance: one that is near, else the best two."""
    one = nearest(value, e_series)
    if abs(one / value - 1.0) <= CLOSE:
        return (one,)
    decade = 10.0 ** math.floor(math.log10(value))
    stock = [float(f"{v * d:.3g}") for d in (decade, decade / 10.0) for v in series(min(e_series, 12))]
    pairs = [(a, nearest(value - a, min(e_series, 12))) for a in stock if 0.45 * value < a < value - LEAST_FARAD]
    best = min(pairs, key=lambda p: abs(p[0] + p[1] - value), default=(one, 0.0))
    if abs(sum(best) - value) >= abs(one - value):
        return (one,)
    return best


def in_stock(wish: Wish, made: Prototype, f: Real) -> Design:
    """Capacitors of preferred values, coils wound to suit them, and what that gives."""
    exact = laid_out(wish, made)
    ideal = tuple(p.value or 0.0 for p in exact.parts)
    choice = tuple((p.ref, made_up(p.value or 0.0, wish.e_series)) for p in exact.parts if p.kind is Kind.CAPACITOR)
    totals = {ref: sum(values) for ref, values in choice}
    values = np.array([totals.get(p.ref, p.value or 0.0) if p.kind is Kind.CAPACITOR else p.value or 0.0
                       for p in exact.parts])  # fmt: skip
    wound = _wound(wish, arms_of(exact), values, f)
    by_ref = iter(wound.tolist())
    rungs = tuple(replace(r, parts=tuple(replace(p, value=next(by_ref)) for p in r.parts)) for r in exact.rungs)
    chosen = replace(exact, rungs=rungs)
    return Design(made.family, made.order, made.edge, made.ripple_db, chosen, ideal, choice, figures(wish, chosen))


def _wound(wish: Wish, arms: Arms, values: Real, f: Real) -> Real:
    """Coil values that make the best of the capacitors there are, three digits. values : (n_part,)"""
    at = np.flatnonzero(arms.coil)
    most = 10.0 ** (-(wish.return_loss + SPARES[0]) / 20.0)

    def left(x: Real) -> Real:
        tried = values.copy()
        tried[at] *= np.exp(x)
        s21, s11 = responses(arms, tried[None], f, wish.ohm)
        gamma = (np.abs(s11[0, :IN_BAND]) - 0.7 * most) / 0.02
        beside = -20.0 * np.log10(np.abs(s21[0, IN_BAND:])).reshape(-1, AT_HARMONIC)
        wanted = np.array([want + SPARE_STOP for _, want in wish.stops])
        short = (wanted[:, None] - beside).ravel()
        return np.concatenate([np.maximum(gamma, 0.0), np.maximum(short, 0.0), 0.3 * x])

    found = least_squares(left, np.zeros(len(at)), bounds=(-0.3, 0.3), max_nfev=40)
    out = values.copy()
    out[at] *= np.exp(found.x)
    out[at] = [float(f"{v:.3g}") for v in out[at]]
    return out


def lot(wish: Wish, chosen: Filter, rng: np.random.Generator, draws: int) -> Yield:
    """How many of a lot meet a wish: values anywhere within their tolerances, all as likely."""
    have = _worst(wish, *in_blocks(arms_of(chosen), draw_values(chosen, rng, draws), grid(wish), wish.ohm))
    loss, back = np.array([x.loss for x in have]), np.array([x.return_loss for x in have])
    stops = np.array([x.stops for x in have]).reshape(draws, -1)
    good_loss = loss <= wish.loss if wish.loss is not None else np.ones(draws, bool)
    good_stops = stops >= np.array([want for _, want in wish.stops])
    good = good_loss & (back >= wish.return_loss) & good_stops.all(axis=1)
    low = Figures(float(np.percentile(loss, 95)), float(np.percentile(back, 5)),
                  tuple(np.percentile(stops, 5, axis=0).tolist()))  # fmt: skip
    return Yield(
        draws, float(good.mean()), None if wish.loss is None else float(good_loss.mean()),
        float((back >= wish.return_loss).mean()), tuple(good_stops.mean(axis=0).tolist()), low,
    )  # fmt: skip


def _missing(wish: Wish, rated: Sequence[tuple[float, Prototype]]) -> tuple[str, Figures]:
    """Why nothing does: the nearest design, and the figure that it misses."""
    if not rated:
        return "no family has a filter of that order", Figures(math.nan, math.nan, ())
    have = figures(wish, laid_out(wish, rated[0][1]))
    best = rated[0][1]
    return f"the nearest is {best.family.value} of order {best.order}: {_words(wish, have)}", have


def _words(wish: Wish, have: Figures) -> str:
    """What misses, with its number."""
    out = []
    for (times, want), got in zip(wish.stops, have.stops, strict=True):
        if got < want:
            out.append(f"{got:.1f} dB at {times:g} times the band where {want:g} dB are asked")
    if have.return_loss < wish.return_loss:
        out.append(f"return loss {have.return_loss:.1f} dB where {wish.return_loss:g} dB are asked")
    if wish.loss is not None and have.loss > wish.loss:
        out.append(f"loss {have.loss:.2f} dB where {wish.loss:g} dB are asked")
    return ", ".join(out) or "nothing misses before tolerances"
