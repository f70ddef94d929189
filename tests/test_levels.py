"""Watts, amps and volts: taken in, refused, judged, planned."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from halfsplit.cli import main
from halfsplit.errors import ReadingError
from halfsplit.expect import LevelSet
from halfsplit.expect.level_factory import bench_of
from halfsplit.expect.level_fit import fit, slopes
from halfsplit.expect.level_paths import principal
from halfsplit.hookup import Hookup
from halfsplit.reading import Shows, Usual, is_level_table, table_levels, typed_levels
from halfsplit.unit import read_unit_file
from halfsplit.verdict import Word, judge_levels, with_levels

ROOT = Path(__file__).resolve().parents[1]
HOLLIN = ROOT / "examples" / "hollin-beck-100.toml"
UNIT = read_unit_file(HOLLIN)
USUAL = Usual(50.0, end="J1")
TIED = Hookup("80 m", "TP1", "J1")


def one(*rows: str, usual: Usual = USUAL, hookup: Hookup = TIED) -> LevelSet:
    return LevelSet("R1", typed_levels(rows, usual), hookup)


@pytest.mark.parametrize(
    ("item", "shows", "point", "value"),
    [
        ("98 W at J1 on 50 ohm", Shows.POWER, "J1", 98.0),
        ("98 W", Shows.POWER, "J1", 98.0),
        ("50 dBm at J1", Shows.POWER, "J1", 100.0),
        ("14 dBm behind 36 dB rated 150 W", Shows.POWER, "J1", 100.0),
        ("0,5 W reflected", Shows.REFLECTED, "J1", 0.5),
        ("17,4 A", Shows.SUPPLY_AMPS, "supply", 17.4),
        ("350 mA standing", Shows.STANDING_AMPS, "supply", 0.35),
        ("13.4 V", Shows.SUPPLY_VOLTS, "supply", 13.4),
        ("13.4 V dc", Shows.SUPPLY_VOLTS, "supply", 13.4),
        ("2 V rms at TP12", Shows.RF_VOLTS, "TP12", 2.0),
        ("2 V peak at TP12", Shows.RF_VOLTS, "TP12", 2**0.5),
        ("4 Vpp at TP12", Shows.RF_VOLTS, "TP12", 2**0.5),
        ("400 mVpp at TP12 with 10:1 probe", Shows.RF_VOLTS, "TP12", 2**0.5),
        ("82 °C at FINAL case", Shows.TEMPERATURE, "FINAL case", 355.15),
        ("0 W", Shows.POWER, "J1", 0.0),
    ],
)
def test_what_is_typed_is_understood(item: str, shows: Shows, point: str, value: float) -> None:
    (row,) = typed_levels([f"40 m: {item}"], USUAL).rows
    assert (row.band, row.shows, row.point) == ("40 m", shows, point)
    assert row.value == pytest.approx(value, rel=1e-6)


def test_a_table_and_the_same_typed_say_the_same() -> None:
    table = b"# bench\nband ; W at J1 ; A ; V\n80 m ; 101 ; 17,2 ; 13,4\n40 m ; ; 17,4 ; 13,4\n"
    assert is_level_table(table)
    assert not is_level_table(b"Frequency (MHz);S21 (dB)\n1;2\n")
    a = table_levels(table, "t.csv", USUAL).rows
    b = typed_levels(["80 m: 101 W at J1; 17,2 A; 13,4 V", "40 m: 17,4 A; 13,4 V"], USUAL).rows
    assert [(r.band, r.shows, r.point, r.value, r.step) for r in a] == [
        (r.band, r.shows, r.point, r.value, r.step) for r in b
    ]
    assert [r.look == a[0].look for r in a] == [r.look == b[0].look for r in b] == [True] * 3 + [False] * 2


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("40 m: 98 W at J1", "power without an impedance"),
        ("40 m: 20 dBm at J1 on 50 ohm behind 30 dB rated 20 W", "100 W into a pad rated 20 W"),
        ("40 m: 14 dBm at J1 on 50 ohm behind 36 dB", "rating is not stated"),
        ("40 m: 98 at J1", "a figure with its unit"),
        ("40 m: 6 V at TP12", "rms, peak or Vpp"),
        ("40 m: 6 Vpp", "a point for RF volts"),
        ("40 m: -3 A", "zero or more"),
        ("40 m: 3 W at J1 on 50 nH", "resistance"),
        ("40 m: 3 W at J1 on 50 ohm at J2", "once"),
        ("40 m: 5 Q", "W, dBm, A, V"),
        ("40 m: 3 A idle", "standing"),
        ("40 m: 3 W at J1 on 50 ohm into space", "dummy load"),
        ("98 W", "a band, a colon"),
    ],
)
def test_what_cannot_be_is_refused(row: str, says: str) -> None:
    with pytest.raises(ReadingError, match=says):
        typed_levels([row], Usual(None, end="J1"))


def test_every_mistake_of_a_table_at_once_with_its_line() -> None:
    with pytest.raises(ReadingError) as caught:
        table_levels(b"band;W at J1;A\n80 m;x;17\n40 m;98;-3\n20 m;1\n", "t.csv", USUAL)
    assert [m.line for m in caught.value.mistakes] == [2, 3, 4]


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        (["15 m: 98 W"], "no band '15 m'"),
        (["40 m: 98 W at TP99"], "no point 'TP99'"),
        (["40 m: 98 W, 90 W at TP1"], "watts at J1 and at TP1"),
        (["40 m: 62 W, 4 A, 13 V"], "62 W of RF out of 13 V x 4 A = 52 W of DC: efficiency 119 %"),
        (["40 m: 2 W, 3 W reflected"], "come back"),
        (["40 m: 98 W at TP2"], "path still on behind it"),
        (["40 m: 60 °C at DRIVER case"], "FINAL case"),
    ],
)
def test_what_does_not_fit_the_unit_is_refused(rows: list[str], says: str) -> None:
    with pytest.raises(ReadingError) as caught:
        bench_of(UNIT, [one(*rows)])
    assert says in str(caught.value)


def test_slopes_are_the_slopes() -> None:
    bench = bench_of(UNIT, [one("80 m: 99 W, 17 A, 13.4 V, 4 Vpp at TP12", "20 m: 51 W, 90 °C at FINAL case")])
    u = 0.5 * np.random.default_rng(1).standard_normal((1, bench.layout.size))
    _, j = slopes(bench, bench.cases(1), u)
    step = 0.02 * np.random.default_rng(2).standard_normal((1, bench.layout.size))
    moved = bench.predict(bench.cases(1), u + step) - bench.predict(bench.cases(1), u)
    assert moved[0] == pytest.approx((j[0] @ step[0]), abs=0.02 + 0.05 * float(np.abs(moved).max()))


def test_a_sound_transmitter_is_what_it_is_drawn_to_be() -> None:
    """Predicted without any stray: rated power where the level control holds; evidence best near it."""
    bench = bench_of(UNIT, [one("80 m: 100 W, 17 A, 13.4 V", "40 m: 100 W")])
    drawn = bench.predict(bench.cases(1), np.zeros((1, bench.layout.size)))[0]
    assert 10 ** (drawn[0] / 10) == pytest.approx(100.0, rel=0.04)
    good = fit(bench, bench.cases(1)).log_evidence[0]
    worse = fit(bench_of(UNIT, [one("80 m: 50 W, 17 A, 13.4 V", "40 m: 100 W")]), bench.cases(1)).log_evidence[0]
    assert good > worse + 5.0


def test_few_ways_carry_what_many_nuisances_do() -> None:
    """The covariance of what moves is kept, whatever the number of nuisances."""
    rng = np.random.default_rng(5)
    mix = rng.standard_normal((60, 3))
    base = 0.1 * (rng.standard_normal((3, 2, 2, 2)) + 1j * rng.standard_normal((3, 2, 2, 2)))
    slope = np.einsum("ij,jbkl->ibkl", mix, base)
    ways = principal(slope)
    assert len(ways) == 3
    a, b = (np.einsum("ibkl,ibkl->bkl", x, x.conj()).real for x in (slope, ways))
    assert b == pytest.approx(a)


def test_figures_are_judged() -> None:
    sets = [one("80 m: 99 W, 17 A, 13.4 V", "20 m: 40 W, 11 A, 13.5 V", "40 m: 0 W, 2.6 A, 13.8 V")]
    found = {(v.band, v.name): v for v in judge_levels(UNIT, sets, np.random.default_rng(1))}
    assert found["80 m", "power at J1"].word is Word.WITHIN
    assert found["20 m", "power at J1"].word is Word.OUTSIDE
    assert found["40 m", "power at J1"].word is Word.OUTSIDE
    assert found["20 m", "power at J1"].sigma < -3
    assert "dB low" in found["20 m", "power at J1"].text
    assert found["80 m", "efficiency"].read == pytest.approx(99 / 17 / 13.4)
    assert ("40 m", "efficiency") not in found
    by_band = {b.band: b.word for b in with_levels((), tuple(found.values()))}
    assert by_band == {"80 m": Word.WITHIN, "20 m": Word.OUTSIDE, "40 m": Word.OUTSIDE}


def typed(*words: str) -> str:
    done = CliRunner().invoke(main, list(words))
    assert done.exit_code == 0, done.output
    return done.output


def test_a_job_of_watts_alone(tmp_path: Path) -> None:
    job = str(tmp_path / "a.job")
    typed("start", job, "--unit", str(HOLLIN))
    table = tmp_path / "t.csv"
    table.write_text("band;W at J1;A;V\n80 m;99;17,0;13,4\n20 m;40;11,0;13,5\n", "utf-8")
    assert "Caution" in typed("add", job, str(table), "--detector-ohm", "50 ohm")
    typed("add", job, "--level", "20 m: 88 W at TP1 on 50 ohm, 15.1 A, 13.4 V", "--lifted", "W1")
    said = typed("judge", job)
    assert "OUTSIDE      power at J1: 40 W" in said
    assert "W1 lifted" in typed("journal", job)
    shown = typed("power", job, "--band", "20 m")
    assert "88 W at TP1 (R2), 40 W at J1 (R1): 3.4 dB" in shown
    assert "40.0 dBm" not in typed("levels", job)
    assert "46.0 dBm (R1)" in typed("levels", job)


def test_refusals_at_the_door_leave_nothing(tmp_path: Path) -> None:
    job = str(tmp_path / "a.job")
    typed("start", job, "--unit", str(HOLLIN))
    for words in (
        ["--level", "40 m: 98 W at J1"],
        ["--level", "40 m: 62 W at J1 on 50 ohm, 4 A, 13 V"],
        ["--level", "40 m: 6 A", "--typed", "7 MHz -1 dB"],
        ["--level", "40 m: 6 A", "--drive", "TP1"],
        ["--typed", "7 MHz -1 dB", "--into", "antenna", "--band", "40 m"],
    ):
        done = CliRunner().invoke(main, ["add", job, *words])
        assert done.exit_code == 2, words
    assert "no reading yet" in typed("journal", job)


def test_a_test_point_of_the_drive_is_no_path() -> None:
    """Watts at a test point of the drive break the chain there: what stands behind has no drive."""
    bench = bench_of(UNIT, [one("20 m: 34 dBm at TP12 behind 0 dB rated 50 W, 2.6 A")])
    drawn = bench.predict(bench.cases(1), np.zeros((1, bench.layout.size)))[0]
    assert drawn[0] + 30 == pytest.approx(36.8, abs=1.0)
    assert 10 ** (drawn[1] / 20) == pytest.approx(2.6, abs=0.2)
