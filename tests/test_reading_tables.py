"""Text tables: separators, marks and units in every mixture; what is asked; what is refused."""

from __future__ import annotations

import io
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfsplit.errors import ReadingError
from halfsplit.reading import LIMIT_BYTES, Answers, Reading, What, answers_from, read_bytes, read_file

FACTORS = {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6, "GHz": 1e9}


def read(text: str, answers: Answers | None = None) -> Reading:
    return read_bytes("a.csv", text.encode(), answers)


def about(reading: Reading) -> set[str]:
    return {a.about for a in reading.asks}


@settings(max_examples=120, deadline=None)
@given(
    khz=st.lists(st.integers(100, 60_000), min_size=1, max_size=12, unique=True),
    seed=st.integers(0, 1000),
    separator=st.sampled_from(["\t", ";", ",", " ", "|"]),
    mark=st.sampled_from([".", ","]),
    unit=st.sampled_from(list(FACTORS)),
    where=st.sampled_from(["heading", "second row", "cells", "comment"]),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
    codec=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"]),
)
def test_round_trip(
    khz: list[int], seed: int, separator: str, mark: str, unit: str, where: str, end: str, codec: str
) -> None:
    if separator == mark:
        mark = "."
    f = np.sort(np.array(khz)) * 1e3
    db = -np.round(np.random.default_rng(seed).uniform(0, 70, len(f)), 2) - 0.01

    def cells(hz: float, value: float) -> list[str]:
        numbers = [f"{hz / FACTORS[unit]:.6f}".replace(".", mark), f"{value:.2f}".replace(".", mark)]
        return [f"{numbers[0]} {unit}", f"{numbers[1]} dB"] if where == "cells" else numbers

    heads = {
        "heading": [[f"f({unit})", "S21(dB)"]],
        "second row": [["f", "S21"], [unit, "dB"]],
        "cells": [["f", "S21"]],
        "comment": [[f"# f({unit})", "S21(dB)"]],
    }[where]
    lines = [separator.join(r) for r in [*heads, *(cells(a, b) for a, b in zip(f, db, strict=True))]]
    reading = read_bytes("a.csv", end.join(lines).encode(codec))
    assert reading.asks == ()
    trace = reading.traces[0]
    assert trace.what is What.S21
    assert trace.f == pytest.approx(f, rel=1e-12)
    assert [d for d, low in zip(trace.db, trace.at_least or [False] * len(f), strict=True) if not low] == [
        pytest.approx(d, abs=1e-9) for d, low in zip(db, trace.at_least or [False] * len(f), strict=True) if not low
    ]


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=400), st.sampled_from(["a.csv", "a.s1p", "a.s2p", "a.ts"]))
def test_any_bytes_are_read_or_refused(raw: bytes, name: str) -> None:
    try:
        reading = read_bytes(name, raw)
    except ReadingError as error:
        assert all(m.found and m.expected for m in error.mistakes)  # noqa: PT017
    else:
        assert reading.original == raw


PIECES = [
    "7",
    "14",
    ",",
    ";",
    "\t",
    " ",
    "\n",
    "MHz",
    "dB",
    "S21",
    "#",
    "R 50",
    "nan",
    "-0.25",
    "1e400",
    '"',
    "=",
    "1e-3",
]
PIECES += [
    "[Version] 2.0\n",
    "[Network Data]\n",
    "# MHz S DB R 50\n",
    "SWR",
    "re(s21)",
    "im(s21)",
    "phase",
    "sep=;\n",
    "%",
    "u_",
]


@settings(max_examples=400, deadline=None)
@given(st.lists(st.sampled_from(PIECES), max_size=60), st.sampled_from(["a.csv", "a.s1p", "a.s2p"]))
def test_any_heap_of_pieces_is_read_or_refused(pieces: list[str], name: str) -> None:
    try:
        reading = read_bytes(name, "".join(pieces).encode())
    except ReadingError:
        return
    for trace in reading.traces:
        assert all(b > a for a, b in zip(trace.f, trace.f[1:], strict=False))
        assert all(math.isfinite(v) for v in (*trace.f, *trace.db, *trace.degrees, *trace.sigma_db))
        assert len(trace.f) == len(trace.db)
        assert {len(trace.degrees), len(trace.sigma_db), len(trace.at_least)} <= {0, len(trace.f)}


def test_bare_numbers_are_asked_and_answered() -> None:
    text = "7 0.25\n14 50\n"
    assumed = read(text)
    assert about(assumed) == {"frequency_unit", "quantity", "sign"}
    answers = answers_from({"frequency_unit": "mhz", "quantity": "s21", "sign": "loss positive"})
    told = read(text, answers)
    assert told.asks == ()
    assert told.traces == assumed.traces
    other = read(text, Answers(frequency_unit="kHz", quantity=What.S11, sign="as given"))
    assert other.traces[0].f == (7e3, 14e3)
    assert other.traces[0].db == (0.25, 50.0)
    assert other.traces[0].what is What.S11


