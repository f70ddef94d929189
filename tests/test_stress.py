"""Stress: closed forms against sampling, power balance, a second route through a real load, ratings, the command."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from click.testing import CliRunner
from units import TWO_BANDS, part

from halfsplit.circuit import Model, build_path
from halfsplit.cli import main
from halfsplit.errors import InputError, ModelError
from halfsplit.jobs.stress import Wish, case_for
from halfsplit.network.solve import assembled
from halfsplit.parts import read_rating
from halfsplit.stress import (
    Case,
    Form,
    Held,
    Margin,
    Signal,
    Sort,
    band_stress,
    path_of,
    reflection,
    squared,
    worst,
)
from halfsplit.unit import Band, Filter, Rung, Unit, read_unit_file
from halfsplit.unit import Path as SignalPath

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))
UNITS = [TWO_BANDS, *(read_unit_file(p) for p in EXAMPLES)]
CIRCLE = np.exp(2j * np.pi * np.arange(20000) / 20000)


def forms(rng: np.random.Generator, n: int) -> tuple[Form, npt.NDArray[np.complex128]]:
    """Sums of squared linear forms, and sources that reflect up to 1."""
    p, q = rng.standard_normal((2, 3, n)) + 1j * rng.standard_normal((2, 3, n))
    total = squared(p[0], q[0]).plus(squared(p[1], q[1]).times(0.3)).plus(squared(0.01 * p[2], q[2]))
    return total, np.sqrt(rng.uniform(0, 1, n)) * np.exp(2j * np.pi * rng.uniform(0, 1, n))


@pytest.mark.parametrize("g", [0.0, 0.2, 0.5, 0.9])
def test_the_worst_of_the_circle_is_that_of_a_fine_sampling(g: float) -> None:
    form, source = forms(np.random.default_rng(3), 40)
    value, angle = worst(form, g, source)
    at = Form(form.a[:, None], form.b[:, None], form.c[:, None]).at(g * CIRCLE)
    sampled = (at / np.abs(1.0 - source[:, None] * g * CIRCLE) ** 2).max(axis=1)
    # A sample is at most half a step (1.6e-4 rad) off the peak; the curve is sharper the nearer |source| g comes to 1.
    assert (sampled <= value * (1 + 1e-12)).all()
    assert (sampled >= value * (1 - 1e-5)).all()
    there = g * np.exp(1j * angle)
    np.testing.assert_allclose(form.at(there) / np.abs(1.0 - source * there) ** 2, value, rtol=1e-9)


def test_no_load_inside_the_circle_is_worse() -> None:
    form, source = forms(np.random.default_rng(4), 30)
    value, _ = worst(form, 0.5, source)
    rng = np.random.default_rng(5)
    inside = 0.5 * np.sqrt(rng.uniform(0, 1, 4000)) * np.exp(2j * np.pi * rng.uniform(0, 1, 4000))
    got = Form(form.a[:, None], form.b[:, None], form.c[:, None]).at(inside) / np.abs(1 - source[:, None] * inside) ** 2
    assert (got.max(axis=1) <= value * (1 + 1e-12)).all()


def test_a_linear_form_has_the_two_known_bounds() -> None:
    """|a + b G| is at most |a| + |b| g; over |1 - c G| the image of the circle is a circle: centre plus radius."""
    rng = np.random.default_rng(6)
    a, b = rng.standard_normal((2, 50)) + 1j * rng.standard_normal((2, 50))
    c, g = 0.9 * np.exp(2j * np.pi * rng.uniform(0, 1, 50)) * rng.uniform(0, 1, 50), 0.7
    np.testing.assert_allclose(np.sqrt(worst(squared(a, b), g)[0]), np.abs(a) + g * np.abs(b), rtol=1e-12)
    room = 1.0 - np.abs(c) ** 2 * g * g
    centre, radius = (a + b * np.conj(c) * g * g) / room, g * np.abs(b + a * c) / room
    np.testing.assert_allclose(np.sqrt(worst(squared(a, b), g, c)[0]), np.abs(centre) + radius, rtol=1e-9)


def test_a_source_that_resonates_with_the_load_has_no_bound() -> None:
    with pytest.raises(ValueError, match="no bound"):
        worst(squared(np.ones(1), np.ones(1)), 0.9, np.array([1.2]))


def test_an_swr_below_one_is_none() -> None:
    assert [reflection(1.0), reflection(3.0)] == [0.0, 0.5]
    for swr in (0.5, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="SWR"):
            reflection(swr)


@pytest.mark.parametrize("unit", UNITS, ids=lambda u: u.name)
def test_power_balance_closes_on_every_band_of_every_unit(unit: Unit) -> None:
    """Law: what goes in at the first point is what the load takes and what every branch loses; the two are computed
    from waves at the ends and from volts and admittances inside."""
    for band in unit.bands:
        for swr in (1.0, 3.0, 20.0):
            found = band_stress(unit, band.name, Case(100.0, swr), np.random.default_rng(1), draws=3)
            assert found.balance.error < 1e-9, (unit.name, band.name)
            assert found.balance.taken == pytest.approx(found.balance.load + found.balance.lost, rel=1e-12)
            assert all(p.watts is None or p.watts.value >= 0.0 for p in found.places)


@pytest.mark.parametrize("load", [50.0, 25.0 - 40.0j, 120.0 + 30.0j])
def test_a_real_load_in_its_place_gives_the_same_volts(load: complex) -> None:
    """Second route: the load itself at the socket and dense elimination, instead of the algebra of waves."""
    scene = build_path(TWO_BANDS, "60 m")
    model = Model(scene, np.array([5.2e6, 5.35e6, 5.5e6]))
    path = path_of(model, np.zeros((1, len(model.keys))))
    table = path.solution.table
    y = table.y[:, 0].copy()
    assert scene.detector is not None and scene.detector_arm is not None
    y[scene.detector_arm] = 1.0 / load
    matrix = assembled(model.plan, y, np.broadcast_to(table.entries[:, 0], (len(model.plan.entries), 3)))
    right = np.zeros((scene.n, 1), complex)
    right[scene.source] = 1.0
    volts = np.linalg.solve(matrix, np.broadcast_to(right, (3, scene.n, 1)))[:, :, 0].T
    gamma = (load - 50.0) / (load + 50.0)
    # Scaled so that the forward wave at the load is 1 sqrt(W): V2 = sqrt(50) (1 + G).
    volts = volts * (np.sqrt(50.0) * (1.0 + gamma) / volts[scene.detector])
    np.testing.assert_allclose((path.p + path.q * gamma)[:-1, 0], volts, rtol=1e-8, atol=1e-10)


def half_wave() -> Unit:
    """A half-wave filter of two sections, every reactance 50 ohm (100 ohm parts joined) at 7 MHz, no contacts."""
    w = 2.0 * np.pi * 7e6
    c, coil = 1.0 / (w * 50.0), 50.0 / w
    exact = {"q": 1e9, "lead_inductance": 0.0}
    rungs = (
        Rung("shunt", (part("C1", c, **exact),)),
        Rung("series", (part("L1", coil, q=1e9, self_capacitance=0.0),)),
        Rung("shunt", (part("C2", 2 * c, **exact),)),
        Rung("series", (part("L2", coil, q=1e9, self_capacitance=0.0),)),
        Rung("shunt", (part("C3", c, **exact),)),
    )
    return Unit(
        name="half-wave", bands=(Band("40 m", 7e6, 7.0001e6, "F1"),),
        path=SignalPath(("TP1", "filter", "J1"), ("TP1", "J1")), filters=(Filter("F1", rungs, stray=0.0),),
    )  # fmt: skip


def test_a_half_wave_filter_has_the_load_volts_at_every_capacitor() -> None:
    """Theory: between sections of a half-wave filter the volts keep their size: sqrt(2 P R); a capacitor of reactance
    R carries V/R, the middle one twice that, the coils sqrt(2) times the load's amps (V/(R) (1 - j) by hand)."""
    # 8 nH of bare leads at the ends move this by a per cent or two.
    found = band_stress(half_wave(), "40 m", Case(100.0), np.random.default_rng(1), draws=3)
    for ref, times in (("C1", 1.0), ("C2", 2.0), ("C3", 1.0)):
        assert found.at(ref).peak_volts is not None
        assert found.at(ref).peak_volts.value == pytest.approx(100.0, rel=0.03)  # type: ignore[union-attr]
        assert found.at(ref).amps.value == pytest.approx(times * np.sqrt(2.0), rel=0.03)  # type: ignore[union-attr]
    for ref in ("L1", "L2"):
        assert found.at(ref).amps.value == pytest.approx(2.0, rel=0.03)  # type: ignore[union-attr]
        assert found.at(ref).peak_volts.value == pytest.approx(100.0 * np.sqrt(2.0), rel=0.03)  # type: ignore[union-attr]


