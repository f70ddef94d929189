"""Filter theory: how each row of 1_filters.toml is computed."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np
from published_ladders import Array, capacitor, coil, from_ladder, loss, return_loss, shunt_first, trap
from published_rows import Aside, Check, Row, Status, rows_of
from scipy.optimize import brentq

from halfsplit.circuit import ladder_response
from halfsplit.filters import (
    butterworth_g,
    chebyshev_db,
    chebyshev_g,
    chebyshev_load,
    describe,
    dissipation_db,
    elliptic_ladder,
    elliptic_stop_db,
    elliptic_zeros,
    half_wave_g,
    half_wave_image_db,
)
from halfsplit.quantity import from_db10
from halfsplit.unit import Filter

AREA = "1_filters"
ROWS = {row.id: row for row in rows_of(AREA)}
MHZ = 1e6
RIPPLE_20 = -10.0 * math.log10(1.0 - 0.2**2)  # reflection 20 %, Cauer's notation; row F21 checks it


def handbook(name: str, q_coil: float | None = None, q_capacitor: float | None = None) -> Filter:
    """The 7-element filter of row F10-<name>: C1, L2, C3, L4, C3, L2, C1."""
    c1, c3, l2, l4 = (v * s for v, s in zip(ROWS[f"F10-{name}"].value, (1e-12, 1e-12, 1e-6, 1e-6), strict=True))
    order = (c1, l2, c3, l4, c3, l2, c1)
    rungs = [coil(k, v, q_coil) if k % 2 else capacitor(k, v, q_capacitor) for k, v in enumerate(order)]
    return Filter(name, tuple(rungs))


def edges(name: str) -> tuple[float, float]:
    low, high = ROWS[f"F10-{name}"].inputs["band_MHz"]
    return low * MHZ, high * MHZ


def half_power(chosen: Filter, low: float, high: float) -> float:
    """Frequency in Hz where the loss is 3.0103 dB, between low and high."""
    return float(brentq(lambda f: loss(chosen, [f])[0] - 10.0 * math.log10(2.0), low, high, xtol=1e-3))


def added_zero() -> Filter:
    """The low-pass with a trap in its middle of row F16 (1 MHz, 50 ohm)."""
    c1, c3, c4, l2, l4, _ = ROWS["F16"].value
    p, u = 1e-12, 1e-6
    rungs = (
        capacitor(1, c1 * p), coil(2, l2 * u), capacitor(3, c3 * p), trap(4, l4 * u, c4 * p),
        capacitor(5, c3 * p), coil(6, l2 * u), capacitor(7, c1 * p),
    )  # fmt: skip
    return Filter("added zero", rungs)


def order_and_ripple(row: Row) -> tuple[int, float]:
    found = re.search(r"n(\d+)-([\d.]+)dB", row.id)
    assert found is not None
    return int(found[1]), float(found[2])


def by_chebyshev(row: Row) -> Array:
    return chebyshev_g(*order_and_ripple(row))


def misprints(_: Row) -> Sequence[float]:
    load = 1.0 / chebyshev_load(2, 0.1)
    return [
        chebyshev_g(5, 0.01)[0], chebyshev_g(6, 0.01)[0], chebyshev_g(7, 0.01)[6], load, chebyshev_g(7, 0.1)[3],
    ]  # fmt: skip


def worked_example(_: Row) -> Sequence[float]:
    parts = shunt_first(butterworth_g(5), hertz=2e9).parts
    return [(p.value or 0.0) * (1e9 if p.ref.startswith("L") else 1e12) for p in parts]


def minimum_return_loss(row: Row) -> Sequence[float]:
    name = row.id.split("-")[1]
    return [float(return_loss(handbook(name), np.linspace(1e4, edges(name)[1], 4001)).min())]


def trap_frequency(row: Row) -> Sequence[float]:
    return [*row.value[:5], describe(added_zero()).notches[0].resonance / MHZ]


def added_zero_figures(_: Row) -> Sequence[float]:
    made = added_zero()
    return [
        *loss(made, np.array([2.0, 2.1, 3.0]) * MHZ),
        return_loss(made, [MHZ])[0],
        half_power(made, 1.15 * MHZ, 1.5 * MHZ) / MHZ,
    ]


def half_wave_resonance(row: Row) -> Sequence[float]:
    """One coil with one capacitor, as the notch of a trap made of the two."""
    farad, henry = row.value[0] * 1e-12, row.value[1] * 1e-6
    lone = Filter("H", (capacitor(1, farad), trap(2, henry, farad), capacitor(3, farad)))
    return [*row.value[:2], describe(lone).notches[0].resonance / MHZ]


def ripple_of_reflection(_: Row) -> Sequence[float]:
    """The ripple whose Chebyshev ladder reflects 20 % at its edge."""

    def excess(ripple: float) -> float:
        s = ladder_response(shunt_first(chebyshev_g(5, ripple)), np.array([MHZ]))
        return float(abs(s[0, 0, 0])) - 0.2

    return [float(brentq(excess, 0.01, 1.0, xtol=1e-12))]


def elliptic_figures(_: Row) -> Sequence[float]:
    selectivity = 1.0 / math.sin(math.radians(30.0))
    return [elliptic_stop_db(5, RIPPLE_20, selectivity), selectivity, *elliptic_zeros(5, selectivity).notches]


def elliptic_elements(_: Row) -> Sequence[float]:
    main, partner = elliptic_ladder(5, RIPPLE_20, 2.0)
    return [main[0], main[1], partner[1], main[2], main[3], partner[3], main[4]]


def elliptic_response(_: Row) -> Array:
    return loss(from_ladder(elliptic_ladder(5, RIPPLE_20, 2.0)), np.array([0.3, 0.7, 1, 1.2, 1.5, 2, 2.5, 3]) * MHZ)


def elliptic_stops(_: Row) -> Sequence[float]:
    cases = ((3, 30), (5, 20), (5, 30), (5, 40), (7, 30))
    return [elliptic_stop_db(n, RIPPLE_20, 1.0 / math.sin(math.radians(theta))) for n, theta in cases]


def coils_lossy_at_dc(_: Row) -> Sequence[float]:
    """Resistance w1 L/Q in each coil, far below the edge; and Cohn's sum over the coils."""
    g = chebyshev_g(5, 0.01)
    rungs = [
        coil(k, v * 50 / (2 * math.pi * MHZ), ohm=v * 50 / 100.0)
        if k % 2
        else capacitor(k, v / (2 * math.pi * MHZ * 50))
        for k, v in enumerate(g)
    ]
    return [loss(Filter("F", tuple(rungs)), [1.0])[0], dissipation_db(g[1::2], 100.0)]