def test_answers_are_checked() -> None:
    with pytest.raises(ReadingError) as caught:
        answers_from({"frequency_unit": "furlong", "colour": "red", "value_column": "0"})
    assert len(caught.value.mistakes) == 3
    with pytest.raises(ReadingError, match="column from 1 to 2"):
        read("MHz,dB\n7,-1\n", Answers(value_column=5))
    with pytest.raises(ReadingError, match="two purposes"):
        read("MHz,dB\n7,-1\n", Answers(value_column=1, frequency_column=1))


def test_choice_of_column() -> None:
    text = "7,-0.25,-20\n14,-50,-1\n"
    reading = read(text)
    assert "value_column" in about(reading)
    assert reading.traces[0].db == (-0.25, -50.0)
    told = read(text, Answers(value_column=3, quantity=What.S11, frequency_unit="MHz"))
    assert told.asks == ()
    assert (told.traces[0].what, told.traces[0].db) == (What.S11, (-20.0, -1.0))
    two = read("MHz,before dB,after dB\n7,-3,-0.2\n")
    assert "value_column" in about(two)
    assert any("'after dB'" in w for w in two.warnings)


def test_row_numbers_in_front_are_stepped_over() -> None:
    reading = read("1 1.8 -0.2\n2 3.5 -0.3\n3 7 -0.4\n")
    assert reading.traces[0].f == (1.8e6, 3.5e6, 7e6)
    assert "frequency_column" in about(reading)


def test_linear_or_db() -> None:
    assert read("MHz,|S21|\n7,0.97\n14,0.003\n").traces[0].db == pytest.approx(
        [20 * np.log10(0.97), 20 * np.log10(0.003)]
    )
    passband = read("MHz,S21\n7,-0.3\n7.1,-0.35\n")
    assert passband.traces[0].db == (-0.3, -0.35)
    assert "scale" in about(passband)
    told = read("MHz,Gain\n7,0.5\n", Answers(scale="dB", sign="as given"))
    assert told.traces[0].db == (0.5,)


def test_return_loss_of_either_sign_and_swr() -> None:
    assert read("MHz,RL dB\n7,20\n").traces[0].db == read("MHz,RL dB\n7,-20\n").traces[0].db == (-20.0,)
    assert read("MHz,VSWR\n7,1.5\n").traces[0].db == pytest.approx([-13.979], abs=1e-3)  # Pozar, section 2.3
    with pytest.raises(ReadingError, match=r"standing wave ratio of 0\.5"):
        read("MHz,VSWR\n7,0.5\n")


def test_comma_of_thousands_or_decimal_is_asked() -> None:
    reading = read("kHz;dB\n7,000;-1,250\n")
    assert "decimal_mark" in about(reading)
    assert reading.traces[0].f == (7e3,)
    told = read("kHz;dB\n7,000;-1,250\n", Answers(decimal_mark="."))
    assert told.traces[0].f == (7e6,)
    assert told.traces[0].db == (-1250.0,)


def test_decimal_commas_between_commas_are_refused() -> None:
    with pytest.raises(ReadingError, match="decimal comma"):
        read("MHz,dB\n7,05,-0,25\n14,10,-50,00\n")
    quoted = read('MHz,dB\n"7,05","-0,25"\n"14,10","-50,00"\n')
    assert quoted.traces[0].f == pytest.approx([7.05e6, 14.1e6])


def test_gaps_are_dropped_and_counted() -> None:
    reading = read("MHz,S21 dB,deg\n7,-0.25,10\n8,nan,10\n9,,10\n14,-50,\n")
    assert reading.traces[0].f == (7e6, 14e6)
    assert any(w.startswith("2 points dropped") for w in reading.warnings)
    assert reading.traces[0].degrees == ()  # a phase with a gap is not kept


def test_lines_between_are_counted() -> None:
    reading = read("MHz,S21 dB\n7,-0.25\noverload!\n14,-50\n")
    assert any("1 line not understood" in w and "line 3" in w for w in reading.warnings)


def test_doubled_frequencies() -> None:
    same = read("MHz,S21 dB\n7,-0.2\n7,-0.4\n14,-50\n")
    assert same.traces[0].db == pytest.approx([-0.3, -50])
    assert any("merged" in w for w in same.warnings)
    with pytest.raises(ReadingError, match="two values at 7 MHz"):
        read("MHz,S21 dB\n7,-0.2\n14,-50\n7,-30\n14,-49\n")


def test_key_lines_that_would_move_the_level_are_said() -> None:
    assert not any("pad" in w for w in read("pad in front,0 dB\nMHz,dBm\n7,10\n").warnings)
    padded = read("pad in front,20 dB\nMHz,dBm\n7,10\n")
    assert any("not corrected" in w for w in padded.warnings)
    assert padded.traces[0].db == (10.0,)


