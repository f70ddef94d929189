"""Figures typed by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.errors import ReadingError
from halfsplit.reading import Answers, What, read_typed


@pytest.mark.parametrize(
    ("line", "what", "f", "db", "bound"),
    [
        ("7.05 MHz -0.4 dB", What.S21, 7.05e6, -0.4, False),
        ("7,05 MHz -0,4 dB", What.S21, 7.05e6, -0.4, False),
        ("21,2 MHz \u22120,4 dB", What.S21, 21.2e6, -0.4, False),
        ("7050 kHz: 0.4 dB loss", What.S21, 7.05e6, -0.4, False),
        ("7.05 MHz, -0.4", What.S21, 7.05e6, -0.4, False),
        ("7 MHz - 0.4 dB", What.S21, 7e6, -0.4, False),
        ("7,05 MHz; SWR 1.5", What.S11, 7.05e6, -13.979, False),
        ("7.05 MHz 1.5:1", What.S11, 7.05e6, -13.979, False),
        ("7.05 MHz 1:1.5", What.S22, 7.05e6, -13.979, False),
        ("7.05 MHz SWR < 1.5", What.S11, 7.05e6, -13.979, True),
        ("7.05 MHz return loss 20 dB", What.S11, 7.05e6, -20.0, False),
        ("7.05 MHz return loss -20 dB", What.S11, 7.05e6, -20.0, False),
        ("14.2 MHz at least 60 dB down", What.S21, 14.2e6, -60.0, True),
        ("14.2 MHz > 60 dB", What.S21, 14.2e6, -60.0, True),
        ("14.2 MHz < -60 dB", What.S21, 14.2e6, -60.0, True),
        ("7.05 MHz 40 W", What.LEVEL, 7.05e6, 46.0206, False),
        ("7.05 MHz < -60 dBm", What.LEVEL, 7.05e6, -60.0, True),
        ("7.05 MHz 75 ohm", What.IMPEDANCE, 7.05e6, 75.0, False),
    ],
)
def test_one_figure(line: str, what: What, f: float, db: float, bound: bool) -> None:
    reading = read_typed([line], what)
    trace = reading.traces[0]
    assert (trace.what, trace.f) == (what, (f,))
    assert trace.db == pytest.approx([db], abs=1e-3)
    assert trace.at_least == ((True,) if bound else ())
    assert reading.asks == ()
    assert reading.original == line.encode()


def test_several_lines() -> None:
    reading = read_typed(["14.2 MHz < -60 dB", "7.05 MHz -0.4 dB; 10.1 MHz -3 dB"], What.S21, resolution_db=0.5)
    trace = reading.traces[0]
    assert trace.f == (7.05e6, 10.1e6, 14.2e6)
    assert trace.at_least == (False, False, True)
    assert trace.resolution_db == 0.5
    assert reading.understood == "typed: 3 points 7.05-14.2 MHz, S21 in dB"
    spread = read_typed(["7 MHz -20 dB +-0.5 dB", "8 MHz -21 dB ±0,5"], What.S11)
    assert spread.traces[0].sigma_db == (0.5, 0.5)


def test_what_is_assumed_is_asked() -> None:
    reading = read_typed(["7.05 0.4"], What.S21)
    assert [a.about for a in reading.asks] == ["frequency_unit", "sign"]
    assert (reading.traces[0].f, reading.traces[0].db) == ((7.05e6,), (-0.4,))
    told = read_typed(["7.05 0.4"], What.S21, answers=Answers(frequency_unit="kHz", sign="as given"))
    assert told.asks == ()
    assert (told.traces[0].f, told.traces[0].db) == ((7.05e3,), (0.4,))
    assert read_typed(["7050 -0.4"], What.S21).traces[0].f == (7.05e6,)


@pytest.mark.parametrize(
    ("line", "what", "why"),
    [
        ("foo", What.S21, "start with a frequency"),
        ("7.05", What.S21, "no value"),
        ("7.05 MHz 3 V", What.S21, "'V' is no unit"),
        ("7.05 MHz -3 dB dB", What.S21, "behind the value"),
        ("7.05 MHz SWR 1.3", What.S21, "no S21"),
        ("7.05 MHz SWR 0.9", What.S11, "1 or more"),
        ("7.05 MHz SWR > 3", What.S11, "above"),
        ("7.05 MHz > -60 dB", What.S21, "at least 60 dB down"),
        ("7.05 MHz less than 0.5 dB loss", What.S21, "loss known only"),
        ("7.05 MHz - 10 dBm", What.LEVEL, "separator or minus"),
        ("7.05 ns -3 dB", What.S21, "no value"),
        ("7.05 MHz -0.4 dB; 7.05 MHz -20 dB", What.S21, "two values"),
    ],
)
def test_refused(line: str, what: What, why: str) -> None:
    with pytest.raises(ReadingError) as caught:
        read_typed([line], what)
    assert why in str(caught.value)


def test_every_mistake_at_once() -> None:
    with pytest.raises(ReadingError) as caught:
        read_typed(["7.05 MHz x", "7.1 MHz -1 dB", "y"], What.S21, resolution_db=-1)
    assert [m.line for m in caught.value.mistakes] == [1, 3, None]
    with pytest.raises(ReadingError, match="nothing was typed"):
        read_typed(["", " ; "], What.S21)
    with pytest.raises(ReadingError, match="± on some"):
        read_typed(["7 MHz -20 dB ±0.5", "8 MHz -21 dB"], What.S11)


@given(
    st.lists(st.text(alphabet="0123456789.,;:-−+±<> MHzkdBSWRatlesdown\n\r", max_size=40), max_size=4),
    st.sampled_from(list(What)),
)
def test_any_text_is_read_or_refused(lines: list[str], what: What) -> None:
    try:
        reading = read_typed(lines, what)
    except ReadingError:
        return
    assert all(math.isfinite(v) for v in (*reading.traces[0].f, *reading.traces[0].db))
