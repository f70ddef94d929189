"""The verdict room: a dip in the pass band is the loudest line; traps of the trade."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from test_expect import observation, replace_value
from units import F1, THROUGH, TWO_BANDS, series, shunt

from halfsplit.expect import Observation, expectation
from halfsplit.reading import What
from halfsplit.unit import Limits
from halfsplit.verdict import Word, by_band, judge, marks

F = np.linspace(0.5e6, 30e6, 201)


def judged(o: Observation, unit=TWO_BANDS):
    return judge(unit, [o], np.random.default_rng(0))[0]


def through(seed: int | None = 3) -> Observation:
    return observation(seed, f=F)


def test_a_sound_reading_is_within():
    v = judged(through(None))
    assert v.word is Word.WITHIN
    assert {c.name for c in v.checks} >= {"loss in the served band", "passivity", "joint misfit", "worst point"}


def test_sound_units_are_seldom_outside():
    # units drawn from the priors without read-out noise: 20 of them, at most two outside (a share of 2 % is meant)
    words = [judged(through(seed)).word for seed in range(20)]
    assert words.count(Word.OUTSIDE) <= 2


def test_two_db_dip_in_the_pass_band_of_a_sweep_of_eighty_db_is_the_loudest_line():
    # a longer ladder, so that the sweep covers more than 80 dB
    rungs = [shunt("C11", 560e-12), series("L11", 1.3e-6), shunt("C12", 1000e-12), series("L12", 1.35e-6)]
    rungs += [shunt("C13", 1000e-12), series("L13", 1.3e-6), shunt("C14", 560e-12)]
    unit = replace(TWO_BANDS, filters=(replace(F1, rungs=tuple(rungs)), TWO_BANDS.filters[1]))
    o = Observation("R1", THROUGH, What.S21, F, F * 0, F * 0, F < 0, "test")
    sound = expectation(unit, THROUGH, What.S21, F, np.random.default_rng(0)).nominal
    dip = np.exp(-0.5 * ((F - 5.35e6) / 0.12e6) ** 2)
    assert np.ptp(sound) > 80
    assert judged(replace_value(o, sound), unit).word is Word.WITHIN
    v = judged(replace_value(o, sound - 2.0 * dip), unit)
    assert v.word is Word.OUTSIDE
    assert v.checks[0].name == "loss in the served band"
    assert v.headline == v.checks[0].text
    assert "% of the power is lost" in v.headline
    assert v.checks[0].loudness == max(c.loudness for c in v.checks)


def test_a_narrow_spike_passes_the_joint_misfit_but_not_the_worst_point():
    o = through(None)
    value = o.value.copy()
    i = int(np.argmin(abs(o.f - 15e6)))
    value[i] += 25.0
    v = judged(replace_value(o, value))
    checks = {c.name: c for c in v.checks}
    assert checks["worst point"].word is Word.OUTSIDE
    assert checks["worst point"].at_hz == pytest.approx(o.f[i])


def test_gain_of_a_passive_path_is_named_with_what_would_explain_it():
    o = through(None)
    v = judged(replace_value(o, o.value + 1.5))
    check = next(c for c in v.checks if c.name == "passivity")
    assert check.word is Word.OUTSIDE
    assert "offset of" in check.text
    assert "SWR" in check.text


def test_limits_of_the_manual_are_checked_and_a_band_limit_comes_before_the_units():
    unit = replace(TWO_BANDS, limits=Limits(loss_db=0.05, attenuation=((2.0, 15.0),)))
    checks = {c.name: c for c in judged(through(None), unit).checks}
    assert checks["limit: loss"].word is Word.OUTSIDE
    assert checks["limit: attenuation at 2 times"].word is Word.WITHIN
    own = replace(unit, bands=(replace(unit.bands[0], limits=Limits(loss_db=1.0)), unit.bands[1]))
    assert {c.name: c for c in judged(through(None), own).checks}["limit: loss"].word is Word.WITHIN


def test_no_point_in_the_band_cannot_tell_and_a_coarse_sweep_uses_its_neighbours():
    far = observation(None, f=np.linspace(12e6, 30e6, 40))
    check = next(c for c in judged(far).checks if c.name == "loss in the served band")
    assert check.word is Word.CANNOT_TELL
    coarse = observation(None, f=np.array([2e6, 5.15e6, 5.6e6, 9e6, 12e6]))
    assert next(c for c in judged(coarse).checks if c.name == "loss in the served band").word is Word.WITHIN


def test_reflection_is_judged_as_gamma_and_shown_as_return_loss():
    o = observation(None, What.S11, f=F)
    assert judged(o).word is Word.WITHIN
    inside = (o.f >= 5.2e6) & (o.f <= 5.5e6)
    v = judged(replace_value(o, np.where(inside, 0.75, o.value)))
    assert v.word is Word.OUTSIDE
    assert v.checks[0].name == "return loss in the served band"
    assert v.checks[0].read == pytest.approx(-20 * np.log10(0.75), abs=0.01)


def test_a_reading_at_the_floor_below_its_expectation_is_no_fault():
    o = through(None)
    low = o.value < -60
    floor = Observation(o.key, o.hookup, o.what, o.f, np.where(low, -60.0, o.value), o.sigma, low, o.label)
    free = Observation(o.key, o.hookup, o.what, o.f, np.where(low, -60.0, o.value), o.sigma, low & False, o.label)
    worst = {c.name: c for c in judged(floor).checks}["worst point"]
    assert worst.word is Word.WITHIN
    assert {c.name: c for c in judged(free).checks}["worst point"].loudness > worst.loudness


def test_the_worst_reading_speaks_for_its_band():
    good, bad = through(None), observation(None, f=F, hookup=replace(THROUGH, read="TP2"))
    bad = replace(replace_value(bad, bad.value - 3.0), label="60 m: through TP1 to TP2")
    bands = by_band(judge(TWO_BANDS, [good, bad], np.random.default_rng(0)))
    assert [b.word for b in bands] == [Word.OUTSIDE]
    assert bands[0].headline.startswith(bad.label)
    assert "too much" in bands[0].headline


def test_marks_of_a_response():
    f = np.linspace(1e6, 20e6, 191)
    db = -10 * np.log10(1 + (f / 8e6) ** 10)
    assert marks.cut_off(f, db, 2e6) == pytest.approx(8e6, rel=0.01)
    assert np.isnan(marks.cut_off(f, db * 0, 2e6))
    assert marks.at_harmonic(f, db, 4e6, 5e6, 2) == pytest.approx(db[f == 8e6][0], abs=0.01)
    assert np.isnan(marks.at_harmonic(f, db, 4e6, 5e6, 5))
    notched = db.copy()
    notched[150] -= 30
    assert marks.notch(f, notched, 9e6)[0] == f[150]
    assert np.isnan(marks.notch(f, db, 9e6)[0])
