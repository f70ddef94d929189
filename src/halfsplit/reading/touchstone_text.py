"""The text of a Touchstone file: option line, keywords, rows of numbers.

Source: Touchstone File Format Specification, version 2.0 (IBIS Open Forum, 2009), sections on version 1 and 2 files.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

from halfsplit.errors import Mistake
from halfsplit.reading.source import to_lines
from halfsplit.reading.table_cells import LARGEST

OPTION_WANTED = "an option line such as '# MHz S DB R 50'"
_UNITS = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
_KEYWORD = re.compile(r"\[\s*([^\]]+?)\s*\]\s*(.*)\Z")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eEdD][+-]?[0-9]+)?\Z")
_NO_NUMBER = re.compile(r"[+-]?(?:nan(?:\([^)]*\))?|inf(?:inity)?|[0-9.]*#(?:inf|ind|qnan|snan)[0-9]*)\Z", re.I)
_KNOWN_KEYWORDS = {
    "version",
    "number of ports",
    "two-port data order",
    "number of frequencies",
    "number of noise frequencies",
    "reference",
    "matrix format",
    "network data",
    "noise data",
    "begin information",
    "end information",
    "end",
}


@dataclass(slots=True)
class Sheet:
    """What the lines said, before any number is put in its place (filled while reading, then left alone).

    factor : Hz per unit of the frequency column; references : ohm, from R or [Reference]
    rows : line number and numbers of each data line
    """

    factor: float = 1e9
    kind: str = "S"
    form: str = "MA"
    references: list[float] = field(default_factory=lambda: [50.0])
    option_line: int = 0
    version: float = 1.0
    ports: int | None = None
    order: str | None = None
    matrix: str = "full"
    frequencies: int | None = None
    rows: list[tuple[int, list[float]]] = field(default_factory=list)
    noise_rows: int = 0
    warnings: list[str] = field(default_factory=list)
    mistakes: list[Mistake] = field(default_factory=list)

    def wrong(self, line: int, found: str, expected: str) -> None:
        """Note a mistake; the first twenty are enough for anyone."""
        if len(self.mistakes) < 20:
            self.mistakes.append(Mistake("Touchstone", found, expected, line))


def looks_like_touchstone(text: str) -> bool:
    """True where the first line that says anything is an option line or the version keyword."""
    for line in to_lines(text[:20_000]):
        words = line.split("!")[0].split()
        if not words:
            continue
        if words[0].lower().startswith("[version"):
            return True
        rest = " ".join(words)[1:].lower().split()
        known = {*_UNITS, "s", "y", "z", "h", "g", "db", "ma", "ri", "r"}
        return words[0].startswith("#") and len(rest) >= 2 and all(w in known or _NUMBER.match(w) for w in rest)
    return False


def read_sheet(text: str) -> Sheet:
    """Sort the lines of a Touchstone text; mistakes are collected in the sheet, not raised."""
    sheet = Sheet()
    lines = to_lines(text)
    commas = _decimal_commas(lines)
    if commas:
        sheet.warnings.append("decimal commas read; the standard has points")
    section, pending = "", 0
    for count, line in enumerate(lines, 1):
        words = line.split("!", 1)[0].strip()
        if not words or section == "information":
            section = "" if words.lower().startswith("[end information") else section
            continue
        if words.startswith("#"):
            _option(sheet, count, words[1:])
        elif words.startswith("["):
            section, pending = _keyword(sheet, count, words, section)
            if section == "end":
                break
        elif pending and section == "reference":
            numbers = _numbers(sheet, count, words.split(), commas)
            sheet.references += numbers
        elif section == "noise data":
            sheet.noise_rows += 1
        else:
            _data(sheet, count, words, section, commas)
    return sheet


def _data(sheet: Sheet, count: int, words: str, section: str, commas: bool) -> None:
    if not sheet.option_line and not sheet.rows and not sheet.mistakes:
        sheet.wrong(count, f"data before any option line: {words[:40]!r}", OPTION_WANTED)
    if sheet.version >= 2 and section != "network data":
        sheet.wrong(count, f"{words[:40]!r} outside [Network Data]", "a keyword in brackets")
        return
    sheet.rows.append((count, _numbers(sheet, count, words.split(), commas)))


def _decimal_commas(lines: list[str]) -> bool:
    """True where data cells hold commas between digits and none holds a point."""
    found = False
    for line in lines:
        words = line.split("!", 1)[0].strip()
        if not words or words[0] in "#[":
            continue
        if "." in words:
            return False
        found = found or bool(re.search(r"(?:^|\s)[+-]?[0-9]+,[0-9]+(?:[eE][+-]?[0-9]+)?(?:\s|$)", words))
    return found


def _option(sheet: Sheet, count: int, text: str) -> None:
    if sheet.option_line:
        ordinal = "second option line ignored" if "option line ignored" not in " ".join(sheet.warnings) else "more"
        if ordinal != "more":
            sheet.warnings.append(f"{ordinal} (line {count}: '#{text.rstrip()[:40]}')")
        return
    sheet.option_line = count
    words = re.sub(r"(?i)(?<=\s)r(?=[0-9.])", "R ", " " + text).split()
    place = 0
    while place < len(words):
        word = words[place].lower()
        place += 1
        if word in _UNITS:
            sheet.factor = _UNITS[word]
        elif word in ("s", "y", "z", "h", "g"):
            sheet.kind = word.upper()
        elif word in ("db", "ma", "ri"):
            sheet.form = word.upper()
        elif word == "r":
            numbers: list[float] = []
            while place < len(words) and len(words[place]) <= 60 and _NUMBER.match(words[place]):
                numbers.append(_float(words[place]))
                place += 1
            if numbers:
                sheet.references = numbers
            else:
                sheet.wrong(count, "R without a number in the option line", "R and ohm, such as 'R 50'")
        else:
            sheet.wrong(count, f"{word[:40]!r} in the option line", OPTION_WANTED)


def _keyword(sheet: Sheet, count: int, words: str, section: str) -> tuple[str, int]:
    """Take one [keyword] line; returns the section that starts, and 1 where numbers may follow on further lines."""
    match = _KEYWORD.match(words)
    if not match:
        sheet.wrong(count, f"{words[:40]!r}", "a keyword in brackets")
        return section, 0
    name, value = re.sub(r"\s+", " ", match[1].lower()), match[2].strip()
    if name not in _KNOWN_KEYWORDS:
        sheet.wrong(count, f"the keyword [{match[1][:40]}]", "one- or two-port keywords of version 2.0")
        return section, 0
    if name == "begin information":
        return "information", 0
    if name in ("network data", "noise data", "end"):
        return name, 0
    if name == "reference":
        sheet.references = _numbers(sheet, count, value.split(), False)
        return "reference", 1
    _setting(sheet, count, name, value.lower())
    return "", 0


def _setting(sheet: Sheet, count: int, name: str, value: str) -> None:
    if name == "version":
        if value in ("2.0", "2.1"):
            sheet.version = float(value)
        else:
            sheet.wrong(count, f"version {value[:20]!r}", "version 2.0 (or a file without [Version])")
    elif name == "number of ports":
        sheet.ports = _whole(sheet, count, name, value)
    elif name == "number of frequencies":
        sheet.frequencies = _whole(sheet, count, name, value)
    elif name == "two-port data order":
        if value in ("12_21", "21_12"):
            sheet.order = value
        else:
            sheet.wrong(count, f"[Two-Port Data Order] {value[:20]!r}", "12_21 or 21_12")
    elif name == "matrix format":
        if value in ("full", "lower", "upper"):
            sheet.matrix = value
        else:
            sheet.wrong(count, f"[Matrix Format] {value[:20]!r}", "Full, Lower or Upper")


def _whole(sheet: Sheet, count: int, name: str, value: str) -> int | None:
    if re.fullmatch(r"[0-9]{1,8}", value) and int(value) > 0:
        return int(value)
    sheet.wrong(count, f"[{name}] {value[:20]!r}", "a whole number above zero")
    return None


def _float(word: str) -> float:
    """The number, a Fortran exponent allowed; NaN for one that no instrument shows."""
    value = float(word.replace("D", "e").replace("d", "e"))
    return value if abs(value) < LARGEST else math.nan


def _numbers(sheet: Sheet, count: int, words: list[str], commas: bool) -> list[float]:
    out: list[float] = []
    for word in words:
        clean = word.replace(",", ".") if commas else word
        if len(clean) <= 60 and _NUMBER.match(clean):
            out.append(_float(clean))
        elif len(clean) <= 60 and _NO_NUMBER.match(clean):
            out.append(math.nan)
        else:
            sheet.wrong(count, f"{word[:40]!r}", "a number")
            out.append(math.nan)
    return out
