"""What each column of a table holds, from its heading, the key lines and the user's answers."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from halfsplit.errors import Mistake, ReadingError
from halfsplit.reading.answers import Answers
from halfsplit.reading.records import Question, What
from halfsplit.reading.table_cells import UNITS
from halfsplit.reading.table_layout import Layout

Role = Literal["frequency", "value", "phase", "real", "imag", "uncertainty", "other"]
Form = Literal["dB", "loss", "linear", "magnitude", "SWR", "dBm", "ohm", "product", "?"]

_PARAMETER = re.compile(r"s\s*_?([12])\s*,?\s*([12])(?![0-9])")
_THROUGH = re.compile(
    r"thr(?:ough|u)|transmi|insertion|attenuat|d(?:ae|ä)mpfung|\bforward\b|\bgain\b|\blevel\b|\bmag(?:nitude)?\b|"
    r"\bamplitude\b|\bloss\b|^\W*(?:a|db|il|b/a|signal)\b"
)
_REFLECTED = re.compile(r"return|reflect|r(?:ue|ü)ckfl|\brl\b|v?swr|\brho\b|gamma|γ|ρ|\bmatch")
_IMPEDANCE = re.compile(r"\|z\||impedance|^\W*z\b")
_LOSS = re.compile(r"loss|attenuat|d(?:ae|ä)mpfung|\brl\b|\bil\b|^\W*a\b")
_OTHER = re.compile(
    r"^\W*(?:row|index|idx|no|nr|num(?:ber)?|point|points|#|clock|time|date|zeit|spare|count|temp\w*|remark|note|"
    r"marker|flag|sweep|channel|delay|group delay)\b"
)
_UNCERTAIN = re.compile(r"uncertain|\bsigma\b|\bstd|std\.?dev|\bu_|\bu\(|σ|±|\berror\b")


@dataclass(frozen=True, slots=True)
class Column:
    """One column. place : index from 0; what : None where the heading does not say; unit : "" likewise."""

    place: int
    role: Role
    what: What | None = None
    form: Form = "?"
    unit: str = ""
    heading: str = ""


def classify(place: int, heading: str) -> Column:
    """What a heading says about its column."""
    low = heading[:200].lower()
    unit = _unit(low)
    if _OTHER.match(low) or unit == "dBc":
        return Column(place, "other", heading=heading)
    if _UNCERTAIN.search(low):
        return Column(place, "uncertainty", _what(low) if _PARAMETER.search(low) else None, "?", unit, heading)
    if unit.endswith("Hz") or (re.match(r"\W*(?:f|fr[eéè]?[qc]\w*|freq\w*)\b", low) and unit in ("", "Hz")):
        return Column(place, "frequency", unit=unit, heading=heading)
    what = _what(low)
    if unit in ("deg", "rad") or re.search(r"phase|\bdeg|\bang(?:le)?\b|\barg\b|∠|^\W*(?:ph|phi)\b", low):
        return Column(place, "phase", what, unit="rad" if unit == "rad" else "deg", heading=heading)
    part = _part(low)
    if part:
        return Column(place, part, what, "product" if len(_PARAMETER.findall(low)) == 2 else "linear", unit, heading)
    return Column(place, "value", what, _form(low, unit), unit, heading)


def _unit(low: str) -> str:
    """The unit in a heading: in brackets, behind a stroke, or as its last or only word."""
    for text in re.findall(r"[(\[]\s*([^)\]]+?)\s*[)\]]", low) + re.findall(r"/\s*([a-zω°]+)\s*\Z", low):
        if text in UNITS:
            return UNITS[text]
    last = re.split(r"[\s_,;]+", low.strip())[-1].strip("()[]")
    return UNITS.get(last, "")


def _what(low: str) -> What | None:
    named = _PARAMETER.findall(low)
    if len(named) == 2:
        return What.S21
    if named:
        return What("s" + "".join(named[0]))
    if "dbm" in low:
        return What.LEVEL
    if _REFLECTED.search(low):
        return What.S11
    if _IMPEDANCE.search(low):
        return What.IMPEDANCE
    return What.S21 if _THROUGH.search(low) else None


def _part(low: str) -> Literal["real", "imag"] | None:
    if re.search(r"\breal\b|\bre(?=[\s(:_\[]|\b)|_re\b|\bre_", low):
        return "real"
    return "imag" if re.search(r"\bimag(?:inary)?\b|\bim(?=[\s(:_\[]|\b)|_im\b|\bim_", low) else None


def _form(low: str, unit: str) -> Form:
    if re.search(r"v?swr", low):
        return "SWR"
    if unit == "dBm":
        return "dBm"
    if unit == "ohm":
        return "ohm"
    if _LOSS.search(low):
        return "loss"
    if unit == "dB":
        return "dB"
    if re.search(r"\blin(?:ear)?\b|\brho\b|gamma|γ|ρ", low):
        return "linear"
    return "magnitude" if re.search(r"\bmag(?:nitude)?\b|\|s", low) else "?"


def columns_of(name: str, layout: Layout, answers: Answers) -> tuple[tuple[Column, ...], list[Question]]:
    """All columns of the table, with the questions that finding them left open.

    raises ReadingError where an answer points at a column that is not there, or no frequency column is found
    """
    width = max(len(cells) for _, cells in layout.rows)
    _check_answers(name, answers, width)
    if layout.headings:
        columns = [classify(i, h) for i, h in enumerate(layout.headings)]
        asks: list[Question] = []
    else:
        columns, asks = _without_headings(layout, width)
    columns = [_told(c, answers) for c in columns]
    if answers.frequency_column is None and not any(c.role == "frequency" for c in columns):
        columns[0] = replace(columns[0], role="frequency")
        asks.append(Question("frequency_column", "Which column is the frequency?", "1"))
    first = next(c.place for c in columns if c.role == "frequency")
    columns = [replace(c, role="other") if c.role == "frequency" and c.place != first else c for c in columns]
    return tuple(_keyed(c, layout) for c in columns), asks


def _check_answers(name: str, answers: Answers, width: int) -> None:
    given = {
        "frequency_column": answers.frequency_column,
        "value_column": answers.value_column,
        "phase_column": answers.phase_column,
    }
    wrong = [
        Mistake(name, f"{key} {column}", f"a column from 1 to {width}")
        for key, column in given.items()
        if column is not None and not 1 <= column <= width
    ]
    chosen = [column for column in given.values() if column is not None]
    if len(set(chosen)) < len(chosen):
        wrong.append(Mistake(name, "one column answered for two purposes", "a column each"))
    if wrong:
        raise ReadingError(*wrong)


def _told(column: Column, answers: Answers) -> Column:
    """The column as the user's answers make it."""
    number = column.place + 1
    if answers.frequency_column is not None:
        if number == answers.frequency_column:
            return replace(column, role="frequency", unit=column.unit if column.unit.endswith("Hz") else "")
        if column.role == "frequency":
            column = replace(column, role="other")
    if answers.phase_column == number:
        return replace(column, role="phase", unit=column.unit if column.unit == "rad" else "deg")
    if answers.value_column is not None:
        if number == answers.value_column:
            return replace(column, role="value", what=answers.quantity or column.what)
        return replace(column, role="other") if column.role in ("value", "real", "imag", "uncertainty") else column
    return column