def test_figures_scale_with_power_and_tones_keep_the_peak() -> None:
    one = band_stress(TWO_BANDS, "60 m", Case(25.0, 2.0), np.random.default_rng(1), draws=5)
    four = band_stress(TWO_BANDS, "60 m", Case(100.0, 2.0), np.random.default_rng(1), draws=5)
    tones = band_stress(TWO_BANDS, "60 m", Case(100.0, 2.0, signal=Signal.TWO_TONE), np.random.default_rng(1), draws=5)
    a, b, c = (x.at("C12") for x in (one, four, tones))
    for name, power, tone in (("peak_volts", 2.0, 1.0), ("rms_volts", 2.0, 2**-0.5), ("amps", 2.0, 2**-0.5),
                              ("watts", 4.0, 0.5), ("va", 4.0, 0.5)):  # fmt: skip
        assert getattr(b, name).value == pytest.approx(power * getattr(a, name).value, rel=1e-12)
        assert getattr(c, name).value == pytest.approx(tone * getattr(b, name).value, rel=1e-12)
    assert b.va is not None and b.rms_volts is not None and b.amps is not None
    assert b.va.value == pytest.approx(b.rms_volts.value * b.amps.value, rel=1e-12)


@pytest.mark.parametrize("held", list(Held))
def test_a_worse_load_is_never_kinder_and_a_matched_one_is_the_same_for_all(held: Held) -> None:
    cases = [Case(100.0, swr, held, source_ohm=30.0 if held is Held.DRIVE else None) for swr in (1.0, 1.5, 3.0, 10.0)]
    found = [band_stress(TWO_BANDS, "30 m", case, np.random.default_rng(1), draws=3) for case in cases]
    plain = band_stress(TWO_BANDS, "30 m", Case(100.0), np.random.default_rng(1), draws=3)
    for place in found[0].places:
        for name in ("peak_volts", "amps", "watts"):
            rows = [getattr(x.at(place.place), name) for x in found]
            if rows[0] is not None:
                values = [w.value for w in rows]
                assert all(b >= a * (1 - 1e-12) for a, b in pairwise(values)), (place.place, name)
                assert values[0] == pytest.approx(getattr(plain.at(place.place), name).value, rel=1e-9, abs=1e-12)


