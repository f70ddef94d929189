"""Laws of the quantity room: what is written can be read back, and nothing but a QuantityError ever comes out."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.quantity import Dimension, QuantityError, format_value, number, parse, parse_part_value

LOGARITHMIC = (Dimension.DECIBEL, Dimension.LEVEL, Dimension.CARRIER)
LINEAR = tuple(d for d in Dimension if d not in (*LOGARITHMIC, Dimension.TEMPERATURE, Dimension.PLAIN))
alphabet = st.text(
    alphabet=st.sampled_from("0123456789.,'+-−eExX pnuµμmkMGRLFHzVWAdBcT%°Ω|/()#\t \u00a0\n–²٣q\"") | st.characters(),
    max_size=30,
)


@given(st.sampled_from(LINEAR), st.floats(1e-13, 1e9))
def test_shown_values_read_back_within_their_digits(dimension: Dimension, value: float) -> None:
    back = parse(format_value(value, dimension, digits=6), dimension)
    assert back.warnings == ()
    assert back.value == pytest.approx(value, rel=6e-6)


@given(st.sampled_from(LOGARITHMIC), st.floats(-200, 200))
def test_shown_decibels_read_back(dimension: Dimension, value: float) -> None:
    back = parse(format_value(value, dimension), dimension).value
    assert abs(back - value) <= (0.0051 if abs(value) < 9.99 else 0.051)


@given(st.floats(-273, 1000))
def test_temperatures_read_back(celsius: float) -> None:
    back = parse(format_value(celsius + 273.15, Dimension.TEMPERATURE, digits=6), Dimension.TEMPERATURE).value
    assert back == pytest.approx(celsius + 273.15, abs=0.006)


@given(alphabet, st.sampled_from(list(Dimension)))
def test_any_text_is_a_finite_value_or_refused(text: str, dimension: Dimension) -> None:
    try:
        got = parse(text, dimension)
    except QuantityError:
        return
    assert math.isfinite(got.value)
    assert got.text == text


@given(alphabet, st.sampled_from([Dimension.CAPACITANCE, Dimension.INDUCTANCE, Dimension.RESISTANCE]))
def test_any_part_text_is_understood_asked_or_refused(text: str, dimension: Dimension) -> None:
    try:
        got = parse_part_value(text, dimension)
    except QuantityError:
        return
    assert got.text == text


@given(st.decimals(-99999999, 99999999, places=3), st.sampled_from([".", ","]), st.booleans())
def test_either_decimal_mark_with_or_without_thousands(value: object, mark: str, grouped: bool) -> None:
    english = f"{value:,.3f}" if grouped else f"{value:.3f}"
    swapped = english.translate(str.maketrans(".,", ",.")) if mark == "," else english
    assert number(swapped, mark)[0] == float(f"{value:.3f}")  # type: ignore[arg-type]


@given(st.integers(0, 9999), st.integers(0, 999), st.sampled_from("pnu"))
def test_letter_codes_mean_what_their_plain_form_means(whole: int, part: int, letter: str) -> None:
    coded = parse(f"{whole}{letter}{part}", Dimension.CAPACITANCE).value
    assert coded == parse(f"{whole}.{part} {letter}F", Dimension.CAPACITANCE).value
