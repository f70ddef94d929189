"""Ladders and lines against independent libraries: scipy.signal (analog prototypes), scikit-rf (cascades)."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import skrf
from published_ladders import from_ladder, loss, series_first, shunt_first
from scipy import signal

from halfsplit.circuit import ladder_response
from halfsplit.filters import (
    Ladder,
    butterworth_g,
    chebyshev_g,
    chebyshev_load,
    elliptic_ladder,
    elliptic_stop_db,
    elliptic_zeros,
)
from halfsplit.network import coax_y, y_to_s
from halfsplit.parts import cable_type
from halfsplit.unit import Filter

RATIO = np.geomspace(0.05, 8.0, 120)
ORDERS = range(1, 12)


def analog(zpk: tuple[np.ndarray, np.ndarray, float], ratio: np.ndarray = RATIO) -> np.ndarray:
    """|H| of an analog prototype at `ratio` rad/s."""
    return np.abs(signal.freqs_zpk(*zpk, worN=ratio)[1])


def transmitted(chosen: Filter, ratio: np.ndarray = RATIO) -> np.ndarray:
    return np.abs(ladder_response(chosen, ratio * 1e6)[:, 1, 0])


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("form", [shunt_first, series_first])
def test_butterworth_is_scipys(order: int, form: Callable[..., Filter]) -> None:
    np.testing.assert_allclose(transmitted(form(butterworth_g(order))), analog(signal.buttap(order)), rtol=1e-9)


@pytest.mark.parametrize("order", [n for n in ORDERS if n % 2])
@pytest.mark.parametrize("ripple", [0.001, 0.01, 0.1, 0.5, 1.0])
@pytest.mark.parametrize("form", [shunt_first, series_first])
def test_chebyshev_is_scipys(order: int, ripple: float, form: Callable[..., Filter]) -> None:
    wanted = analog(signal.cheb1ap(order, ripple))
    np.testing.assert_allclose(transmitted(form(chebyshev_g(order, ripple))), wanted, rtol=1e-9)


@pytest.mark.parametrize("order", [2, 4, 6, 8])
@pytest.mark.parametrize("ripple", [0.01, 0.1, 0.5])
def test_even_chebyshev_between_its_two_resistances_is_scipys(order: int, ripple: float) -> None:
    """Solved between 50 ohm and 50 ohm, then brought to the load of MYJ eq. 4.05-2 by the formula for a mismatch."""
    g, load = chebyshev_g(order, ripple), chebyshev_load(order, ripple)
    s = ladder_response(shunt_first(g), RATIO * 1e6)
    ohm = 50.0 / load
    gamma = (ohm - 50.0) / (ohm + 50.0)
    passed = s[:, 1, 0] * np.sqrt(1.0 - gamma**2) / (1.0 - s[:, 1, 1] * gamma)
    np.testing.assert_allclose(np.abs(passed), analog(signal.cheb1ap(order, ripple)), rtol=1e-9)


@pytest.mark.parametrize(("order", "selectivity"), [(3, 1.5), (3, 3.0), (5, 1.2), (5, 2.0), (7, 1.3), (7, 2.0)])
@pytest.mark.parametrize("ripple", [0.01, 0.1773, 0.5])
def test_elliptic_is_scipys(order: int, selectivity: float, ripple: float) -> None:
    stop = elliptic_stop_db(order, ripple, selectivity)
    zeros, poles, gain = signal.ellipap(order, ripple, stop)
    ours = np.sort(elliptic_zeros(order, selectivity).notches)
    np.testing.assert_allclose(ours, np.sort(np.abs(zeros))[::2], rtol=1e-6)
    try:
        made = elliptic_ladder(order, ripple, selectivity)
    except ArithmeticError:
        made = elliptic_ladder(order, ripple, selectivity, tuple(range((order - 1) // 2)))
    away = np.abs(np.log(RATIO[:, None] / ours)).min(axis=1) > 0.02
    got, wanted = transmitted(from_ladder(made)), analog((zeros, poles, gain))
    np.testing.assert_allclose(got[away], wanted[away], rtol=2e-6)


def test_elliptic_meets_its_degree_equation() -> None:
    """scipy's own tolerance is 1e-7 here; the ladder holds ripple and stop band to 1e-9 dB."""
    for order, selectivity in ((3, 2.0), (5, 2.0), (7, 1.5)):
        chosen = from_ladder(elliptic_ladder(order, 0.1, selectivity))
        assert loss(chosen, [1e6])[0] == pytest.approx(0.1, abs=1e-9)
        assert loss(chosen, [selectivity * 1e6])[0] == pytest.approx(
            elliptic_stop_db(order, 0.1, selectivity), abs=1e-7
        )


