"""Watts, amps and volts as they are typed, or as a table: band, then one figure after the other.

40 m: 98 W at J1 on 50 ohm, 17.4 A, 13.4 V, 6.2 Vpp at TP12
band ; W at J1 on 50 ohm ; A ; V
40 m ; 98 ; 17,4 ; 13,4
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from halfsplit.errors import Mistake, ReadingError
from halfsplit.quantity import Dimension, QuantityError, Value, parse
from halfsplit.reading.level_rows import LevelReading, LevelRow, Shows

FORM = '"40 m: 98 W at J1 on 50 ohm, 17.4 A, 13.4 V, 6.2 Vpp at TP12"'
SUPPLY = "supply"
MOST_ROWS = 2000
_TAILS = re.compile(r"\s+(?=(?:at|on|behind|with|into|rated)\s)|\s*(?=(?:\+-|±))", re.IGNORECASE)
_FIGURE = re.compile(r"(?P<number>[+-]?[0-9][0-9.,]*)\s*(?P<unit>[^\s0-9]+)?\s*(?P<word>.*)", re.DOTALL)
_PEAKS = {"vrms": 1.0, "veff": 1.0, "vpp": 0.5 / 2**0.5, "vp": 1.0 / 2**0.5, "vpk": 1.0 / 2**0.5}
_WORDS = {"rms": 1.0, "effective": 1.0, "peak": 1.0 / 2**0.5, "peak-to-peak": 0.5 / 2**0.5, "pp": 0.5 / 2**0.5}
_PREFIX = {"": 1.0, "m": 1e-3, "u": 1e-6, "µ": 1e-6, "k": 1e3}
_RATIO = re.compile(r"(?:x|1\s*:\s*)?(?P<ratio>[0-9.]+)(?:\s*:\s*1|x)?\s*(?:probe)?", re.IGNORECASE)
LOADS = ("dummy load", "antenna")


@dataclass(frozen=True, slots=True)
class Usual:
    """What holds for every figure that does not say otherwise.

    ohm : of a wattmeter; load : at the end of the path; end : point of a power; look : number of the row
    """

    ohm: float | None = None
    load: str = "dummy load"
    end: str = ""
    look: int = 0


def typed_levels(lines: Sequence[str], usual: Usual, name: str = "typed") -> LevelReading:
    """Rows as they are typed. raises ReadingError with every mistake"""
    mistakes: list[Mistake] = []
    rows: list[LevelRow] = []
    kept = [part.strip() for line in lines for part in line.splitlines() if part.strip() and part.strip()[0] != "#"]
    for number, line in enumerate(kept, 1):
        band, mark, rest = line.partition(":")
        where = f"{name}: row {number}"
        if not mark or not rest.strip():
            mistakes.append(Mistake(where, repr(line), f"a band, a colon and figures, such as {FORM}"))
            continue
        for item in split_items(rest):
            _into(rows, mistakes, where, band.strip(), item, replace(usual, look=number))
    return _reading(name, "\n".join(lines).encode(), rows, mistakes)


def is_level_table(data: bytes) -> bool:
    """True for a text table whose first heading is "band"."""
    try:
        text = data[:4096].decode("utf-8-sig")
    except UnicodeDecodeError:
        return False
    head = next((x for x in text.splitlines() if x.strip() and x.strip()[0] != "#"), "")
    return re.split(r"[;,\t]", head)[0].strip().strip('"').casefold() == "band"


def table_levels(data: bytes, name: str, usual: Usual) -> LevelReading:
    """A table with a heading: band, then figures whose unit and place stand in the heading. raises ReadingError"""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ReadingError(Mistake(name, "not UTF-8 text", "a table saved as UTF-8 text")) from error
    lines = [(n, x) for n, x in enumerate(text.splitlines(), 1) if x.strip() and x.strip()[0] != "#"]
    if len(lines) < 2:
        raise ReadingError(Mistake(name, f"{len(lines)} lines", "a heading, and a row for each band"))
    mark = next((m for m in ";\t," if m in lines[0][1]), ";")
    heads = [cell.strip().strip('"') for cell in lines[0][1].split(mark)]
    rows: list[LevelRow] = []
    mistakes: list[Mistake] = []
    for number, line in lines[1:]:
        cells = [cell.strip().strip('"') for cell in line.split(mark)]
        if len(cells) != len(heads):
            expected = f"{len(heads)} as the heading has; a decimal comma needs ; between the cells"
            mistakes.append(Mistake(name, f"{len(cells)} cells", expected, number))
            continue
        for head, cell in zip(heads[1:], cells[1:], strict=True):
            if cell:
                where = f"{name}: {head}"
                _into(rows, mistakes, where, cells[0], f"{cell} {head}", replace(usual, look=number), number)
    return _reading(name, data, rows, mistakes)


def split_items(text: str) -> list[str]:
    """Figures apart at commas and semicolons; a comma between digits is a decimal mark."""
    return [x.strip() for x in re.split(r";|,(?![0-9])", text) if x.strip()]


def _into(
    rows: list[LevelRow],
    mistakes: list[Mistake],
    where: str,
    band: str,
    item: str,
    usual: Usual,
    line: int | None = None,
) -> None:
    """One figure onto the rows, or its mistake onto the mistakes."""
    try:
        rows.append(replace(read_item(band, item, usual), look=usual.look))
    except ReadingError as error:
        mistakes += [replace(m, where=where, line=line) for m in error.mistakes]


def _reading(name: str, original: bytes, rows: list[LevelRow], mistakes: list[Mistake]) -> LevelReading:
    """The whole, or every mistake."""
    if not rows and not mistakes:
        mistakes.append(Mistake(name, "no figure", f"rows such as {FORM}"))
    if len(rows) > MOST_ROWS:
        mistakes.append(Mistake(name, f"{len(rows)} figures", f"at most {MOST_ROWS}"))
    if mistakes:
        raise ReadingError(*mistakes)
    bands = ", ".join(dict.fromkeys(r.band for r in rows))
    kinds = ", ".join(dict.fromkeys(f"{r.shows.value} at {r.point}" for r in rows))
    return LevelReading(name, tuple(rows), original, f"{len(rows)} figures on {bands}: {kinds}")


def refused(found: str, expected: str) -> ReadingError:
    """One mistake of a figure; where it stands is filled in by the caller."""
    return ReadingError(Mistake("figure", found, expected))


def quantity(text: str, dimension: Dimension) -> Value:
    """A value of an item. raises ReadingError"""
    try:
        return parse(text, dimension)
    except QuantityError as error:
        raise refused(error.found.removeprefix("found "), f"{error.expected}, such as {error.example!r}") from error


def read_item(band: str, item: str, usual: Usual) -> LevelRow:
    """One figure with what is said about it. raises ReadingError"""
    first, *tails = [x.strip() for x in _TAILS.split(item) if x.strip()]
    said = _tails(item, tails)
    match = _FIGURE.fullmatch(first)
    if match is None or match["unit"] is None:
        raise refused(repr(item), f"a figure with its unit, such as {FORM}")
    number, unit, word = match["number"], match["unit"], match["word"].strip().casefold()
    step = step_of(number)
    row = _by_unit(band, item, number, unit, word, said, usual)
    factor = abs(row.value / float(number.replace(",", "."))) if float(number.replace(",", ".")) else 1.0
    if row.shows is Shows.TEMPERATURE:
        factor = 1.0
    if row.shows in (Shows.POWER, Shows.REFLECTED) and unit.casefold() == "dbm":
        return replace(row, step=row.value * step * 0.2303, accuracy=_accuracy(said, decibels=True))
    return replace(row, step=step * factor, accuracy=_accuracy(said))


def step_of(number: str) -> float:
    """The last digit of a figure as it was written."""
    digits = number.replace(",", ".")
    return float(10.0 ** -len(digits.partition(".")[2]))


def _tails(item: str, tails: Sequence[str]) -> dict[str, str]:
    """What is said behind a figure, by its first word."""
    said: dict[str, str] = {}
    for tail in tails:
        key = "+-" if tail[:2] == "+-" or tail[:1] == "±" else tail.split()[0].casefold()
        rest = tail.lstrip("+-±").strip() if key == "+-" else tail[len(key) :].strip()
        if key in said or not rest:
            raise refused(repr(item), f"each of at, on, behind, with, into once, with something behind it: {FORM}")
        said[key] = rest
    return said


def _accuracy(said: dict[str, str], *, decibels: bool = False) -> float | None:
    """1 sigma as a fraction: half of what is stated behind +-."""
    if "+-" not in said:
        return None
    if "dB" in said["+-"] or decibels:
        return float(0.5 * (10.0 ** (quantity(said["+-"], Dimension.DECIBEL).value / 10.0) - 1.0))
    return 0.5 * quantity(said["+-"], Dimension.FRACTION).value


def _by_unit(band: str, item: str, number: str, unit: str, word: str, said: dict[str, str], usual: Usual) -> LevelRow:
    """One figure by its unit."""
    folded = unit.casefold()
    load = _load(said, usual)
    if folded in ("°c", "degc", "c", "k", "°f", "degf"):
        point = _needed(said, "at", item, 'where: at "FINAL case", at "FINAL sink" or at "air"')
        value = quantity(f"{number} {unit}", Dimension.TEMPERATURE).value
        return LevelRow(band, Shows.TEMPERATURE, point, value, text=item, load=load)
    if folded.lstrip("mµuk") in ("a", "amp", "amps"):
        kind = {"": Shows.SUPPLY_AMPS, "standing": Shows.STANDING_AMPS}.get(word)
        if kind is None:
            raise refused(repr(item), '"17.4 A", or "1.9 A standing" for what flows without drive')
        value = _positive(item, quantity(f"{number} {unit}", Dimension.CURRENT).value)
        return LevelRow(band, kind, SUPPLY, value, text=item, load=load)
    if folded == "dbm" or folded.lstrip("mµuk") in ("w", "watt", "watts"):
        return _power(band, item, number, unit, word, said, usual)
    return _volts(band, item, number, unit, word, said, load)


def _load(said: dict[str, str], usual: Usual) -> str:
    """What hangs at the end of the path."""
    load = said.get("into", usual.load).removeprefix("a ").removeprefix("the ").strip()
    if load not in LOADS:
        raise refused(repr(load), f"one of: {', '.join(LOADS)}")
    return load


def _needed(said: dict[str, str], key: str, item: str, what: str) -> str:
    """What must be said behind a figure."""
    if key not in said:
        raise refused(f"{item!r} does not say {key}", what)
    return said[key]


def _positive(item: str, value: float) -> float:
    """A figure that cannot be below zero."""
    if value < 0.0:
        raise refused(repr(item), "zero or more: change the leads over, or leave the sign out")
    return value


def _power(band: str, item: str, number: str, unit: str, word: str, said: dict[str, str], usual: Usual) -> LevelRow:
    """Watts or dBm on a stated impedance, behind a pad that stands them."""
    dbm = unit.casefold() == "dbm"
    if dbm:
        value = 10.0 ** ((quantity(f"{number} dBm", Dimension.LEVEL).value - 30.0) / 10.0)
    else:
        value = _positive(item, quantity(f"{number} {unit}", Dimension.POWER).value)
    if word not in ("", "reflected", "forward"):
        raise refused(f"{word!r} behind {number} {unit}", '"W", "W reflected" or "dBm"')
    point = said.get("at", usual.end)
    if not point:
        raise refused(f"{item!r} does not say where", "a point: at J1")
    if "on" not in said and usual.ohm is None:
        raise refused(
            f"{item!r}: a power without an impedance", "the impedance that the meter ends the path with: on 50 ohm"
        )
    ohm = quantity(said["on"], Dimension.RESISTANCE).value if "on" in said else usual.ohm
    if "behind" in said:
        value = _behind_pad(item, value, said)
    kind = Shows.REFLECTED if word == "reflected" else Shows.POWER
    return LevelRow(band, kind, point, value, ohm, text=item, load=_load(said, usual))


def _behind_pad(item: str, watts: float, said: dict[str, str]) -> float:
    """Power before a pad, which must be rated for it."""
    loss = quantity(said["behind"], Dimension.DECIBEL).value
    if loss < 0.0:
        raise refused(f"{item!r}: a pad of {loss:g} dB", "the loss of the pad, above zero")
    before = float(watts * 10.0 ** (loss / 10.0))
    if "rated" not in said:
        if before > 1.0:
            raise refused(
                f"{item!r}: {before:.3g} W go into a pad whose rating is not stated",
                "its rating: behind 30 dB rated 50 W",
            )
        return before
    rating = quantity(said["rated"], Dimension.POWER).value
    if before > rating:
        found = f"{item!r} means {before:.3g} W into a pad rated {rating:g} W"
        raise refused(found, "a pad that stands it; this one may have changed: check it before it is used again")
    return before


def _volts(band: str, item: str, number: str, unit: str, word: str, said: dict[str, str], load: str) -> LevelRow:
    """Volts: of the supply where no point is named, else of RF, with rms, peak or peak to peak said."""
    prefix = next((p for p in ("m", "µ", "u", "k") if unit.startswith(p)), "")
    bare = unit[len(prefix) :].casefold().replace("volts", "v").replace("volt", "v")
    shape = _PEAKS.get(bare) if bare != "v" else _WORDS.get(word)
    if bare != "v" and (bare not in _PEAKS or word):
        raise refused(repr(f"{unit} {word}".strip()), "W, dBm, A, V, V rms, V peak, Vpp, or °C")
    value = _positive(item, quantity(f"{number} V", Dimension.VOLTAGE).value * _PREFIX[prefix])
    point = said.get("at", SUPPLY)
    if point == SUPPLY:
        if shape is not None:
            raise refused(repr(item), "a point for RF volts: 6.2 Vpp at TP12")
        if bare == "v" and word not in ("", "dc"):
            raise refused(f"{word!r} behind {number} {unit}", '"13.4 V" for the supply, "2.2 V rms at TP12" for RF')
        return LevelRow(band, Shows.SUPPLY_VOLTS, SUPPLY, value, text=item, load=load)
    if shape is None:
        raise refused(repr(item), "rms, peak or Vpp for volts of RF: 2.2 V rms at TP12")
    value, probe = value * shape, said.get("with", "")
    if probe:
        ratio = _RATIO.fullmatch(probe)
        if ratio is None or float(ratio["ratio"]) <= 0.0:
            raise refused(repr(f"with {probe}"), "a probe: with 10:1 probe")
        value *= float(ratio["ratio"])
    ohm = quantity(said["on"], Dimension.RESISTANCE).value if "on" in said else None
    return LevelRow(band, Shows.RF_VOLTS, point, value, ohm, probe, text=item, load=load)
