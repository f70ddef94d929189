"""Designs for a wish: figures by other routes, lots counted right, impossible wishes that say what misses."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from scipy.signal import ellipap
from scipy.stats import binom

from halfsplit.circuit import ladder_response
from halfsplit.cli import main
from halfsplit.filters import (
    Family,
    Impossible,
    Wish,
    arms_of,
    describe,
    designs,
    draw_values,
    lot,
    made_up,
    responses,
    wish_figures,
)
from halfsplit.filters.design import grid
from halfsplit.parts import Kind, series
from halfsplit.unit import read_unit

ROOT = Path(__file__).parents[1]
WISH = Wish(7.0e6, 7.3e6, ((2.0, 45.0), (3.0, 50.0)))


@cache
def found(wish: Wish = WISH, draws: int = 400):
    return designs(wish, np.random.default_rng(3), draws)


def test_a_design_does_what_it_promises_by_another_route() -> None:
    """Figures against the network solved node by node, at the frequencies of the wish."""
    for d in found():
        s = ladder_response(d.filter, grid(WISH), 50.0)
        inside = slice(0, 21)
        assert d.figures.loss == pytest.approx(-20 * np.log10(np.abs(s[inside, 1, 0])).min(), abs=1e-9)
        assert d.figures.return_loss == pytest.approx(-20 * np.log10(np.abs(s[inside, 0, 0]).max()), abs=1e-6)
        beside = -20 * np.log10(np.abs(s[21:, 1, 0])).reshape(2, -1)
        assert d.figures.stops == pytest.approx(beside.min(axis=1), abs=1e-9)
        assert d.figures.stops[0] >= 45.0 and d.figures.stops[1] >= 50.0 and d.figures.return_loss >= 20.0


def test_capacitors_are_preferred_values_and_coils_have_three_digits() -> None:
    values = set(series(24))
    for d in found():
        for part in d.filter.parts:
            if part.kind is Kind.COIL:
                assert part.value == pytest.approx(float(f"{part.value:.3g}"), rel=1e-12)
                continue
            each = dict(d.made_up)[part.ref]
            assert sum(each) == pytest.approx(part.value, rel=1e-9) and len(each) <= 2
            for v in each:
                assert any(abs(v / (x * 10 ** np.floor(np.log10(v * 1.0000001))) - 1) < 1e-6 for x in values)


@pytest.mark.parametrize("value", [1e-12, 4.71e-11, 1.37e-10, 5.55e-10, 8.9e-10, 3.3e-9])
def test_what_makes_up_a_value_is_nearer_than_one_alone(value: float) -> None:
    each = made_up(value, 12)
    assert abs(sum(each) / value - 1) <= max(0.025, abs(made_up(value, 6)[0] / value - 1))


def test_fewest_parts_that_do_come_first_and_more_attenuation_costs_parts() -> None:
    easy = found(Wish(7e6, 7.3e6, ((2.0, 25.0),), 14.0, coil_tolerance=0.02, capacitor_tolerance=0.02))
    hard = found(Wish(7e6, 7.3e6, ((2.0, 75.0),), 14.0, coil_tolerance=0.02, capacitor_tolerance=0.02))
    assert easy[0].lot is not None and easy[0].lot.all >= 0.8
    assert easy[0].count < hard[0].count
    good = [d.count for d in easy if d.lot and d.lot.all >= 0.8]
    assert good == sorted(good)


def test_an_impossible_wish_says_which_number_misses() -> None:
    with pytest.raises(Impossible) as error:
        found(Wish(7e6, 7.3e6, ((2.0, 140.0),)))
    assert "140" in error.value.missing and error.value.nearest.stops[0] < 140.0
    assert f"{error.value.nearest.stops[0]:.1f}" in error.value.missing
    with pytest.raises(Impossible, match="loss"):
        found(Wish(7e6, 7.3e6, ((2.0, 45.0),), 20.0, 0.05))
    with pytest.raises(Impossible, match="at 2 times"):
        found(Wish(7e6, 7.3e6, ((2.0, 60.0),), order=3))


def test_an_elliptic_design_blocks_as_the_prototype_of_scipy_says() -> None:
    """No prototype of its order and ripple with that stop edge does better: the lossless bound of scipy's ellipap."""
    made = next(d for d in found(Wish(7e6, 7.3e6, ((2.0, 60.0),))) if d.family is Family.ELLIPTIC)
    assert made.ripple_db is not None
    b, poles, k = ellipap(made.order, made.ripple_db, 100.0)
    s = 1j * (2 * 7.3e6 / made.edge)
    far = -20 * np.log10(abs(k * np.prod(s - b) / np.prod(s - poles)))
    assert 60.0 <= made.figures.stops[0] < far + 40.0


