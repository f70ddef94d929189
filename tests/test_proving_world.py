"""The world of the trials: its path agrees with scikit-rf, its prototypes with the handbook, its files are read."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from halfsplit.unit import check_text
from proving.design import butterworth, chebyshev, draw_unit, nominal_loss
from proving.drawing import Drawing, Jumper, Ladder, Served, Step, piece, unit_file
from proving.strayed import Built, Line, Real
from proving.world import WIRE, Bench, sees

F = np.linspace(1e6, 60e6, 60)
JOINT = 1e-6  # ohm; far less would cost digits in a matrix of 20 millisiemens


def perfect() -> tuple[Drawing, Built]:
    """One filter of three parts and a jumper, built without any stray that can be left out."""
    steps = (
        Step("shunt", piece("C11", 430e-12)),
        Step("series", piece("L11", 1.1e-6)),
        Step("shunt", piece("C12", 430e-12)),
    )
    jumper = Jumper("W1", 75.0, 0.66, 1.3, 0.03, 0.4)
    drawing = Drawing(
        "Bare", (Served("40 m", 7.0e6, 7.3e6, "F1"),), (Ladder("F1", steps, "", ""),), ("TP1", "filter", "W1", "J1"),
        ("TP1", "J1"), (jumper,), (), False, "", 0,
    )  # fmt: skip
    parts = {"C11": Real(430e-12, 1e12), "L11": Real(1.1e-6, 100.0), "C12": Real(430e-12, 1e12)}
    ends = ("F1 in joint", "F1 out joint")
    ohm = dict.fromkeys((*parts, *ends, "W1 near-end joint", "W1 far-end joint"), 0.0)
    ohm |= dict.fromkeys((*ends, "W1 near-end joint", "W1 far-end joint"), JOINT)
    line = Line(75.0, 0.66, 1.3, 0.03, 0.4)
    built = Built(
        drawing, parts, {"W1": line}, {}, dict.fromkeys(("left bus", "right bus"), 0.0), dict.fromkeys(ends, 0.0),
        dict.fromkeys(ends, 1e-12), ohm, {}, 0j,
    )  # fmt: skip
    return drawing, built


def plain_bench(read: str | None) -> Bench:
    return Bench("40 m", "TP1", read, 50.0, 50.0, 0.0, 0.0, 0.0, 0.0, 50.0, True)


def test_a_ladder_and_a_line_agree_with_scikit_rf() -> None:
    """Reference: scikit-rf's own two-port cascades."""
    skrf = pytest.importorskip("skrf")
    _, built = perfect()
    w = 2 * np.pi * F
    frequency = skrf.Frequency.from_f(F, unit="Hz")

    def chain(a: object, b: object, c: object, d: object) -> object:
        abcd = np.zeros((len(F), 2, 2), complex)
        for (i, j), value in zip(((0, 0), (0, 1), (1, 0), (1, 1)), (a, b, c, d), strict=True):
            abcd[:, i, j] = value
        return skrf.Network(frequency=frequency, s=skrf.network.a2s(abcd, z0=np.array([50.0, 50.0])), z0=50.0)

    coil, farads = w * 1.1e-6 * (1j + 1 / 100.0), 1j * w * 430e-12
    mhz = F / 1e6
    gl = ((1.3 * np.sqrt(mhz) + 0.03 * mhz) / 100 * math.log(10) / 20 + 1j * w / (299_792_458.0 * 0.66)) * 0.4
    line = chain(np.cosh(gl), 75 * np.sinh(gl), np.sinh(gl) / 75, np.cosh(gl))
    ladder = chain(1, 0, farads, 1) ** chain(1, coil, 0, 1) ** chain(1, 0, farads, 1)
    wire, joint = chain(1, WIRE, 0, 1), chain(1, JOINT, 0, 1)
    whole = wire**joint**ladder**joint**joint**line**joint**wire
    s21, s11 = sees(built, plain_bench("J1"), F)
    np.testing.assert_allclose(s21, whole.s[:, 1, 0], atol=1e-7)
    np.testing.assert_allclose(s11, whole.s[:, 0, 0], atol=1e-7)


def test_prototypes_have_their_published_values() -> None:
    """Matthaei, Young, Jones 1964, tables 4.05-1(a) and 4.05-2(a): n = 5, from memory."""
    np.testing.assert_allclose(chebyshev(5, 0.1), [1.1468, 1.3712, 1.9750, 1.3712, 1.1468], atol=1e-4)
    np.testing.assert_allclose(butterworth(5), [0.618, 1.618, 2.0, 1.618, 0.618], atol=1e-4)


@pytest.mark.parametrize("seed", range(25))
def test_unit_files_are_read_without_mistake_or_warning(seed: int) -> None:
    drawing = draw_unit(np.random.default_rng(seed), f"Trial {seed}")
    unit, mistakes, warnings = check_text(unit_file(drawing), "trial")
    assert (mistakes, warnings) == ((), ())
    assert unit is not None
    drawn = {p.ref: p.value for x in drawing.ladders for p in x.pieces()}
    read = {p.ref: p.value for x in unit.filters for p in x.parts}
    assert read.keys() == drawn.keys()
    for ref, value in drawn.items():
        assert read[ref] == pytest.approx(value, rel=1e-9), ref
    for band in drawing.bands:
        one = drawing.ladder(band.ladder)
        assert nominal_loss(one.steps, band.low, band.high) < (0.6 if one.kind == "low-pass" else 2.5)
