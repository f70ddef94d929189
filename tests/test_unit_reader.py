"""What the reader of the unit file makes of correct files."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from halfsplit import unit
from halfsplit.errors import UnitError
from halfsplit.parts import Kind, cable_type

EXAMPLES = sorted((Path(__file__).parents[1] / "examples").glob("*.toml"))

BASE = """
[unit]
name = "Bench"
rated_power = "40 W"
supply = "13.8 V"

[[band]]
name = "40 m"
range = ["7.0 MHz", "7.3 MHz"]
filter = "F1"

[[band]]
name = "20 m"
range = ["14.0 MHz", "14.35 MHz"]
filter = "F2"

[path]
order = ["FINAL", "TP1", "W1", "BUS", "filter", "TP2", "K3", "J1"]
points = ["BUS"]

[stage.FINAL]
gain = "17 dB"

[cable.W1]
type = "RG-316"
length = "180 mm"

[relay.K3]
contact_resistance = "50 mohm"

[filter.F1]
input = "K11"
output = "K21"
ladder = [
  { shunt = "C11", value = "430 pF", tolerance = "2 %", dielectric = "mica", ground = "E1", rating = "500 V" },
  { series = "L11", value = "1.1 uH", q = 150, adjustable = true, across = { part = "C12", value = "47 pF" } },
  { shunt = "C13", value = "4n7", lead = "4 nH", with = { part = "L12", value = "15 turns T50-2" } },
]

[filter.F2]
input = "K12"
output = "K22"
ladder = [{ series = "L21", value = "0.56 uH" }]

