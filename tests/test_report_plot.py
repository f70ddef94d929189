"""The plots of the bench sheet: a 2 dB dip cannot be missed, odd readings do not break them."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
from sheets import BAND, F, lowpass, verdict

from halfsplit.quantity import percent
from halfsplit.reading import What
from halfsplit.report import plot
from halfsplit.report.draw import spaced, thinned
from halfsplit.report.scales import Scale, even_ticks, frequency_scale, frequency_ticks, level_scale, tick_text

SVG = "{http://www.w3.org/2000/svg}"
DIP = -2.0 * np.exp(-0.5 * ((F - 5.35e6) / 0.15e6) ** 2)


def drawn(f=F, read=None, **more) -> tuple[ElementTree.Element, ElementTree.Element]:
    """(plain trace, deviation) of a reading."""
    v, o = verdict(f, read, **more)
    curves = plot.curves_of(v, BAND, o.at_least)
    found = plot.trace(curves, v, BAND), plot.deviation(curves, v, BAND)
    assert not any(re.search(r"\b(nan|inf)\b", text) for text in found)
    return ElementTree.fromstring(found[0]), ElementTree.fromstring(found[1])


def points(element: ElementTree.Element) -> np.ndarray:
    return np.array([[float(x) for x in pair.split(",")] for pair in element.attrib["points"].split()])


def of_class(root: ElementTree.Element, kind: str, tag: str = "*") -> list[ElementTree.Element]:
    return [e for e in root.iter() if e.attrib.get("class") == kind and (tag == "*" or e.tag == SVG + tag)]


def depth(window: ElementTree.Element) -> float:
    """How deep the line dips within the served band, as a share of its panel's height."""
    line = points(of_class(window, "reading", "polyline")[0])
    inside = np.abs(line[:, 0] - frequency_scale(F, plot.LEFT, plot.RIGHT).one(5.35e6)) < 12
    return float(np.ptp(line[inside, 1])) / float(window.attrib["height"])


def test_a_dip_of_two_db_is_lost_on_the_plain_trace_and_jumps_out_of_the_deviation() -> None:
    # deep in the stop band the reading is 8 dB off, well within its tolerance there: it must not set the scale
    read = lowpass(F) + DIP + np.where(F > 20e6, 8.0, 0.0)
    plain, off = drawn(read=read)
    (window,) = of_class(plain, "window")
    in_db, in_sigma = of_class(off, "window")
    assert depth(window) < 0.04
    assert depth(in_db) > 0.3
    assert depth(in_sigma) > 0.3
    (text,) = of_class(off, "loud")
    assert re.fullmatch(r"-[12]\.\d dB at 5\.\d+ MHz", text.text or "")
    (ring,) = of_class(off, "ring")
    assert float(ring.attrib["cx"]) == pytest.approx(frequency_scale(F, plot.LEFT, plot.RIGHT).one(5.4e6), abs=3)


def test_a_quiet_reading_has_no_ring() -> None:
    _, off = drawn(read=lowpass(F) + 0.05)
    assert of_class(off, "ring") == [] and of_class(off, "edge") == []


def test_a_loud_stop_band_is_ringed_where_the_served_band_is_quiet() -> None:
    _, off = drawn(read=lowpass(F) + np.where(np.abs(F - 10.6e6) < 0.3e6, 20.0, 0.0))
    (text,) = of_class(off, "loud")
    assert (text.text or "").startswith("+20.0 dB at 10")


def test_beyond_the_paper_is_said() -> None:
    read = lowpass(F) + DIP + np.where(np.abs(F - 10.6e6) < 0.3e6, 20.0, 0.0)
    _, off = drawn(read=read)
    assert len(of_class(off, "edge")) == 1
    assert "+20 dB" in [e.text for e in of_class(off, "small")]


def test_served_band_and_harmonics_stand_where_they_are() -> None:
    plain, off = drawn()
    x = frequency_scale(F, plot.LEFT, plot.RIGHT)
    for root, many in ((plain, 1), (off, 2)):
        boxes = of_class(root, "served", "rect")
        assert len(boxes) == many
        assert float(boxes[0].attrib["x"]) == pytest.approx(x.one(5.2e6), abs=0.1)
    bars = of_class(plain, "harmonic")
    assert [float(b.attrib["x"]) for b in bars] == pytest.approx([x.one(5.2e6 * n) - 1 for n in (2, 3, 4, 5)], abs=0.1)


def test_values_that_are_only_known_to_be_lower_are_marks_and_no_line() -> None:
    floor = lowpass(F) < -70
    read = np.where(floor, -70.0, lowpass(F))
    plain, off = drawn(read=read, at_least=floor)
    x = frequency_scale(F, plot.LEFT, plot.RIGHT)
    end = x.one(F[floor][0])
    ends = [points(e)[:, 0].max() for e in of_class(plain, "reading", "polyline")]
    assert max(ends) < end
    marks = [float(re.match(r"M([\d.]+)", e.attrib["d"])[1]) + 3.4 for e in of_class(plain, "least")]  # type: ignore[index]
    assert marks and min(marks) == pytest.approx(end, abs=0.1)
    assert np.diff(marks).min() > 9.8
    assert of_class(off, "least") == []  # they agree with the expectation: nothing to show
    _, off = drawn(read=np.where(floor, lowpass(F) - 40, lowpass(F)), at_least=floor)
    assert of_class(off, "least")


