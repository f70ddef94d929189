"""Touchstone: against scikit-rf as reference, and the traps that readers fell into."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import skrf
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from halfsplit.errors import ReadingError
from halfsplit.reading import Reading, What, complex_two_port, read_bytes

ROW = "-20 10 -0.25 -90 -0.30 -90 -21 10"
FACTORS = {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6, "GHz": 1e9}
PLACES = {What.S11: (0, 0), What.S21: (1, 0), What.S12: (0, 1), What.S22: (1, 1)}


def read(text: str, name: str = "a.s2p") -> Reading:
    return read_bytes(name, text.encode())


def random_network(seed: int, ports: int, points: int, z0: float = 50.0) -> skrf.Network:
    rng = np.random.default_rng(seed)
    s = (rng.normal(size=(points, ports, ports)) + 1j * rng.normal(size=(points, ports, ports))) * 0.3
    f = np.sort(rng.choice(np.arange(1, 5000), points, replace=False)) * 10_000.0
    return skrf.Network(frequency=skrf.Frequency.from_f(f, unit="hz"), s=s, z0=z0, name="r")


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    seed=st.integers(0, 10**6),
    ports=st.sampled_from([1, 2]),
    form=st.sampled_from(["db", "ma", "ri"]),
    unit=st.sampled_from(list(FACTORS)),
)
def test_reads_what_scikit_rf_writes(tmp_path: Path, seed: int, ports: int, form: str, unit: str) -> None:
    network = random_network(seed, ports, 7)
    network.frequency.unit = unit.lower()
    name = f"n.s{ports}p"
    network.write_touchstone(name, dir=str(tmp_path), form=form)
    reading = read_bytes(name, tmp_path / name)
    for trace in reading.traces:
        s = 10 ** (np.array(trace.db) / 20) * np.exp(1j * np.radians(trace.degrees))
        assert trace.f == pytest.approx(network.f, rel=1e-12)
        np.testing.assert_allclose(s, network.s[:, *PLACES[trace.what]], rtol=0, atol=1e-12)
    assert len(reading.traces) == ports**2


@pytest.mark.parametrize("kind", ["Z", "Y", "H", "G"])
@pytest.mark.parametrize("version", [1, 2])
def test_other_parameters_are_converted(kind: str, version: int) -> None:
    # reference: scikit-rf s2z, s2y, s2h, s2g; version 1 stores them normalised, version 2 in ohm and siemens
    network = random_network(5, 2, 4, z0=75.0)
    p = {"Z": network.z, "Y": network.y, "H": network.h, "G": network.g}[kind].copy()
    if version == 1:
        p = (
            p
            * {
                "Z": np.full((2, 2), 1 / 75),
                "Y": np.full((2, 2), 75.0),
                "H": np.array([[1 / 75, 1], [1, 75]]),
                "G": np.array([[75, 1], [1, 1 / 75]]),
            }[kind]
        )
    rows = [
        " ".join(
            repr(float(x))
            for x in [f, *(v for place in [(0, 0), (1, 0), (0, 1), (1, 1)] for v in (m[place].real, m[place].imag))]
        )
        for f, m in zip(network.f, p, strict=True)
    ]
    head = [f"# Hz {kind} RI R 75"]
    if version == 2:
        head = ["[Version] 2.0", *head, "[Number of Ports] 2", "[Two-Port Data Order] 21_12"]
        head += ["[Number of Frequencies] 4", "[Network Data]"]
    f, s, z0 = complex_two_port("\n".join([*head, *rows]).encode(), "a.s2p")
    assert z0 == 75
    assert f == tuple(network.f)
    np.testing.assert_allclose(np.array(s).reshape(-1, 2, 2), network.s, atol=1e-11)


def test_renormalisation_against_scikit_rf() -> None:
    network = random_network(9, 2, 5, z0=75.0)
    lines = [
        " ".join(
            repr(float(x)) for x in [f, *(v for j in (0, 1) for i in (0, 1) for v in (m[i, j].real, m[i, j].imag))]
        )
        for f, m in zip(network.f, network.s, strict=True)
    ]
    reading = read("\n".join(["# Hz S RI R 75", *lines]))
    network.renormalize(50.0)
    for trace in reading.traces:
        s = 10 ** (np.array(trace.db) / 20) * np.exp(1j * np.radians(trace.degrees))
        np.testing.assert_allclose(s, network.s[:, *PLACES[trace.what]], atol=1e-12)
        assert trace.z0 == 50.0
    assert any("renormalised from 75 ohm to 50 ohm" in w for w in reading.warnings)


def test_two_references_are_renormalised_port_by_port() -> None:
    network = skrf.Network(frequency=skrf.Frequency(7, 7, 1, unit="mhz"), s=random_network(3, 2, 1).s, z0=[50, 200])
    row = " ".join(
        repr(float(v)) for j in (0, 1) for i in (0, 1) for v in (network.s[0, i, j].real, network.s[0, i, j].imag)
    )
    text = "[Version] 2.0\n# MHz S RI\n[Number of Ports] 2\n[Two-Port Data Order] 21_12\n[Number of Frequencies] 1\n"
    _, s, z0 = complex_two_port(f"{text}[Reference] 50\n 200\n[Network Data]\n7 {row}\n[End]\n".encode(), "a.s2p")
    network.renormalize(50.0)
    assert z0 == 50
    np.testing.assert_allclose(np.array(s).reshape(2, 2), network.s[0], atol=1e-12)


def test_falling_frequencies_are_not_a_noise_block() -> None:
    # METHOD 7: a reader took a falling frequency for the noise block and silently kept one point in three
    rows = [f"{f} {ROW}" for f in (21, 14, 7, 3.5, 1.8)]
    reading = read("\n".join(["# MHz S DB R 50", *rows]))
    assert reading.traces[0].f == (1.8e6, 3.5e6, 7e6, 14e6, 21e6)
    assert any("points sorted" in w for w in reading.warnings)
    assert not any("noise" in w for w in reading.warnings)


def test_wrapped_points_and_noise_rows_of_the_same_length() -> None:
    wrapped = "# MHz S DB R 50\n7 -20 10 -0.25 -90\n-0.30 -90 -21 10\n14 -20 10 -0.25 -90\n-0.30 -90 -21 10\n"
    assert read(wrapped + "7 1.2 .4 30 .3\n").traces == read(wrapped).traces
    assert read(wrapped).traces[0].f == (7e6, 14e6)


def test_one_port_under_a_two_port_name() -> None:
    text = "# MHz S DB R 50\n" + "".join(f"{f} -20 10\n" for f in range(1, 10))
    with pytest.raises(ReadingError, match="one-port file under a two-port name"):
        read(text)
    assert len(read(text, "a.s1p").traces[0].f) == 9
    assert len(read(text, "a.txt").traces[0].f) == 9  # the name says nothing, the rows do


def test_upper_and_lower_matrices() -> None:
    head = "[Version] 2.0\n# MHz S DB\n[Number of Ports] 2\n[Two-Port Data Order] 21_12\n[Number of Frequencies] 1\n"
    reading = read(head + "[Matrix Format] Lower\n[Network Data]\n7 -20 0 -3 0 -22 0\n[End]\n")
    values = {t.what: t.db[0] for t in reading.traces}
    assert values == pytest.approx({What.S21: -3, What.S12: -3, What.S11: -20, What.S22: -22})


def test_information_block_and_text_after_the_end_are_left_alone() -> None:
    text = (
        "[Version] 2.0\n# MHz S DB R 50\n[Number of Ports] 1\n[Number of Frequencies] 1\n[Begin Information]\n7 7 7\n"
        "[End Information]\n[Network Data]\n7 -20 0\n[Noise Data]\n1 2 3 4 5\n[End]\n8 -20 0\n"
    )
    assert read(text, "a.s1p").traces[0].f == (7e6,)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("7 " + ROW, "data before any option line"),
        ("# MHz S DB R 50\n", "no data rows"),
        ("# MHz T DB R 50\n7 " + ROW, "'t' in the option line"),
        ("# MHz S DB R\n7 " + ROW, "R without a number"),
        ("# MHz S DB R -50\n7 " + ROW, "reference"),
        ("# MHz S DB R 50\n7 1 2 3\n14 1 2 3\n", "4 numbers"),
        ("# MHz S DB R 50\n7 -20 ten -0.25 -90 -0.3 -90 -21 10\n", "'ten'"),
        ("# MHz S DB R 50\n-7 " + ROW, "below zero"),
        ("# GHz S DB R 50\n7000000 " + ROW, "is the unit of frequency right"),
        ("# MHz S DB R 50\n7 nan 0 nan 0 nan 0 nan 0\n", "no point has a number"),
        ("[Version] 3.0\n# MHz S DB\n", "version '3.0'"),
        ("[Version] 2.0\n# MHz S DB\n[Mixed-Mode Order] D1,2\n", "keyword [Mixed-Mode Order]"),
        (f"# MHz S DB R 50\n7 {ROW}\n7 -20 10 -9 -90 -0.3 -90 -21 10\n", "two values at 7 MHz"),
    ],
)
def test_refused_with_the_reason(text: str, found: str) -> None:
    with pytest.raises(ReadingError) as caught:
        read(text)
    assert found in str(caught.value)
    assert all(m.where == "a.s2p" and m.expected for m in caught.value.mistakes)


def test_all_mistakes_at_once_with_their_lines() -> None:
    with pytest.raises(ReadingError) as caught:
        read(f"# MHz Q DB R 50\n7 {ROW}\n8 x {ROW[4:]}\n9 y {ROW[4:]}\n")
    assert [m.line for m in caught.value.mistakes] == [1, 3, 4]


def test_more_than_two_ports_is_refused() -> None:
    with pytest.raises(ReadingError, match="3 ports"):
        read("# MHz S DB R 50\n7 " + "0 0 " * 9, "a.s3p")


def test_empty_reverse_cells_of_a_one_way_instrument_do_not_drop_the_points() -> None:
    reading = read("# MHz S DB R 50\n7 -20 10 -0.25 -90 nan nan nan nan\n14 -1 5 -50 20 nan nan nan nan\n")
    assert {t.what for t in reading.traces} == {What.S21, What.S11}
    assert reading.traces[0].db == pytest.approx([-0.25, -50])
    assert any("reverse side not measured" in w for w in reading.warnings)


def test_block_needs_all_four() -> None:
    with pytest.raises(ReadingError, match="reverse side not measured"):
        complex_two_port(b"# MHz S RI R 50\n7 0.1 0 0.9 0 0 0 0 0\n", "x.s2p")
    with pytest.raises(ReadingError, match="one-port"):
        complex_two_port(b"# MHz S RI R 50\n7 0.1 0\n", "x.s1p")
    f, s, z0 = complex_two_port(b"# MHz S RI R 50\n7 0.1 0 0.9 0 0.8 0 0.2 0\n", "x.s2p")
    assert (f, s, z0) == ((7e6,), (0.1, 0.8, 0.9, 0.2), 50.0)  # S11 S12 S21 S22


def test_small_print() -> None:
    truncated = read(f"# MHz S DB R 50\n7 {ROW}\n14 -20 10 -0.25\n")
    assert truncated.traces[0].f == (7e6,)
    assert any("cut short" in w for w in truncated.warnings)
    commas = read("# MHz S DB R 50\n7 -20 10 -0,25 -90 -0,30 -90 -21 10\n")
    assert commas.traces[0].db == pytest.approx([-0.25])
    assert any("decimal commas" in w for w in commas.warnings)
    fortran = read("# MHz S RI R50\n7.0D0 1D-1 0 9D-1 0 8D-1 0 1D-1 0\n")
    assert fortran.traces[0].db == pytest.approx([20 * np.log10(0.9)])
    copied = read("# MHz S RI R 50\n7 0.1 0 0.9 0 0.9 0 0.2 0\n")
    assert [t.what for t in copied.traces if not t.independent] == [What.S12]
    high = read(f"# S DB\n7 {ROW}\n")
    assert any("far above HF" in w for w in high.warnings)  # GHz is the default of the option line
    gain = read("# MHz S DB R 50\n7 -20 10 13 0 -40 0 -21 10\n")
    assert any("no gain" in w for w in gain.warnings)


def test_a_reverse_side_written_as_minus_300_db_was_not_measured():
    text = b"# MHz S DB R 50\n7 -20 10 -0.25 -90 -300 0 -300 0\n14 -0.1 5 -50 20 -300 0 -300 0\n"
    reading = read_bytes("oneway.s2p", text)
    assert [t.independent for t in reading.traces if t.what.value in ("s12", "s22")] == [False, False]
    assert any("reverse side not measured" in w for w in reading.warnings)
