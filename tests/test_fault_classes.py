"""Fault classes with tolerances: evidence against quadrature, honesty of the probabilities, refusals."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from halfsplit.circuit import Core, Lumped, LumpedModel, LumpedPart, Observed
from halfsplit.errors import ModelError
from halfsplit.fault.classes import ClassProblem, FaultClass, Levels
from halfsplit.fault.spreads import Shape, Spread
from proving import circuits, published

DIVIDER = Lumped(
    (LumpedPart("R1", Core.RESISTOR, 1e3, "in", "out"), LumpedPart("R2", Core.RESISTOR, 2e3, "out", "ground")),
    held=("in",),
)
SPREADS = {
    "normal": (Spread(Shape.NORMAL, 1e3, 50.0), Spread(Shape.NORMAL, 2e3, 60.0)),
    "uniform": (Spread(Shape.UNIFORM, 900.0, 1100.0), Spread(Shape.UNIFORM, 1900.0, 2100.0)),
    "one fixed": (Spread(Shape.FIXED, 1e3, 1e3), Spread(Shape.LOG_UNIFORM, 1700.0, 2400.0)),
}
LARGE = Spread(Shape.UNIFORM, 1200.0, 1900.0)
SMALL = Spread(Shape.LOG_UNIFORM, 200.0, 900.0)


def divider(sound) -> ClassProblem:
    classes = [
        FaultClass("none"),
        FaultClass("R1 large", "R1", "R1", LARGE),
        FaultClass("R1 small", "R1", "R1", SMALL, 0.5),
    ]
    model = LumpedModel(DIVIDER, (Observed("gain", "out", "in"),), [1e3, 2e3])
    return ClassProblem(model, sound, classes, Levels(0.2, (-np.inf,)))


def grid(spread: Spread, n: int = 1501):
    """Values and their probabilities by quantiles of scipy.stats."""
    p = (np.arange(n) + 0.5) / n
    if spread.shape is Shape.FIXED:
        return np.array([spread.a])
    if spread.shape is Shape.NORMAL:
        return stats.norm(spread.a, spread.b).ppf(p)
    kind = stats.uniform if spread.shape is Shape.UNIFORM else stats.loguniform
    args = (spread.a, spread.b - spread.a) if spread.shape is Shape.UNIFORM else (spread.a, spread.b)
    return kind(*args).ppf(p)


@pytest.mark.parametrize("name", SPREADS)
def test_probabilities_agree_with_quadrature_over_both_parts(name):
    sound = SPREADS[name]
    problem = divider(sound)
    readings = np.array([[[-3.6, -3.4]], [[-4.5, -4.4]], [[-2.8, -2.9]], [[-5.1, -5.3]]])
    post = problem.weigh(readings, np.random.default_rng(0), draws=4000)
    want = np.zeros((4, 3))
    for h, c in enumerate(problem.classes):
        r1, r2 = grid(c.spread or sound[0])[:, None], grid(sound[1])[None]
        level = 20 * np.log10(r2 / (r1 + r2))
        for k, reading in enumerate(readings[:, 0]):
            want[k, h] = c.weight * np.exp(-0.5 * sum((level - v) ** 2 for v in reading) / 0.2**2).mean()
    want /= want.sum(axis=1, keepdims=True)
    assert ((want > 0.02) & (want < 0.98)).any()  # the cases are not trivial
    np.testing.assert_allclose(post.probability, want, atol=0.02)  # 4000 draws: below 1 % each (C)
    np.testing.assert_allclose(post.of([("R1",), ("",)])[:, 0], post.probability[:, 1:].sum(1))


def test_probabilities_agree_with_plain_draws_from_the_priors():
    # seven parts, two classes that contend and none; evidence by 48 000 draws from each prior, weighed by likelihood
    trial = published.sk9("x1.5..2, x0.2..0.5", "uniform", 1.0)
    problem = trial.problem()
    kept = [c for c in problem.classes if c.name in ("F0", "F1", "F5")]
    problem = ClassProblem(problem.model, trial.sound, kept, problem.levels)
    readings, truth = trial.cases(60, np.random.default_rng(1))
    readings = readings[np.isin(truth, [0, 1, 5])][:6]
    post = problem.weigh(readings, np.random.default_rng(2), draws=2000)
    weight, square, rng = np.zeros((6, 3)), np.zeros((6, 3)), np.random.default_rng(3)
    for h, c in enumerate(kept):
        for _ in range(12):
            values = np.stack([published.drawn(s, 4000, rng) for s in problem.spreads(c)], axis=1)
            off = problem.shown(values)[None] - readings[:, None]
            likelihood = np.exp(-0.5 * (off**2).sum((2, 3)))
            weight[:, h] += likelihood.sum(1)
            square[:, h] += (likelihood**2).sum(1)
    want = weight / weight.sum(axis=1, keepdims=True)
    sd = np.sqrt(square) / weight.sum(axis=1, keepdims=True)  # sampling error of the plain draws, from themselves
    assert ((want > 0.05) & (want < 0.95)).any(1).sum() >= 2
    assert (np.abs(post.probability - want) < 4.0 * sd.max(axis=1, keepdims=True) + 0.02).all()


@pytest.mark.parametrize("name", ["normal", "uniform", "one fixed"])
def test_densities_integrate_to_one(name):
    for spread in (*SPREADS[name], LARGE, SMALL):
        low, high = np.clip(spread.limits, -9.0, 9.0)
        t = np.linspace(low, high, 20001)
        assert np.trapezoid(np.exp(spread.log_density(t)), t) == pytest.approx(1.0, abs=1e-6)


def test_the_draws_are_seeded():
    problem, readings = divider(SPREADS["uniform"]), np.full((1, 1, 2), -4.3)
    one, same, other = (problem.weigh(readings, np.random.default_rng(s)).log_evidence for s in (1, 1, 2))
    np.testing.assert_array_equal(one, same)
    assert not np.array_equal(one, other)


@pytest.mark.parametrize(
    ("shape", "a", "b"),
    [(Shape.NORMAL, 1.0, 0.2), (Shape.NORMAL, -1.0, 0.1), (Shape.UNIFORM, 2.0, 1.0), (Shape.UNIFORM, 0.0, 1.0),
     (Shape.FIXED, 1.0, 2.0), (Shape.LOG_UNIFORM, -1.0, 1.0)],
)  # fmt: skip
def test_spreads_that_make_no_sense_are_refused(shape, a, b):
    with pytest.raises(ValueError, match=r"no .* spread"):
        Spread(shape, a, b)


def test_a_problem_that_is_not_complete_is_refused():
    model = LumpedModel(DIVIDER, (Observed("gain", "out", "in"),), [1e3])
    with pytest.raises(ValueError, match="one spread"):
        ClassProblem(model, SPREADS["normal"][:1], [FaultClass("none")], Levels(0.1, (-np.inf,)))
    with pytest.raises(ValueError, match="come together"):
        ClassProblem(model, SPREADS["normal"], [FaultClass("x", "R1", "R1")], Levels(0.1, (-np.inf,)))
    problem = divider(SPREADS["normal"])
    with pytest.raises(ValueError, match="shape"):
        problem.weigh(np.zeros((1, 2)), np.random.default_rng(0))
    with pytest.raises(ValueError, match="not a number"):
        problem.weigh(np.full((1, 1, 2), np.nan), np.random.default_rng(0))


def test_classes_of_a_circuit_that_oscillates_are_refused():
    # SK9 with R5 seven times R4: gain 8, above the 7 at which its damping vanishes (hand formula in test_lumped.py)
    trial = published.sk9("x2, x0.5", "uniform", 0.1)
    model, sound = trial.problem().model, list(trial.sound)
    at = trial.circuit.at("R5")
    sound[at] = published.tolerance(7 * circuits.SALLEN_KEY.nominal[at], 0.05, "uniform")
    with pytest.raises(ModelError, match=r"class none: .*does not decay"):
        ClassProblem(model, sound, [FaultClass("none")], Levels(0.1, (-np.inf,)))
    wild = FaultClass("R5 large", "R5", "R5", Spread(Shape.FIXED, 28e3, 28e3))
    with pytest.raises(ModelError, match=r"class R5 large: .*does not decay"):
        ClassProblem(model, trial.sound, [FaultClass("none"), wild], Levels(0.1, (-np.inf,)))