def _keyed(column: Column, layout: Layout) -> Column:
    """Units that stand only in a key line above the rows ("unit of level, dBm")."""
    if column.unit or column.role not in ("frequency", "value"):
        return column
    for key, value in layout.keys:
        unit = UNITS.get(value.strip().lower(), "")
        if unit.endswith("Hz") and column.role == "frequency" and "unit" in key.lower():
            return replace(column, unit=unit)
        if unit in ("dB", "dBm") and column.role == "value" and column.form == "?":
            what = What.LEVEL if unit == "dBm" else column.what
            return replace(column, unit=unit, form=unit, what=what)  # type: ignore[arg-type]
    return column


def _without_headings(layout: Layout, width: int) -> tuple[list[Column], list[Question]]:
    """First column frequency, second value; a row number in front is stepped over. Everything is asked."""
    shift = 1 if width >= 3 and _counts_rows(layout) else 0
    columns = [Column(i, "other") for i in range(width)]
    columns[shift] = Column(shift, "frequency")
    columns[shift + 1] = Column(shift + 1, "value")
    asks = []
    if shift:
        asks.append(Question("frequency_column", "The first column counts the rows; is the second the frequency?", "2"))
    if width > shift + 2:
        text = f"{width} columns without headings: which one is the reading?"
        asks.append(Question("value_column", text, str(shift + 2)))
    return columns, asks


def _counts_rows(layout: Layout) -> bool:
    first = [cells[0].value for _, cells in layout.rows]
    second = [cells[1].value for _, cells in layout.rows if len(cells) > 1]
    start = first[0]
    counted = start in (0.0, 1.0) and all(v == start + i for i, v in enumerate(first))
    return counted and len(first) > 1 and all(b > a for a, b in pairwise(second))
