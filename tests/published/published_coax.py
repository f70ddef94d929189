"""Coaxial cable: how each row of 4_coax.toml is computed."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from published_ladders import Array
from published_rows import Aside, Check, Row, Status, rows_of
from scipy.optimize import brentq

from halfsplit.cables import STRANDED, impedance, velocity_factor
from halfsplit.network import coax_y, y_to_s
from halfsplit.parts import cable_type
from halfsplit.quantity import db20, gamma_from_swr

AREA = "4_coax"
ROWS = {row.id: row for row in rows_of(AREA)}
FOOT = 0.3048
HAM_BANDS = (1.9, 3.7, 7.1, 14.2, 28.5)
GUIDE = (50.0, 150.0, 450.0, 850.0)
DECADES = (1.0, 10.0, 100.0, 1000.0)


def attenuation(name: str, mhz: Sequence[float]) -> Array:
    """dB per 100 m of a cable of the package's table, from the scattering parameters of 100 m solved as a line."""
    kind = cable_type(name)
    y = coax_y(np.array(mhz) * 1e6, kind.z0, kind.velocity_factor, 20.0, kind.k1, kind.k2)
    s = y_to_s(np.moveaxis(y, 2, 0), kind.z0)
    return -5.0 * db20(s[:, 1, 0])


def refitted(row: Row, columns: int = 2) -> Array:
    """Relative least squares of k1 sqrt(f) + k2 f over the row's own table, dB/100 m with f in MHz."""
    f = np.array(row.inputs["f_MHz"], float)
    a = np.array(row.inputs["dB_per_100ft"], float) / FOOT
    design = np.stack([np.sqrt(f), f], axis=1)[:, :columns] / a[:, None]
    return np.asarray(np.linalg.lstsq(design, np.ones(len(f)), rcond=None)[0])


def table_fit(name: str, data: str) -> Check:
    """The package's k1 and k2, after making sure that they are the fit of the published table `data`."""

    def compute(row: Row) -> Sequence[float]:
        kind, again = cable_type(name), refitted(ROWS[data])
        if abs(kind.k1 / again[0] - 1.0) > 1e-3 or abs(kind.k2 / again[1] - 1.0) > 1e-3:
            raise AssertionError(f"{row.id}: table has {kind.k1}, {kind.k2}; refit gives {again}")
        return [kind.k1, kind.k2]

    return Check(f"parts.cable_type, refit of {data}", compute)


def per_foot(name: str, mhz: Sequence[float]) -> Array:
    return attenuation(name, mhz) * FOOT


def table_of(name: str) -> Check:
    return Check("parts.cable_type", lambda _: [cable_type(name).k1, cable_type(name).k2])


def guide(name: str, relative: float, picked: tuple[int, ...] | None = None) -> Check:
    mhz = GUIDE if picked is None else tuple(GUIDE[k] for k in picked)
    return Check("parts.cable_type, network.coax_y", lambda _: attenuation(name, mhz), picked, relative)


def capacitance(z0: float, velocity_factor: float) -> float:
    """pF per foot of a short open piece at 100 kHz."""
    y = coax_y(1e5, z0, velocity_factor, FOOT, 0.0, 0.0)
    open_end = y[0, 0] - y[0, 1] * y[1, 0] / y[1, 1]
    return float(open_end.imag / (2.0 * math.pi * 1e5) * 1e12)


def quarter_wave(mhz: float, velocity_factor: float) -> float:
    """Length in m at which an open piece of line is a short circuit."""

    def reactance(length: float) -> float:
        y = coax_y(mhz * 1e6, 50.0, velocity_factor, length, 0.0, 0.0)
        return float((1.0 / (y[0, 0] - y[0, 1] * y[1, 0] / y[1, 1])).imag)

    rough = 75.0 * velocity_factor / mhz
    return float(brentq(reactance, 0.7 * rough, 1.3 * rough, xtol=1e-9))


