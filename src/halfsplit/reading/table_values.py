"""From the numbers of a column to dB: scale and sign, and what had to be assumed about them."""

from __future__ import annotations

import numpy as np

from halfsplit.errors import Mistake, ReadingError
from halfsplit.reading.answers import FACTOR, Answers
from halfsplit.reading.curve import Real
from halfsplit.reading.records import Question, What
from halfsplit.reading.table_columns import Column


def assumed_unit(values: Real) -> tuple[str, bool]:
    """The unit that bare frequencies of a transmitter bench must have, and whether that is sure.

    Sure only from a million up: as kHz these would lie above 1 GHz.
    """
    top = float(np.max(np.abs(values)))
    if top >= 3e5:
        return "Hz", top >= 1e6
    return ("kHz", False) if top >= 1e3 else ("MHz", False)


def unit_question(unit: str, values: Real) -> Question:
    """The question that goes with an assumed unit of frequency."""
    text = f"No unit of frequency, numbers from {np.min(values):g} to {np.max(values):g}: which unit?"
    return Question("frequency_unit", text, unit)


def in_db(
    name: str, column: Column, values: Real, answers: Answers
) -> tuple[What, Real, Real, list[str], list[Question]]:
    """One column of readings as dB (dBm, ohm).

    returns the quantity, the values (n,), d(dB)/d(value) (n,) for an uncertainty, warnings and questions
    raises ReadingError for values that this quantity cannot have
    """
    asks: list[Question] = []
    form: str = answers.scale or column.form
    if form in ("?", "magnitude"):
        form, question = _scale(column, values)
        asks += [question] if question else []
    what = _quantity(column, form, answers, asks)
    with np.errstate(all="ignore"):
        if form == "SWR":
            db, slope, warnings = _from_swr(name, column, values)
        elif form in ("linear", "product"):
            power = 10 if form == "product" else 20
            db = power * np.log10(np.abs(values))
            slope = power / np.log(10) / np.where(values == 0, np.nan, np.abs(values))
            warnings = _product_note(column) if form == "product" else []
        elif form in ("dBm", "ohm"):
            db, slope, warnings = values, np.ones_like(values), []
        else:
            db, warnings = _signed(column, form, what, values, answers, asks)
            slope = np.ones_like(values)
    return what, db, slope, warnings, asks


def _product_note(column: Column) -> list[str]:
    return [f"{column.heading!r} is the product s12*s21: its square root was taken, both ways assumed alike"]


def _quantity(column: Column, form: str, answers: Answers, asks: list[Question]) -> What:
    if answers.quantity:
        return answers.quantity
    if form == "dBm":
        return What.LEVEL
    if form == "ohm":
        return What.IMPEDANCE
    if column.what and column.what is not What.LEVEL:
        if column.what is What.S21 and column.heading.strip().lower() == "level":
            asks.append(Question("scale", f"{column.heading!r} has no unit: dB against a reference, or dBm?", "dB"))
        return column.what
    if form == "SWR":
        return What.S11
    label = f"{column.heading!r}" if column.heading else f"column {column.place + 1}"
    asks.append(Question("quantity", f"What does {label} show: through (s21) or reflected (s11)?", "s21"))
    return What.S21


def _scale(column: Column, values: Real) -> tuple[str, Question | None]:
    """linear or dB for a column that does not say; asked where both would make sense."""
    label = column.heading or f"Column {column.place + 1}"
    if (np.abs(values) > 1.2).any():
        return "dB", None
    if (values < 0).all() or not values.any():
        return "dB", Question("scale", f"{label}: linear or dB? (small numbers below zero)", "dB")
    if column.form == "magnitude" and (values >= 0).all():
        return "linear", None
    signs = "of both signs" if (values < 0).any() else "above zero"
    return "linear", Question("scale", f"{label}: linear or dB? (small numbers {signs})", "linear")


def _from_swr(name: str, column: Column, values: Real) -> tuple[Real, Real, list[str]]:
    low = values < 1
    if (values < 0.98).any():
        raise ReadingError(
            Mistake(name, f"a standing wave ratio of {values.min():g} in {column.heading!r}", "ratios of 1 and more")
        )
    swr = np.where(low, 1.0, values)
    gamma = (swr - 1) / (swr + 1)
    slope = 20 / np.log(10) * 2 / np.where(swr == 1, np.nan, swr * swr - 1)
    note = [f"{int(low.sum())} standing wave ratios just below 1 read as 1"] if low.any() else []
    return 20 * np.log10(gamma), slope, note


def _signed(
    column: Column, form: str, what: What, values: Real, answers: Answers, asks: list[Question]
) -> tuple[Real, list[str]]:
    """dB with the sign of an S-parameter: loss is negative."""
    label = column.heading or f"column {column.place + 1}"
    if answers.sign == "loss positive":
        return -values, []
    if answers.sign == "as given":
        return values, []
    positive, negative = float(values[values > 0].sum()), float(-values[values < 0].sum())
    if form == "loss":
        # by size, not by count: a stop band may hold a hundred values of -0.004 beside twenty of 30
        mixed = [f"{label!r} has values of both signs; the sign of the larger ones is taken as loss"]
        return (-values if positive > negative else values), mixed if positive and negative else []
    if positive and not negative and values.max() > 0.5:
        text = f"{label}: positive dB only. Is the attenuation given as positive dB (50 is 50 dB down)?"
        if what in (What.S21, What.S12) or what in (What.S11, What.S22):
            asks.append(Question("sign", text, "loss positive"))
            return -values, []
    return values, []


def frequencies(
    name: str, column: Column, values: Real, units: list[str], answers: Answers
) -> tuple[Real, list[str], list[Question]]:
    """Frequencies in Hz from bare numbers and the units that stand with them, in the heading or nowhere."""
    wrong = next((u for u in units if u and not u.endswith("Hz")), None)
    if wrong:
        raise ReadingError(Mistake(name, f"{wrong} in the frequency column", "Hz, kHz, MHz or GHz"))
    bare = np.array([not u for u in units])
    scale = np.array([FACTOR.get(u, 1.0) for u in units])
    if not bare.any():
        return values * scale, [], []
    stated = column.unit if column.unit.endswith("Hz") else ""
    warnings: list[str] = []
    asks: list[Question] = []
    if answers.frequency_unit and stated and answers.frequency_unit != stated:
        warnings.append(f"the file says {stated}, the answer {answers.frequency_unit} was followed")
    unit = answers.frequency_unit or stated
    if not unit:
        unit, sure = assumed_unit(values[bare])
        if sure:
            warnings.append("no unit of frequency in the file; numbers of this size are read as Hz")
        else:
            asks.append(unit_question(unit, values[bare]))
    return values * np.where(bare, FACTOR[unit], scale), warnings, asks
