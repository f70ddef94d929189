"""The expect room: degenerate cases, laws, and statistics with a derived tolerance."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from units import THROUGH, TWO_BANDS

from halfsplit.errors import HookupError, ReadingError
from halfsplit.expect import Bench, Observation, expectation, fit_sound, noise, observe
from halfsplit.expect.fit import log_size_integral
from halfsplit.expect.residual import tempered
from halfsplit.reading import Reading, Trace, What

F = np.geomspace(1e6, 60e6, 61)


def observation(theta_seed: int | None, what: What = What.S21, hookup=THROUGH, f=F) -> Observation:
    """A reading of a sound unit with its nuisances drawn from their priors (None: as drawn)."""
    blank = np.zeros(len(f))
    o = Observation("R1", hookup, what, f, blank, blank, blank.astype(bool), "test")
    bench = Bench(TWO_BANDS, [o], most=len(f))
    theta = np.zeros((1, len(bench.keys)))
    if theta_seed is not None:
        theta = np.random.default_rng(theta_seed).standard_normal(theta.shape)
    values, _, _ = bench.predict(bench.setups[0], theta, slopes=False)
    return replace_value(o, values[0])


def replace_value(o: Observation, value) -> Observation:
    return Observation(o.key, o.hookup, o.what, o.f, np.asarray(value), o.sigma, o.at_least, o.label)


@pytest.mark.parametrize("what", [What.S21, What.S11, What.S22])
def test_predicted_slopes_equal_central_differences(what):
    o = observation(1, what)
    bench = Bench(TWO_BANDS, [o], most=99)
    setup = bench.setups[0]
    theta = np.random.default_rng(2).normal(0, 0.4, (1, len(bench.keys)))
    _, slopes, _ = bench.predict(setup, theta)
    step = 1e-5
    for q, p in enumerate(setup.local):
        d = np.zeros_like(theta)
        d[0, p] = step
        up, down = bench.predict(setup, theta + d, slopes=False)[0], bench.predict(setup, theta - d, slopes=False)[0]
        np.testing.assert_allclose((up - down)[0] / (2 * step), slopes[0, :, q], rtol=2e-4, atol=2e-5)


def test_the_envelope_holds_ninety_per_cent_of_sound_units():
    # 300 units drawn from the priors, 61 points each: the share inside has a standard error below 2 % even if all
    # points of a sweep moved together
    rng = np.random.default_rng(5)
    e = expectation(TWO_BANDS, THROUGH, What.S21, F, rng, draws=1500)
    assert (e.low < e.median).all()
    assert (e.median < e.high).all()
    inside = []
    for seed in range(300):
        o = observation(1000 + seed)
        cov = noise.covariance(o.what, "analyser", o.f, o.value, o.sigma)
        value = o.value + np.linalg.cholesky(cov) @ np.random.default_rng(seed).standard_normal(len(F))
        inside.append(((value > e.low) & (value < e.high)).mean())
    assert np.mean(inside) == pytest.approx(0.90, abs=0.03)


def test_the_same_seed_gives_the_same_expectation():
    a = expectation(TWO_BANDS, THROUGH, What.S11, F, np.random.default_rng(3))
    b = expectation(TWO_BANDS, THROUGH, What.S11, F, np.random.default_rng(3))
    np.testing.assert_array_equal(a.low, b.low)


def test_a_sound_reading_is_fitted_to_within_its_noise_and_strain_is_shared():
    fit = fit_sound(Bench(TWO_BANDS, [observation(7)]))
    assert fit.misfit < 5.0
    assert fit.strain < 40.0


def test_equal_nuisances_of_two_readings_are_one():
    one = Bench(TWO_BANDS, [observation(1)])
    two = Bench(TWO_BANDS, [observation(1), observation(2, hookup=replace(THROUGH, read="TP2"))])
    assert len(two.keys) < 2 * len(one.keys) - 10
    assert "C11 value" in two.keys


def test_more_read_out_error_means_more_covariance_and_depth_too():
    small = noise.covariance(What.S21, "sweeper", F, np.full(61, -1.0), np.zeros(61))
    coarse = noise.covariance(What.S21, "sweeper", F, np.full(61, -1.0), np.full(61, 0.2))
    deep = noise.covariance(What.S21, "sweeper", F, np.full(61, -60.0), np.zeros(61))
    assert (np.diag(coarse) > np.diag(small)).all()
    assert (np.diag(deep) > np.diag(small)).all()
    w = noise.whitener(small)
    np.testing.assert_allclose(w @ small @ w.T, np.eye(61), atol=1e-8)


def test_roughness_sees_noise_and_ignores_a_notch():
    rng = np.random.default_rng(0)
    smooth = -np.linspace(0, 60, 201)
    smooth[100] -= 25
    assert noise.roughness(smooth).max() < 0.2
    seen = noise.roughness(smooth + rng.normal(0, 0.5, 201))
    assert np.median(seen) == pytest.approx(0.5, rel=0.3)
    assert (noise.roughness(smooth[:10]) == 0).all()


def test_tempered_residuals_are_quadratic_then_linear():
    r = np.array([0.01, 100.0, 200.0])
    t, slope = tempered(r)
    assert t[0] == pytest.approx(0.01, rel=1e-4)
    assert t[2] ** 2 / t[1] ** 2 == pytest.approx(2.0, rel=0.05)
    step = 1e-6
    np.testing.assert_allclose((tempered(r + step)[0] - tempered(r - step)[0]) / (2 * step), slope, rtol=1e-4)


INF = float("inf")
INTEGRALS = (
    (0.4, 0.0, 9.0, -0.5, INF),
    (1.0, 3.0, 4.0, 1.0, INF),
    (-1.2, -2.0, 5.0, -INF, -1.2),
    (0.0, 0.0, 1.0, -INF, INF),
)


@pytest.mark.parametrize(("s", "g", "c", "low", "high"), INTEGRALS)
def test_size_integral_agrees_with_quadrature(s, g, c, low, high):
    # objective g (x - s) + c (x - s)^2 / 2 against a unit normal prior cut to [low, high]
    x = np.linspace(max(low, -12.0), min(high, 12.0), 400001)
    value = np.trapezoid(np.exp(-g * (x - s) - 0.5 * c * (x - s) ** 2), x)
    prior = np.trapezoid(np.exp(-0.5 * x**2), x)
    assert log_size_integral(s, g, c, low, high) == pytest.approx(np.log(value / prior), abs=2e-4)


def test_observe_leaves_out_mirrored_columns_and_refuses_frequencies_outside_the_model():
    def reading(f, **more):
        db = tuple(-1.0 for _ in f)
        return Reading("x", b"", (Trace(What.S21, f, db), Trace(What.S12, f, db, **more)), "")

    assert len(observe(TWO_BANDS, THROUGH, reading((1e6, 2e6), independent=False), "R1")) == 1
    kept = observe(TWO_BANDS, THROUGH, reading((0.0, 2e6), independent=False), "R1")[0]
    assert kept.f.tolist() == [2e6]
    with pytest.raises(ReadingError, match="1000 MHz"):
        observe(TWO_BANDS, THROUGH, reading((1e6, 1e9)), "R1")
    with pytest.raises(HookupError, match="60 m"):
        observe(TWO_BANDS, replace(THROUGH, band="6 m"), reading((1e6, 2e6)), "R1")
    level = Reading("x", b"", (Trace(What.LEVEL, (1e6,), (3.0,)),), "")
    with pytest.raises(ReadingError, match="only level"):
        observe(TWO_BANDS, THROUGH, level, "R1")