def coils_lossy_in_band(_: Row) -> Array:
    g = chebyshev_g(5, 0.01)
    f = np.array([0.25, 0.5, 0.8, 0.9, 1.0]) * MHZ
    return loss(shunt_first(g, q_coil=100.0), f) - loss(shunt_first(g), f)


def response_formula(row: Row) -> Array:
    """Formula and ladder: both must come out; the ladder is returned where they agree to 1e-9 dB."""
    ratio = np.array([1.5, 2.0, 3.0])
    formula, solved = chebyshev_db(7, 0.01, ratio), loss(shunt_first(chebyshev_g(7, 0.01)), ratio * MHZ)
    if np.abs(formula - solved).max() > 1e-9:
        raise AssertionError(f"{row.id}: formula and ladder differ")
    return solved


def _handbook_checks() -> dict[str, Check]:
    out: dict[str, Check] = {}
    for name, top in (("40m", 12.0), ("30m", 14.0), ("20m", 20.0)):
        low, high = edges(name)
        multiples = np.array([2 * low, 3 * low, 2 * high, 3 * high])
        out[f"F11-{name}"] = Check(
            "circuit.ladder_response", lambda _, n=name, t=top: [half_power(handbook(n), edges(n)[1], t * MHZ) / MHZ]
        )
        out[f"F12-{name}"] = Check("circuit.ladder_response", lambda _, n=name, f=multiples: loss(handbook(n), f))
        out[f"F13-{name}"] = Check(
            "circuit.ladder_response, parts with Q", lambda _, n=name: loss(handbook(n, 200.0, 1000.0), edges(n))
        )
        out[f"F14-{name}"] = Check("circuit.ladder_response", minimum_return_loss)
    return out


