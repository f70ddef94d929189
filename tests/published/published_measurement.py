"""Measurement: how each row of 3_measurement.toml is computed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from published_ladders import Array
from published_rows import Aside, Check, Row, Status, rows_of

from halfsplit.circuit import ladder_response
from halfsplit.network import GROUND, coax_y, factor, plan
from halfsplit.parts import Cable, Kind, Part
from halfsplit.quantity import (
    db10,
    db20,
    dbm_from_volt,
    from_db10,
    gamma_from_swr,
    return_loss_from_swr,
    swr_from_return_loss,
    volt_from_dbm,
    watt_from_dbm,
)
from halfsplit.stress import Case, Held, band_stress
from halfsplit.unit import Band, Filter, Rung, Unit
from halfsplit.unit import Path as SignalPath

AREA = "3_measurement"
ROWS = {row.id: row for row in rows_of(AREA)}
JOINTS_OHM = (0.1, 0.5, 1.0, 2.0, 5.0, 10.0)


def mismatch(swr_source: float, swr_load: float, lengths: int = 721) -> Array:
    """What a lossless 50 ohm line of any length between source and load makes of the power delivered.

    Source and load are resistances of those SWR; the network is solved at each length of line up to a half wave.
    returns (lengths,) 1/(delivered / (available (1-r1^2) (1-r2^2)))
    """
    r1, r2 = 50.0 * swr_source, 50.0 * swr_load
    metres = (np.arange(lengths) + 0.5) / lengths * 14.9896229
    line = coax_y(1e7, 50.0, 1.0, metres, 0.0, 0.0)
    ends = [(0, GROUND), (1, GROUND)]
    y = np.array([np.full(lengths, 1.0 / r1), np.full(lengths, 1.0 / r2)], complex)
    solved = factor(
        plan(2, ends, [(0, 0), (0, 1), (1, 0), (1, 1)]), y, np.array([line[0, 0], line[0, 1], line[1, 0], line[1, 1]])
    )
    volts = solved.columns(ends)[0][1]
    delivered, available = np.abs(volts) ** 2 / r2, r1 / 4.0
    law = (1.0 - gamma_from_swr(swr_source) ** 2) * (1.0 - gamma_from_swr(swr_load) ** 2)
    return np.asarray(law * available / delivered)


def first_limits(_: Row) -> Sequence[float]:
    return [gamma_from_swr(1.5), gamma_from_swr(1.2), 100.0 * (mismatch(1.5, 1.2).max() - 1.0)]


def limits_db(*pairs: tuple[float, float]) -> Callable[[Row], Sequence[float]]:
    def compute(_: Row) -> Sequence[float]:
        out = []
        for pair in pairs:
            ratio = mismatch(*pair)
            out += [db10(float(ratio.max())), db10(float(ratio.min()))]
        return out

    return compute


def random_phase(row: Row) -> Sequence[float]:
    """Standard deviation over all line lengths (a half wave, evenly), %."""
    one, two = row.inputs["SWR"]
    return [100.0 * float(np.std(mismatch(one, two)))]


def swrs(row: Row) -> Sequence[float]:
    return [float(s) for s in row.inputs["SWR"]]


def joint(ohm: float) -> Array:
    """Scattering parameters of a resistance in series in a 50 ohm line. returns (2, 2)"""
    rung = Rung("series", (Part("R1", Kind.RESISTOR, ohm),))
    return np.asarray(ladder_response(Filter("joint", (rung,)), np.array([1e7]))[0])


def joint_heat(_: Row) -> Sequence[float]:
    out = []
    for ohm in JOINTS_OHM:
        s = np.abs(joint(ohm)) ** 2
        out.append(100.0 * float(1.0 - s[0, 0] - s[1, 0]))
    return out


def volts_at_swr(_: Row) -> Sequence[float]:
    """Peak volts at the far end of a cable at the worst angle of the load: the socket of a path that is a jumper."""
    jumper = Cable("W1", 50.0, 0.66, 1e-9, 0.0, 0.1)
    unit = Unit(
        name="jumper", bands=(Band("b", 7e6, 7.1e6, None),), cables=(jumper,),
        path=SignalPath(("TP1", "W1", "J1"), ("TP1", "J1")),
    )  # fmt: skip
    out = []
    for watts, swr in ((100.0, 1.0), (100.0, 3.0), (400.0, 3.0)):
        case = Case(watts, swr, Held.DELIVERED)
        socket = band_stress(unit, "b", case, np.random.default_rng(1), draws=2).at("J1").peak_volts
        assert socket is not None
        out.append(socket.value)
    return out


def percent_and_db(_: Row) -> Sequence[float]:
    return [db10(1.01), db10(1.05), db10(1.10), 100.0 * (from_db10(0.5) - 1.0)]


LEVELS = (0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0)
NETWORK = "network.factor, coax_y (all lengths of line)"

CHECKS: dict[str, Check] = {
    "M25": Check("stress.band_stress, delivered power held", volts_at_swr),
    "M01": Check(f"quantity.gamma_from_swr; {NETWORK}", first_limits),
    "M02": Check(NETWORK, limits_db((1.5, 1.2))),
    "M03": Check(NETWORK, random_phase),
    "M05": Check("quantity.gamma_from_swr", lambda _: [gamma_from_swr(1.05)]),
    "M06": Check(NETWORK, limits_db((2.0, 1.2), (3.0, 1.5))),
    "M07": Check("quantity.gamma_from_swr", lambda r: [gamma_from_swr(s) for s in swrs(r)]),
    "M08": Check("quantity.return_loss_from_swr", lambda r: [return_loss_from_swr(s) for s in swrs(r)]),
    "M09": Check("quantity.gamma_from_swr, db10", lambda r: [-db10(1.0 - gamma_from_swr(s) ** 2) for s in swrs(r)]),
    "M10": Check("quantity.gamma_from_swr", lambda r: [100.0 * gamma_from_swr(s) ** 2 for s in swrs(r)]),
    "M11": Check(
        "quantity.swr_from_return_loss", lambda _: [swr_from_return_loss(x) for x in (6, 10, 14, 15, 20, 26, 30, 40)]
    ),
    "M12": Check("quantity.volt_from_dbm", lambda _: [volt_from_dbm(x) for x in LEVELS]),
    "M13": Check("quantity.volt_from_dbm", lambda _: [math.sqrt(2.0) * volt_from_dbm(x) for x in LEVELS]),
    "M14": Check("quantity.volt_from_dbm, db20", lambda _: [db20(volt_from_dbm(0.0) / 1e-6)]),
    "M15": Check(
        "quantity.dbm_from_volt, watt_from_dbm",
        lambda _: [watt_from_dbm(dbm_from_volt(v / math.sqrt(2.0))) for v in (100.0, 141.4, 200.0, 223.6)],
    ),
    "M16": Check(
        "quantity.db10, from_db10",
        lambda _: [db10(1.0 + from_db10(-d)) for d in (0.0, 1.0, 2.0, 3.0, 6.0, 10.0, 15.0, 20.0)],
    ),
    "M17": Check(
        "quantity.db10, from_db10",
        lambda _: [-db10(1.0 - from_db10(-d)) for d in (1.0, 2.0, 3.0, 6.0, 10.0, 15.0, 20.0)],
    ),
    "M22": Check("circuit.ladder_response", lambda _: [-db20(complex(joint(r)[1, 0])) for r in JOINTS_OHM]),
    "M23": Check("circuit.ladder_response", lambda _: [-db20(complex(joint(r)[0, 0])) for r in JOINTS_OHM]),
    "M24": Check("circuit.ladder_response", joint_heat),
    "M26": Check("quantity.db10, from_db10", percent_and_db),
}

NOISE = Aside(Status.LATER, "spectrum readings: noise through a log or envelope detector")
ASIDE: dict[str, Aside] = {
    "M04": Aside(Status.LATER, "statistics: reflection spread over a disc"),
    "M18": NOISE,
    "M19": NOISE,
    "M20": NOISE,
    "M21": Aside(Status.LATER, "return loss bridge with its directivity as a part of the hook-up"),
}