def test_the_peak_lies_where_it_is_said_to_lie() -> None:
    """The load and the frequency that are named give the volts that are named."""
    found = band_stress(TWO_BANDS, "60 m", Case(100.0, 3.0), np.random.default_rng(1), draws=3)
    w = found.at("L12").peak_volts
    assert w is not None
    model = Model(build_path(TWO_BANDS, "60 m"), np.array([w.f]))
    path = path_of(model, np.zeros((1, len(model.keys))))
    spot = next(s for s in path.spots() if s.place == "L12")
    gamma = (w.load - 50.0) / (w.load + 50.0)
    assert abs(gamma) == pytest.approx(0.5)
    assert np.sqrt(200.0 * spot.volts[0].at(gamma)[0, 0]) == pytest.approx(w.value, rel=1e-9)


def test_a_long_cable_shows_the_peak_of_its_standing_wave() -> None:
    """Law: on a line with SWR S the volts swing between sqrt(2 P Z0) (1 + g) and (1 - g), wherever that is."""
    long = replace(TWO_BANDS, cables=(TWO_BANDS.cables[0], replace(TWO_BANDS.cables[1], length=20.0, k1=1e-6, k2=0.0)))
    cable = band_stress(long, "30 m", Case(100.0, 3.0), np.random.default_rng(1), draws=3).at("W2")
    assert cable.sort is Sort.CABLE and cable.peak_volts is not None
    assert cable.peak_volts.value == pytest.approx(150.0, rel=4e-3)


