"""Watts, amps and volts in the ranking: alone, and together with sweeps."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from halfsplit.circuit import Change, How, Model, build
from halfsplit.cli import main
from halfsplit.expect import LevelSet, Observation
from halfsplit.expect.level_factory import bench_of
from halfsplit.fault import Posterior, Ranking, rank_levels, ranking_of, weigh, with_levels
from halfsplit.fault.level_causes import built, causes
from halfsplit.fault.level_evidence import Said, size_range
from halfsplit.fault.level_table import level_table
from halfsplit.history import History, history_of
from halfsplit.hookup import Hookup
from halfsplit.reading import Usual, What, typed_levels
from halfsplit.unit import read_unit_file

ROOT = Path(__file__).resolve().parents[1]
HOLLIN = ROOT / "examples" / "hollin-beck-100.toml"
UNIT = read_unit_file(HOLLIN)
TIED = Hookup("80 m", "TP1", "J1")
GOOD = ("80 m: 100 W, 17.2 A, 13.4 V", "40 m: 99 W, 17.4 A, 13.4 V")


def levels(*rows: str, key: str = "R9", load: str = "dummy load", hookup: Hookup = TIED) -> LevelSet:
    return LevelSet(key, typed_levels(rows, Usual(50.0, load, "J1")), hookup)


def alone(*rows: str, load: str = "dummy load", history: History | None = None) -> Ranking:
    return rank_levels(UNIT, [levels(*rows, load=load)], history, "low power").ranking


def sweep(band: str, ohm: float = 0.0) -> Observation:
    """A through sweep of the drawn path with resistance in series at the input contact."""
    hookup = Hookup(band, "TP1", "J1", reference="calibrated", instrument="analyser")
    own = UNIT.band(band)
    f = np.geomspace(0.5 * own.low, 2.0 * own.high, 25)
    model = Model(build(UNIT, hookup), f)
    at = model.resolve(Change(How.OHM, f"{UNIT.filter(own.filter or '').input} contact"))
    assert at is not None
    h = model.solve(np.zeros((1, len(model.keys))), [(at, ohm)] if ohm else None).transmission()[0]
    db = np.round(20 * np.log10(np.abs(h)), 2)
    return Observation("R1", hookup, What.S21, f, db, np.full(25, 0.003), np.zeros(25, bool), f"{band}: through")


def kind(posterior: Posterior) -> str:
    """Kind of the first group: of levels.toml, or "path"."""
    assert posterior.levels is not None
    first = ranking_of(posterior, "low power").groups[0].causes[0]
    kinds = {
        (c.hypothesis.places[0].name, c.hypothesis.places[0].word): c.kind for c in posterior.levels.outside.values()
    }
    return kinds.get((first.place, first.mode), "path")


@pytest.fixture(scope="module")
def clean() -> Posterior:
    return weigh(UNIT, [sweep("20 m")])


@pytest.fixture(scope="module")
def lossy() -> Posterior:
    return weigh(UNIT, [sweep("20 m", 41.0)])


LOW = (*GOOD, "20 m: 51 W, 12.6 A, 13.5 V, 17.0 V rms at TP12")


def test_down_in_watts_and_in_the_sweep_convicts_the_path(lossy: Posterior) -> None:
    assert kind(with_levels(lossy, [levels(*LOW)], "low power")) == "path"


def test_down_in_watts_with_a_clean_sweep_convicts_stage_or_load(clean: Posterior) -> None:
    joint = with_levels(clean, [levels(*LOW)], "low power")
    assert kind(joint) in ("stage", "antenna side")
    before = sum(p for f, p in zip(clean.fits, clean.alone, strict=True) if f.hypothesis.family == "sound")
    seen = ranking_of(joint, "low power")
    assert before > 0.5
    assert seen.sound < 0.2
    assert "power at J1" in " ".join(seen.readings)


def test_all_as_it_should_be_leaves_the_path_sound(clean: Posterior) -> None:
    joint = with_levels(clean, [levels(*GOOD, "20 m: 99 W, 17.0 A, 13.4 V, 11.6 V rms at TP12")])
    assert ranking_of(joint).groups[0].family == "sound"


def test_probabilities_stay_probabilities(clean: Posterior) -> None:
    joint = with_levels(clean, [levels(*LOW)], "low power")
    seen = ranking_of(joint, "low power")
    assert joint.alone.sum() + joint.together.sum() == pytest.approx(1.0)
    assert sum(g.probability for g in seen.groups) == pytest.approx(1.0, abs=0.05)
    assert sum(o.probability for o in seen.outside) == pytest.approx(seen.sound, abs=1e-6)


def test_no_level_reading_changes_nothing(clean: Posterior) -> None:
    assert with_levels(clean, []) is clean


ALONE = {
    "supply": ("80 m: 60 W, 12.6 A, 11.4 V", "40 m: 58 W, 12.5 A, 11.4 V", "20 m: 60 W, 12.7 A, 11.4 V"),
    "drive source": (
        "80 m: 50 W, 12 A, 13.5 V, 0.060 V rms at TP10, 0.44 V rms at TP11",
        "20 m: 30 W, 9.6 A, 13.6 V, 0.060 V rms at TP10",
    ),
    "level control, power adjustment": (
        "80 m: 50 W, 11.8 A, 13.5 V", "40 m: 49 W, 12.1 A, 13.5 V", "20 m: 50 W, 12 A, 13.5 V",
    ),
    "a noisy trimmer or plug": (
        "80 m: 100 W, 17 A, 13.4 V", "80 m: 48 W, 12 A, 13.5 V", "40 m: 70 W, 14.3 A, 13.5 V",
        "40 m: 99 W, 17.2 A, 13.4 V", "80 m: 66 W, 13.8 A, 13.5 V",
    ),
    "FINAL": (
        "80 m: 0.0 W, 2.6 A, 13.7 V, 12 V rms at TP12", "40 m: 0.0 W, 2.6 A, 13.7 V, 12 V rms at TP12",
    ),
    "level control": ("80 m: 140 W, 21 A, 13.3 V", "40 m: 138 W, 21 A, 13.3 V", "20 m: 132 W, 20.8 A, 13.3 V"),
}  # fmt: skip


@pytest.mark.parametrize("expected", ALONE)
def test_watts_and_amps_alone(expected: str) -> None:
    seen = alone(*ALONE[expected])
    assert {c.place for c in seen.groups[0].causes} & set(expected.split(", ")), [g.name for g in seen.groups]


def test_a_bad_antenna_shows_in_what_comes_back() -> None:
    rows = ("80 m: 95 W, 21 A, 13.3 V, 18 W reflected", "40 m: 90 W, 14.5 A, 13.5 V, 20 W reflected")
    assert alone(*rows, load="antenna").groups[0].causes[0].place == "load"


def test_a_dead_final_may_be_the_victim() -> None:
    seen = alone("80 m: 0.0 W, 2.6 A, 13.7 V, 12 V rms at TP12", "40 m: 0.0 W, 2.6 A, 13.7 V, 12 V rms at TP12")
    assert any("victim" in w for w in seen.warnings)


def test_what_was_told_weighs_with_the_watts() -> None:
    rows = ("80 m: 99 W, 17 A, 13.4 V", "80 m: 76 W, 15 A, 13.5 V")
    history = history_of([("knock", "yes"), ("intermittent", "yes")])
    plain, told = (dict(alone(*rows, history=h).parts) for h in (None, history))
    assert told.get("W1", 0.0) > plain.get("W1", 0.0)  # a knock that changes it speaks for plugs and joints
    assert told["a noisy trimmer or plug"] > 0.3  # and two looks that differ still for what wanders


def test_every_cause_shows_on_some_meter() -> None:
    """Each row of the table, at its largest size, changes a figure of a full set of looks; what cannot is no row."""
    full = ", 12 V rms at TP12, 1.2 V rms at TP11, 0.2 V rms at TP10, 1 W reflected, 80 °C at FINAL case"
    full += ", 70 °C at FINAL sink"
    bench = bench_of(UNIT, [levels(*(f"{b.name}: 99 W, 17 A, 13.4 V, 2.4 A standing{full}" for b in UNIT.bands))])
    u = np.full((1, bench.layout.size), 0.7)
    sound = bench.predict(bench.cases(1), u)[0]
    for cause in causes(bench):
        cases = built(bench, cause)
        if cause.hypothesis.places[0].name == "PREDRIVER" and cause.hypothesis.places[0].word == "limits early":
            continue  # this one has 15 dB in reserve
        last = bench.predict(cases.picked(np.array([len(cases) - 1])), u)[0]
        moved = np.abs(last - sound).max() > 0.2 or cases.wide.max() > 0
        assert moved, cause.hypothesis.key


def test_every_row_of_the_table_has_its_source() -> None:
    table = level_table()
    assert all(len(s) > 15 for s in table.sources)
    for row in table.rows:
        sizes, log_share = row.sizes()
        assert (np.diff(sizes) >= 0).all()
        assert sizes.min() >= row.least * 0.999
        assert np.exp(log_share).sum() == pytest.approx(1.0)


def test_the_size_of_a_cause_is_read_off_its_chances() -> None:
    sizes = np.arange(1.0, 8.0)
    share = np.array([0, 0, 0, 1.0, 0, 0, 0])
    none = np.zeros(0)
    said = Said(0.0, sizes, share, 4.0, none, none, none, none, none, bench_of(UNIT, [levels(*GOOD)]).cases(1))
    low, high = size_range(said)
    assert low <= 4.0 <= high
    assert (low, high) == pytest.approx((4.0, 4.0), abs=0.7)


def test_next_offers_looks_on_live_power_with_their_cautions(tmp_path: Path) -> None:
    job = str(tmp_path / "a.job")
    run = CliRunner()
    for words in (
        ["start", job, "--unit", str(HOLLIN), "--complaint", "low power"],
        [
            "add",
            job,
            "--detector-ohm",
            "50 ohm",
            *(x for row in (*GOOD, "20 m: 51 W, 12.6 A, 13.5 V") for x in ("--level", row)),
        ],
    ):
        assert run.invoke(main, words).exit_code == 0
    said = run.invoke(main, ["next", job, "--most", "6"])
    assert said.exit_code == 0, said.output
    assert "Drive level at TP12 on 20 m" in said.output
    assert "Live power" in said.output
    suspects = run.invoke(main, ["suspects", job])
    assert suspects.exit_code == 0, suspects.output
    assert "20 m: power at J1" in suspects.output or "gain low on 20 m" in suspects.output


def test_causes_that_no_figure_tells_apart_are_one_group() -> None:
    """With watts and amps alone a driver that is low on one band looks like a final stage that is."""
    groups = alone(*GOOD, "20 m: 40 W, 11 A, 13.5 V").groups
    of = {(c.place, c.mode): g.name for g in groups for c in g.causes}
    assert of["DRIVER", "gain low on 20 m"] == of["FINAL", "gain low on 20 m"]


def test_a_test_point_tells_them_apart() -> None:
    rows = (*GOOD, "20 m: 40 W, 11 A, 13.5 V, 15.5 V rms at TP12, 1.7 V rms at TP11")
    seen = dict(alone(*rows).parts)
    assert seen.get("DRIVER", 0.0) < 0.3 * seen.get("FINAL", 0.0) + 0.05
