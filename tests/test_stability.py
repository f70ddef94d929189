"""Stability: published worked transistors, laws, and the path that a stage works into."""

from __future__ import annotations

import cmath
import tomllib
from pathlib import Path

import numpy as np
import pytest

from halfsplit import amplifier
from halfsplit.jobs import steady
from halfsplit.unit import read_unit

ROOT = Path(__file__).parents[1]
LARKFELL = ROOT / "examples" / "larkfell-tarn-40.toml"


def polar(text: str) -> complex:
    magnitude, degrees = text.split(" /")
    return cmath.rect(float(magnitude), np.radians(float(degrees)))


def two_port(s11: str, s12: str, s21: str, s22: str) -> np.ndarray:
    return np.array([[polar(s11), polar(s12)], [polar(s21), polar(s22)]])


# source: Pozar, Microwave Engineering, amplifier chapter, HFET-102 at 2 GHz (S, K, delta seen in a companion text;
# circles from memory); the same, 4th ed., examples 12.2 and 12.3 (from memory); Gonzalez, Microwave Transistor
# Amplifiers, example 11.3 of a companion (S seen); Bowick, RF Circuit Design, chapter 6 (from memory)
HFET = two_port("0.894 /-60.6", "0.020 /62.4", "3.122 /123.6", "0.781 /-27.6")
GAN = two_port("0.869 /-159", "0.031 /-9", "4.250 /61", "0.507 /-117")
FOUR = two_port("0.72 /-116", "0.03 /57", "2.60 /76", "0.73 /-54")
GONZALEZ = two_port("0.614 /-167.4", "0.046 /65", "2.187 /32.4", "0.716 /-83")
BOWICK = two_port("0.4 /162", "0.04 /60", "5.2 /63", "0.35 /-39")


@pytest.mark.parametrize(
    ("s", "d", "k", "tolerance"),
    [
        (HFET, 0.6964, 0.6071, 6e-5), (GAN, 0.336, 0.383, 6e-4), (FOUR, 0.488, 1.195, 6e-4),
        (GONZALEZ, 0.342, 1.13, 6e-4), (BOWICK, 0.068, 1.74, 5e-3),
    ],
)  # fmt: skip
def test_k_and_delta_of_worked_transistors(s: np.ndarray, d: float, k: float, tolerance: float) -> None:
    assert abs(amplifier.delta(s)) == pytest.approx(d, abs=tolerance)
    assert float(amplifier.k_factor(s)) == pytest.approx(k, abs=tolerance)


@pytest.mark.parametrize(
    ("s", "load", "source"),
    [(HFET, (1.363, 46.7, 0.50), (1.132, 68.5, 0.199)), (GAN, (1.59, None, 0.915), (1.09, None, 0.205))],
)
def test_circles_of_worked_transistors(s: np.ndarray, load: tuple[float, ...], source: tuple[float, ...]) -> None:
    for circle, (c, degrees, r) in ((amplifier.load_circle(s), load), (amplifier.source_circle(s), source)):
        assert abs(circle.centre) == pytest.approx(c, abs=0.006)
        assert float(circle.radius) == pytest.approx(r, abs=0.001)
        if degrees is not None:
            assert np.degrees(np.angle(circle.centre)) == pytest.approx(degrees, abs=0.06)
        assert not circle.stable_inside


def test_mu_of_the_worked_transistor() -> None:
    # source: Edwards & Sinsky 1992; the figure 0.86 for this transistor is from memory
    assert float(amplifier.mu_load(HFET)) == pytest.approx(0.8628, abs=5e-4)
    circle = amplifier.load_circle(HFET)
    assert float(amplifier.mu_load(HFET)) == pytest.approx(abs(circle.centre) - float(circle.radius), abs=1e-9)
    assert float(amplifier.mu_load(GONZALEZ)) == pytest.approx(1.026, abs=6e-4)


@pytest.mark.parametrize(("s", "db", "tolerance"), [(FOUR, 16.7, 0.05), (GONZALEZ, 14.58, 0.006), (BOWICK, 16.1, 0.06)])
def test_maximum_gain_of_worked_transistors(s: np.ndarray, db: float, tolerance: float) -> None:
    assert float(amplifier.maximum_gain_db(s)) == pytest.approx(db, abs=tolerance)