def test_ratings_are_held_against_what_they_mean() -> None:
    shunt = TWO_BANDS.filters[0].rungs[2]
    texts = {"100 V": Margin.OUTSIDE, "10 kV": Margin.WITHIN, "10 kV, 1 A": Margin.OUTSIDE, "60 V AC": Margin.OUTSIDE}
    for text, margin in texts.items():
        rungs = list(TWO_BANDS.filters[0].rungs)
        rungs[2] = replace(shunt, parts=(replace(shunt.parts[0], rating=text),))
        unit = replace(TWO_BANDS, filters=(replace(TWO_BANDS.filters[0], rungs=tuple(rungs)), TWO_BANDS.filters[1]))
        found = band_stress(unit, "60 m", Case(100.0, 2.0), np.random.default_rng(1), draws=9)
        assert found.places[0].place == "C12"
        assert (text, found.places[0].uses[0].margin) == (text, margin)


def test_a_sound_unit_that_strays_makes_it_doubtful() -> None:
    plain = band_stress(TWO_BANDS, "60 m", Case(100.0, 2.0), np.random.default_rng(1)).at("C12").peak_volts
    assert plain is not None
    between = f"{(plain.value + plain.high) / 2:.2f} V"
    rungs = list(TWO_BANDS.filters[0].rungs)
    rungs[2] = replace(rungs[2], parts=(replace(rungs[2].parts[0], rating=between),))
    unit = replace(TWO_BANDS, filters=(replace(TWO_BANDS.filters[0], rungs=tuple(rungs)), TWO_BANDS.filters[1]))
    assert band_stress(unit, "60 m", Case(100.0, 2.0), np.random.default_rng(1)).at("C12").uses[0].margin is (
        Margin.DOUBTFUL
    )


@pytest.mark.parametrize("text", ["500", "NP0", "500 V, 300 V", "0 V", "-3 A", "", "3 A 5", "V"])
def test_what_is_no_rating_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        read_rating(text)


def test_printed_ratings_are_understood() -> None:
    assert read_rating("1 kV DC; 2.5 A").given == ("peak_volts", "amps")
    assert read_rating("250 V AC / 5 A").rms_volts == 250.0
    assert read_rating("2,5 kV").peak_volts == 2500.0
    assert (read_rating("5 kVA").va, read_rating("0.5 W").watts) == (5000.0, 0.5)


def test_a_path_that_passes_nothing_is_said() -> None:
    with pytest.raises(ModelError, match="one point only"):
        band_stress(replace(half_wave(), path=SignalPath(("TP1", "filter"), ("TP1",))), "40 m", Case(1.0),
                    np.random.default_rng(1))  # fmt: skip


def test_every_mistake_of_the_command_at_once() -> None:
    with pytest.raises(InputError) as caught:
        case_for(TWO_BANDS, ("11 m",), Wish(None, 0.5, Held.DRIVE))
    assert [m.where for m in caught.value.mistakes] == ["--band", "--power", "--swr", "--source-ohm"]


def test_the_command_prints_text_and_json() -> None:
    words = ["stress", str(ROOT / "examples" / "larkfell-tarn-40.toml"), "--band", "31 m", "--swr", "2"]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0, done.output
    assert "C42" in done.output and "Caution" in done.output and "19 of 20 sound units" in done.output
    found = json.loads(CliRunner().invoke(main, [*words, "--json"]).stdout)
    places = found["bands"][0]["places"]
    shares = [p["uses"][0]["share"] if p["uses"] else -1.0 for p in places]
    assert shares == sorted(shares, reverse=True)
    c42 = next(p for p in places if p["place"] == "C42")
    assert c42["peak_volts"]["worst"] >= c42["peak_volts"]["matched"]
    bad = CliRunner().invoke(main, [*words, "--power", "40 V"])
    assert bad.exit_code == 2