def test_reflections_are_shown_as_return_loss_and_worse_is_down() -> None:
    v, o = verdict(read=np.full(len(F), 0.5), what=What.S11, tolerance=np.full(len(F), 0.05))
    c = plot.curves_of(v, BAND, o.at_least)
    assert c.read == pytest.approx(6.0206, abs=1e-4)  # 20 log10(2)
    assert c.expected == pytest.approx(20.0)
    assert (c.low < c.expected).all() and (c.expected < c.high).all()
    assert (c.off < 0).all() and (c.z < 0).all()
    plain, _ = drawn(read=np.full(len(F), 0.5), what=What.S11, tolerance=np.full(len(F), 0.05))
    assert "return loss, dB" in [e.text for e in of_class(plain, "axis")]


ODD = {
    "one point": {"f": [5.3e6]},
    "one point out of every band": {"f": [29e6]},
    "two points": {"f": [5.3e6, 5.4e6]},
    "two points a hertz apart": {"f": [5.3e6, 5.300001e6]},
    "equal values": {"f": F, "read": np.zeros(len(F)), "tolerance": np.full(len(F), 0.1)},
    "no tolerance to speak of": {"f": F, "tolerance": np.full(len(F), 1e-6)},
    "far off": {"f": F, "read": lowpass(F) - 300.0},
    "all at the floor": {"f": F, "read": np.full(len(F), -40.0), "at_least": np.ones(len(F), bool)},
    "one point at the floor": {"f": [25e6], "read": [-40.0], "at_least": [True]},
    "no reflection": {"f": F, "read": np.zeros(len(F)), "what": What.S11, "tolerance": np.full(len(F), 0.05)},
    "total reflection": {"f": [5.3e6], "read": [1.0], "what": What.S22, "tolerance": [0.3]},
    "from 50 kHz to 300 MHz": {"f": np.geomspace(50e3, 300e6, 500)},
    "above every band": {"f": np.linspace(200e6, 300e6, 30)},
}


@pytest.mark.parametrize("case", ODD.values(), ids=ODD)
def test_odd_readings(case) -> None:
    """Every stroke but those that leave a window stays on the paper."""
    for root in drawn(**case):
        assert of_class(root, "reading") or of_class(root, "least") or case.get("at_least") is not None
        for window in of_class(root, "window"):
            for child in list(window):
                window.remove(child)
        for e in root.iter():
            for name in ("x", "x1", "x2", "cx"):
                if name in e.attrib:
                    assert -1 <= float(e.attrib[name]) <= plot.WIDTH + 1, (e.tag, e.attrib)
            for name in ("y", "y1", "y2", "cy"):
                if name in e.attrib:
                    assert -1 <= float(e.attrib[name]) <= 331, (e.tag, e.attrib)
            if "points" in e.attrib:
                assert points(e).min() >= -1


def test_a_long_sweep_is_thinned_and_keeps_its_narrowest_spike() -> None:
    f = np.linspace(1e6, 30e6, 50_001)
    read = lowpass(f)
    read[12_345] = 5.0
    plain, _ = drawn(f, read)
    line = points(of_class(plain, "reading", "polyline")[0])
    assert len(line) < 3000
    assert line[:, 1].min() < float(line[0, 1]) - 5
    kept = thinned(f, read)
    assert 12_345 in kept and kept[0] == 0 and kept[-1] == len(f) - 1
    assert (np.diff(kept) > 0).all()


def test_frequency_ticks_are_round_and_few() -> None:
    rng = np.random.default_rng(5)
    for low, ratio in zip(
        rng.uniform(5e4, 1e8, 300), rng.uniform(1.0, 6000.0, 300) ** rng.uniform(0, 1, 300), strict=True
    ):
        scale = frequency_scale(np.array([low, low * ratio]), 0.0, 100.0)
        ticks = frequency_ticks(scale)
        assert 2 <= len(ticks) <= 12, (low, ratio)
        assert all(scale.low * 0.999 <= t <= scale.high * 1.001 for t in ticks)
        assert len({tick_text(t / 1e6) for t in ticks}) == len(ticks)


@pytest.mark.parametrize(
    ("low", "high", "ticks"), [(-80.0, 0.0, [-80, -60, -40, -20, 0]), (-1.1, 1.1, [-1, -0.5, 0, 0.5, 1]), (3, 4, 6)]
)
def test_level_ticks(low: float, high: float, ticks) -> None:
    found = even_ticks(low, high, 5)
    assert len(found) == ticks if isinstance(ticks, int) else found == pytest.approx(ticks)


def test_tick_figures() -> None:
    assert [tick_text(x) for x in (-20.0, 0.0, -0.0, 0.05, 1e-6, 300.0)] == [
        "\u221220",
        "0",
        "0",
        "0.05",
        "0.000001",
        "300",
    ]


def test_a_scale_runs_from_end_to_end_and_holds_what_lies_beyond() -> None:
    scale = Scale(1e6, 100e6, 10.0, 210.0, log=True)
    assert list(scale.at([1e6, 10e6, 100e6, 1e9, 1e3])) == pytest.approx([10, 110, 210, 210, 10])
    assert scale.free([1e9])[0] == pytest.approx(310)
    upright = level_scale(-3.0, -3.0, 100.0, 0.0, 2.0)
    assert upright.high - upright.low == pytest.approx(2.16)
    assert upright.one(-3.0) == pytest.approx(50.0)


def test_marks_keep_their_distance() -> None:
    x = np.cumsum(np.random.default_rng(1).uniform(0, 5, 200))
    kept = spaced(x, 12.0)
    assert kept[0] == 0 and np.diff(x[kept]).min() >= 12.0
    assert spaced(np.array([]), 3.0) == []


def test_a_probability_never_reads_as_certain() -> None:
    assert [percent(p) for p in (0.0, 0.004, 0.016, 0.5, 0.994, 1.0)] == [
        "<1 %",
        "<1 %",
        "2 %",
        "50 %",
        ">99 %",
        ">99 %",
    ]
    assert math.isclose(plot.return_loss(np.array([0.1]))[0], 20.0)
