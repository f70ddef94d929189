"""Families of filter as models: from a few parameters to the ideal prototype values of every part of a ladder."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.filters import prototypes
from halfsplit.filters.records import Family, Pass
from halfsplit.filters.shape import Shape
from halfsplit.filters.synthesis import Ladder, equal_ripple_zeros, hump_of, ladder_from_zeros
from halfsplit.parts import Kind

Array = npt.NDArray[np.float64]

RIPPLE = (math.log(1e-5), math.log(3.0))
ZOLOTAREV_STARTS = (0.5, 0.65, 0.8)
EDGE_GUESSES = (1.0, 1.3, 1.7, 2.3, 3.2)
"""What the rough edge of `_drawn_notches` may have to be multiplied by."""
NOTCH = (math.log(0.01), math.log(20.0))


@dataclass(frozen=True, slots=True)
class Row:
    """One value of the drawing as an equation: ln g = turn ln v + edge ln w + centre ln w0 + ohm ln R.

    refs, kind : the part, or parts taken together; value : F or H, nan where missing
    arm : place of its arm; partner : it resonates with the arm's main part (a trap, or a band-pass arm)
    """

    refs: tuple[str, ...]
    kind: Kind
    value: float
    arm: int
    partner: bool
    turn: int
    edge: int
    centre: int
    ohm: int


@dataclass(frozen=True, slots=True)
class Model:
    """One family for one ladder.

    starts : (n_start, n_par) parameter vectors, of which the nearest are begun from; bounds : per parameter
    values : parameters to (n_row,) ideal prototype values; ArithmeticError or ValueError outside the family
    """

    family: Family
    starts: tuple[tuple[float, ...], ...]
    bounds: tuple[tuple[float, float], ...]
    values: Callable[[Array], Array]


def rows_of(shape: Shape) -> tuple[Row, ...]:
    """Every value of a low-pass, high-pass or band-pass ladder as an equation for its prototype value."""
    out = []
    for k, arm in enumerate(shape.arms):
        main_is_coil = (arm.place == "series") == (shape.passes is not Pass.HIGH)
        parts = ((arm.coil_refs, arm.coil, True), (arm.capacitor_refs, arm.capacitor, False))
        for refs, value, is_coil in parts:
            if value is None:
                continue
            partner = is_coil is not main_is_coil
            ohm = -1 if is_coil else 1
            if shape.passes is Pass.BAND:
                turn, edge, centre = (-1, 1, -2) if partner else (1, 1, 0)
            else:
                turn, centre = (-1 if shape.passes is Pass.HIGH else 1), 0
                edge = turn
            out.append(
                Row(refs, Kind.COIL if is_coil else Kind.CAPACITOR, value, k, partner, turn, edge, centre, turn * ohm)
            )
    return tuple(out)


def models_of(shape: Shape, rows: Sequence[Row]) -> tuple[Model, ...]:
    """The families that a ladder of this form can belong to, simplest first."""
    if shape.passes is Pass.OTHER or shape.order < 2:
        return ()
    if not shape.traps:
        return _without_traps(shape.order, rows)
    if shape.order % 2 == 0 or shape.passes is Pass.BAND:
        return ()
    return _with_traps(shape, rows)


def _without_traps(order: int, rows: Sequence[Row]) -> tuple[Model, ...]:
    arm = np.array([row.arm for row in rows])

    def chosen(make: Callable[[Array], Array]) -> Callable[[Array], Array]:
        return lambda p: make(p)[arm]

    out = [Model(Family.BUTTERWORTH, ((),), (), chosen(lambda _: prototypes.butterworth_g(order)))]
    if order % 2 and order > 1:
        out.append(Model(Family.HALF_WAVE, ((),), (), chosen(lambda _: prototypes.half_wave_g((order - 1) // 2))))
    if order > 2:
        out.append(Model(Family.CONSTANT_K, ((),), (), chosen(lambda _: prototypes.constant_k_g(order))))
    cheb = chosen(lambda p: prototypes.chebyshev_g(order, math.exp(p[0])))
    out.append(Model(Family.CHEBYSHEV, ((math.log(0.03),),), (RIPPLE,), cheb))
    if order % 2 and order >= 5:
        plain = [None] * ((order - 1) // 2)

        def hump(p: Array) -> Array:
            return ladder_from_zeros(equal_ripple_zeros(order, (), p[1]), math.exp(p[0]), plain).main

        starts = tuple((math.log(r), at) for at in ZOLOTAREV_STARTS for r in (0.01, 0.2))
        out.append(Model(Family.ZOLOTAREV, starts, (RIPPLE, (0.2, 0.9)), chosen(hump)))
    return tuple(out)


def _with_traps(shape: Shape, rows: Sequence[Row]) -> tuple[Model, ...]:
    """Families with notches. Their notches are parameters: ln(notch/edge - 1), in units of the edge."""
    inner = tuple(range(1, shape.order, 2))
    drawn = _drawn_notches(shape)
    out: list[Model] = []
    if shape.traps == (0, shape.order - 1) and shape.order >= 5:
        out.append(_m_derived(shape.order, rows))
    if not set(shape.traps) <= set(inner):
        return tuple(out)
    if shape.traps == inner and all(math.isfinite(t) for t in drawn):
        out.append(_elliptic(shape, rows, drawn))
        if shape.order == 3:
            return tuple(out)  # one notch and one ripple: the two families are the same
    count = len(shape.traps)

    def make(p: Array, start: float) -> Array:
        notches = 1.0 + np.exp(p[-count:])
        place = dict(zip(shape.traps, notches.tolist(), strict=True))
        x = equal_ripple_zeros(shape.order, notches, start)
        return _picked(rows, ladder_from_zeros(x, math.exp(p[0]), [place.get(k) for k in inner]))

    notch_starts = tuple(
        tuple(math.log(max(t / by - 1.0, 0.1)) if t == t else 0.0 for t in drawn) for by in EDGE_GUESSES
    )
    bounds = (NOTCH,) * count
    first = tuple((math.log(r), *t) for t in notch_starts for r in (0.03, 0.3))
    out.append(Model(Family.TRAPS, first, (RIPPLE, *bounds), lambda p: make(p, 0.0)))
    if shape.order >= 5:
        second = tuple((math.log(r), at, *t) for at in ZOLOTAREV_STARTS for t in notch_starts for r in (0.01, 0.2))
        out.append(Model(Family.ZOLOTAREV, second, (RIPPLE, (0.2, 0.9), *bounds), lambda p: make(p, float(p[1]))))
    return tuple(out)


def hump_db(order: int, p: Array) -> float:
    """Loss at the top of the hump, dB, from the parameters of a Zolotarev-like model; its ripple without one."""
    notches = 1.0 + np.exp(p[2:])
    height = hump_of(equal_ripple_zeros(order, notches, float(p[1])), notches)[1]
    return 10.0 * math.log10(1.0 + (10.0 ** (math.exp(p[0]) / 10.0) - 1.0) * height**2)


def _drawn_notches(shape: Shape) -> tuple[float, ...]:
    """Notches of the traps over the -3 dB frequency that the other parts suggest; nan where a value is missing.

    Rough: only the order of the notches and the start of a fit are taken from it.
    """
    mains = [(arm.coil or math.nan, arm.capacitor or math.nan) for arm in shape.arms]
    partner = {"series": 1, "shunt": 0} if shape.passes is Pass.LOW else {"series": 0, "shunt": 1}
    kinds: tuple[list[float], list[float]] = ([], [])
    for pair, arm in zip(mains, shape.arms, strict=True):
        for which, value in enumerate(pair):
            if math.isfinite(value) and not (arm.form == "trap" and which == partner[arm.place]):
                kinds[which].append(value)
    if not all(kinds):
        return (math.nan,) * len(shape.traps)
    edge = 1.4 / math.sqrt(float(np.median(kinds[0])) * float(np.median(kinds[1])))
    out = [1.0 / math.sqrt(mains[k][0] * mains[k][1]) / edge for k in shape.traps]
    return tuple(1.0 / t if shape.passes is Pass.HIGH else t for t in out)


def _picked(rows: Sequence[Row], made: Ladder) -> Array:
    """Values of a ladder in the order of the rows. raises ArithmeticError where one is not positive."""
    out = np.array([made.partner[row.arm] if row.partner else made.main[row.arm] for row in rows])
    if not (out > 0).all():
        raise ArithmeticError("this order of notches cannot be built")
    return out


def _elliptic(shape: Shape, rows: Sequence[Row], drawn: Sequence[float]) -> Model:
    rank = np.argsort(np.argsort(drawn))

    def make(p: Array) -> Array:
        zeros = prototypes.elliptic_zeros(shape.order, 1.0 + math.exp(p[1]))
        return _picked(rows, ladder_from_zeros(zeros.reflection, math.exp(p[0]), zeros.notches[rank].tolist()))

    start = (math.log(0.03), math.log(max(min(drawn) / 1.3 - 1.0, 0.2)))
    return Model(Family.ELLIPTIC, (start,), (RIPPLE, NOTCH), make)


def _m_derived(order: int, rows: Sequence[Row]) -> Model:
    """Constant-k sections between m-derived half sections, Zobel 1923 (from memory): m, 1+m, 2, ..., 2, 1+m, m."""

    def make(p: Array) -> Array:
        m = float(p[0])
        main = np.full(order, 2.0)
        main[[0, -1]] = m
        main[[1, -2]] = 1.0 + m
        return np.array([(1.0 - m * m) / m if row.partner else main[row.arm] for row in rows])

    return Model(Family.M_DERIVED, ((0.6,),), ((0.2, 0.95),), make)
