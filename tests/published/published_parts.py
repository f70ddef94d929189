"""Parts: how each row of 5_parts.toml is computed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from published_rows import Aside, Check, Row, Status, rows_of
from scipy.optimize import brentq

from halfsplit.circuit import ladder_response
from halfsplit.parts import TOLERANCES, Kind, Part, core, series
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


CHECKS: dict[str, Check] = {
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

COILS = Aside(Status.LATER, "coil design: inductance of windings and wires")
PRIORS = Aside(Status.TEXT, "data sheet or common practice; enters as a prior, not as a computation")
ASIDE: dict[str, Aside] = {
    **dict.fromkeys(("P04", "P05", "P06", "P07", "P08", "P09", "P14", "P15"), COILS),
    "P16": Aside(Status.LATER, "shorted turn as a fault of a coil with known winding"),
    "P17": Aside(Status.LATER, "shorted turn as a fault of a coil with known winding"),
    **dict.fromkeys(("P18", "P19", "P20", "P21", "P22", "P23"), PRIORS),
    "P24": Aside(Status.LATER, "coil design: skin depth and loss"),
}
