"""What a part stands, as it is printed on it: "500 V", "3 A", "2 W", "5 kVA", or several of them."""

from __future__ import annotations

import re
from dataclasses import dataclass, fields
from functools import lru_cache

from halfsplit.quantity import Dimension, QuantityError, parse

EXPECTED = 'figures like "500 V", "350 V AC", "3 A", "2 W", "5 kVA", several of them with commas'

_APART = re.compile(r"\s*(?:,(?!\d)|;|/|\band\b)\s*")
_REACTIVE = re.compile(r"(?P<number>.*?)\s*(?P<prefix>[kM]?)(?:VA|var|VAr)", re.I)
_FIGURE = re.compile(r"(?P<figure>.*?(?P<unit>[VAW]))\s*(?P<kind>DC|peak|AC|rms|eff)?", re.I)
_UNITS = {
    "V": ("peak_volts", Dimension.VOLTAGE), "A": ("amps", Dimension.CURRENT), "W": ("watts", Dimension.POWER),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Rating:
    """Limits of one part; None where nothing is printed.

    peak_volts : V, of a rating in volts or volts DC; rms_volts : V, of one that says AC or rms
    amps : A rms; watts : W, average; va : VA, rms volts times rms amps
    """

    peak_volts: float | None = None
    rms_volts: float | None = None
    amps: float | None = None
    watts: float | None = None
    va: float | None = None

    @property
    def given(self) -> tuple[str, ...]:
        """Names of the fields that are printed."""
        return tuple(f.name for f in fields(self) if getattr(self, f.name) is not None)


@lru_cache(maxsize=1024)
def read_rating(text: str) -> Rating:
    """The limits that a printed rating states.

    raises ValueError for words that are no such figure, for a figure that is not above zero and for one given twice
    source: volts without a word are volts DC, to be held against the peak (common practice)
    """
    found: dict[str, float] = {}
    for word in _APART.split(text.strip()):
        name, value = _one(word.strip(), text)
        if name in found:
            raise ValueError(f"{text!r} gives {name.replace('_', ' ')} twice; expected each once")
        if not value > 0:
            raise ValueError(f"{word!r} in {text!r} is not above zero; expected {EXPECTED}")
        found[name] = value
    return Rating(**found)


def _one(word: str, text: str) -> tuple[str, float]:
    """(field, value in SI) of one figure."""
    wrong = ValueError(f"{word!r} in {text!r} is no rating; expected {EXPECTED}")
    reactive = _REACTIVE.fullmatch(word)
    if reactive:
        factor = {"": 1.0, "k": 1e3, "M": 1e6}[reactive["prefix"].replace("K", "k")]
        field, dimension, figure = "va", Dimension.PLAIN, reactive["number"]
    else:
        match = _FIGURE.fullmatch(word)
        if match is None:
            raise wrong
        kind, factor = (match["kind"] or "").lower(), 1.0
        field, dimension = _UNITS[match["unit"].upper()]
        field = "rms_volts" if field == "peak_volts" and kind in ("ac", "rms", "eff") else field
        figure = match["figure"]
    try:
        return field, factor * parse(figure, dimension).value
    except QuantityError:
        raise wrong from None
