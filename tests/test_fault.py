"""The fault room on small simulated cases: right part, honest groups, no confident nonsense. Values invented."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from units import THROUGH, TWO_BANDS, series, shunt

from halfsplit.advise import next_tests
from halfsplit.circuit import Change, How
from halfsplit.expect import Bench, Observation
from halfsplit.fault import Weights, rank, ranking_of, weigh
from halfsplit.fault.hypotheses import designator
from halfsplit.fault.rank import prior
from halfsplit.fault.search import Search
from halfsplit.reading import What
from halfsplit.unit import Filter

F = np.linspace(1e6, 30e6, 81)


def reading(change: Change | None, size: float = 1.0, what=What.S21, hookup=THROUGH, unit=TWO_BANDS, seed=4):
    """What a unit with half-spread nuisances and one change would show, with a little noise."""
    blank = np.zeros(len(F))
    o = Observation("R1", hookup, what, F, blank, blank, blank.astype(bool), f"{hookup.band} {what.value}")
    bench = Bench(unit, [o], most=len(F))
    rng = np.random.default_rng(seed)
    theta = np.array([[0.4 * np.sin(7.0 * len(key) + ord(key[0])) for key in bench.keys]])
    at = None if change is None else bench.setups[0].model.resolve(change)
    assert change is None or at is not None
    value = bench.predict(bench.setups[0], theta, [None if at is None else (at, size)], slopes=False)[0][0]
    value = value + (0.05 if what is What.S21 else 0.003) * rng.standard_normal(len(F))
    return replace(o, value=np.abs(value) if what is not What.S21 else value)


def both(change: Change | None, size: float = 1.0):
    return [reading(change, size), reading(change, size, What.S11)]


@pytest.mark.parametrize(
    ("change", "size", "part"),
    [
        (Change(How.VALUE, "C12"), 0.6, "C12"),
        (Change(How.VALUE, "L12"), 1.6, "L12"),
        (Change(How.OHM, "K1 contact"), 15.0, "K1"),
        (Change(How.HENRY, "E1 ground joint"), 70e-9, "E1"),
        (Change(How.SHORT, "C14"), 1.0, "C14"),
    ],
)
def test_the_right_part_comes_first(change, size, part):
    ranking = rank(TWO_BANDS, both(change, size))
    assert ranking.groups[0].family == "fault"
    assert part in {designator(c.place) for c in ranking.groups[0].causes}
    assert sum(g.probability for g in ranking.groups) <= 1.0 + 1e-9


def test_a_sound_unit_is_called_sound_and_what_cannot_be_excluded_is_listed():
    ranking = rank(TWO_BANDS, both(None))
    assert ranking.groups[0].family == "sound"
    assert ranking.sound > 0.6
    assert any(b.place == "C12" and b.shown for b in ranking.cannot_exclude)


def test_mirror_parts_of_a_symmetrical_filter_are_one_group_with_equal_shares():
    rungs = (shunt("C11", 560e-12), series("L11", 1.2e-6), shunt("C12", 1000e-12), series("L12", 1.2e-6))
    mirror = Filter("F1", (*rungs, shunt("C13", 560e-12)), "K1", "K2")
    unit = replace(TWO_BANDS, filters=(mirror, TWO_BANDS.filters[1]))
    hookup = replace(THROUGH, drive="F1 in", read="F1 out")
    ranking = rank(unit, [reading(Change(How.VALUE, "C11"), 1.7, hookup=hookup, unit=unit)])
    group = next(g for g in ranking.groups if g.family == "fault")
    places = {c.place for c in group.causes}
    assert {"C11", "C13"} <= places
    assert group.why_together


def test_a_reading_far_outside_the_model_names_nothing_listed_with_confidence():
    o = reading(None)
    comb = 6.0 * np.sign(np.sin(2 * np.pi * np.arange(len(F)) / 7.0))
    ranking = rank(TWO_BANDS, [replace(o, value=np.minimum(o.value + comb - 8.0, -0.5))])
    assert ranking.not_listed > 0.5
    assert ranking.groups[0].family == "unlisted"


def test_the_order_of_readings_changes_nothing():
    one = both(Change(How.VALUE, "C12"), 0.6)
    a, b = rank(TWO_BANDS, one), rank(TWO_BANDS, one[::-1])
    assert a.parts[0][0] == b.parts[0][0]
    assert a.parts[0][1] == pytest.approx(b.parts[0][1], abs=0.02)


def test_no_reading_is_an_error():
    with pytest.raises(ValueError, match="no reading"):
        rank(TWO_BANDS, [])


def test_every_hypothesis_has_a_weight_from_the_table_and_families_keep_their_shares():
    search = Search(TWO_BANDS, [reading(None)], Weights())
    before = prior(search.hypotheses, Weights())
    assert sum(before.values()) == pytest.approx(1.0)
    shares = Weights().shares()
    faults = sum(before[h.key] for h in search.hypotheses if h.family == "fault")
    assert faults == pytest.approx(shares["fault"] / sum(shares.values()))
    assert len({h.key for h in search.hypotheses}) == len(search.hypotheses)
    assert all(h.places and h.weight > 0 for h in search.hypotheses)


def test_the_next_test_separates_what_is_left_and_a_certain_fault_is_confirmed_first():
    observations = [reading(Change(How.VALUE, "C12"), 0.8)]
    posterior = weigh(TWO_BANDS, observations)
    ranking = ranking_of(posterior)
    advice = next_tests(TWO_BANDS, posterior, ranking, np.random.default_rng(0))
    assert 1 <= len(advice) <= 3
    order = [-a.score if a.minutes_to_go is None else a.minutes_to_go for a in advice]
    assert order == sorted(order)
    assert all(a.minutes > 0 and a.connect and a.outcomes and a.cautions for a in advice)
    again = next_tests(TWO_BANDS, posterior, ranking, np.random.default_rng(0))
    assert [a.title for a in again] == [a.title for a in advice]
