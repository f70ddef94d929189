"""Parts: how each row of 5_parts.toml is computed."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from published_rows import Aside, Check, Row, Status, rows_of
from scipy.optimize import brentq

from halfsplit.circuit import ladder_response
from halfsplit.parts import TOLERANCES, Kind, Part, core, series
from halfsplit.parts.windings import (
    current_sheet,
    lundin,
    nagaoka,
    skin_depth,
    straight_wire,
    wheeler_1928,
    wheeler_1982,
    with_shorted_turn,
)
from halfsplit.unit import Filter, Rung

AREA = "5_parts"
ROWS = {row.id: row for row in rows_of(AREA)}


def per_hundred(name: str) -> float:
    """A_L of the package's table in uH per 100 turns."""
    return core(name).al * 1e10


def turns(_: Row) -> Sequence[float]:
    return [float(brentq(lambda n: core("T50-2").al * n * n - 12e-6, 1.0, 200.0))]


def wound(_: Row) -> Sequence[float]:
    return [core("T37-6").al * n * n * 1e6 for n in (16, 17, 19, 20, 21, 24)]


def together(farads: Sequence[float], place: str) -> float:
    """What capacitors in one arm come to, pF: the single capacitor with the same response in the circuit."""
    f = np.array([7e6])
    rungs = tuple(Rung(place, (Part(f"C{k}", Kind.CAPACITOR, c),)) for k, c in enumerate(farads))  # type: ignore[arg-type]
    wanted = ladder_response(Filter("F", rungs), f)[0, 0, 0]

    def off(c: float) -> float:
        one = Filter("F", (Rung(place, (Part("C1", Kind.CAPACITOR, c),)),))  # type: ignore[arg-type]
        return float(np.angle(ladder_response(one, f)[0, 0, 0] / wanted))

    return float(brentq(off, 1e-12, 1e-8, xtol=1e-18)) * 1e12


FOUR = ((0.02, 0.02, 10), (0.010, 0.030, 12), (0.025, 0.0125, 8), (0.0254, 0.0508, 22))
SHAPES = np.geomspace(0.05, 10.0, 400)
WIRES = ((0.010, 0.001), (0.025, 0.0006), (0.050, 0.001), (0.100, 0.001))


def worst_error(formula: Callable[[float, float, float], float]) -> Sequence[float]:
    """Largest relative error against the exact current sheet over diameter / length 0.05 to 10."""
    return [max(abs(formula(1.0, 1.0 / x, 10.0) / current_sheet(1.0, 1.0 / x, 10.0) - 1.0) for x in SHAPES)]


CHECKS: dict[str, Check] = {
    "P04": Check("parts.windings.nagaoka", lambda _: [nagaoka(x) for x in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)]),
    "P05": Check("parts.windings.current_sheet", lambda _: [1e6 * current_sheet(*c) for c in FOUR]),
    "P06": Check("parts.windings.wheeler_1928", lambda _: [1e6 * wheeler_1928(*c) for c in FOUR]),
    "P07": Check("parts.windings.lundin, current_sheet", lambda _: worst_error(lundin)),
    "P08": Check("parts.windings.wheeler_1982, current_sheet", lambda _: worst_error(wheeler_1982)),
    "P09": Check("parts.windings.current_sheet", lambda _: [1e6 * current_sheet(*FOUR[3])]),
    "P14": Check("parts.windings.straight_wire", lambda _: [1e9 * straight_wire(*w) for w in WIRES]),
    "P15": Check(
        "parts.windings.straight_wire",
        lambda _: [1e6 * straight_wire(*w) / w[0] for w in (WIRES[0], WIRES[1], WIRES[3])],
    ),
    "P16": Check(
        "parts.windings.with_shorted_turn", lambda _: [with_shorted_turn(0.02, 0.002, 10, 0.001, k) for k in (0, 4)]
    ),
    "P24": Check("parts.windings.skin_depth", lambda _: [1e6 * skin_depth(f) for f in (1e6, 7e6, 14e6, 30e6)]),
    "P01": Check("parts.series", lambda _: series(24), relative=1e-9),
    "P02": Check(
        "parts.TOLERANCES", lambda _: [100.0 * TOLERANCES[n] for n in (6, 12, 24, 48, 96, 192)], relative=1e-9
    ),
    "P03": Check("parts.series", lambda _: series(96)[:8]),
    "P10": Check("parts.core", turns),
    "P11": Check("parts.core", wound),
    "P12": Check("parts.core", lambda r: [per_hundred(name) for name in r.inputs["core"]], relative=1e-9),
    "P13": Check(
        "circuit.ladder_response",
        lambda _: [together([270e-12, 680e-12], "shunt"), together([1000e-12, 220e-12], "series")],
    ),
}

PRIORS = Aside(Status.TEXT, "data sheet or common practice; enters as a prior, not as a computation")
ASIDE: dict[str, Aside] = {
    "P17": Aside(Status.FORMULA, "parts.windings.with_shorted_turn, without resistance; row P16"),
    **dict.fromkeys(("P18", "P19", "P20", "P21", "P22", "P23"), PRIORS),
}
