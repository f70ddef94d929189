"""Two faults at once: one taken for granted is the same as solving with it; both are found where one is not enough."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from test_fault import reading
from units import TWO_BANDS, part

from halfsplit.circuit import Change, How
from halfsplit.expect import Bench
from halfsplit.expect.companion import Companion
from halfsplit.fault import Finding, heeding, ranking_of, weigh
from halfsplit.fault.findings import heed_pairs
from halfsplit.fault.hypotheses import catalogue, designators
from halfsplit.fault.weights import Weights
from halfsplit.reading import What
from halfsplit.unit import Unit

LOSSY = Change(How.OHM, "L11")


def with_low_c12() -> Unit:
    """The unit with 0.6 of C12."""
    f1 = TWO_BANDS.filters[0]
    rungs = tuple(replace(r, parts=(part("C12", 600e-12),)) if r.parts[0].ref == "C12" else r for r in f1.rungs)
    return replace(TWO_BANDS, filters=(replace(f1, rungs=rungs), TWO_BANDS.filters[1]))


def readings_of(unit: Unit, change: Change | None, size: float = 1.0):
    """What that unit shows, read as if it were built to the drawing."""
    return [reading(change, size, what, unit=unit) for what in (What.S21, What.S11)]


@pytest.fixture(scope="module")
def sound_bench() -> Bench:
    return Bench(TWO_BANDS, readings_of(TWO_BANDS, None))


def hypotheses(bench: Bench):
    scenes = tuple(s.scene for s in bench.setups)
    found = catalogue(TWO_BANDS, scenes, tuple({s.hookup for s in bench.setups}), Weights())
    return [h for h in found if h.change is not None and h.family == "fault"]


def test_a_fault_taken_for_granted_equals_solving_with_it(sound_bench):
    """Every kind of fault: values, slopes by all nuisances and by its own size, against the change of one case."""
    rng, kinds = np.random.default_rng(3), set()
    for h in hypotheses(sound_bench):
        assert h.change is not None
        if h.change.how in kinds:
            continue
        kinds.add(h.change.how)
        p = len(sound_bench.keys)
        key = p if h.sized else -1
        beside = sound_bench.accompanied(Companion(h.change, None, key, h.middle, h.width, -9.0, 9.0), p)
        theta = 0.3 * rng.normal(size=(2, p + 1))
        for with_it, plain in zip(beside.setups, sound_bench.setups, strict=True):
            at = plain.model.resolve(h.change)
            sizes = np.exp(h.middle + h.width * theta[:, -1])
            changes = None if at is None else [(at, float(s)) for s in sizes]
            values, slopes, _ = beside.predict(with_it, theta)
            wanted, by_theta, by_size = sound_bench.predict(plain, theta[:, :p], changes)
            np.testing.assert_allclose(values, wanted, atol=1e-12)
            n = len(plain.local)
            np.testing.assert_allclose(slopes[:, :, :n], by_theta, atol=1e-12)
            if at is not None and h.sized:
                np.testing.assert_allclose(slopes[:, :, n], h.width * by_size, atol=1e-12)
    assert kinds >= {How.VALUE, How.OHM, How.HENRY, How.OPEN, How.SHORT, How.LEAK, How.STRAY, How.TURN}


def test_beyond_its_bounds_a_size_stays_at_them(sound_bench):
    h = next(h for h in hypotheses(sound_bench) if h.key == "value|C12|down")
    p = len(sound_bench.keys)
    companion = Companion(h.change, None, p, h.middle, h.width, -9.0, -0.5)
    theta = np.zeros((1, p + 1))
    theta[0, -1] = 2.0
    size, slope = companion.sizes(theta)
    assert size[0] == pytest.approx(np.exp(h.middle - 0.5 * h.width))
    assert slope[0] == 0.0


@pytest.fixture(scope="module")
def doubly_ill():
    return weigh(TWO_BANDS, readings_of(with_low_c12(), LOSSY, 4.0))


def test_two_faults_are_found_where_one_is_not_enough(doubly_ill):
    ranking = ranking_of(doubly_ill)
    first = ranking.groups[0]
    assert first.at_once == 2
    assert {c.place for c in first.causes} >= {"C12", "L11"}
    assert first.probability > 0.5
    assert " and " in first.name
    low = next(c for c in first.causes if c.place == "C12" and c.mode == "value low")
    assert low.size == pytest.approx(0.6, abs=0.06)
    lossy = next(c for c in first.causes if c.place == "L11" and c.mode == "lossy")
    assert lossy.size == pytest.approx(4.0, rel=0.3)


def test_probabilities_of_single_and_double_causes_add_up_to_one(doubly_ill):
    assert doubly_ill.alone.sum() + doubly_ill.together.sum() == pytest.approx(1.0)
    assert doubly_ill.probability.sum() == pytest.approx(1.0)
    assert dict(ranking_of(doubly_ill).parts)["C12"] > 0.5
    assert dict(ranking_of(doubly_ill).parts)["L11"] > 0.5


def test_no_pair_holds_one_part_twice(doubly_ill):
    assert doubly_ill.pairs
    for pair in doubly_ill.pairs:
        assert not designators(pair.first.hypothesis) & designators(pair.second.hypothesis)


def test_one_fault_is_not_made_into_two():
    ranking = ranking_of(weigh(TWO_BANDS, readings_of(with_low_c12(), None)))
    assert ranking.groups[0].at_once == 1
    assert {c.place for c in ranking.groups[0].causes} >= {"C12"}
    assert sum(g.probability for g in ranking.groups if g.at_once == 2) < 0.1


def test_what_a_lifted_part_measures_speaks_for_or_against_the_pair_that_holds_it(doubly_ill):
    drawn = next(p for f in TWO_BANDS.filters for p in f.parts if p.ref == "C12").value
    pairs = doubly_ill.pairs[:1]
    low, right = (
        heed_pairs(doubly_ill.search, pairs, doubly_ill.fits, [Finding("measure lifted part", "C12", x, lossy=False)])
        for x in (0.6 * drawn, drawn)
    )
    assert low[1][0] > 20.0 * right[1][0]
    kept = heeding(doubly_ill, [Finding("measure lifted part", "C12", 0.6 * drawn, lossy=False)])
    assert ranking_of(kept).groups[0].at_once == 2