def total_loss(matched_db: float, swr: float) -> float:
    """dB between the power that enters a line of this matched loss and the power in its load (a resistance)."""
    length = 20.0
    y = coax_y(7.1e6, 50.0, 0.66, length, matched_db * 100.0 / length / math.sqrt(7.1), 0.0)
    load = 1.0 / (50.0 * swr)
    v2 = -y[1, 0] / (y[1, 1] + load)
    into = (y[0, 0] + y[0, 1] * v2).real
    return float(10.0 * math.log10(into / (abs(v2) ** 2 * load)))


def by_formula(matched_db: float, swr: float) -> float:
    """The handbook formula of row C24, to hold the line model against it."""
    a, r = 10.0 ** (matched_db / 10.0), gamma_from_swr(swr)
    return 10.0 * math.log10((a * a - r * r) / (a * (1.0 - r * r)))


def losses_with_swr(cases: Sequence[tuple[float, float]]) -> Check:
    def compute(row: Row) -> Sequence[float]:
        solved = [total_loss(*case) for case in cases]
        if max(abs(s - by_formula(*case)) for s, case in zip(solved, cases, strict=True)) > 1e-9:
            raise AssertionError(f"{row.id}: line model and formula differ")
        return solved

    return Check("network.coax_y with a load", compute)


LINE = "parts.cable_type, network.coax_y"
CHECKS: dict[str, Check] = {
    "C01": Check(LINE, lambda r: attenuation("RG-58", r.inputs["f_MHz"]), relative=0.035),
    "C02": Check(LINE, lambda r: attenuation("RG-213", r.inputs["f_MHz"]), relative=0.075),
    "C03": table_fit("RG-58", "C01"),
    "C04": table_fit("RG-213", "C02"),
    "C05": Check(LINE, lambda _: attenuation("RG-58", HAM_BANDS)),
    "C06": Check(LINE, lambda _: attenuation("RG-213", HAM_BANDS)),
    "C07": guide("RG-58", 0.08),
    "C08": guide("RG-213", 0.04),
    "C09": guide("RG-188A", 0.01, (0,)),
    "C10": guide("RG-303", 0.025),
    "C11": guide("RG-393", 0.03),
    "C13": Check(LINE, lambda _: [per_foot("RG-58", [10.0])[0], per_foot("RG-174", [10.0])[0]], (1, 3), 0.13),
    "C14": Check(
        "parts.cable_type",
        lambda _: [cable_type("RG-58").velocity_factor, cable_type("RG-142").velocity_factor],
        (0, 1),
        0.01,
    ),
    "C15": Check(
        "network.coax_y", lambda _: [capacitance(50.0, 0.66), capacitance(50.0, 0.695), capacitance(75.0, 0.66)]
    ),
    "C16": Check(LINE, lambda _: per_foot("RG-142", DECADES), relative=0.085),
    "C17": Check(LINE, lambda _: per_foot("RG-316", DECADES[1:]), (1, 2, 3), 0.035),
    "C18": Check(LINE, lambda _: per_foot("RG-174", DECADES[1:]), (1, 2, 3), 0.13),
    "C19": table_of("RG-142"),
    "C20": table_of("RG-316"),
    "C21": table_of("RG-174"),
    "C22": Check(LINE, lambda _: [attenuation("RG-58", [7.1])[0], attenuation("RG-213", [7.1])[0]]),
    "C23": Check(
        "network.coax_y", lambda _: [quarter_wave(7.1, 0.66), quarter_wave(14.2, 0.66), quarter_wave(14.2, 0.695)]
    ),
    "C24": losses_with_swr([(1.0, s) for s in (1.0, 1.5, 2.0, 3.0, 5.0, 10.0)]),
    "C25": losses_with_swr([(0.2, 3.0), (3.0, 3.0)]),
    "C27": Check("cables.impedance", lambda _: [impedance(7.25, STRANDED * 2.26, 2.26)]),
    "C28": Check("cables.velocity_factor", lambda _: [velocity_factor(2.26), velocity_factor(2.10)]),
}

ASIDE: dict[str, Aside] = {
    "C12": Aside(Status.TEXT, "an allowance for link budgets, far above a sound joint"),
    "C26": Aside(Status.TEXT, "a caution; the model solves the line and uses no such formula (rows C24, C25)"),
}