def cascade(chosen: Filter, f: np.ndarray, q_coil: float | None) -> np.ndarray:
    """The same ladder as a cascade of scikit-rf two-ports."""
    media = skrf.media.DefinedGammaZ0(skrf.Frequency.from_f(f, unit="hz"), z0=50.0)
    w = 2.0 * np.pi * f
    whole = media.thru()
    for rung in chosen.rungs:
        ys = [
            1j * w * (p.value or 0.0)
            if p.ref.startswith("C")
            else 1.0 / (w * (p.value or 0.0) * (1j + 1.0 / (q_coil or np.inf)))
            for p in rung.parts
        ]
        z = 1.0 / sum(ys)
        a = np.zeros((len(f), 2, 2), complex)
        a[:, 0, 0] = a[:, 1, 1] = 1.0
        if rung.place == "series":
            a[:, 0, 1] = z
        else:
            a[:, 1, 0] = 1.0 / z
        whole = whole ** skrf.Network(frequency=media.frequency, s=skrf.network.a2s(a, 50.0), z0=50.0)
    return whole.s


def test_plain_ladder_is_scikit_rfs_own_elements() -> None:
    """Shunt capacitors and coils by scikit-rf's element functions, nothing of ours in the reference."""
    g = chebyshev_g(7, 0.02)
    chosen = shunt_first(g, hertz=7.5e6)
    f = np.linspace(0.1e6, 60e6, 301)
    media = skrf.media.DefinedGammaZ0(skrf.Frequency.from_f(f, unit="hz"), z0=50.0)
    whole = media.thru()
    for rung in chosen.rungs:
        value = rung.parts[0].value
        whole = whole ** (media.shunt_capacitor(value) if rung.place == "shunt" else media.inductor(value))
    np.testing.assert_allclose(ladder_response(chosen, f), whole.s, atol=1e-9)


@pytest.mark.parametrize("q_coil", [None, 50.0, 200.0])
@pytest.mark.parametrize(
    "made", [elliptic_ladder(5, 0.1, 1.4), elliptic_ladder(7, 0.1, 1.6), Ladder(chebyshev_g(9, 0.01), np.zeros(9))]
)
def test_lossy_and_trapped_ladders_are_scikit_rfs(made: Ladder, q_coil: float | None) -> None:
    chosen = from_ladder(made, 14e6)
    f = np.linspace(0.2e6, 90e6, 301)
    np.testing.assert_allclose(ladder_response(chosen, f, q_coil=q_coil), cascade(chosen, f, q_coil), atol=1e-9)


@pytest.mark.parametrize("name", ["RG-58", "RG-213", "RG-316", "RG-174"])
@pytest.mark.parametrize("length", [0.12, 3.5, 20.0])
def test_coax_is_scikit_rfs_line(name: str, length: float) -> None:
    kind = cable_type(name)
    f = np.linspace(1e6, 60e6, 101)
    mhz = f / 1e6
    alpha = (kind.k1 * np.sqrt(mhz) + kind.k2 * mhz) / 100.0 / (20.0 * np.log10(np.e))
    gamma = alpha + 2j * np.pi * f / (299_792_458.0 * kind.velocity_factor)
    media = skrf.media.DefinedGammaZ0(skrf.Frequency.from_f(f, unit="hz"), z0=50.0, gamma=gamma)
    ours = coax_y(f, kind.z0, kind.velocity_factor, length, kind.k1, kind.k2)
    s = y_to_s(np.moveaxis(ours, 2, 0), 50.0)
    np.testing.assert_allclose(s, media.line(length, "m").s, atol=1e-9)


def test_line_of_another_impedance_is_scikit_rfs() -> None:
    f = np.linspace(1e6, 60e6, 101)
    gamma = 0.002 + 2j * np.pi * f / (299_792_458.0 * 0.66)
    media = skrf.media.DefinedGammaZ0(skrf.Frequency.from_f(f, unit="hz"), z0=75.0, gamma=gamma, z0_port=50.0)
    k1 = 0.002 * 100.0 * 20.0 * np.log10(np.e) / np.sqrt(f / 1e6)
    s = y_to_s(np.moveaxis(coax_y(f, 75.0, 0.66, 4.0, k1, 0.0), 2, 0), 50.0)
    np.testing.assert_allclose(s, media.line(4.0, "m").s, atol=1e-9)
