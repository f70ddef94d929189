"""Coax from sweeps: lines made by scikit-rf from distributed constants, the measured cable, damage, refusals."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import skrf
from click.testing import CliRunner

from halfsplit.cables import End, Line, Wish, cable_facts, impedance, reflection, stub_effects, velocity_factor
from halfsplit.cables.echoes import in_time, peaks
from halfsplit.cables.notches import stub_of
from halfsplit.cables.words import verdicts_of
from halfsplit.cli import main
from halfsplit.errors import ReadingError
from halfsplit.parts import cable_type
from halfsplit.reading import Reading, Trace, What, read_file
from halfsplit.unit import read_unit

MEASURED = Path(__file__).parents[2] / "shared" / "measured" / "coax"
C0 = 299_792_458.0
EXAMPLE = Path(__file__).parents[1] / "examples" / "larkfell-tarn-40.toml"


def media(f: np.ndarray, kind: str, z0: float = 50.0) -> Any:
    """A line of the table by its four distributed constants; scikit-rf works out the rest.

    Skin effect: as much internal reactance as resistance; the part of the loss that rises with f is the dielectric's.
    """
    row = cable_type(kind)
    w = 2.0 * np.pi * f
    neper = np.log(10.0) / 20.0 / 100.0
    skin, wet = row.k1 * np.sqrt(f / 1e6) * neper, row.k2 * f / 1e6 * neper
    resistance = 2.0 * skin * z0
    henry = z0 / (C0 * row.velocity_factor) + resistance / w
    farad = 1.0 / (z0 * C0 * row.velocity_factor)
    frequency = skrf.Frequency.from_f(f, unit="hz")
    return skrf.media.DistributedCircuit(
        frequency, z0_port=50.0, C=np.full(len(f), farad), L=henry, R=resistance, G=2.0 * wet / z0
    )


def as_reading(f: np.ndarray, traces: dict[What, np.ndarray], phase: bool = True) -> Reading:
    made = []
    for what, s in traces.items():
        db = tuple((20 * np.log10(np.abs(s))).tolist())
        degrees = tuple(np.degrees(np.angle(s)).tolist()) if phase else ()
        made.append(Trace(what, tuple(f.tolist()), db, degrees))
    return Reading("made", b"", tuple(made), "")


def swept(f: np.ndarray, kind: str, metres: float, rho: float, z0: float = 50.0, noise: float = 1e-3) -> np.ndarray:
    """Reflection of a piece of coax whose end reflects rho of 50 ohm, with analyser noise, seed 7."""
    m = media(f, kind, z0)
    end = skrf.media.DefinedGammaZ0(m.frequency, z0=50.0, gamma=1j).load(rho)
    rng = np.random.default_rng(7)
    s = (m.line(metres, "m") ** end).s[:, 0, 0]
    return s + noise * (rng.standard_normal(len(f)) + 1j * rng.standard_normal(len(f)))


@pytest.mark.parametrize(
    ("kind", "metres", "rho", "end", "z0"),
    [
        ("RG-58", 12.3, 1.0, End.OPEN, 50.0),
        ("RG-213", 31.0, -1.0, End.SHORT, 50.0),
        ("RG-142", 4.4, 1.0, End.OPEN, 47.0),
    ],
)
def test_a_line_of_scikit_rf_comes_back(kind: str, metres: float, rho: float, end: End, z0: float) -> None:
    """Delay, impedance and loss of a line that another library made: within 1 %, loss within 3 %."""
    f = np.linspace(1e6, 120e6, 301)
    facts = cable_facts(as_reading(f, {What.S11: swept(f, kind, metres, rho, z0)}), Wish(kind))
    fit, row = facts.fit, cable_type(kind)
    assert fit is not None and facts.metres is not None and facts.table is not None
    assert fit.end is end
    assert facts.metres.value == pytest.approx(metres, rel=0.01)
    assert fit.z0.value == pytest.approx(z0, rel=0.01)
    at = {hz: db for hz, db, _ in fit.loss}
    assert at[5e7] == pytest.approx((row.k1 * 50**0.5 + row.k2 * 50) * metres / 100, rel=0.03)
    assert not any(v.startswith("!!") and "lossier" in v for v in facts.verdicts)


@pytest.mark.parametrize("name", ["open_40-200MHz", "open_50-100MHz", "shorted_40-200MHz"])
def test_the_measured_cable(name: str) -> None:
    """../shared/measured/coax/SOURCE: 49.92 ohm, 30.40 ns one way, 0.27-0.30 dB one way at 100 MHz (shorted: 0.317)."""
    path = MEASURED / f"long_cable_{name}.s1p"
    if not path.exists():
        pytest.skip(f"{path.name} of the measured coax is not beside this checkout")
    facts = cable_facts(read_file(path), Wish())
    assert facts.fit is not None
    assert facts.fit.delay.value == pytest.approx(30.40e-9, rel=0.01)
    assert facts.fit.z0.value == pytest.approx(49.92, rel=0.01)
    assert facts.fit.end is (End.SHORT if "short" in name else End.OPEN)
    (loss,) = [db for hz, db, _ in facts.fit.loss if hz == 1e8]
    assert 0.27 < loss < (0.32 if "short" in name else 0.30)
    raw = read_file(path).traces[0]
    near = np.abs(np.asarray(raw.f) - 1e8) < 8.3e6  # one whole ripple: the plain mean of the reading itself
    assert loss == pytest.approx(-0.5 * np.asarray(raw.db)[near].mean(), rel=0.01)


def test_a_cut_cable_is_found_at_its_distance_and_a_bad_joint_before_the_end() -> None:
    f = np.linspace(2e6, 300e6, 401)
    m = media(f, "RG-58")
    bad = m.line(7.0, "m") ** m.resistor(20.0) ** m.line(9.0, "m") ** m.open()
    facts = cable_facts(as_reading(f, {What.S11: bad.s[:, 0, 0]}), Wish("RG-58", metres=25.0))
    inner, end = (e for e in facts.echoes)
    assert inner.metres == pytest.approx(7.0, abs=0.1) and not inner.end
    assert inner.reflection == pytest.approx(20.0 / 120.0, rel=0.2)
    assert end.metres == pytest.approx(16.0, rel=0.01) and end.end
    assert any("16.0" in v and "25.00 m" in v and v.startswith("!!") for v in facts.verdicts)


def test_water_in_the_coax_is_more_loss_than_its_type_has() -> None:
    f = np.linspace(1e6, 100e6, 201)
    row = cable_type("RG-58")
    wet = Line(50.0, 10.0 / (C0 * row.velocity_factor), 0.2 * row.k1, 0.1 * row.k2)
    g = reflection(f, wet, np.zeros(len(f), complex))
    facts = cable_facts(as_reading(f, {What.S11: g}), Wish("RG-58"))
    assert facts.verdicts[0].startswith("!! lossier than its type")
    assert verdicts_of(facts, None, False) == facts.verdicts


def test_a_sweep_too_short_says_by_how_much() -> None:
    f = np.linspace(1e6, 5e6, 201)
    with pytest.raises(ReadingError) as error:
        cable_facts(as_reading(f, {What.S11: swept(f, "RG-58", 1.0, 1.0, noise=1e-5)}), Wish("RG-58"))
    text = str(error.value)
    assert "0.04" in text and "of a turn" in text  # 2 x 5.05 ns x 4 MHz
    need = float(text.rsplit("about ", 1)[1].split(" MHz")[0])
    assert need == pytest.approx(1 + 0.25 / (2 * 5.054e-3), rel=0.05)
    again = np.linspace(1e6, 1.3 * need * 1e6, 201)
    facts = cable_facts(as_reading(again, {What.S11: swept(again, "RG-58", 1.0, 1.0, noise=1e-5)}), Wish("RG-58"))
    assert facts.metres is not None and facts.metres.value == pytest.approx(1.0, rel=0.02)


def test_a_matched_end_is_no_length() -> None:
    f = np.linspace(1e6, 100e6, 201)
    facts = cable_facts(as_reading(f, {What.S11: swept(f, "RG-58", 10.0, 0.0)}), Wish("RG-58"))
    assert facts.electrical_metres is None and "matched" in facts.cannot[0]


def test_through_a_cable() -> None:
    f = np.linspace(1e6, 60e6, 201)
    line = media(f, "RG-174", 50.0).line(6.0, "m")
    both = {What.S21: line.s[:, 1, 0], What.S11: line.s[:, 0, 0] + 1e-4}
    facts = cable_facts(as_reading(f, both), Wish("RG-174"))
    assert facts.metres is not None and facts.metres.value == pytest.approx(6.0, rel=0.01)
    noisy = line.s[:, 1, 0] * 10 ** (0.02 / 20 * np.random.default_rng(3).standard_normal(len(f)))
    alone = cable_facts(as_reading(f, {What.S21: noisy}, phase=False), Wish("RG-174", metres=6.0))
    assert alone.electrical_metres is None and any("length" in c for c in alone.cannot)
    assert alone.table is not None
    for _, measured, _, listed in alone.table.rows:
        assert measured == pytest.approx(listed, rel=0.05)  # mismatch at the low end is not told from loss


def test_a_ripple_shows_the_length_without_phase() -> None:
    f = np.linspace(1e6, 200e6, 401)
    g = swept(f, "RG-58", 12.0, 1.0, z0=53.0, noise=1e-4)
    facts = cable_facts(as_reading(f, {What.S11: g}, phase=False), Wish("RG-58"))
    assert facts.metres is not None and facts.metres.value == pytest.approx(12.0, rel=0.01)


def test_a_piece_that_hangs_across_the_line() -> None:
    """Quarter wave l = 74.948 VF/f, row C23 of the published figures: 7.1 MHz, VF 0.66 is 6.967 m."""
    f = np.linspace(1e6, 40e6, 801)
    gamma = 1e-3 + 2j * np.pi * f / (C0 * 0.66)
    m = skrf.media.DefinedGammaZ0(skrf.Frequency.from_f(f, unit="hz"), z0=50.0, gamma=gamma)
    hung = m.shunt(m.line(6.967, "m") ** m.open())
    facts = cable_facts(as_reading(f, {What.S21: hung.s[:, 1, 0]}, phase=False), Wish("RG-213", way="across"))
    assert facts.stub[0][0] is End.OPEN and len(facts.stub) == 1
    assert facts.stub[0][1] == pytest.approx(7.1e6, rel=2e-3)
    assert facts.metres is not None and facts.metres.value == pytest.approx(6.967, rel=5e-3)
    one = f < 12e6
    both = stub_of("x", f[one], 20 * np.log10(np.abs(hung.s[one, 1, 0])), None)
    assert {e for e, _, _ in both} == {End.OPEN, End.SHORT}
    with pytest.raises(ReadingError, match="no dip of 6 dB"):
        stub_of("x", f, np.zeros(len(f)), None)


def test_an_echo_has_its_height_and_place_in_time() -> None:
    """Law: an ideal echo r exp(-j w t) is a peak of height |r| at t, whatever the span."""
    for low, high in ((0.0, 100e6), (40e6, 200e6)):
        f = np.linspace(low, high, 301)
        t, h = in_time(f, 0.37 * np.exp(-2j * np.pi * f * 61.3e-9))
        (at, height), *_ = peaks(t, h, 1.0 / (high - low), 0.05)
        assert at == pytest.approx(61.3e-9, abs=2e-11)
        assert abs(height) == pytest.approx(0.37, rel=1e-2)


def test_coax_of_a_unit() -> None:
    """A 180 mm jumper of RG-316 is a quarter wave at c 0.695/(4 x 0.18 m); hanging open it is a few pF."""
    unit = read_unit(EXAMPLE.read_text("utf-8"), EXAMPLE.name)
    first = stub_effects(unit)[0]
    assert first.quarter == pytest.approx(C0 * 0.695 / (4 * 0.18), rel=1e-9)
    farad = 0.18 / (C0 * 0.695) / 50.0
    for effect, band in zip(first.bands, unit.bands, strict=True):
        wanted = 10 * np.log10(1 + (0.5 * 50 * 2 * np.pi * band.high * farad) ** 2)
        assert effect.open_db == pytest.approx(wanted, abs=5e-3)
    assert "does not show" in first.text


def test_a_coax_by_its_dimensions() -> None:
    """Degenerate and law: air is 1; four times the permittivity halves the impedance; 50 ohm of air is 2.3025 to 1."""
    assert velocity_factor(1.0) == 1.0
    assert impedance(7.0, 2.0, 4.0) == pytest.approx(0.5 * impedance(7.0, 2.0, 1.0))
    assert impedance(2.3025, 1.0, 1.0) == pytest.approx(50.0, rel=1e-3)
    for wrong in (lambda: velocity_factor(0.9), lambda: impedance(2.0, 2.0, 1.0)):
        with pytest.raises(ValueError):
            wrong()


def test_the_command_refuses_with_every_mistake(tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_text("Frequency (MHz),S11 (dB)\n1,-1\n2,-1\n", "utf-8")
    done = CliRunner().invoke(main, ["cable", str(path), "--type", "RG-999", "--velocity-factor", "3"])
    assert done.exit_code == 2 and "2 mistakes" in done.stderr and "RG-58" in done.stderr
    done = CliRunner().invoke(main, ["cable", str(path)])
    assert done.exit_code == 2 and "2 points" in done.stderr
