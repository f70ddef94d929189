"""Coils: formulas against rings and tables, turns and bends there and back, ring cores, the command.

The published figures (Nagaoka's table, Wheeler, Lundin, a coil in print that is wrong) are in tests/published.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from halfsplit.cli import main
from halfsplit.errors import InputError
from halfsplit.jobs.coil import CoilWish, coil
from halfsplit.jobs.own_tables import read_cores
from halfsplit.parts import core
from halfsplit.parts.air_coils import (
    AirCoil,
    CoilError,
    Move,
    adjustment,
    length_for,
    shortest,
    turns_at_length,
    turns_at_pitch,
)
from halfsplit.parts.ring_cores import flux, flux_guideline, ring_cores, turns_for, wound
from halfsplit.parts.tables import table_rows
from halfsplit.parts.windings import (
    air_q,
    between_rings,
    current_sheet,
    lundin,
    nagaoka,
    neighbours,
    ring_matrix,
    round_wire,
    self_capacitance,
    skin_depth,
    skin_ohms,
    wheeler_1928,
    wheeler_1982,
    with_shorted_turn,
)

ROOT = Path(__file__).parents[1]
LARKFELL = str(ROOT / "examples" / "larkfell-tarn-40.toml")


@pytest.mark.parametrize("turns", [1, 2, 3, 5, 10, 30])
@pytest.mark.parametrize(("diameter", "pitch", "wire", "within"), [
    (20e-3, 2.0e-3, 1.0e-3, 0.002), (10e-3, 1.1e-3, 1.0e-3, 0.003), (30e-3, 1.5e-3, 1.0e-3, 0.001),
    (10e-3, 3.0e-3, 0.5e-3, 0.011), (10e-3, 5.0e-3, 1.0e-3, 0.031),
])  # fmt: skip
def test_round_wire_agrees_with_the_sum_over_rings(
    turns: int, diameter: float, pitch: float, wire: float, within: float
) -> None:
    """Two routes: current sheet with Rosa's corrections; every turn a ring, Maxwell's mutual inductances summed."""
    rings = sum(map(sum, ring_matrix(diameter, pitch, turns, wire)))
    assert round_wire(diameter, turns * pitch, turns, wire) == pytest.approx(rings, rel=within)


def test_corrections_have_the_values_of_the_old_tables() -> None:
    """Rosa 1906, table of B (from memory): 0 for one turn, 0.114 for two, 0.266 for ten, 0.336 at the end."""
    assert [round(neighbours(n), 3) for n in (1, 2, 10)] == [0.0, 0.114, 0.266]
    assert neighbours(2000) == pytest.approx(math.log(2 * math.pi) - 1.5, abs=1e-3)
    assert neighbours(2.5) == pytest.approx((neighbours(2) + neighbours(3)) / 2)


def test_formulas_stay_within_what_they_claim() -> None:
    for ratio in (0.05, 0.1, 0.3, 1.0, 2.4, 5.0, 10.0):
        exact = current_sheet(1.0, 1.0 / ratio, 10.0)
        assert lundin(1.0, 1.0 / ratio, 10.0) == pytest.approx(exact, rel=3e-6)
        assert wheeler_1982(1.0, 1.0 / ratio, 10.0) == pytest.approx(exact, rel=1e-3)
        if ratio < 2.5:
            assert wheeler_1928(1.0, 1.0 / ratio, 10.0) == pytest.approx(exact, rel=1e-2)


def test_a_long_coil_is_the_textbook_solenoid_and_rings_far_apart_are_dipoles() -> None:
    assert nagaoka(1e-4) == pytest.approx(1.0, abs=1e-4)
    far = between_rings(0.02, 0.03, 2.0)
    assert far == pytest.approx(4e-7 * math.pi * math.pi * 0.01**2 * 0.015**2 / (2 * 2.0**3), rel=1e-3)


def test_a_turn_shorted_in_the_middle_costs_more_than_at_the_end() -> None:
    shares = [with_shorted_turn(0.02, 0.002, 10, 0.001, k) for k in range(10)]
    assert shares == pytest.approx(shares[::-1])
    assert 0.5 < shares[4] < shares[0] < 0.8


def test_skin_and_its_resistance() -> None:
    """Known figure: 1 mm copper at 10 MHz has about 0.26 ohm per metre (R = rho / (pi d delta), by hand)."""
    by_hand = 1.724e-8 / (math.pi * 1e-3 * skin_depth(10e6))
    assert skin_ohms(1.0, 1e-3, 10e6) == pytest.approx(by_hand, rel=0.03)
    assert skin_ohms(1.0, 1e-3, 1e3) == pytest.approx(1.724e-8 / (math.pi * 0.25e-6), rel=1e-9)  # all of the wire


def test_estimates_lie_where_such_coils_lie() -> None:
    """Common practice (row P22): an air coil at HF has a Q of 150 to 400 and a picofarad or less for each 2 cm."""
    assert 150 < air_q(20e-3, 20e-3, 7e6) < 400
    assert 0.3e-12 < self_capacitance(20e-3, 20e-3) < 1.5e-12
    made = AirCoil(10e-3, 15e-3, 10, 1e-3)
    assert made.q(10e6) <= made.q_of_skin(10e6)
    assert 1 / (2 * math.pi * math.sqrt(made.henry * made.farad)) == made.resonance


COILS = st.tuples(
    st.floats(5e-3, 40e-3), st.integers(2, 40), st.floats(0.02, 0.2), st.floats(1.1, 3.0)
).map(lambda x: AirCoil(x[0], x[1] * x[2] * x[0] * min(x[3], 0.49 / x[2]), x[1], x[2] * x[0] * 0.95))  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(COILS)
def test_length_and_turns_lead_back_to_the_coil(made: AirCoil) -> None:
    if made.length >= shortest(made.turns, made.wire):
        assert length_for(made.henry, made.diameter, made.turns, made.wire) == pytest.approx(made.length, rel=1e-6)
    assert turns_at_length(made.henry, made.diameter, made.wire, made.length) == pytest.approx(made.turns, rel=1e-6)
    assert turns_at_pitch(made.henry, made.diameter, made.wire, made.pitch) == pytest.approx(made.turns, rel=1e-6)


@settings(max_examples=60, deadline=None)
@given(COILS, st.floats(0.5, 2.0), st.floats(0.8, 1.2))
def test_a_bent_coil_has_what_was_wanted(made: AirCoil, times: float, measured: float) -> None:
    """Law: whatever the advice, the coil made to it has the wanted value by the formula scaled to the measurement."""
    present = made.henry * measured
    try:
        found = adjustment(made, times * present, present)
    except CoilError:
        return
    after = found.coil.henry * measured
    assert after == pytest.approx(times * present, rel=0.006 if found.move is Move.LEAVE else 1e-5)
    if found.turns == 0 and found.move is not Move.LEAVE:
        assert (found.move is Move.SQUEEZE) == (times > 1.0) == (found.by < 0)
    if found.turns:
        assert (found.turns > 0) == (times > 1.0)


def test_a_coil_is_rather_unwound_than_stretched_to_rags() -> None:
    made = AirCoil(13e-3, 12e-3, 10, 1e-3)
    small = adjustment(made, 0.9 * made.henry)
    large = adjustment(made, 0.6 * made.henry)
    assert (small.move, small.turns) == (Move.STRETCH, 0)
    assert large.move is Move.REMOVE and large.turns <= -1
    assert large.length <= 1.6 * made.length


@pytest.mark.parametrize(("size", "says"), [
    ((9e-3, 14e-3, 9, 2e-3), "18 mm or more"), ((9e-3, 100e-3, 9, 1e-3), "up to 4.5 mm"),
    ((9e-3, 14e-3, 0.5, 1e-3), "one turn or more"), ((9e-3, 14e-3, 1, 4e-3), "wire up to 3.06 mm"),
    ((-1.0, 14e-3, 9, 1e-3), "more than zero"), ((9e-3, float("nan"), 9, 1e-3), "more than zero"),
])  # fmt: skip
def test_a_coil_that_cannot_be_is_refused_with_the_figure_that_misses(
    size: tuple[float, float, float, float], says: str
) -> None:
    with pytest.raises(CoilError, match=says):
        AirCoil(*size)


def test_a_value_out_of_reach_is_refused_with_what_is_in_reach() -> None:
    with pytest.raises(CoilError, match=r"at most 0\.803. uH \(touching turns\): more turns"):
        length_for(1.17e-6, 9e-3, 15, 1e-3)
    with pytest.raises(CoilError, match=r"at least .*: fewer turns"):
        length_for(0.01e-6, 9e-3, 15, 1e-3)
    with pytest.raises(CoilError, match="touching turns"):
        turns_at_length(1.0, 9e-3, 1e-3, 20e-3)
    with pytest.raises(CoilError, match="that of one turn"):
        turns_at_pitch(1e-12, 9e-3, 1e-3, 1.1e-3)
    with pytest.raises(CoilError, match="that of one turn"):
        wound(ring_cores()["T200-2"], 1e-9)


def test_ring_cores_by_their_rule() -> None:
    for name, chosen in ring_cores().items():
        assert chosen.al == core(name).al
        found = wound(chosen, 4e-6, 0.5e-3)
        assert abs(found.turns - turns_for(4e-6, chosen.al)) <= 1.0
        assert found.henry == pytest.approx(chosen.al * found.turns**2)
        assert found.low < found.henry < found.high
        assert chosen.outer is None or chosen.inner is None or chosen.outer > chosen.inner
        fewer, more = (abs(chosen.al * n**2 / 4e-6 - 1) for n in (found.turns - 1, found.turns + 1))
        assert abs(found.off) <= min(fewer, more)


@pytest.mark.parametrize("name", ["core_sizes.toml", "core_flux.toml", "dielectrics.toml"])
def test_every_row_names_its_source(name: str) -> None:
    rows = table_rows(name)
    assert len(rows) >= 5
    assert all(len(str(row["source"])) > 10 for row in rows)


def test_flux_of_the_suppliers_example() -> None:
    """25 V, 0.133 cm2, 15 turns, 7 MHz: 40.3 gauss, against 57 (the example at studylib.net/doc/18707914)."""
    assert 1e4 * flux(25.0, 7e6, 15, 0.133e-4) == pytest.approx(40.3, abs=0.05)
    assert flux_guideline(7e6) == pytest.approx(57e-4)
    assert flux_guideline(50e6) is None


def test_turns_that_do_not_fit_are_said() -> None:
    tight = wound(ring_cores()["T37-6"], 20e-6, 1e-3)
    assert tight.fits is False and tight.most_turns is not None and tight.most_turns < tight.turns
    assert wound(ring_cores()["T37-6"], 1e-6).fits is None


def test_every_mistake_of_the_verb_at_once() -> None:
    with pytest.raises(InputError) as caught:
        coil(CoilWish(form=8e-3, diameter=9e-3, length=1e-2, pitch=1e-3, measured=1e-6))
    assert [m.where for m in caught.value.mistakes] == ["--wire", "--diameter", "--pitch", "--value", "--measured"]
    with pytest.raises(InputError, match="no core"):
        coil(CoilWish(henry=1e-6, core="T50-99"))
    with pytest.raises(InputError, match="whole turns"):
        coil(CoilWish(henry=1e-6, core="T50-6", turns=9.5))
    with pytest.raises(InputError, match="no coil 'C42'"):
        coil(CoilWish(source=Path(LARKFELL), part="C42"))


def run(*words: str, status: int = 0) -> str:
    done = CliRunner().invoke(main, ["coil", *words])
    assert done.exit_code == status, done.output
    return done.output


def test_the_command_says_which_way_and_how_far() -> None:
    have = ["--form", "12 mm", "--wire", "1 mm", "--turns", "10", "--length", "15 mm"]
    assert "744.8 nH +-" in run(*have)
    assert "Stretch it from 15.0 mm to 19.7 mm (+4.7 mm)" in run(*have, "--value", "0.6 uH", "--measured", "0.72 uH")
    assert "Squeeze it" in run(*have, "--value", "0.75 uH", "--measured", "0.7 uH")
    assert "Add 1 turn (11 in all)" in run(*have, "--value", "1 uH", "--measured", "0.72 uH")
    assert "Leave it" in run(*have, "--value", "0.72 uH", "--measured", "0.721 uH")
    assert "0.81" in run("--value", "0.5 uH", "--form", "8 mm", "--wire", "AWG 20")  # 0.812 mm, ASTM B258


def test_the_command_for_ring_cores() -> None:
    text = run("--of", LARKFELL, "--part", "L42", "--core", "T68-6", "--turns", "17", "--measured", "1.25 uH")
    assert "Take off 1 turn" in text and "bunch" in text
    found = json.loads(run("--of", LARKFELL, "--part", "L42", "--core", "any", "--volts", "150 V", "--json"))
    assert found["wanted_h"] == pytest.approx(1.16e-6) and len(found["cores"]) > 20
    hot = [c["tesla"] > c["guideline_tesla"] for c in found["cores"] if c["tesla"] is not None]
    assert hot == sorted(hot)  # cool ones first


def test_own_cores_in_both_forms(tmp_path: Path) -> None:
    toml, table = tmp_path / "cores.toml", tmp_path / "cores.csv"
    toml.write_text('[[core]]\nname = "Z1"\nal = "5 nH"\nouter = "13 mm"\ninner = "8 mm"\nheight = "5 mm"\n', "utf-8")
    table.write_text("# from the drawer\nname;al;outer;inner;height\nZ1;5 nH;13 mm;8 mm;5 mm\n", "utf-8")
    assert read_cores(toml)[0].al == read_cores(table)[0].al == pytest.approx(5e-9)
    assert "Z1" in run("--value", "1 uH", "--core", "Z1", "--cores", str(toml))
    toml.write_text('[[core]]\nname = "Z1"\nall = "5 nH"\n[[core]]\nal = "5 pF"\nouter="1 mm"\ninner="2 mm"\n', "utf-8")
    with pytest.raises(InputError) as caught:
        read_cores(toml)
    assert len(caught.value.mistakes) == 5  # unknown key, al missing, name missing, no inductance, inner above outer
    assert all(m.line for m in caught.value.mistakes)
