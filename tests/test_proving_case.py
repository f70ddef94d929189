"""Trial cases: repeatable, readable by the tool, physical, and each fault does what its name says."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from halfsplit.expect import observe
from halfsplit.hookup import parse_hookup
from halfsplit.jobs import known_of
from halfsplit.reading import read_bytes
from halfsplit.unit import read_unit
from proving.ailments import PICK, Ailment, damaged
from proving.case import load, make_case, plan_readings, save
from proving.design import draw_unit
from proving.drawing import piece
from proving.instruments import draw_gear
from proving.strayed import build_unit
from proving.world import Bench, sees

SEEDS = range(40, 52)


def bench(drawing, band, read=True):
    points = drawing.points
    return Bench(band, points[0], points[-1] if read else None, 50.0, 50.0, 1e-12, 1e-12, 1e-18, 1e-18, 50.0, True)


def built(seed):
    rng = np.random.default_rng(seed)
    return build_unit(rng, draw_unit(rng, "Trial"))


@pytest.mark.parametrize("kind", [*PICK, "sound"])
def test_every_kind_of_case_can_be_read_by_the_tool(kind):
    case = make_case(11, kind)
    assert case.truth[0].kind == kind
    unit = read_unit(case.unit, "trial")
    for taken in case.taken:
        hookup = parse_hookup(taken.hookup, known_of(unit))
        assert observe(unit, hookup, read_bytes(taken.file, taken.data), "R1")


def test_a_case_is_its_seed():
    assert make_case(5, "leak") == make_case(5, "leak")
    assert make_case(5, "leak") != make_case(6, "leak")


def test_two_faults_are_two():
    case = make_case(9, "value low", faults=2)
    assert len({t.place for t in case.truth}) == 2


def test_a_kept_case_comes_back(tmp_path):
    case = make_case(3, "stray")
    save(case, tmp_path / "case")
    assert load(tmp_path / "case") == case


@pytest.mark.parametrize("seed", SEEDS)
def test_no_sound_unit_makes_power(seed):
    """|S11|^2 + |S21|^2 <= 1 between equal resistances, before the leak past everything is added."""
    unit = built(seed)
    unit.sneak = 0j
    for band in unit.drawing.bands:
        f = np.linspace(0.3 * band.low, 5 * band.high, 101)
        through, gamma = sees(unit, bench(unit.drawing, band.name), f)
        assert (np.abs(through) ** 2 + np.abs(gamma) ** 2 <= 1.0 + 1e-9).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_sound_unit_passes_its_bands(seed):
    """A drawn low-pass loses less than 0.6 dB in its band, a band-pass less than 2.5 dB; as built a few dB more."""
    unit = built(seed)
    for band in unit.drawing.bands:
        most = 3.0 if unit.drawing.ladder(band.ladder).kind == "low-pass" else 8.0
        through, _ = sees(unit, bench(unit.drawing, band.name), np.linspace(band.low, band.high, 11))
        assert -20 * np.log10(np.abs(through)).min() < most


def test_the_same_both_ways_round():
    """Reciprocity: a chain of coils, capacitors and lines passes as much from right to left."""
    unit = built(44)
    band = unit.drawing.bands[0]
    f = np.linspace(band.low, 3 * band.high, 31)
    ahead = bench(unit.drawing, band.name)
    back = Bench(band.name, ahead.read, ahead.drive, *(getattr(ahead, x) for x in list(ahead.__slots__)[3:11]))
    np.testing.assert_allclose(sees(unit, ahead, f)[0], sees(unit, back, f)[0], rtol=1e-9)


def changed_db(unit, ailment, band):
    f = np.linspace(0.5 * band.low, 4 * band.high, 81)
    before, after = (sees(x, bench(unit.drawing, band.name), f)[0] for x in (unit, damaged(unit, ailment)))
    return 20 * np.log10(np.abs(after) / np.abs(before)), f


def test_a_fault_leaves_the_sound_unit_as_it_was():
    unit = built(44)
    ref = unit.drawing.ladders[0].pieces()[0].ref
    value = unit.parts[ref].value
    damaged(unit, Ailment("value low", ref, "fault", 0.5))
    assert unit.parts[ref].value == value


def test_an_open_series_coil_cuts_the_band_off():
    unit = built(44)
    band = unit.drawing.bands[0]
    coil = next(s.piece.ref for s in unit.drawing.ladder(band.ladder).steps if s.place == "series")
    change, f = changed_db(unit, Ailment("open", coil, "fault"), band)
    assert change[(f >= band.low) & (f <= band.high)].max() < -15.0


def test_a_shorted_shunt_capacitor_cuts_the_band_off():
    unit = built(44)
    band = unit.drawing.bands[0]
    part = next(s.piece.ref for s in unit.drawing.ladder(band.ladder).steps if s.place == "shunt")
    change, f = changed_db(unit, Ailment("short", part, "fault"), band)
    assert change[(f >= band.low) & (f <= band.high)].max() < -15.0


def test_bridging_past_lets_the_harmonics_through():
    unit = built(44)
    band = unit.drawing.bands[0]
    change, f = changed_db(unit, Ailment("bridged past", band.ladder, "fault", 10.0), band)
    assert change[f > 2.5 * band.low].max() > 15.0


def test_readings_go_to_the_fault_and_to_another_band():
    rng = np.random.default_rng(2)
    drawing = next(d for d in (draw_unit(rng, "Trial") for _ in range(50)) if len(d.ladders) > 2)
    ladder = drawing.ladders[1].name
    plans = plan_readings(rng, drawing, Ailment("open", "C21", "fault", ladder=ladder), draw_gear(rng, "sweeper"))
    seen = {drawing.band(p.bench.band).ladder for p in plans}
    assert ladder in seen
    assert len(seen) == 2


def test_large_capacitors_are_printed_as_a_drawing_prints_them():
    assert piece("C1", 1.02e-8).text == "10000 pF"
    assert piece("C1", 4.6e-11).text == "47 pF"
    assert piece("C1", 1.21e-12).text == "1.2 pF"