def test_a_lot_is_counted_as_it_is_drawn() -> None:
    """The share of a lot against each filter judged alone, and two lots against each other (binomial, 1 in 10^4)."""
    d = found()[0]
    first = lot(WISH, d.filter, np.random.default_rng(8), 300)
    values = draw_values(d.filter, np.random.default_rng(8), 300)
    good = 0
    for row in values:
        s21, s11 = responses(arms_of(d.filter), row[None], grid(WISH), 50.0)
        loss = -20 * np.log10(np.abs(s21[0]))
        ok = np.abs(s11[0, :21]).max() <= 0.1 and loss[21:32].min() >= 45.0 and loss[32:].min() >= 50.0
        good += ok
    assert first.all == pytest.approx(good / 300, abs=1e-12)
    again = lot(WISH, d.filter, np.random.default_rng(9), 3000)
    low, high = binom.interval(1 - 1e-4, 300, np.clip(again.all, 0.02, 0.98))
    assert low - 12 <= good <= high + 12
    drawn = values / np.array([p.value for p in d.filter.parts])
    assert drawn.min() >= 0.95 - 1e-12 and drawn.max() <= 1.05 + 1e-12


def test_sampled_ladders_are_the_nodal_ones_trap_by_trap() -> None:
    """Two routes: arms followed from the load, and the network solved node by node, for every example filter."""
    f = np.linspace(1e6, 60e6, 97)
    for name in ("larkfell-tarn-40", "ottergill-exciter"):
        unit = read_unit((ROOT / "examples" / f"{name}.toml").read_text("utf-8"), name)
        for chosen in unit.filters:
            arms = arms_of(chosen)
            s21, s11 = responses(arms, np.array([arms.values]), f, 50.0)
            from halfsplit.filters.figures import with_losses

            wanted = ladder_response(with_losses(chosen)[0], f, 50.0)
            np.testing.assert_allclose(s21[0], wanted[:, 1, 0], rtol=1e-9, atol=1e-12)
            np.testing.assert_allclose(s11[0], wanted[:, 0, 0], rtol=1e-9, atol=1e-9)
            assert (np.abs(s21) ** 2 + np.abs(s11) ** 2).max() <= 1.0 + 1e-12


def test_a_design_is_recognised_as_what_it_is() -> None:
    for d in found(Wish(3.5e6, 4.0e6, ((2.0, 40.0), (3.0, 50.0)))):
        near = describe(d.filter).nearest
        assert near is not None
        assert near.family is d.family or near.distance < 0.08


def test_the_figures_of_a_drawn_filter() -> None:
    unit = read_unit((ROOT / "examples" / "larkfell-tarn-40.toml").read_text("utf-8"), "x")
    have = wish_figures(WISH, unit.filter("F3"))
    served = describe(unit.filter("F3"), [unit.band("40 m")]).served[0]
    assert have.loss == pytest.approx(served.loss_most, abs=1e-3)
    assert have.stops[0] == pytest.approx(min(served.harmonics[0].at_low, served.harmonics[0].at_high), abs=1.5)


def test_the_commands() -> None:
    words = ["design", "--band", "7.0-7.3 MHz", "--harmonic", "2=45 dB", "--draws", "200", "--compare",
             str(ROOT / "examples" / "larkfell-tarn-40.toml"), "--json"]  # fmt: skip
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0, done.output
    shown = json.loads(done.stdout)
    assert shown["drawn"]["name"] == "F3" and shown["designs"][0]["figures"]["stops"][0] >= 45.0
    bad = CliRunner().invoke(main, ["design", "--band", "7.3-7.0 MHz", "--harmonic", "2", "--return-loss", "soon"])
    assert bad.exit_code == 2 and "3 mistakes" in bad.stderr
    wild = CliRunner().invoke(main, ["design", "--band", "7.0-7.3 MHz", "--harmonic", "2=150 dB"])
    assert wild.exit_code == 2 and "where 150 dB are asked" in wild.stderr
    told = CliRunner().invoke(main, ["recognise", str(ROOT / "examples" / "larkfell-tarn-40.toml"), "F2"])
    assert told.exit_code == 0 and "ideal values" in told.stdout
    none = CliRunner().invoke(main, ["recognise", str(ROOT / "examples" / "larkfell-tarn-40.toml"), "F9"])
    assert none.exit_code == 2 and "F1, F2" in none.stderr
