"""What the user settled about a file that does not say it itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from halfsplit.errors import Mistake, ReadingError
from halfsplit.reading.records import What

FrequencyUnit = Literal["Hz", "kHz", "MHz", "GHz"]
Scale = Literal["dB", "linear", "SWR", "dBm"]
Sign = Literal["as given", "loss positive"]
DecimalMark = Literal[".", ","]

FACTOR: dict[str, float] = {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6, "GHz": 1e9}


@dataclass(frozen=True, slots=True)
class Answers:
    """Answers to the questions of the reading room; None leaves the choice to the reader, which then asks.

    frequency_unit : of numbers that carry no unit of their own
    frequency_column, value_column, phase_column : counted from 1 (tables)
    quantity, scale : what the value column is and how it counts
    sign : "loss positive" where 50 means 50 dB down, "as given" where it means 50 dB up
    decimal_mark : of a table where "7,000" could be either
    """

    frequency_unit: FrequencyUnit | None = None
    frequency_column: int | None = None
    value_column: int | None = None
    phase_column: int | None = None
    quantity: What | None = None
    scale: Scale | None = None
    sign: Sign | None = None
    decimal_mark: DecimalMark | None = None


_CHOICES: dict[str, tuple[str, ...]] = {
    "frequency_unit": get_args(FrequencyUnit),
    "quantity": tuple(w.value for w in What),
    "scale": get_args(Scale),
    "sign": get_args(Sign),
    "decimal_mark": get_args(DecimalMark),
}
_COLUMNS = ("frequency_column", "value_column", "phase_column")


def answers_from(given: Mapping[str, str]) -> Answers:
    """Answers from words, as a command line or a form gives them.

    raises ReadingError listing every word that is no answer
    """
    mistakes: list[Mistake] = []
    settled: dict[str, object] = {}
    for key, word in given.items():
        if key in _COLUMNS:
            if word.isascii() and word.isdigit() and 0 < int(word[:6]) < 10_000:
                settled[key] = int(word)
            else:
                mistakes.append(Mistake(f"answer {key}", repr(word), "a column number, counted from 1"))
        elif key in _CHOICES:
            match = next((c for c in _CHOICES[key] if c.lower() == word.strip().lower()), None)
            if match is None:
                mistakes.append(Mistake(f"answer {key}", repr(word), " or ".join(_CHOICES[key])))
            else:
                settled[key] = What(match) if key == "quantity" else match
        else:
            mistakes.append(Mistake("answer", repr(key), " or ".join((*_CHOICES, *_COLUMNS))))
    if mistakes:
        raise ReadingError(*mistakes)
    return Answers(**settled)  # type: ignore[arg-type]  # every value was checked against its choices above
