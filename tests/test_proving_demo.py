"""The demo: its files are what the generator writes, they do not give the truth away, and the tool finds it."""

import shlex
import sys
import tomllib
from importlib import resources
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from halfsplit import fault, verdict
from halfsplit.expect import observe
from halfsplit.hookup import Hookup
from halfsplit.reading import What, read_bytes, read_typed
from halfsplit.unit import read_unit
from proving import make_demo

DEMO = resources.files("halfsplit.demo")
FIGURES, FILES = make_demo.readings()
SCRIPT = tomllib.loads(DEMO.joinpath("demo.toml").read_text("utf-8"))
ANALYSER = Hookup("31 m", "TP1", "J2", instrument="analyser", reference="calibrated")


def unit():
    return read_unit(DEMO.joinpath(make_demo.UNIT).read_text("utf-8"), make_demo.UNIT)


def seen(name, hookup):
    return observe(unit(), hookup, read_bytes(name, DEMO.joinpath(name).read_bytes()), name)


@pytest.mark.parametrize("name", sorted(FILES))
def test_the_generator_writes_the_committed_bytes(name):
    assert DEMO.joinpath(name).read_bytes() == FILES[name].encode()


def test_the_typed_figures_are_those_of_the_generator():
    typed = [words[words.index("--typed") + 1] for words in commands() if "--typed" in words]
    assert typed == [FIGURES]


def commands():
    return [shlex.split(step["command"]) for step in SCRIPT["step"]]


def test_every_reading_is_listed_and_used():
    assert sorted(SCRIPT["files"]) == sorted([make_demo.UNIT, *FILES])
    used = {word for words in commands() for word in words}
    assert set(SCRIPT["files"]) <= used


def test_the_unit_of_the_demo_is_the_example():
    example = Path(__file__).resolve().parents[1] / "examples" / make_demo.UNIT
    assert example.read_bytes() == DEMO.joinpath(make_demo.UNIT).read_bytes()


def test_no_file_gives_the_truth_away():
    texts = [DEMO.joinpath(name).read_text("utf-8") for name in [*FILES, "demo.toml", "__init__.py"]]
    for text in texts:
        for word in ("E41", "C44", "C45", "earth", "ground joint", "crack", "inductive"):
            assert word.casefold() not in text.casefold()


def test_the_cause_is_found_and_its_size():
    observations = (
        *observe(unit(), Hookup("31 m", "TP1", "J2"), read_typed(FIGURES.split("; "), What.S21, 0.5), "R1"),
        *seen("analyser_31m.s2p", ANALYSER),
        *seen("sweep_40m.csv", Hookup("40 m", "TP1", "J2")),
        *seen("sweep_20m.csv", Hookup("20 m", "TP1", "J2")),
    )
    ranking = fault.rank(unit(), observations, "")
    best = ranking.groups[0].causes[0]
    assert best.place == "E41 ground joint"
    assert best.mode == "inductive"
    assert ranking.groups[0].probability > 0.9
    assert best.size == pytest.approx(make_demo.CRACK["E41"], rel=0.25)


def test_the_good_bands_and_the_repaired_one_are_within():
    for name, hookup in (
        ("sweep_40m.csv", Hookup("40 m", "TP1", "J2")),
        ("sweep_20m.csv", Hookup("20 m", "TP1", "J2")),
        ("analyser_31m_after.s2p", ANALYSER),
    ):
        for found in verdict.judge(unit(), seen(name, hookup), np.random.default_rng(1)):
            assert found.word is verdict.Word.WITHIN


def test_the_served_band_was_measured_on_every_band():
    for name, band in (("sweep_40m.csv", "40 m"), ("sweep_20m.csv", "20 m"), ("analyser_31m.s2p", "31 m")):
        served = unit().band(band)
        f = np.array(read_bytes(name, DEMO.joinpath(name).read_bytes()).traces[0].f)
        assert ((f >= served.low) & (f <= served.high)).any()


def test_the_page_tells_the_played_steps():
    page = (Path(__file__).resolve().parents[1] / "docs" / "demo.md").read_text("utf-8")
    told = [word for row in page.splitlines() if row.startswith("| ") for word in verbs(row)]
    assert told == [words[0] for words in commands()]


def verbs(row):
    """Verbs in the second column of a row, "`add` three times" counted as such."""
    cell = row.split("|")[2]
    found = cell.split("`")[1::2]
    return found * 3 if "three times" in cell else found
