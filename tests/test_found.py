"""Typed results of a meter, a bridge or a swapped jumper."""

from __future__ import annotations

from dataclasses import replace

import pytest
from units import F1, TWO_BANDS

from halfsplit.errors import ReadingError
from halfsplit.fault import Finding
from halfsplit.jobs.found import found, words_of


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("ohms across E1 = 0.02 ohm", Finding("ohms across", "E1 ground joint", 0.02)),
        ("Ohms across k1 contact = 14", Finding("ohms across", "K1 contact", 14.0)),
        ("ohms across K1 contact = open", Finding("ohms across", "K1 contact", 1e7)),
        ("C12 lifted = 310 pF", Finding("measure lifted part", "C12", 310e-12)),
        ("c12 lifted: 1n0, Q right", Finding("measure lifted part", "C12", 1e-9, lossy=False)),
        ("L12 lifted = 0,9 uH, low Q", Finding("measure lifted part", "L12", 0.9e-6, lossy=True)),
        ("L12 lifted = open", Finding("measure lifted part", "L12", word="open")),
        ("K1 contact bridged = cured", Finding("bridge and sweep again", "K1 contact", word="cured")),
        ("W2 swapped = no change", Finding("swap jumper", "W2", word="no change")),
    ],
)
def test_what_is_typed_is_understood(line, meant):
    one = found(TWO_BANDS, line)
    assert (one.kind, one.place, one.word, one.lossy) == (meant.kind, meant.place, meant.word, meant.lossy)
    assert one.value == (None if meant.value is None else pytest.approx(meant.value))
    assert meant.place in words_of(TWO_BANDS, one)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("C12 is fine", "one of these forms"),
        ("C99 lifted = 310 pF", "one of"),
        ("C12 lifted = 310 nH", "310"),
        ("C12 lifted = 310 pF, smells", "low Q"),
        ("C12 lifted = 0 pF", "above zero"),
        ("W2 swapped = maybe", "no change"),
        ("ohms across C1 = 1 ohm", "one of"),
    ],
)
def test_what_is_not_understood_is_refused(line, told):
    with pytest.raises(ReadingError, match=told):
        found(TWO_BANDS, line)


def test_the_unit_of_a_lifted_part_is_that_of_its_kind_whatever_its_letter():
    odd = replace(F1.rungs[3].parts[0], ref="T7")
    unit = replace(TWO_BANDS, filters=(replace(F1, rungs=(*F1.rungs[:3], replace(F1.rungs[3], parts=(odd,)))),))
    unit = replace(unit, bands=TWO_BANDS.bands[:1])
    assert words_of(unit, found(unit, "T7 lifted = 0,9 uH")) == "T7 lifted: 900 nH"