[limits]
loss = "0.6 dB"
attenuation = { "3" = "50 dB", "2" = "40 dB" }
second_harmonic = "-46 dBc"
"""


def read(text: str = BASE) -> unit.Unit:
    return unit.read_unit(text, "bench.toml")


def test_a_plain_file_becomes_si_records() -> None:
    found = read()
    assert (found.name, found.rated_watts, found.supply_volts, found.impedance) == ("Bench", 40.0, 13.8, 50.0)
    assert found.source == "bench.toml"
    assert found.text == BASE
    assert found.path.points == ("TP1", "BUS", "TP2", "J1")
    shunt, trap, shunt_trap = found.filter("F1").rungs
    c11 = shunt.parts[0]
    assert (c11.kind, c11.value, c11.tolerance, c11.dielectric) == (Kind.CAPACITOR, 560e-12 * 43 / 56, 0.02, "mica")
    assert (shunt.ground, c11.rating, c11.stated) == ("E1", "500 V", "430 pF")
    assert (trap.combined, [p.ref for p in trap.parts]) == ("across", ["L11", "C12"])
    assert (trap.parts[0].value, trap.parts[0].q, trap.parts[0].adjustable) == (1.1e-6, 150.0, True)
    assert shunt_trap.combined == "with"
    assert (shunt_trap.parts[0].value, shunt_trap.parts[0].lead_inductance) == (4.7e-9, 4e-9)
    assert shunt_trap.parts[1].value == pytest.approx(15**2 * 4.9e-9)  # A_L 49 uH per 100 turns
    known = cable_type("RG-316")
    assert found.cables[0].length == 0.18
    assert (found.cables[0].k1, found.cables[0].velocity_factor) == (known.k1, known.velocity_factor)
    assert found.limits == unit.Limits(0.6, None, ((2.0, 40.0), (3.0, 50.0)), (unit.Harmonic(2, -46.0),))
    assert found.stages[0].gain == (("all", 17.0, None),)


def test_relays_of_a_band_follow_from_its_filter_and_the_path() -> None:
    assert read().band("40 m").operated == ("K11", "K21", "K3")
    assert read().band("20 m").operated == ("K12", "K22", "K3")
    assert {r.name for r in read().relays} == {"K3", "K11", "K21", "K12", "K22"}


def test_a_relay_closed_when_released_is_not_operated() -> None:
    text = BASE.replace("[relay.K3]", '[relay.K3]\nclosed_when = "released"')
    assert read(text).band("40 m").operated == ("K11", "K21")


def test_contacts_give_what_a_relay_does_not_state() -> None:
    text = BASE + '\n[contacts]\ncontact_resistance = "20 mohm"\nopen_capacitance = "1.2 pF"\n'
    relays = {r.name: r for r in read(text).relays}
    assert (relays["K3"].contact_ohm, relays["K3"].open_capacitance) == (0.05, 1.2e-12)
    assert relays["K11"].contact_ohm == 0.02
    assert {r.contact_ohm for r in read().relays} == {0.05, None}


def test_explicit_relays_and_two_poles_of_one_relay() -> None:
    text = BASE.replace('filter = "F2"', 'filter = "F2"\nrelays = ["K9"]').replace('"K22"', '"K12"')
    found = read(text + '\n[relay.K9]\njoins = ["BUS", "ground"]\n')
    assert found.band("20 m").operated == ("K9", "K12", "K3")


@pytest.mark.parametrize(
    ("loss", "k1", "k2"),
    [
        ('"12 dB/100 m @ 30 MHz"', 12 / 30**0.5, 0.0),
        ('"0.12 dB/m at 30 MHz"', 12 / 30**0.5, 0.0),
        # two routes: figures computed from k1 = 1.3138, k2 = 0.028744 (RG-58 fit) give k1, k2 back
        ('["4.44203 dB/100 m @ 10 MHz", "16.0124 dB/100 m @ 100 MHz"]', 1.3138, 0.028744),
    ],
)
def test_cable_by_its_own_figures(loss: str, k1: float, k2: float) -> None:
    own = f'z0 = "75 ohm"\nvelocity_factor = 0.66\nloss = {loss}'
    cable = read(BASE.replace('type = "RG-316"', own)).cables[0]
    assert (cable.z0, cable.velocity_factor, cable.type) == (75.0, 0.66, "")
    assert [cable.k1, cable.k2] == pytest.approx([k1, k2], rel=1e-4, abs=1e-9)


def test_measured_block_uses_the_given_loader_and_keeps_the_file_name() -> None:
    text = BASE.replace('"K3", "J1"', '"K3", "BR1", "J1"') + '\n[block.BR1]\nmeasured = "bridge.s2p"\n'
    asked: list[str] = []

    def load(name: str) -> tuple[list[float], list[complex], float]:
        asked.append(name)
        return [1e6, 2e6], [0, 1, 1, 0] * 2, 50.0

    block = unit.read_unit(text, "x", load).blocks[0]
    assert asked == ["bridge.s2p"]
    assert block.measured == ((1e6, 2e6), (0, 1, 1, 0) * 2, 50.0)
    assert (block.measured_source, block.input, block.output) == ("bridge.s2p", "in", "out")


def test_gain_by_band() -> None:
    text = BASE.replace('gain = "17 dB"', 'gain = { "40 m" = "17 dB", "20 m" = "-1 dB" }\ngain_tolerance = "2 dB"')
    assert read(text).stages[0].gain == (("40 m", 17.0, 2.0), ("20 m", -1.0, 2.0))


def test_reading_is_repeatable_and_frozen() -> None:
    assert read() == read()
    with pytest.raises(dataclasses.FrozenInstanceError):
        read().name = "other"  # type: ignore[misc]


def test_a_byte_order_mark_is_no_mistake(tmp_path: Path) -> None:
    path = tmp_path / "u.toml"
    path.write_bytes(b"\xef\xbb\xbf" + BASE.encode())
    assert unit.read_unit_file(path).name == "Bench"


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_examples_have_neither_mistakes_nor_warnings(path: Path) -> None:
    found, mistakes, warnings = unit.check_text(path.read_text(encoding="utf-8"), path.name)
    assert (mistakes, warnings) == ((), ())
    assert found is not None
    assert all(part.value for f in found.filters for part in f.parts)


def ladder_db(found: unit.Filter, f: np.ndarray) -> np.ndarray:
    """|S21| in dB in 50 ohm by chain matrices (textbook), ideal parts: a route of its own, not the circuit room."""
    w = 2 * np.pi * f
    chain = np.broadcast_to(np.eye(2, dtype=complex), (len(f), 2, 2))
    for rung in found.rungs:
        z = [1j * w * p.value if p.kind is Kind.COIL else 1 / (1j * w * p.value) for p in rung.parts if p.value]
        one = z[0] if len(z) == 1 else z[0] * z[1] / (z[0] + z[1]) if rung.combined == "across" else z[0] + z[1]
        step = np.zeros_like(chain)
        step[:, 0, 0] = step[:, 1, 1] = 1
        if rung.place == "series":
            step[:, 0, 1] = one
        else:
            step[:, 1, 0] = 1 / one
        chain = chain @ step
    total = chain[:, 0, 0] + chain[:, 0, 1] / 50 + chain[:, 1, 0] * 50 + chain[:, 1, 1]
    return 20 * np.log10(np.abs(2 / total))


@pytest.mark.parametrize("path", EXAMPLES[:2], ids=lambda p: p.stem)
def test_low_pass_filters_of_the_examples_do_their_job(path: Path) -> None:
    found = unit.read_unit_file(path)
    for band in found.bands:
        low_pass = found.filter(band.filter or "")
        served = np.linspace(band.low, band.high, 21)
        assert ladder_db(low_pass, served).min() > -0.2, band.name
        assert ladder_db(low_pass, 2 * served).max() < -40, band.name
        assert ladder_db(low_pass, 3 * served).max() < -44, band.name


def test_the_five_band_example_shares_earth_points_in_two_filters() -> None:
    found = unit.read_unit_file(next(p for p in EXAMPLES if "tarn" in p.stem))
    assert len(found.bands) == 5
    grounds = {f.name: [r.ground for r in f.rungs if r.ground] for f in found.filters}
    assert {name: set(g) for name, g in grounds.items() if len(g) == 2} == {"F3": {"E31"}, "F4": {"E41"}}


def test_the_exciter_example_passes_its_bands_and_stops_below_and_above() -> None:
    found = unit.read_unit_file(next(p for p in EXAMPLES if "exciter" in p.stem))
    for name, low, high in (("BP40", 7.0e6, 7.3e6), ("BP20", 14.0e6, 14.35e6)):
        chosen = found.filter(name)
        assert ladder_db(chosen, np.linspace(low, high, 11)).min() > -0.3
        assert ladder_db(chosen, np.array([low / 2, 2 * high])).max() < -28
    assert ladder_db(found.filter("HP1"), np.array([1.0e6]))[0] < -30
    assert found.band("20 m").positions == (("S1A", "2"), ("S1B", "2"))


def test_a_file_that_is_not_there_says_so(tmp_path: Path) -> None:
    with pytest.raises(UnitError, match="no-such"):
        unit.read_unit_file(tmp_path / "no-such.toml")
