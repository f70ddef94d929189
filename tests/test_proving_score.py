"""How the trials mark a ranking: a mark that flatters would make every figure worthless."""

import sys
from pathlib import Path

import pytest

from halfsplit.fault import Cause, Group, Ranking

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from proving.score import Mark, mark, names, reliability, wilson


def cause(place, p, family="fault"):
    return Cause(place, "open", place, None, "", p, 0.0, (), (), family)


def group(p, *places, family="fault"):
    causes = tuple(cause(x, p / len(places), family) for x in places)
    return Group(places[0], p, causes, "", family)


def ranking(groups, parts, in_set, sound=0.0, not_listed=0.0):
    places = tuple((c.place, c.probability) for g in groups for c in g.causes if g.family == "fault")
    named = tuple(g.name for g in groups[:in_set])
    return Ranking(tuple(groups), places, tuple(parts), sound, not_listed, named, (), (), (), (), "")


@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    # Newcombe 1998, Statistics in Medicine 17, 857-872, table I, method 3 (from memory)
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_interval_as_published(hits, of, low, high):
    assert wilson(hits, of) == pytest.approx((low, high), abs=6e-5)


def test_nothing_is_known_from_no_cases():
    assert wilson(0, 0) == (0.0, 1.0)


def test_a_joint_belongs_to_its_part_and_c2_is_not_c22():
    assert names("C22 ground joint", "C22")
    assert names("K12 contact (in)", "K12")
    assert not names("C22", "C2")
    assert not names("C22 ground joint", "C2")


def test_a_part_below_the_sound_unit_is_not_first():
    groups = [group(0.6, "sound", family="sound"), group(0.4, "C1")]
    found = mark(ranking(groups, [("C1", 0.4)], 2, sound=0.6), ("C1",))
    assert (found.first, found.in_group, found.in_set) == (False, False, True)
    assert found.given == pytest.approx(0.4)


def test_a_sound_unit_called_sound():
    groups = [group(0.6, "sound", family="sound"), group(0.4, "C1")]
    found = mark(ranking(groups, [("C1", 0.4)], 2, sound=0.6), ("sound",))
    assert (found.first, found.in_group, found.given) == (True, True, 0.6)


def test_in_the_first_group_but_not_its_leader():
    groups = [group(0.9, "C1", "C3"), group(0.1, "L2")]
    found = mark(ranking(groups, [("C1", 0.5), ("C3", 0.4), ("L2", 0.1)], 1), ("C3",))
    assert (found.first, found.in_group, found.in_set, found.wide) == (False, True, True, 2)


def test_outside_the_set_is_a_miss():
    groups = [group(0.95, "C1"), group(0.05, "L2")]
    found = mark(ranking(groups, [("C1", 0.95), ("L2", 0.05)], 1), ("L2",))
    assert not found.in_set


def test_reliability_counts_what_came_true():
    marks = [Mark(right, right, True, said, said, "", 1) for said, right in
             ((0.65, True), (0.62, True), (0.69, False), (1.0, True), (0.99, False))]  # fmt: skip
    rows = reliability(marks)
    assert [(low, high, n, hits) for low, high, n, _, hits in rows] == [(0.6, 0.7, 3, 2), (0.97, 1.0, 2, 1)]
    assert rows[0][3] == pytest.approx((0.65 + 0.62 + 0.69) / 3)
