"""One cell of a table: a number, a number with its unit, nothing, or words."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from halfsplit.quantity import number
from halfsplit.reading.answers import DecimalMark

LARGEST = 1e30
_LONGEST_CELL = 60
Kind = Literal["number", "missing", "words", "odd"]

UNITS = {
    "hz": "Hz",
    "khz": "kHz",
    "mhz": "MHz",
    "ghz": "GHz",
    "db": "dB",
    "dbm": "dBm",
    "dbc": "dBc",
    **dict.fromkeys(("deg", "degree", "degrees", "°", "grad"), "deg"),
    **dict.fromkeys(("rad", "radian", "radians"), "rad"),
    **dict.fromkeys(("ohm", "ohms", "Ω", "ω", "\u2126"), "ohm"),
}
_MINUS = str.maketrans({"\u2212": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " "})
_FAST = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?\Z")
_WITH_UNIT = re.compile(r"([+-]?[0-9.,' ]*[0-9](?:[eE][+-]?[0-9]+)?[.,]?)\s*([A-Za-z°Ω\u2126]+)\Z")
_MISSING = re.compile(
    r"(?:[+-]?(?:nan|inf|infinity)|-{1,3}|n/?a|[+-]?1[.,]?#\w+|#\w+[!?/]*\w*|null|none|\?|ovl|\*+)\Z", re.I
)
_CLOCK = re.compile(
    r"[0-9]{1,4}[:/.-][0-9]{1,2}(?:[:/.-][0-9]{1,4}(?:[.,][0-9]+)?)?(?:[T ][0-9:.,]+Z?)?(?:\s*[AP]M)?\Z", re.I
)


@dataclass(frozen=True, slots=True)
class Cell:
    """kind : what the cell is; value : the number, NaN otherwise; unit : of a number that carries one, or "" """

    kind: Kind
    value: float = math.nan
    unit: str = ""


_NOTHING = Cell("missing")
_WORDS = Cell("words")
_ODD = Cell("odd")


def read_cell(text: str, mark: DecimalMark) -> Cell:
    """What stands in a cell when `mark` is the decimal mark."""
    clean = text.translate(_MINUS).strip().strip('"').strip()
    if mark == "." and len(clean) <= _LONGEST_CELL and _FAST.match(clean) and clean.isascii():
        return _sized(float(clean), "")
    if len(clean) > _LONGEST_CELL:
        return _WORDS
    if not clean or _MISSING.match(clean):
        return _NOTHING
    if not any(c in "0123456789" for c in clean):
        return _WORDS
    unit = ""
    match = _WITH_UNIT.match(clean)
    if match and match[2].lower() in UNITS:
        unit, clean = UNITS[match[2].lower()], match[1].strip()
    try:
        value, _ = number(clean, mark)
    except ValueError:
        word = clean[0].isalpha() or clean[0] in "([|"
        return _WORDS if word or _CLOCK.match(clean) else _ODD
    return _sized(value, unit)


def _sized(value: float, unit: str) -> Cell:
    """A number that no instrument shows counts as none."""
    return Cell("number", value, unit) if abs(value) < LARGEST else _NOTHING
