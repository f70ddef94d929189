"""The unit words that each dimension takes, with their factor.

Exact spellings first; `SLIPS` are spellings that no other reading fits in that field, taken with a warning.
Prefixes: SI brochure (9th edition, table 7), as far as they occur on a bench.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.quantity.records import Dimension

_SMALL = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "": 1.0}
_LARGE = {"": 1.0, "k": 1e3, "M": 1e6, "G": 1e9}
_WIDE = {"u": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3}


@dataclass(frozen=True, slots=True)
class Words:
    """How one dimension is written.

    exact : unit word -> factor; slips : unit word -> factor, taken with a warning
    bare : unit word for a number without a unit ("" where that is refused); bare_quiet : no warning needed
    suggest : unit word proposed when a bare number is refused
    letters : RKM letter -> factor (IEC 60062:2016 clause 5); negative : may be below zero
    expected, example : for the error message; out : unit for output; prefixes : for output
    """

    exact: dict[str, float]
    expected: str
    example: str
    out: str
    slips: dict[str, float]
    bare: str = ""
    bare_quiet: bool = False
    suggest: str = ""
    letters: dict[str, float] | None = None
    negative: bool = False
    prefixes: tuple[str, ...] = ("",)


def _with(prefixes: dict[str, float], *units: str) -> dict[str, float]:
    return {p + unit: factor for unit in units for p, factor in prefixes.items()}


def _only(prefixes: dict[str, float]) -> dict[str, float]:
    return {p: factor for p, factor in prefixes.items() if p}


_C_SLIPS = {
    **dict.fromkeys(("pf", "PF", "Pf", "P", "pp", "pFF", "ppF", "uuF", "mmF", "mmfd", "MMFD", "uufd"), 1e-12),
    **dict.fromkeys(("nf", "NF", "Nf", "N", "nn", "nFF", "nnF"), 1e-9),
    **dict.fromkeys(("uf", "UF", "Uf", "U", "uFF", "mfd", "MFD", "ufd"), 1e-6),
}
_L_SLIPS = {
    **dict.fromkeys(("nh", "NH", "Nh", "N", "nn", "nHH", "nnH"), 1e-9),
    **dict.fromkeys(("uh", "UH", "Uh", "U", "uHH", "uHy", "uhy"), 1e-6),
    **dict.fromkeys(("mh", "mHH", "mHy"), 1e-3),
    **dict.fromkeys(("ph", "PH"), 1e-12),
}
_F_SPELLINGS = {  # upper and lower case fit only one meaning in a field of frequencies
    **dict.fromkeys(("hz", "HZ"), 1.0),
    **dict.fromkeys(("khz", "KHz", "KHZ", "kHZ", "K"), 1e3),
    **dict.fromkeys(("mhz", "MHZ", "Mhz"), 1e6),
    **dict.fromkeys(("ghz", "GHZ", "Ghz"), 1e9),
}
_F_SLIPS = {
    "mHz": 1e6,
    "MhZ": 1e6,
    "MH": 1e6,
    "Mh": 1e6,
    "MHzz": 1e6,
    "Mc": 1e6,
    "kc": 1e3,
    "Mc/s": 1e6,
    "kc/s": 1e3,
}
_OHM = ("ohm", "ohms", "Ohm", "OHM", "Ohms", "Ω")

WORDS: dict[Dimension, Words] = {
    Dimension.FREQUENCY: Words(
        {
            **_with(_LARGE, "Hz"),
            **_only(_LARGE),
            **_F_SPELLINGS,
        },
        "a frequency with its unit",
        "7.05 MHz",
        "Hz",
        _F_SLIPS,
        suggest="MHz",
        letters={"k": 1e3, "M": 1e6, "G": 1e9},
        prefixes=("", "k", "M", "G"),
    ),
    Dimension.CAPACITANCE: Words(
        {**_with(_SMALL, "F"), **_only(_SMALL)},
        "a capacitance with its unit",
        "560 pF",
        "F",
        _C_SLIPS,
        suggest="pF",
        letters={"p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3},
        prefixes=("p", "n", "u", "m", ""),
    ),
    Dimension.INDUCTANCE: Words(
        {**_with(_SMALL, "H"), **_only(_SMALL)},
        "an inductance with its unit",
        "1.33 uH",
        "H",
        _L_SLIPS,
        suggest="uH",
        letters={"n": 1e-9, "u": 1e-6, "m": 1e-3},
        prefixes=("p", "n", "u", "m", ""),
    ),
    Dimension.RESISTANCE: Words(
        {
            **_with({"u": 1e-6, "m": 1e-3, **_LARGE}, *_OHM),
            **_with({"m": 1e-3, **_LARGE}, "R"),
            **dict.fromkeys(("k", "K", "Kohm", "KΩ", "KOHM"), 1e3),
            **{p: f for p, f in _LARGE.items() if p in "MG" and p},
        },
        "a resistance",
        "50 ohm",
        "ohm",
        {"kohhm": 1e3, "om": 1.0, "E": 1.0},
        bare="ohm",
        bare_quiet=True,
        letters={"R": 1.0, "k": 1e3, "K": 1e3, "M": 1e6, "G": 1e9, "L": 1e-3},
        prefixes=("u", "m", "", "k", "M", "G"),
    ),
    Dimension.LENGTH: Words(
        {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "um": 1e-6, "km": 1e3, "in": 0.0254, '"': 0.0254, "″": 0.0254}
        | {"inch": 0.0254, "inches": 0.0254, "ft": 0.3048, "foot": 0.3048, "feet": 0.3048, "'": 0.3048},
        "a length with its unit",
        "180 mm",
        "m",
        {"MM": 1e-3, "CM": 1e-2, "meter": 1.0, "metre": 1.0, "metres": 1.0, "meters": 1.0},
        suggest="mm",
        prefixes=("u", "m", "", "k"),
    ),
    Dimension.POWER: Words(
        {**_with({"p": 1e-12, "n": 1e-9, **_WIDE, "M": 1e6}, "W"), "watt": 1.0, "watts": 1.0, "Watt": 1.0},
        "a power",
        "40 W",
        "W",
        {"w": 1.0, "kw": 1e3, "KW": 1e3, "mw": 1e-3, "W PEP": 1.0},
        bare="W",
        prefixes=("n", "u", "m", "", "k"),
    ),
    Dimension.LEVEL: Words(
        {"dBm": 1.0},
        "a level",
        "-10 dBm",
        "dBm",
        {"dbm": 1.0, "DBM": 1.0, "dBM": 1.0},
        bare="dBm",
        negative=True,
    ),
    Dimension.DECIBEL: Words(
        {"dB": 1.0},
        "a ratio in dB",
        "0.6 dB",
        "dB",
        {"db": 1.0, "DB": 1.0, "Db": 1.0},
        bare="dB",
        negative=True,
    ),
    Dimension.CARRIER: Words(
        {"dBc": 1.0},
        "a level against the carrier",
        "-46 dBc",
        "dBc",
        {"dbc": 1.0, "DBC": 1.0, "dBC": 1.0},
        bare="dBc",
        negative=True,
    ),
    Dimension.FRACTION: Words(
        {"%": 0.01, "percent": 0.01, "per cent": 0.01, "‰": 1e-3, "ppm": 1e-6},
        "a percentage",
        "5 %",
        "%",
        {},
        suggest="%",
        negative=True,
    ),
    Dimension.VOLTAGE: Words(
        {**_with(_WIDE, "V"), "volt": 1.0, "volts": 1.0},
        "a voltage",
        "13.8 V",
        "V",
        {"v": 1.0, "KV": 1e3, "kv": 1e3, "mv": 1e-3},
        bare="V",
        letters={"V": 1.0},
        negative=True,
        prefixes=("u", "m", "", "k"),
    ),
    Dimension.CURRENT: Words(
        {**_with(_WIDE, "A"), "n" + "A": 1e-9, "amp": 1.0, "amps": 1.0, "ampere": 1.0},
        "a current",
        "8.5 A",
        "A",
        {"a": 1.0, "ma": 1e-3, "MA": 1e-3, "mAmp": 1e-3},
        bare="A",
        letters={"A": 1.0},
        negative=True,
        prefixes=("n", "u", "m", "", "k"),
    ),
    Dimension.TIME: Words(
        {
            "s": 1.0,
            "sec": 1.0,
            "ms": 1e-3,
            "us": 1e-6,
            "min": 60.0,
            "mins": 60.0,
            "minute": 60.0,
            "minutes": 60.0,
        }
        | {"h": 3600.0, "hour": 3600.0, "hours": 3600.0},
        "a time with its unit",
        "10 min",
        "s",
        {},
        bare="min",
        prefixes=("u", "m", ""),
    ),
    Dimension.TEMPERATURE: Words(
        {"°C": 1.0, "degC": 1.0, "K": 1.0, "°F": 1.0, "degF": 1.0, "C": 1.0},
        "a temperature with its unit",
        "25 °C",
        "°C",
        {"deg C": 1.0, "celsius": 1.0, "Celsius": 1.0, "c": 1.0, "ºC": 1.0},
        suggest="°C",
        negative=True,
    ),
    Dimension.THERMAL: Words(
        {"K/W": 1.0, "°C/W": 1.0, "degC/W": 1.0},
        "a thermal resistance with its unit",
        "0.6 K/W",
        "K/W",
        {"C/W": 1.0, "k/W": 1.0, "deg C/W": 1.0},
        suggest="K/W",
    ),
    Dimension.PLAIN: Words({}, "a plain number", "150", "", {}, bare="", negative=True),
}
