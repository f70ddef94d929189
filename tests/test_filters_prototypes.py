"""Prototypes and synthesis: degenerate cases, laws over many orders, two ways of stating one thing."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfsplit.filters import (
    butterworth_db,
    butterworth_g,
    capacitor_value,
    chebyshev_db,
    chebyshev_g,
    chebyshev_load,
    coil_value,
    constant_k_g,
    dissipation_db,
    elliptic_ladder,
    elliptic_stop_db,
    elliptic_zeros,
    equal_ripple_zeros,
    half_wave_g,
    half_wave_image_db,
    ladder_from_zeros,
)


@pytest.mark.parametrize("bad", [0, -3])
def test_orders_below_one_are_refused(bad: int) -> None:
    for make in (butterworth_g, constant_k_g, half_wave_g, lambda n: chebyshev_g(n, 0.1)):
        with pytest.raises(ValueError, match=str(bad)):
            make(bad)


@pytest.mark.parametrize("ripple", [0.0, -0.1, math.nan])
def test_a_ripple_is_above_zero(ripple: float) -> None:
    with pytest.raises(ValueError, match="ripple"):
        chebyshev_g(5, ripple)
    with pytest.raises(ValueError, match="ripple"):
        ladder_from_zeros([0.8], ripple, [None])


@pytest.mark.parametrize(("order", "selectivity"), [(4, 2.0), (1, 2.0), (5, 1.0), (5, 0.5)])
def test_elliptic_outside_its_range_is_refused(order: int, selectivity: float) -> None:
    for make in (elliptic_zeros, lambda n, s: elliptic_stop_db(n, 0.1, s), lambda n, s: elliptic_ladder(n, 0.1, s)):
        with pytest.raises(ValueError, match=r"odd order|selectivity"):
            make(order, selectivity)


@pytest.mark.parametrize("order", range(1, 15))
def test_symmetry_and_the_limit_of_small_ripple(order: int) -> None:
    """A Chebyshev low-pass whose ripple vanishes is a Butterworth low-pass, scaled to the same -3 dB frequency."""
    np.testing.assert_allclose(butterworth_g(order), butterworth_g(order)[::-1], rtol=1e-13)
    ripple = 1e-100
    edge = math.cosh(math.acosh(1.0 / math.sqrt(math.expm1(ripple * math.log(10.0) / 10.0))) / order)
    np.testing.assert_allclose(chebyshev_g(order, ripple) * edge, butterworth_g(order), rtol=1e-5)
    if order % 2:
        np.testing.assert_allclose(chebyshev_g(order, 0.1), chebyshev_g(order, 0.1)[::-1], rtol=1e-12)
        assert chebyshev_load(order, 0.1) == 1.0
    else:
        assert chebyshev_load(order, 0.1) > 1.0


def test_even_order_reflects_its_ripple_at_dc() -> None:
    """At zero frequency only the unequal resistances are left: their mismatch loss is the ripple."""
    for ripple in (0.01, 0.1, 1.0):
        load = chebyshev_load(4, ripple)
        gamma = (load - 1.0) / (load + 1.0)
        assert -10.0 * math.log10(1.0 - gamma**2) == pytest.approx(ripple, rel=1e-9)


@given(st.integers(1, 9), st.floats(1e-4, 2.0), st.floats(0.01, 20.0))
def test_response_formulas_meet_at_the_edge_and_rise(order: int, ripple: float, ratio: float) -> None:
    assert butterworth_db(order, [1.0])[0] == pytest.approx(10 * math.log10(2))
    assert chebyshev_db(order, ripple, [1.0])[0] == pytest.approx(ripple)
    level = chebyshev_db(order, ripple, [ratio])[0]
    assert 0.0 <= level <= ripple * (1 + 1e-9) if ratio <= 1 else level >= ripple * (1 - 1e-9)


def test_image_attenuation_is_not_insertion_loss() -> None:
    """The trap of the handbooks: at 2f the two differ by 5.5 dB."""
    image = half_wave_image_db(2, [2.0, 3.0])
    assert image[0] - 25.119 == pytest.approx(5.5, abs=0.05)
    assert half_wave_image_db(2, [1.0, 1.2]).tolist() == [0.0, 0.0]


def test_denormalising_keeps_the_reactances() -> None:
    g, hertz, ohm = 1.4, 7.1e6, 75.0
    w = 2 * math.pi * hertz
    assert w * coil_value(g, hertz, ohm) / ohm == pytest.approx(g)
    assert w * capacitor_value(g, hertz, ohm) * ohm == pytest.approx(g)


def test_dissipation_scales_with_one_over_q() -> None:
    g = chebyshev_g(7, 0.02)
    assert dissipation_db(g, 50.0) == pytest.approx(2 * dissipation_db(g, 100.0))


@pytest.mark.parametrize("order", [3, 5, 7, 9, 11])
@pytest.mark.parametrize("ripple", [0.001, 0.1, 1.0])
def test_extraction_gives_the_closed_formula(order: int, ripple: float) -> None:
    """Two routes: reflection zeros and element extraction against MYJ eq. 4.05-2."""
    x = equal_ripple_zeros(order)
    np.testing.assert_allclose(x, np.cos(np.pi * (2 * np.arange(order // 2, 0, -1) - 1) / (2 * order)), rtol=1e-12)
    made = ladder_from_zeros(x, ripple, [None] * (order // 2))
    np.testing.assert_allclose(made.main, chebyshev_g(order, ripple), rtol=1e-8)


@pytest.mark.parametrize("order", [3, 5, 7, 9])
@pytest.mark.parametrize("selectivity", [1.1, 1.5, 3.0])
def test_notches_of_an_elliptic_filter_have_elliptic_reflection_zeros(order: int, selectivity: float) -> None:
    """Two routes: the numerical equal-ripple function with these notches against the elliptic sine."""
    zeros = elliptic_zeros(order, selectivity)
    np.testing.assert_allclose(equal_ripple_zeros(order, zeros.notches), np.sort(zeros.reflection), rtol=1e-8)


def characteristic(w: np.ndarray, x: np.ndarray, notches: np.ndarray) -> np.ndarray:
    """|K| with |K(1)| = 1, written out here again."""

    def k(v: np.ndarray) -> np.ndarray:
        top = v * np.prod(v[:, None] ** 2 - x**2, axis=1)
        return np.abs(top / np.prod(1 - v[:, None] ** 2 / notches**2, axis=1))

    return k(w) / k(np.array([1.0]))


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from([3, 5, 7, 9]),
    st.lists(st.floats(1.05, 6.0), max_size=4),
    st.floats(0.0, 0.85),
)
def test_equal_ripple_functions_ripple_equally(order: int, notches: list[float], start: float) -> None:
    """Law: between `start` and 1 |K| never exceeds 1 and reaches it (order+1)/2 times."""
    t = np.array(notches[: order // 2])
    x = equal_ripple_zeros(order, t, start)
    w = np.linspace(max(start, 1e-9), 1.0, 40001)
    level = characteristic(w, x, t)
    assert level.max() < 1.0 + 1e-6
    fence = [start, *x, 1.0]
    for low, high in pairwise(fence):
        assert level[(w >= low) & (w <= high)].max() == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize("start", [-0.1, 1.0])
def test_equal_ripple_refuses_what_does_not_exist(start: float) -> None:
    with pytest.raises(ValueError, match="no equal-ripple"):
        equal_ripple_zeros(5, (), start)
    with pytest.raises(ValueError, match="no equal-ripple"):
        equal_ripple_zeros(4)
    with pytest.raises(ValueError, match="no equal-ripple"):
        equal_ripple_zeros(5, (0.9,))
    with pytest.raises(ValueError, match="no equal-ripple"):
        equal_ripple_zeros(3, (1.5, 2.0))
