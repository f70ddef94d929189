"""Bench quantities: every spelling of the format collection, the traps of general quantity libraries, decibels."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from halfsplit.quantity import (
    Ask,
    Dimension,
    NotFitted,
    QuantityError,
    Turns,
    Value,
    db10,
    db20,
    dbm_from_volt,
    dbm_from_watt,
    format_value,
    from_db10,
    from_db20,
    gamma_from_return_loss,
    gamma_from_swr,
    number,
    parse,
    parse_front,
    parse_part_value,
    return_loss_from_gamma,
    return_loss_from_swr,
    swr_from_gamma,
    swr_from_return_loss,
    volt_from_dbm,
    watt_from_dbm,
)

D = Dimension
VALUES = Path(__file__).resolve().parents[2] / "shared" / "formats" / "values.json"
ROWS = json.loads(VALUES.read_text(encoding="utf-8")) if VALUES.exists() else []


def _field(row: dict[str, str]) -> Dimension:
    """The field that a row stands in, from its text and note."""
    note, text = row["note"], row["text"]
    if note == "ohm":
        return D.RESISTANCE
    return D.INDUCTANCE if "H" in text or note.startswith("H") or "A_L" in note or "turns" in note else D.CAPACITANCE


@pytest.mark.skipif(not ROWS, reason="../shared/formats/values.json is not beside this repository")
@pytest.mark.parametrize("row", ROWS, ids=lambda r: r["text"])
def test_collection_of_spellings(row: dict[str, str]) -> None:
    wanted = row["value"]
    if wanted == "part number":
        with pytest.raises(QuantityError, match="part number"):
            parse_part_value(row["text"], _field(row))
        return
    got = parse_part_value(row["text"], _field(row))
    if wanted == "?":
        assert isinstance(got, Ask)
        assert got.suggestions == ("30 pF",)
    elif wanted is None:
        assert got == NotFitted("Adj", "selected on test")
    elif wanted == "turns":
        assert isinstance(got, Turns)
        assert (got.turns, got.core) in {(12.0, "T50-6"), (11.0, "T200-6")}
    else:
        assert isinstance(got, Value)
        assert got.value == pytest.approx(float(wanted), rel=1e-12)
        assert bool(got.warnings) == ("slip" in row["note"] or row["text"] == "2x130p")


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("21,2 MHz", D.FREQUENCY, 21.2e6),
        ("7.000.000 Hz", D.FREQUENCY, 7e6),
        ("14'200 kHz", D.FREQUENCY, 14.2e6),
        ("1.234,5 kHz", D.FREQUENCY, 1234.5e3),
        ("1,234.5 kHz", D.FREQUENCY, 1234.5e3),
        ("7mhz", D.FREQUENCY, 7e6),
        ("3.5M", D.FREQUENCY, 3.5e6),
        ("2k2", D.RESISTANCE, 2200.0),
        ("0R1", D.RESISTANCE, 0.1),
        ("R47", D.RESISTANCE, 0.47),
        ("4M7", D.RESISTANCE, 4.7e6),
        ("2k2J", D.RESISTANCE, 2200.0),
        ("50", D.RESISTANCE, 50.0),
        ("50Ω", D.RESISTANCE, 50.0),
        ("50\u2126", D.RESISTANCE, 50.0),
        ("4n7", D.CAPACITANCE, 4.7e-9),
        ("n47", D.CAPACITANCE, 0.47e-9),
        ("4n7F", D.CAPACITANCE, 4.7e-9),
        ("1u33", D.INDUCTANCE, 1.33e-6),
        ("1e-9 F", D.CAPACITANCE, 1e-9),
        ("1.5e-3 A", D.CURRENT, 1.5e-3),
        ("13V8", D.VOLTAGE, 13.8),
        ("\u22120,4 dB", D.DECIBEL, -0.4),
        ("-46 dBc", D.CARRIER, -46.0),
        ("46 dBm", D.POWER, 39.8107170553),
        ("40 W", D.LEVEL, 46.0205999133),
        ("25 °C", D.TEMPERATURE, 298.15),
        ("77 °F", D.TEMPERATURE, 298.15),
        ("300 K", D.TEMPERATURE, 300.0),
        ("5 %", D.FRACTION, 0.05),
        ("0.66", D.FRACTION, 0.66),
        ("180 mm", D.LENGTH, 0.18),
        ("3 ft", D.LENGTH, 0.9144),
        ("10 min", D.TIME, 600.0),
        ("150", D.PLAIN, 150.0),
    ],
)
def test_understood(text: str, dimension: Dimension, value: float) -> None:
    assert parse(text, dimension).value == pytest.approx(value, rel=1e-11)


@pytest.mark.parametrize(
    ("text", "dimension", "why"),
    [
        ("47q", D.CAPACITANCE, "'q' is no unit"),
        ("630 nh", D.TIME, "'nh' is no unit of time"),
        ("630 nH", D.CAPACITANCE, "'nH' is no unit"),
        ("10 MF", D.CAPACITANCE, "'MF' is no unit"),
        ("4E7", D.RESISTANCE, "old code or a power of ten"),
        ("4R7", D.INDUCTANCE, "'R' between digits"),
        ("7.05", D.FREQUENCY, "7.05 MHz"),
        ("5", D.FRACTION, "5 %"),
        ("30", D.CAPACITANCE, "30 pF"),
        ("5-30 pF", D.CAPACITANCE, "range"),
        ("100 to 200 pF", D.CAPACITANCE, "range"),
        ("-5 pF", D.CAPACITANCE, "below zero"),
        ("-300 °C", D.TEMPERATURE, "below zero"),
        ("7 MHz 14 MHz", D.FREQUENCY, "behind the value"),
        ("12.34.5 MHz", D.FREQUENCY, "groups of three"),
        ("1,23,456 MHz", D.FREQUENCY, "groups of three"),
        ("", D.FREQUENCY, "nothing is written"),
        ("MHz", D.FREQUENCY, "start with a number"),
        ("nan MHz", D.FREQUENCY, "start with a number"),
        ("1e400 Hz", D.FREQUENCY, "too large"),
        ("\u0667 MHz", D.FREQUENCY, "start with a number"),
        ("10² Hz", D.FREQUENCY, "is no unit"),
        ("2 Vpp", D.VOLTAGE, "is no unit"),
        ("7\n8 MHz", D.FREQUENCY, "more than one line"),
    ],
)
def test_refused(text: str, dimension: Dimension, why: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, dimension)
    assert why in str(caught.value)
    assert caught.value.example
    assert parse(caught.value.example, dimension).value is not None  # the example itself must be taken


@pytest.mark.parametrize(
    ("text", "dimension", "value", "word"),
    [
        ("630 nh", D.INDUCTANCE, 630e-9, "nH"),
        ("100 PF", D.CAPACITANCE, 100e-12, "pF"),
        ("100 uuF", D.CAPACITANCE, 100e-12, "pF"),
        ("7 mHz", D.FREQUENCY, 7e6, "MHz"),
        ("1,234 MHz", D.FREQUENCY, 1.234e6, "decimal mark"),
        ("14 200 kHz", D.FREQUENCY, 14.2e6, "thousands"),
        ("0.6", D.DECIBEL, 0.6, "no unit"),
        ("40", D.POWER, 40.0, "no unit"),
    ],
)
def test_bent_with_a_warning(text: str, dimension: Dimension, value: float, word: str) -> None:
    got = parse(text, dimension)
    assert got.value == pytest.approx(value)
    assert any(word in w for w in got.warnings)


def test_part_fields() -> None:
    c, l, r = D.CAPACITANCE, D.INDUCTANCE, D.RESISTANCE
    assert parse_part_value("150p+220p", c).value == pytest.approx(370e-12)  # type: ignore[union-attr]
    assert parse_part_value("3 x 100 pF in series", c).value == pytest.approx(100e-12 / 3)  # type: ignore[union-attr]
    assert parse_part_value("100 ohm || 100 ohm", r).value == pytest.approx(50)  # type: ignore[union-attr]
    assert parse_part_value("2 x 1 uH in series", l).value == pytest.approx(2e-6)  # type: ignore[union-attr]
    rated = parse_part_value("100 pF 1kV NP0", c)
    assert isinstance(rated, Value)
    assert (rated.remark, rated.warnings) == ("1kV NP0", ())
    strange = parse_part_value("100 pF near relay", c)
    assert isinstance(strange, Value)
    assert any("near relay" in w for w in strange.warnings)
    coded = parse_part_value("104", c)
    assert isinstance(coded, Ask)
    assert coded.suggestions == ("104 pF", "100000 pF")
    assert isinstance(parse_part_value("2x1uH", l), Ask)  # series or parallel?
    assert parse_part_value("T50-6, 12 turns", l) == Turns(12.0, "T50-6", "T50-6, 12 turns")
    bare = parse_part_value("12 T", l)
    assert isinstance(bare, Turns)
    assert bare.warnings
    assert parse_part_value("DNP", r) == NotFitted("DNP", "not fitted")
    for text in ("100 pF 220 pF", "12 T T50-6", "RF1234", "0 pF || ohm"):
        with pytest.raises(QuantityError):
            parse_part_value(text, c)


def test_decimal_mark_of_a_table_settles_what_is_ambiguous() -> None:
    assert number("1,234", ",") == (1.234, ())
    assert number("1,234", ".") == (1234.0, ())
    with pytest.raises(ValueError, match="groups"):
        number("1,23", ".")
    with pytest.raises(ValueError, match="sign"):
        number("--3")


def test_front_of_a_text() -> None:
    value, rest = parse_front("12 dB per 100 m @ 30 MHz", D.DECIBEL)
    assert (value.value, rest) == (12.0, "per 100 m @ 30 MHz")
    assert parse("7.05", D.FREQUENCY, bare="MHz").value == 7.05e6


@pytest.mark.parametrize(
    ("value", "dimension", "text"),
    [
        (560e-12, D.CAPACITANCE, "560 pF"),
        (7.05e6, D.FREQUENCY, "7.05 MHz"),
        (-0.4, D.DECIBEL, "-0.40 dB"),
        (-45.678, D.DECIBEL, "-45.7 dB"),
        (-0.001, D.DECIBEL, "0.00 dB"),
        (1.33e-6, D.INDUCTANCE, "1.33 µH"),
        (999.96e-12, D.CAPACITANCE, "1 nF"),
        (2200.0, D.RESISTANCE, "2.2 kohm"),
        (298.15, D.TEMPERATURE, "25 °C"),
        (0.05, D.FRACTION, "5 %"),
        (0.0, D.FREQUENCY, "0 Hz"),
        (600.0, D.TIME, "10 min"),
        (0.18, D.LENGTH, "180 mm"),
        (math.inf, D.RESISTANCE, "inf ohm"),
    ],
)
def test_display(value: float, dimension: Dimension, text: str) -> None:
    assert format_value(value, dimension) == text


def test_decibels_against_pozar() -> None:
    # Pozar, Microwave Engineering, section 2.3: SWR 1.5 is |Gamma| 0.2, return loss 13.98 dB; SWR 2 is 9.54 dB
    assert gamma_from_swr(1.5) == pytest.approx(0.2)
    assert return_loss_from_swr(1.5) == pytest.approx(13.979, abs=1e-3)
    assert return_loss_from_swr(2.0) == pytest.approx(9.542, abs=1e-3)
    assert swr_from_return_loss(20.0) == pytest.approx(1.2222, abs=1e-4)
    # common practice: 0 dBm in 50 ohm is 223.6 mV rms; 46 dBm is 40 W
    assert volt_from_dbm(0.0) == pytest.approx(0.2236, abs=1e-4)
    assert dbm_from_volt(volt_from_dbm(17.0, 75.0), 75.0) == pytest.approx(17.0)
    assert dbm_from_watt(40.0) == pytest.approx(46.02, abs=0.005)
    assert watt_from_dbm(30.0) == pytest.approx(1.0)


def test_decibel_edges() -> None:
    assert db20(0.0) == -math.inf
    assert db20(1j / math.sqrt(2)) == pytest.approx(-3.0103, abs=1e-4)
    assert db20(np.array([1.0, 10.0])).tolist() == [0.0, 20.0]
    assert db10(np.array([1.0, 10.0])).tolist() == [0.0, 10.0]
    assert from_db20(db20(0.3)) == pytest.approx(0.3)
    assert from_db10(db10(0.3)) == pytest.approx(0.3)
    assert gamma_from_swr(math.inf) == 1.0
    assert swr_from_gamma(1.0) == math.inf
    assert return_loss_from_gamma(0.0) == math.inf
    assert gamma_from_return_loss(-6.0) > 1
    for bad in (0.9, math.nan):
        with pytest.raises(ValueError, match="standing wave"):
            gamma_from_swr(bad)
    with pytest.raises(ValueError, match="between 0 and 1"):
        swr_from_gamma(1.01)
    with pytest.raises(ValueError, match="below zero"):
        db10(-1.0)
