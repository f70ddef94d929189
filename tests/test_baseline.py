"""A reading of the sound unit learns what strays for good; sources beside each check."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.special import erfcx, log_ndtr, ndtr

from halfsplit.circuit import Change, How, Model, build
from halfsplit.expect import Observation
from halfsplit.expect.normal import below, log_below, quantile, scaled_tail
from halfsplit.fault import rank
from halfsplit.fault.search import Search
from halfsplit.fault.weights import Weights
from halfsplit.hookup import Hookup
from halfsplit.reading import What
from halfsplit.unit import read_unit_file

UNIT = read_unit_file(Path(__file__).parents[1] / "examples" / "larkfell-tarn-40.toml")
F = np.linspace(3e6, 40e6, 101)
HOOKUP = Hookup("31 m", "TP1", "J2")


def reading(factor: float, part: str, baseline: str, seed: int) -> Observation:
    """A through sweep of a unit whose parts all stray a little, one part off by a factor today."""
    model = Model(build(UNIT, HOOKUP), F)
    theta = np.random.default_rng(5).normal(0.0, 0.6, (1, len(model.keys)))
    at = model.resolve(Change(How.VALUE, part))
    assert at is not None
    h = model.solve(theta, [(at, factor)]).transmission()[0]
    noise = 0.02 * np.random.default_rng(seed).standard_normal(len(F))
    value = 20.0 * np.log10(np.hypot(np.abs(h), 1e-4)) + noise
    kept = np.full(len(F), 0.01)
    return Observation(f"R{seed}", HOOKUP, What.S21, F, value, kept, value < -200.0, "sweep", baseline)  # type: ignore[arg-type]


def test_ten_percent_show_beside_an_earlier_reading_and_not_without():
    now, before = reading(1.10, "C43", "", 1), reading(1.0, "C43", "unit", 2)
    alone, beside = rank(UNIT, [now]), rank(UNIT, [now, before])
    assert alone.sound > 0.5
    assert beside.parts[0][0] == "C43"
    assert beside.sound < 0.05


def test_no_fault_acts_on_a_reading_of_the_sound_unit():
    search = Search(UNIT, [reading(1.0, "C43", "", 1), reading(1.0, "C43", "unit", 2)], Weights())
    places = [i for i, s in enumerate(search.setups) if s.baseline]
    assert len(places) == 1
    for h in search.hypotheses:
        assert h.change is None or places[0] not in search.touched(h)


def test_an_unchanged_unit_beside_its_baseline_is_sound():
    found = rank(UNIT, [reading(1.0, "C43", "", 1), reading(1.0, "C43", "unit", 2)])
    assert found.groups[0].family == "sound"
    assert found.sound > 0.6


def test_a_twin_has_parts_of_its_own():
    now, twin = reading(1.10, "C43", "", 1), reading(1.0, "C43", "twin", 2)
    search = Search(UNIT, [now, twin], Weights())
    assert "C43" not in search.known()
    assert "twin's C43 value" in search.bench.keys
    assert "C43" in Search(UNIT, [now, replace(twin, baseline="unit")], Weights()).known()


@pytest.mark.parametrize("x", [-20.0, -3.0, -0.1, 0.0, 0.7, 4.9, 5.1, 26.0, 60.0])
def test_tails_of_the_normal_distribution(x):
    # source: scipy.special, as an independent implementation
    assert scaled_tail(x) == pytest.approx(float(erfcx(x)), rel=1e-12)
    assert log_below(x) == pytest.approx(float(log_ndtr(x)), rel=1e-12, abs=1e-300)


@pytest.mark.parametrize("x", [-30.0, -6.0, -1.0, 0.0, 0.3, 5.0])
def test_the_normal_distribution_and_its_inverse(x):
    # source: scipy.special, as an independent implementation
    assert below(x) == pytest.approx(float(ndtr(x)), rel=1e-12)
    if -8.0 < x < 8.0:
        assert quantile(below(x)) == pytest.approx(x, abs=1e-7)
    assert below([-np.inf, np.inf]).tolist() == [0.0, 1.0]