def _half_wave(at: Sequence[float]) -> Array:
    return loss(shunt_first(half_wave_g(2)), np.array(at) * MHZ)


CHECKS: dict[str, Check] = {
    **{row: Check("filters.butterworth_g", lambda r: butterworth_g(len(r.value))) for row in ROWS if "F02" in row},
    **{row: Check("filters.chebyshev_g", by_chebyshev) for row in ROWS if row.startswith("F04-n")},
    "F04-even": Check(
        "filters.chebyshev_g, chebyshev_load", lambda _: [*chebyshev_g(4, 0.1), 1.0 / chebyshev_load(4, 0.1)]
    ),
    "F05": Check("filters.chebyshev_g, chebyshev_load", misprints),
    "F07": Check("filters.butterworth_g, coil_value, capacitor_value", worked_example),
    "F07b": Check("circuit.ladder_response", lambda _: loss(shunt_first(butterworth_g(5), hertz=2e9), [2e9, 3e9])),
    **_handbook_checks(),
    "F16": Check("filters.describe (notch)", trap_frequency),
    "F17": Check("circuit.ladder_response", added_zero_figures),
    "F18": Check("filters.describe (notch)", half_wave_resonance),
    "F19": Check("filters.half_wave_image_db", lambda _: half_wave_image_db(2, [2, 3, 4, 5])),
    "F19b": Check("circuit.ladder_response, filters.half_wave_g", lambda _: _half_wave([2, 3, 4, 5])),
    "F20": Check("circuit.ladder_response, filters.half_wave_g", lambda _: _half_wave([1, 2, 3, 4, 5, 6])),
    "F21": Check("circuit.ladder_response, filters.chebyshev_g", ripple_of_reflection),
    "F22": Check("filters.elliptic_stop_db, elliptic_zeros", elliptic_figures),
    "F23": Check("filters.elliptic_ladder", elliptic_elements),
    "F24": Check("circuit.ladder_response, filters.elliptic_ladder", elliptic_response),
    "F25": Check("filters.elliptic_stop_db", elliptic_stops),
    "F31": Check("filters.dissipation_db", lambda _: [dissipation_db(chebyshev_g(5, 0.01), 100.0)]),
    "F32": Check("circuit.ladder_response, filters.dissipation_db", coils_lossy_at_dc),
    "F33": Check("circuit.ladder_response", coils_lossy_in_band),
    "F34": Check("filters.butterworth_g", lambda _: [butterworth_g(n).sum() for n in (3, 5, 7)]),
    "F35": Check("quantity.from_db10", lambda _: [100.0 * (1.0 - from_db10(-1.0))]),
    "F36": Check("circuit.ladder_response, filters.chebyshev_db", response_formula),
}

ASIDE: dict[str, Aside] = {
    "F01": Aside(Status.FORMULA, "filters.butterworth_g; rows F02, F07, F34"),
    "F03": Aside(Status.FORMULA, "filters.chebyshev_g, chebyshev_load; rows F04, F05, F36"),
    "F06": Aside(Status.FORMULA, "filters.coil_value, capacitor_value; row F07"),
    "F30": Aside(
        Status.FORMULA, "circuit.ladder_response solves nodes instead; test_outside_solvers.py, rows F12, F13"
    ),
    **{f"F10-{n}": Aside(Status.INPUT, f"rows F11-{n} to F14-{n}") for n in ("40m", "30m", "20m")},
    "F15": Aside(Status.TEXT, "typical figures; the article's values are not in the row"),
}
