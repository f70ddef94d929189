"""The trial on measured filters: its drawings are those of the builders, wrong in one part at a time.

source of filters and curves: ../shared/measured/SOURCE.md
"""

import json
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from halfsplit.reading import What, read_bytes
from halfsplit.unit import read_unit
from proving import measured

pytestmark = pytest.mark.skipif(
    not measured.MEASURED.is_dir(), reason="the measured filters of ../shared/measured are not here"
)


def values(drawn, part="", factor=1.0):
    unit = read_unit(measured.unit_text(drawn, part, factor), "trial.toml")
    return {p.ref: p.value for p in unit.filters[0].parts}


def test_drawings_have_the_printed_values():
    stated = {}
    for folder in measured.SETS:
        for row in json.loads((measured.MEASURED / folder / "filters.json").read_text("utf-8")):
            stated[row["name"]] = row["values_SI"]
    for name, drawn in measured.filters().items():
        mine = {drawn.names[ref]: value for ref, value in values(drawn).items()}
        assert mine == pytest.approx(stated[name], rel=1e-5)


@pytest.mark.parametrize("factor", measured.FACTORS)
def test_a_false_drawing_differs_in_one_part_alone(factor):
    drawn = measured.filters()["80m"]
    true = values(drawn)
    for part in drawn.parts:
        ratio = {ref: value / true[ref] for ref, value in values(drawn, part, factor).items()}
        assert ratio == pytest.approx({ref: factor if ref == part else 1.0 for ref in true}, rel=1e-5)


def test_a_trial_for_every_part_and_factor():
    work = measured.trials((), ("both", "s21"))
    for kind in ("both", "s21"):
        assert sum(t.kind == kind and bool(t.part) for t in work) == 62
        assert sum(t.kind == kind and not t.part for t in work) == 4
    assert len(set(work)) == len(work)


@pytest.mark.parametrize(("kind", "traces"), [("both", {What.S21, What.S11}), ("s21", {What.S21})])
def test_the_curve_arrives_whole(kind, traces):
    for name, drawn in measured.filters().items():
        reading = read_bytes(f"{name}.csv", measured.reading_text(drawn, kind).encode())
        assert {t.what for t in reading.traces} == traces
        assert all(len(t.f) == len(drawn.csv_text.splitlines()) - 1 for t in reading.traces)
        assert not reading.asks


def test_a_drawing_false_in_its_middle_capacitor_is_found_out():
    found = measured.run(measured.Trial("28MHz_7pole", "both", "C5", 1.5))
    assert found.mark.first
    assert "outside" in found.words


def test_a_filter_built_to_its_drawing_is_called_sound():
    assert measured.run(measured.Trial("60_40m", "both")).mark.first
