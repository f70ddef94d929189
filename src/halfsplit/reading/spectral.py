"""Lines of a spectrum read off an analyser and typed by hand, and the levels of a trace."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from halfsplit.errors import Mistake, ReadingError
from halfsplit.quantity import Dimension, QuantityError, number, parse
from halfsplit.reading.records import Reading, Trace, What

_NAME = "typed"
_MOST = 1000
_WANTED = (
    "a frequency and a level, such as '14.2 MHz -3.5 dBm', '14.2 MHz -48 dBc', '18 MHz < -70 dBc' or 'floor -75 dBc'"
)
_ROW = re.compile(
    r"(?P<f>[0-9][0-9.,]*)\s*(?P<unit>[kMG]?Hz)\s*[:=,]?\s*(?P<bound><=|<|below|under)?\s*"
    r"(?P<level>[+-]?\s?[0-9][0-9.,]*\s*(?:dBm|dBc|dBW|[munk]?W))(?:\s*,?\s*(?P<wide>(?:wide|broad)\s+(?P<width>\S.*)))?",
    re.I,
)
_FLOOR = re.compile(r"floor\s*[:=]?\s*(?P<level>[+-]?\s?[0-9][0-9.,]*\s*(?:dBm|dBc))", re.I)
_MINUS = str.maketrans({"\u2212": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\t": " "})


@dataclass(frozen=True, slots=True)
class SpectralLine:
    """One line as it was typed.

    f : Hz; step : Hz, the last digit that was typed; level : dBm, or dB relative to the carrier where relative
    at_most : it is there or lower; wide : Hz of a broad hump, None for a line
    """

    f: float
    step: float
    level: float
    relative: bool
    at_most: bool = False
    wide: float | None = None


@dataclass(frozen=True, slots=True)
class SpectralReading:
    """What an analyser showed: lines typed by hand, or a trace. floor : dBm or dBc (floor_relative), None not said"""

    name: str
    original: bytes
    understood: str
    lines: tuple[SpectralLine, ...] = ()
    trace: Trace | None = None
    floor: float | None = None
    floor_relative: bool = False
    warnings: tuple[str, ...] = ()


def read_spectral_lines(texts: Sequence[str]) -> SpectralReading:
    """The lines of a spectrum, one or several to a text (parted by ";").

    raises ReadingError listing every line that is not understood
    """
    lines: list[SpectralLine] = []
    mistakes: list[Mistake] = []
    floor: tuple[float, bool] | None = None
    items = [
        (i, part.strip()) for i, t in enumerate(texts, 1) for part in t.translate(_MINUS).split(";") if part.strip()
    ]
    for i, item in items[:_MOST]:
        try:
            said = _FLOOR.fullmatch(item)
            if said:
                floor = _level(said["level"])
            else:
                lines.append(_line(item))
        except (QuantityError, ValueError) as error:
            mistakes.append(Mistake(_NAME, f"{item[:60]!r}: {error}", _WANTED, i))
    if len(items) > _MOST:
        mistakes.append(Mistake(_NAME, f"{len(items)} lines", f"at most {_MOST}"))
    if not lines and not mistakes:
        mistakes.append(Mistake(_NAME, "no line", _WANTED))
    twice = {x.f for x in lines if sum(y.f == x.f for y in lines) > 1}
    mistakes += [Mistake(_NAME, f"two lines at {f / 1e6:g} MHz", "one level at one frequency") for f in sorted(twice)]
    if mistakes:
        raise ReadingError(*mistakes)
    lines.sort(key=lambda x: x.f)
    original = "\n".join(texts).encode("utf-8", errors="surrogatepass")
    span = f"{lines[0].f / 1e6:g} to {lines[-1].f / 1e6:g} MHz"
    understood = f"{_NAME}: {len(lines)} line{'s' if len(lines) > 1 else ''} of a spectrum, {span}"
    value, relative = floor or (None, False)
    return SpectralReading(_NAME, original, understood, tuple(lines), None, value, relative)


def _line(item: str) -> SpectralLine:
    """One typed line. raises ValueError, QuantityError"""
    match = _ROW.fullmatch(item)
    if match is None:
        raise ValueError("not a line of a spectrum")
    digits = match["f"].rstrip(".,")
    f = float(parse(f"{digits} {match['unit']}", Dimension.FREQUENCY).value)
    amount = number(digits)[0]
    step = f / amount * 10.0 ** _last_digit(digits) if amount else f
    level, relative = _level(match["level"])
    wide = None if match["wide"] is None else float(parse(match["width"], Dimension.FREQUENCY).value)
    if relative and level > 0:
        raise ValueError("a level above the carrier; the carrier is the strongest line: 0 dBc")
    return SpectralLine(f, step, level, relative, match["bound"] is not None, wide)


def _last_digit(digits: str) -> int:
    """Power of ten of the last digit of a numeral whose mark may be a comma."""
    plain = digits.replace(",", ".") if digits.count(",") == 1 and "." not in digits else digits.replace(",", "")
    exponent = Decimal(plain).as_tuple().exponent
    return int(exponent) if isinstance(exponent, int) else 0


def _level(text: str) -> tuple[float, bool]:
    """A level in dBm, or relative to the carrier. raises QuantityError"""
    clean = re.sub(r"([+-])\s+", r"\1", text)
    if clean.lower().endswith("dbc"):
        return float(parse(clean, Dimension.CARRIER).value), True
    return float(parse(clean, Dimension.LEVEL).value), False


def spectral_of(reading: Reading) -> SpectralReading:
    """A file as a spectrum: its one trace of levels. raises ReadingError where it has none"""
    traces = [t for t in reading.traces if t.what is What.LEVEL]
    if not traces:
        shown = ", ".join(t.what.value for t in reading.traces) or "nothing"
        expected = "levels in dBm over frequency; say --quantity level --scale dBm where the file does not"
        raise ReadingError(Mistake(reading.name, f"{shown}, no level", expected))
    if len(traces[0].f) < 3:
        raise ReadingError(Mistake(reading.name, f"{len(traces[0].f)} points", "a trace, or the lines typed by hand"))
    return SpectralReading(
        reading.name, reading.original, reading.understood, (), traces[0], warnings=reading.warnings
    )  # fmt: skip
