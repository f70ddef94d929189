"""Published circuits, fewer cases than `make prove` has: shares of right answers against the limits of an independent
computation (../shared/circuits, C), within sampling error.

A share of n cases whose limit is p may fall short by z sqrt(p (1 - p) / n); z = 3.3 lets one honest test in 2000 fail,
and the seeds are fixed. One hit more is allowed where p is 1.
"""

from __future__ import annotations

import sys
from math import sqrt
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from proving import published

SEED = 7000


def short_of(hits: int, of: int, limit: float) -> float:
    """Standard deviations by which a share falls short of its limit (negative: it does not)."""
    return (limit - hits / of - 1.0 / of) / sqrt(max(limit * (1 - limit), 0.5 / of) / of)


CASES = [
    # the limits that the project set itself: 99.9 and 97.5 %, fault ranges and tolerances as printed
    (published.sk9("x1.5..2, x0.2..0.5", "uniform", 0.1), 250, {"class": 0.999}),
    (published.sk9("x1.5..2, x0.2..0.5", "uniform", 0.5), 250, {"class": 0.975}),
    (published.svf19(("bp",), 0.1), 200, {"class": 0.62, "group": 0.80, "first three": 0.96}),
    (published.svf19(("hp", "bp", "lp"), 0.1), 200, {"class": 0.79, "group": 0.975, "first three": 0.997}),
    (published.lpf7("x0.75..0.85, x1.15..1.25", 1, 0.3), 60, None),
    (published.lpf7("x0.3..0.6, x1.5..2.5", 2, 0.1), 100, None),
    (published.lpf7("x0.001..0.01, x50..200", 3, 0.3), 80, None),
]


@pytest.mark.parametrize(("trial", "count", "limits"), CASES, ids=[c[0].name for c in CASES])
def test_shares_reach_their_limits_within_sampling_error(trial, count, limits):
    score = published.run(trial, count, SEED)
    hits = {"class": score.by_class, "place": score.place, "group": score.group, "first three": score.three}
    limits = trial.limit if limits is None else limits
    assert limits
    for name, limit in limits.items():
        assert short_of(hits[name], count, limit) < 3.3, f"{name}: {hits[name]} of {count}, limit {limit}"
    # honest: as often right as it says
    sd = sqrt(max(score.said * (1 - score.said), 0.5 / count) / count)
    assert abs(score.said - score.by_class / count) < 3.3 * sd + 1.0 / count


def test_more_outputs_tell_more():
    one = published.run(published.svf19(("bp",), 0.1), 60, SEED + 1)
    three = published.run(published.svf19(("hp", "bp", "lp"), 0.1), 60, SEED + 1)
    assert three.by_class > one.by_class
    assert three.group > one.group


def test_mirror_parts_get_the_same_probability_from_transmission_alone():
    trial = published.lpf7("x0.3..0.6, x1.5..2.5", 1, 0.1)
    readings, truth = trial.cases(30, np.random.default_rng(SEED))
    post = trial.problem().weigh(readings, np.random.default_rng(0), 768)
    places = [p for pair in trial.groups for p in pair]
    p = post.of([(x,) for x in places])
    faulty = np.array([trial.faults[h].place in places for h in truth])
    assert faulty.sum() > 10
    assert np.median(np.abs(p[faulty, 0::2] - p[faulty, 1::2]).max(1)) < 0.1  # exact mirror (Reciprocity; any text)


def test_cases_come_in_all_classes_and_with_the_stated_noise():
    trial = published.sk9("x1.5, x0.5", "uniform", 0.5)
    readings, truth = trial.cases(3000, np.random.default_rng(SEED))
    assert set(truth) == set(range(9))
    same = published.sk9("x1.5, x0.5", "uniform", 1e-9).cases(3000, np.random.default_rng(SEED))
    np.testing.assert_array_equal(truth, same[1])
    assert np.std(readings - same[0]) == pytest.approx(0.5, rel=0.02)


def test_the_table_says_its_intervals():
    trial = published.sk9("x2, x0.5", "normal", 0.1)
    text = published.line(trial, published.run(trial, 20, SEED, 32))
    assert text.startswith("SK9, x2, x0.5, normal, 0.1 dB: class ")
    assert " to 100.0)" in text