def some_two_ports(n: int, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    s = (rng.normal(size=(n, 2, 2)) + 1j * rng.normal(size=(n, 2, 2))) * np.array([[0.4, 0.1], [2.0, 0.4]])
    return np.asarray(s)


def test_the_margin_is_the_distance_to_the_circle_and_its_sign_is_that_of_the_input() -> None:
    s = some_two_ports(400, 1)
    g = 0.9 * np.exp(1j * np.linspace(0, 40, 400)) * np.linspace(0, 1, 400)
    margin = amplifier.load_margin(s, g)
    circle = amplifier.load_circle(s)
    assert np.allclose(abs(margin), abs(abs(g - circle.centre) - circle.radius), rtol=1e-8, atol=1e-10)
    assert ((margin > 0) == (abs(amplifier.gamma_in(s, g)) < 1)).all()
    assert (margin < 0).any()


def test_k_and_mu_say_the_same_and_mu_is_found_by_trying_loads() -> None:
    s = some_two_ports(300, 2)
    stable = (amplifier.k_factor(s) > 1) & (abs(amplifier.delta(s)) < 1)
    assert ((amplifier.mu_load(s) > 1) == stable).all()
    assert ((amplifier.mu_source(s) > 1) == stable).all()
    assert stable.any() and not stable.all()
    ring = np.exp(1j * np.linspace(0, 2 * np.pi, 721))
    for one in s[:40]:
        mu = float(amplifier.mu_load(one))
        if 0.05 < mu < 1:
            assert (abs(amplifier.gamma_in(one, 0.999 * mu * ring)) < 1).all()
            assert (abs(amplifier.gamma_in(one, (mu + 2e-3) * ring)) > 1).any()


def test_degenerate_two_ports() -> None:
    one_way = np.array([[0.5, 0.0], [3.0, 0.0]])
    assert float(amplifier.k_factor(one_way)) == np.inf
    assert float(amplifier.load_margin(one_way, 0.9)) == np.inf
    assert float(amplifier.maximum_gain_db(one_way)) == np.inf
    # |S22| = |delta|: the "circle" is a straight line, whose distance is found by trying
    line = np.array([[0.5, 0.3], [2.0, 0.4]])
    assert abs(amplifier.delta(line)) == pytest.approx(0.4)
    x, y = np.meshgrid(np.linspace(-1, 1, 801), np.linspace(-1, 1, 801))
    bad = (x + 1j * y)[abs(amplifier.gamma_in(line, x + 1j * y)) >= 1]
    assert float(amplifier.load_margin(line, 0.1j)) == pytest.approx(abs(bad - 0.1j).min(), abs=4e-3)


def test_branches_around_a_device() -> None:
    nothing = amplifier.with_branches(HFET[None], [])
    assert np.allclose(nothing, HFET)
    huge = amplifier.with_branches(HFET[None], [("in", "gate", np.array([1e9 + 0j]))])
    assert np.allclose(huge[0], HFET, atol=1e-6)
    # a resistor in series with the gate of a transistor that may oscillate makes it safe: the cure of every textbook
    safe = amplifier.with_branches(HFET[None], [("in", "gate", np.array([1 / 30 + 0j]))])
    assert float(amplifier.k_factor(safe)[0]) > 1.0 > float(amplifier.k_factor(HFET))
    # two resistors in series through a node of their own are one resistor of the sum
    two = [("out", "x", np.array([1 / 100 + 0j])), ("x", "in", np.array([1 / 200 + 0j]))]
    one = [("out", "in", np.array([1 / 300 + 0j]))]
    assert np.allclose(amplifier.with_branches(HFET[None], two), amplifier.with_branches(HFET[None], one))
    # a common-source inductance: against series feedback of impedance matrices, Z = Z_device + Z_e in all four places
    ze = 3 + 7j
    y = np.linalg.inv(np.linalg.inv(steady.s_to_y(HFET[None], 50.0)) + ze)
    got = amplifier.with_branches(HFET[None], [("source", "ground", np.array([1 / ze]))])
    assert np.allclose(got, steady.y_to_s(y, 50.0))


def written(path: Path, s: np.ndarray, f: np.ndarray) -> Path:
    rows = ["# MHz S RI R 50"]
    for hz, m in zip(f, s, strict=True):
        cells = [m[0, 0], m[1, 0], m[0, 1], m[1, 1]]
        rows.append(f"{hz / 1e6:.6g} " + " ".join(f"{c.real:.6f} {c.imag:.6f}" for c in cells))
    path.write_text("\n".join(rows) + "\n", "utf-8")
    return path


def test_a_stage_in_its_path(tmp_path: Path) -> None:
    f = np.linspace(1e6, 200e6, 400)
    device = written(tmp_path / "final.s2p", np.repeat(HFET[None], 400, axis=0), f)
    found = steady.stability(LARKFELL, device, longest=2.0)
    assert found.cable == "W1" and len(found.drawn) == 5
    for own, worst, (_, any_length, _) in zip(found.drawn, found.worst, found.turned, strict=True):
        assert worst.margin <= own.margin
        assert own.length == pytest.approx(0.18)
        # no length turns the path to worse than any phase at all, within what the line itself loses or gains
        assert worst.margin >= any_length - 0.05
        g = (own.load - 50) / (own.load + 50)
        assert float(amplifier.load_margin(HFET, g)) == pytest.approx(own.margin, abs=1e-5)
    assert min(w.margin for w in found.worst) < 0  # K is 0.6 and a filter reflects all out of band


def test_parts_of_the_manual_are_taken_into_account(tmp_path: Path) -> None:
    text = LARKFELL.read_text("utf-8").replace(
        'output_impedance = "50 ohm"',
        'output_impedance = "50 ohm"\nbranches = [ { part = "R41", from = "in", to = "base", value = "30 ohm" } ]',
    )
    unit = tmp_path / "u.toml"
    unit.write_text(text, "utf-8")
    device = written(tmp_path / "final.s2p", np.repeat(HFET[None], 50, axis=0), np.linspace(1e6, 200e6, 50))
    bare, damped = steady.stability(LARKFELL, device, "40 m"), steady.stability(unit, device, "40 m")
    assert damped.branches == ("R41",) and bare.branches == ()
    assert damped.worst[0].margin > 0 > bare.worst[0].margin
    assert any("straight lines" in w for w in bare.warnings)


def test_mistakes_are_all_said(tmp_path: Path) -> None:
    device = written(tmp_path / "final.s2p", HFET[None].repeat(2, 0), np.array([1e9, 2e9]))
    with pytest.raises(steady.HookupError) as error:
        steady.stability(LARKFELL, device, "2 m", "DRIVER", "W9")
    assert len(error.value.mistakes) == 3
    with pytest.raises(steady.ReadingError, match="1000 to 2000 MHz"):
        steady.stability(LARKFELL, device)


BAD = """
[stage.FINAL]
branches = [
  { part = "R1", from = "in", to = "base", value = "1 ohm" }, { part = "R2", from = "gate", to = "x", value = "1 ohm" },
  { part = "R3", from = "collector", to = "ground", value = "1 ohm" },
]
"""


def test_branches_that_do_not_hang_together_are_refused() -> None:
    text = LARKFELL.read_text("utf-8")
    head, tail = text.split("[stage.FINAL]")
    with pytest.raises(Exception, match='only R2 meets node "x"') as error:
        read_unit(head + BAD.lstrip() + "\n[cable.W1]" + tail.split("[cable.W1]")[1], "u")
    assert "one name for this terminal" in str(error.value)
    assert 'nothing meets "out"' in str(error.value)


def test_the_worked_transistors_are_those_of_the_reference_table() -> None:
    table = ROOT.parent / "shared" / "reference" / "6_amplifier.toml"
    if not table.exists():
        pytest.skip(f"{table.name} is not here")
    rows = {r["id"]: r for r in tomllib.loads(table.read_text("utf-8"))["check"]}
    for key, s in (("A30", HFET), ("A33", GAN), ("A34", FOUR), ("A35", GONZALEZ), ("A36", BOWICK)):
        if "inputs" in rows[key]:
            i = rows[key]["inputs"]
            assert np.allclose(s, two_port(i["S11"], i["S12"], i["S21"], i["S22"]))