def test_steps_of_the_readout() -> None:
    f = np.linspace(1, 30, 150)
    db = np.round(-np.clip(f - 15, 0, None) * 3.1 / 0.5) * 0.5 - 0.5
    stepped = read("MHz,S21 dB\n" + "\n".join(f"{a:.4f},{b:.2f}" for a, b in zip(f, db, strict=True)))
    assert stepped.traces[0].resolution_db == pytest.approx(0.5)
    smooth = read("MHz,S21 dB\n" + "\n".join(f"{a:.4f},{-a * 1.2345:.4f}" for a in f))
    assert smooth.traces[0].resolution_db is None


def test_clipped_display_and_a_deep_notch() -> None:
    f = np.linspace(1, 30, 120)
    slope = -4.0 * np.clip(f - 8, 0, None) - 0.3
    clipped = np.maximum(slope, -70)
    got = read("MHz,S21 dB\n" + "\n".join(f"{a:.4f},{b:.3f}" for a, b in zip(f, clipped, strict=True))).traces[0]
    assert got.at_least.index(True) == int(np.argmax(slope <= -70))
    notch = -40 - 40 * np.exp(-(((f - 20) / 0.6) ** 2))
    got = read("MHz,S21 dB\n" + "\n".join(f"{a:.4f},{b:.3f}" for a, b in zip(f, notch, strict=True))).traces[0]
    assert got.at_least == ()
    noise = np.where(f > 20, -88 + np.random.default_rng(1).normal(0, 5, len(f)), slope)
    reading = read("MHz,S21 dB\n" + "\n".join(f"{a:.4f},{b:.3f}" for a, b in zip(f, noise, strict=True)))
    assert any("only noise" in w for w in reading.warnings)
    flagged = [a for a, low in zip(f, reading.traces[0].at_least, strict=True) if low]
    assert min(flagged) > 19


@pytest.mark.parametrize(
    ("raw", "found"),
    [
        (b"", "empty"),
        (b" \r\n\t\n", "empty"),
        (bytes(range(256)) * 4, "binary"),
        (b"PK\x03\x04rest", "spreadsheet"),
        (b"hello\nworld\n", "no line with numbers"),
        (b"7.05\n7.10\n7.15\n", "only one column"),
        (b"MHz,dB\n7,nan\n8,nan\n", "not one row"),
        (b"MHz,dB\n-7,-1\n8,-1\n", "below zero"),
        (b"GHz,dB\n7000000,-1\n", "is the unit of frequency right"),
        (b"MHz,clock\n7,10:01\n", "no row of two numbers"),
        (b"MHz,row\n7,1\n", "no column of readings"),
        (b"MHz,H2 dBc\n7,-40\n", "no column of readings"),
    ],
)
def test_unreadable(raw: bytes, found: str) -> None:
    with pytest.raises(ReadingError) as caught:
        read_bytes("junk.csv", raw)
    assert found in str(caught.value)
    assert caught.value.mistakes[0].where == "junk.csv"


class _Endless(io.RawIOBase):
    """A stream that never ends and counts what was taken from it."""

    taken = 0

    def read(self, size: int = -1) -> bytes:
        assert size > 0  # reading "all of it" would never return
        self.taken += size
        return b"7,-1\n" * (size // 5) + b"\n" * (size % 5)


def test_too_much_is_refused_without_holding_it(tmp_path: Path) -> None:
    endless = _Endless()
    with pytest.raises(ReadingError, match="at most 32 MiB"):
        read_bytes("endless.csv", endless)  # type: ignore[arg-type]
    assert endless.taken <= LIMIT_BYTES + 1
    hole = tmp_path / "big.csv"
    with hole.open("wb") as stream:
        stream.truncate(2**30)  # a gigabyte that takes no room on the disk
    with pytest.raises(ReadingError, match=r"big\.csv: the file is too large"):
        read_file(hole)
    with pytest.raises(ReadingError, match="too large"):
        read_bytes("x.csv", bytes(LIMIT_BYTES + 1))


def test_files_that_cannot_be_opened(tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="a folder"):
        read_file(tmp_path)
    with pytest.raises(ReadingError, match="No such file"):
        read_file(tmp_path / "missing.csv")
    path = tmp_path / "lpf.csv"
    path.write_text("MHz,S21 dB\n7,-0.25\n", encoding="utf-8")
    assert read_file(path).understood == "lpf.csv: table (comma), 1 point 7 MHz, S21 in dB"


def test_return_loss_that_noise_puts_just_below_zero_keeps_its_sign():
    # most of the sweep is stop band, where the read-out hovers about 0 dB; a count of signs would turn it over
    rows = [(7.0 + 0.1 * k, 24.0) for k in range(5)] + [(14.0 + 0.1 * k, -0.004) for k in range(40)]
    text = "Freq (MHz),Return loss (dB)\n" + "\n".join(f"{f:.1f},{v}" for f, v in rows)
    db = read_bytes("rl.csv", text.encode()).traces[0].db
    assert db[0] == pytest.approx(-24.0)
    assert max(db) == pytest.approx(0.004)
