"""The amplifier room against handbook formulas, data sheets and the load-line paper; laws of the whole transmitter."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from halfsplit.amplifier import Spot, chain_of, contour, drawn_state, limited, permitted, run
from halfsplit.amplifier.chain import COMPRESSED_DB, at_most_one, saturated
from halfsplit.amplifier.classb import best_load, efficiency, half_sine, push_pull_watts, supply_amps
from halfsplit.amplifier.loadline import at_swr
from halfsplit.amplifier.path import end_volts, impedance, into, transfer
from halfsplit.amplifier.thermal import heat, junction_over_case, most_heat, warmth
from halfsplit.errors import UnitError
from halfsplit.unit import Thermal, read_unit, read_unit_file

ROOT = Path(__file__).resolve().parents[1]
UNIT = read_unit_file(ROOT / "examples" / "hollin-beck-100.toml")
THROUGH = np.array([[0.0, 1.0], [1.0, 0.0]], complex)


# Class B: Krauss, Bostian & Raab 1980, Solid State Radio Engineering; closed formulas, figures from memory.
def test_class_b_efficiency_and_current() -> None:
    assert efficiency(1.0) == pytest.approx(0.7854, abs=5e-5)
    assert [100 * efficiency(x) for x in (0.5, 0.5**0.5, 0.9)] == pytest.approx([39.27, 55.54, 70.69], abs=0.006)
    assert supply_amps(100.0, 13.8) == pytest.approx(9.226, abs=1e-3)
    with pytest.raises(ValueError, match="between 0 and 1"):
        efficiency(1.1)


def test_push_pull_power_from_supply_and_load() -> None:
    shown = [push_pull_watts(12.5, 3.125), push_pull_watts(13.8, 3.125), push_pull_watts(13.8, 3.125, 1.5)]
    assert shown == pytest.approx([100.0, 121.9, 96.8], abs=0.06)
    assert [push_pull_watts(28, 12.5), push_pull_watts(50, 12.5), push_pull_watts(48, 12.5, 2)] == pytest.approx(
        [125.4, 400.0, 338.6], abs=0.06
    )
    assert best_load(48.0, 3.0, 75.0) == pytest.approx(13.5)


def test_half_sine_against_its_integral() -> None:
    x = np.linspace(-np.pi, np.pi, 200_001)
    wave = np.maximum(np.cos(x), 0.0)
    for n in range(9):
        integral = np.trapezoid(wave * np.cos(n * x), x) / np.pi / (2.0 if n == 0 else 1.0)
        assert half_sine(n) == pytest.approx(integral, abs=1e-6), n
    assert [half_sine(n) for n in (0, 1, 2, 4, 6)] == pytest.approx(
        [0.31831, 0.5, 0.21221, -0.04244, 0.01819], abs=6e-6
    )


# S. C. Cripps 1983, IEEE MTT-S Digest, 221-223: contours of a stage limited in current and in voltage, R_opt 12.5 ohm.
@pytest.mark.parametrize(
    ("db", "low", "high", "reactance"),
    [(1.0, 9.929, 15.737, 7.594), (2.0, 7.887, 19.811, 9.698), (3.0, 6.265, 24.941, 10.817)],
)
def test_load_line_contours(db: float, low: float, high: float, reactance: float) -> None:
    c = contour(db, 12.5)
    assert (c.low_ohm, c.high_ohm, c.reactance) == pytest.approx((low, high, reactance), abs=6e-4)
    assert 10 * np.log10(permitted(c.points(), 12.5)) == pytest.approx(-db, abs=1e-9)


def test_load_line_by_brute_force() -> None:
    """The largest power of a sine that keeps within 1 A and 12.5 V, searched on a grid of currents."""
    rng = np.random.default_rng(3)
    for z in rng.uniform(2, 60, 20) + 1j * rng.uniform(-40, 40, 20):
        amps = np.linspace(0.0, 1.0, 100_001)
        allowed = amps[amps * abs(z) <= 12.5]
        assert permitted(z, 12.5) == pytest.approx(allowed.max() ** 2 * z.real / 12.5, rel=1e-4)


@pytest.mark.parametrize(
    ("swr", "worst", "best"), [(1.5, -1.761, -0.348), (2.0, -3.010, -0.969), (3.0, -4.771, -2.218)]
)
def test_power_round_a_standing_wave_ratio(swr: float, worst: float, best: float) -> None:
    assert at_swr(swr) == pytest.approx((worst, best), abs=6e-4)
    phase = np.exp(1j * np.linspace(0, 2 * np.pi, 3601))
    round_it = 10 * np.log10(permitted(impedance((swr - 1) / (swr + 1) * phase, 50.0), 50.0))
    assert (round_it.min(), round_it.max()) == pytest.approx((worst, best), abs=2e-3)


# Data sheets: MRF150 rev 9 (1998), R_th 0.6 K/W, 200 degC; MRF455 (1994), R_th 1.0 K/W. Examples computed from them.
def test_junction_temperature() -> None:
    lost = heat(150 / 0.45, 150)
    assert (lost, junction_over_case(0.6, lost, 70.0)) == pytest.approx((183.3, 180.0), abs=0.05)
    lost = heat(60 / 0.55, 60)
    assert (lost, junction_over_case(1.0, lost, 80.0)) == pytest.approx((49.1, 129.1), abs=0.05)
    assert most_heat(0.6, 200.0, 25.0) == pytest.approx(291.7, abs=0.05)
    assert most_heat(1.0, 200.0, 230.0) == 0.0
    with pytest.raises(ValueError, match="more goes out"):
        heat(50.0, 60.0)


def test_heat_takes_every_step_of_its_way() -> None:
    way = Thermal(0.6, 0.2, 0.5, 2, 473.0)
    w = warmth(way, 100.0, 300.0)
    assert (w.sink, w.case, w.junction) == pytest.approx((350.0, 360.0, 390.0))
    assert warmth(replace(way, case_sink=None), 100.0, 300.0).junction is None
    assert warmth(way, 100.0, 300.0, sink=320.0).junction == pytest.approx(360.0)


def test_limiting_is_one_db_down_where_it_says() -> None:
    most = saturated(100.0)
    x = np.linspace(0.0, 80.0, 80_001)
    out = limited(x, np.full_like(x, most))
    down = x - out
    assert out[np.argmin(abs(down - 1.0))] == pytest.approx(50.0, abs=0.01)
    assert (np.diff(out) >= 0).all()
    assert out.max() <= most + 1e-9
    assert limited(np.array([20.0]), np.array([most]))[0] == pytest.approx(20.0, abs=1e-6)
    assert pytest.approx(1.0, abs=0.01) == COMPRESSED_DB
    assert at_most_one(np.array([1e-6, 1.0, 1e6])) == pytest.approx([1e-6, 2 ** (-1 / 8), 1.0])


def test_two_ports_balance_their_power() -> None:
    """A lossless line hands everything on, whatever the load; volts and power agree on both sides."""
    line = np.array([[0.0, np.exp(-1j)], [np.exp(-1j), 0.0]])
    load = np.array([0.3 + 0.4j, -0.5, 0.0])
    s = np.repeat(line[None], 3, axis=0)
    assert transfer(s, load) == pytest.approx(1.0)
    z_in, z_load = impedance(into(s, load), 50.0), impedance(load, 50.0)
    assert abs(end_volts(s, load)) ** 2 * (1 / z_load).real == pytest.approx((1 / z_in).real)


def state(**more: object):
    chain = chain_of(UNIT)
    spots = tuple(Spot(b.name, b.low) for b in UNIT.bands)
    one = drawn_state(chain, spots, np.repeat(THROUGH[None], 3, axis=0), np.ones(3, bool))
    return chain, replace(one, **more)  # type: ignore[arg-type]


def test_level_control_holds_and_blind_it_does_not() -> None:
    chain, held = state()
    assert run(chain, held, 50.0).out == pytest.approx(100.0, rel=0.03)
    blind = run(chain, replace(held, hold=np.full((1, 3), np.inf)), 50.0)
    assert (blind.out > 115.0).all()
    assert (blind.held_db == 0.0).all()


def test_supply_and_its_leads_pull_together() -> None:
    """Volts at the unit are those of the supply less what the current drops; power balance holds."""
    chain, one = state(supply_ohm=np.array([[0.08]]))
    shown = run(chain, one, 50.0)
    assert shown.volts == pytest.approx(13.8 - 0.08 * shown.amps, abs=2e-3)
    assert (shown.volts * shown.final_amps > shown.final).all()
    assert (shown.heat > 0).all()


def test_less_supply_less_power_of_a_limited_stage() -> None:
    chain, one = state(hold=np.full((1, 3), np.inf))
    low = run(chain, replace(one, volts=np.array([[11.0]])), 50.0)
    full = run(chain, one, 50.0)
    assert (low.out < 0.8 * full.out).all()
    assert (low.amps < full.amps).all()


def test_current_follows_the_load() -> None:
    """Into a high load a stage that is limited in voltage draws less; into a low one more, for the same drive."""
    chain, one = state(hold=np.full((1, 3), np.inf), source=np.array([[1.0 + 0j]]))
    high = run(chain, replace(one, load=np.full((1, 3), 1 / 3 + 0j)), 50.0)
    low = run(chain, replace(one, load=np.full((1, 3), -1 / 3 + 0j)), 50.0)
    assert (high.amps < run(chain, one, 50.0).amps).all()
    assert (low.amps > high.amps).all()
    assert (low.out < run(chain, one, 50.0).out).all()


def test_matched_loss_is_not_the_power_lost() -> None:
    """The known law: the same matched loss costs other watts, by how the path turns the load that the stage sees."""
    chain, one = state(hold=np.full((1, 3), np.inf), source=np.array([[10.0 + 0j]]))
    bad = np.array([[0.5, 0.75**0.5], [0.75**0.5, -0.5]], complex)  # 1.25 dB matched, all of it reflected
    outs = []
    for turn in (0.0, np.pi / 4, np.pi / 2, 3 * np.pi / 4):
        s = bad.copy()
        s[0, :] *= np.exp(1j * turn)
        s[:, 0] *= np.exp(1j * turn)
        outs.append(run(chain, replace(one, s=np.repeat(s[None, None], 3, axis=1)), 50.0).out[0, 0])
    assert max(outs) / min(outs) > 1.2


def test_a_unit_without_stage_or_supply_says_so() -> None:
    text = (ROOT / "examples" / "ottergill-exciter.toml").read_text("utf-8")
    with pytest.raises(UnitError, match="no stage"):
        chain_of(read_unit(text, "x"))
    bare = replace(UNIT, supply_volts=None, rated_watts=None, stages=(replace(UNIT.stages[-1], output_watts=None),))
    with pytest.raises(UnitError) as caught:
        chain_of(bare)
    assert len(caught.value.mistakes) == 2


def test_every_silence_of_the_drawing_is_said() -> None:
    silent = replace(UNIT, stages=(replace(UNIT.stages[-1], gain=(), efficiency=None, knee_volts=None),))
    said = " ".join(chain_of(silent).assumed)
    for word in ("gain of FINAL", "efficiency", "knee", "best load"):
        assert word in said
    assert "drive is not" not in said
    chain = chain_of(silent)
    for band in ("80 m", "20 m"):
        assert chain.drive_of(band) + chain.gain_of(0, band) == pytest.approx(chain.most_dbm[-1])


@pytest.mark.skipif(
    not (ROOT.parent / "shared/reference/6_amplifier.toml").exists(), reason="../shared/reference is not there"
)
def test_the_figures_above_are_those_of_the_reference() -> None:
    checks = {
        c["id"]: c
        for c in tomllib.loads((ROOT.parent / "shared/reference/6_amplifier.toml").read_text("utf-8"))["check"]
    }
    assert checks["A13-1dB"]["value"] == [9.929, 15.737, 7.594]
    assert checks["A24"]["value"] == [183.3, 180.0]
    assert checks["A14"]["value"] == [-1.761, -0.348, -3.01, -0.969, -4.771, -2.218]
