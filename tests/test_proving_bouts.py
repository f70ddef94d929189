"""The bouts: the world answers as the truth is, and half-splitting is played by its rule. Units invented at random."""

from __future__ import annotations

import numpy as np
import pytest

from proving.bouts import Halver, World, interval, ratio


@pytest.mark.parametrize(
    ("seed", "kind"), [(7, "open"), (8, "joint resistive"), (9, "contact open"), (10, "coax short"), (11, "value low")]
)
def test_the_world_shows_the_fault_where_it_sits_and_nowhere_else(seed, kind):
    world = World(seed, kind)
    place = world.truth.place
    part = next(p.ref for p in world.drawing.ladders[0].pieces() if p.ref != place)
    sound = world.lift(part)
    drawn = next(p.value for x in world.drawing.ladders for p in x.pieces() if p.ref == part)
    assert sound.word == ""
    assert abs(np.log(sound.value / drawn)) < 0.5
    if kind == "open":
        assert world.lift(place).word == "open"
    if kind == "value low":
        own = next(p.value for x in world.drawing.ladders for p in x.pieces() if p.ref == place)
        assert world.lift(place).value < 0.9 * own
    if kind == "joint resistive":
        assert world.ohms(place) == world.truth.size
        assert world.ohms(f"{part} joint") < 0.1
    if kind == "contact open":
        assert world.ohms(place) > 1e6
    if kind == "coax short":
        cured = [world.find("swap jumper", place).word for _ in range(12)]
        assert cured.count("cured") > 6
        assert world.find("bridge and sweep again", f"{part} joint").word == "no change"


def test_a_sweep_of_the_world_is_what_its_hook_up_says():
    world = World(8, "joint resistive")
    first = world.complaint()
    assert [o.hookup.read for o in first] == [world.drawing.points[-1]]
    assert first[0].hookup.band == world.band
    assert len(first[0].f) > 50


def test_half_splitting_ends_at_a_part_and_books_every_test():
    world = World(12, "open")
    score = Halver(world, world.complaint(), np.random.default_rng(0)).play()
    assert score.named
    assert score.tests == len(score.trail)
    sweeps = sum(t.startswith("Sweep") for t in score.trail)
    lifts = sum(t.startswith("Lift") for t in score.trail)
    assert score.minutes >= 4 * sweeps + 12 * lifts
    assert score.trail[-1].endswith(score.named)


def test_figures_carry_their_intervals():
    assert interval([2.0, 2.0, 2.0]) == "  2.00 (2.00 to 2.00)"
    assert ratio([1.0, 3.0], [2.0, 6.0]).startswith("50 % (50 to 50 %)")
