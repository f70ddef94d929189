"""Every file of the format collection comes out as its manifest says."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from halfsplit.reading import Reading, Trace, What, read_bytes, read_file

FORMATS = Path(__file__).resolve().parents[2] / "shared" / "formats"
MEASURED = Path(__file__).resolve().parents[2] / "shared" / "measured"
MANIFEST = FORMATS / "manifest.json"
ROWS: list[dict[str, Any]] = json.loads(MANIFEST.read_text(encoding="utf-8")) if MANIFEST.exists() else []

ABOUT = {  # words of the manifest's "ask" -> field of the question
    "unit of frequency": "frequency_unit",
    "attenuation given as positive dB": "sign",
    "Gain: linear or dB?": "scale",
}


def trace(reading: Reading, what: What) -> Trace:
    return next(t for t in reading.traces if t.what is what)


def _check_numbers(reading: Reading, expect: dict[str, Any]) -> None:
    f = expect["f_hz"]
    assert all(t.f == pytest.approx(f) for t in reading.traces)
    for key, what in (("s21_db", What.S21), ("s11_db", What.S11), ("level_dbm", What.LEVEL)):
        if key in expect:
            assert trace(reading, what).db == pytest.approx(expect[key], abs=3e-3)  # the manifest is rounded
    if "u_s21_db" in expect:
        assert trace(reading, What.S21).sigma_db == pytest.approx(expect["u_s21_db"], rel=0.02)
    if "z_ohm" in expect:
        s11 = trace(reading, What.S11)
        gamma = 10 ** (np.array(s11.db) / 20) * np.exp(1j * np.radians(s11.degrees))
        assert s11.z0 * (1 + gamma) / (1 - gamma) == pytest.approx(expect["z_ohm"], rel=1e-9)


@pytest.mark.skipif(not ROWS, reason="../shared/formats is not beside this repository")
@pytest.mark.parametrize("row", ROWS, ids=lambda r: r["file"])
def test_manifest(row: dict[str, Any]) -> None:
    reading = read_file(FORMATS / row["file"])
    expect = row["expect"]
    _check_numbers(reading, expect)
    assert reading.original == (FORMATS / row["file"]).read_bytes()
    assert reading.understood.startswith(row["file"] + ": ")
    if "warn" in expect:
        assert any(expect["warn"] in w for w in reading.warnings)
    if "ask" in expect:
        asked = {a.about for a in reading.asks}
        wanted = {field for words, field in ABOUT.items() if words in expect["ask"]}
        assert wanted
        assert wanted <= asked
    else:
        assert not {a.about for a in reading.asks} & {"frequency_unit", "sign", "decimal_mark", "frequency_column"}
    if "note" in expect:
        assert any("square root" in w for w in reading.warnings)


@pytest.mark.skipif(not ROWS, reason="../shared/formats is not beside this repository")
@pytest.mark.parametrize("row", ROWS, ids=lambda r: r["file"])
def test_the_same_bytes_read_the_same_whatever_line_ends_they_have(row: dict[str, Any]) -> None:
    raw = (FORMATS / row["file"]).read_bytes()
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        other = raw.decode("utf-16").replace("\r\n", "\n").encode("utf-16-be")
        other = b"\xfe\xff" + other
    else:
        other = raw.replace(b"\r\n", b"\n").replace(b"\n", b"\r")
    assert read_bytes(row["file"], other).traces == read_file(FORMATS / row["file"]).traces


@pytest.mark.skipif(not ROWS, reason="../shared/formats is not beside this repository")
def test_flags_of_one_way_instruments() -> None:
    for name in ("t14_zero_reverse.s2p", "t15_mirrored_reverse.s2p"):
        flags = {t.what: t.independent for t in read_file(FORMATS / name).traces}
        assert flags == {What.S21: True, What.S11: True, What.S12: False, What.S22: False}
    both_ways = read_file(FORMATS / "t24_touchstone2.s2p")
    assert trace(both_ways, What.S12).independent
    assert trace(both_ways, What.S12).db == pytest.approx([-0.30, -51.0])


@pytest.mark.skipif(not ROWS, reason="../shared/formats is not beside this repository")
def test_noise_floor_is_flagged_and_the_rest_is_not() -> None:
    s21 = trace(read_file(FORMATS / "c20_noise_floor.csv"), What.S21)
    assert s21.at_least == (False, False, True, True, True)
    assert s21.db == pytest.approx([-0.25, -50, -80, -80, -80])


@pytest.mark.skipif(not MEASURED.exists(), reason="../shared/measured is not beside this repository")
def test_measured_sweeps() -> None:
    # shared/measured/SOURCE.md: filter_bank, read out of published curves; the 60/40 m plot ends at -80 dB
    clipped = trace(read_file(MEASURED / "filter_bank" / "60_40m.csv"), What.S21)
    assert len(clipped.f) == 201
    assert sum(clipped.at_least) == 44
    assert max(d for d, b in zip(clipped.db, clipped.at_least, strict=True) if b) == -80.0
    deep_notch = trace(read_file(MEASURED / "filter_bank" / "80m.csv"), What.S21)
    assert min(deep_notch.db) == -91.67
    assert not any(deep_notch.at_least)  # a notch sampled at several points is no noise
    cable = read_file(MEASURED / "coax" / "long_cable_open_50-100MHz.s1p")
    assert len(cable.traces[0].f) == 201
    assert cable.warnings == ()
