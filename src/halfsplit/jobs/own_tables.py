"""Tables that the user keeps: stock and cores, in TOML or CSV. Every mistake at once, with its line."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

from halfsplit.errors import InputError, Mistake
from halfsplit.parts import Kind, StockPart, read_rating
from halfsplit.parts.ring_cores import A_L_TOLERANCE, RingCore
from halfsplit.quantity import Dimension
from halfsplit.unit.keys import one_of
from halfsplit.unit.ladder import DIELECTRICS
from halfsplit.unit.lines import KeyPath, key_lines
from halfsplit.unit.table import Findings, Table

T = TypeVar("T")

MOST_BYTES = 1 << 20
STOCK_KEYS = ("kind", "value", "tolerance", "rating", "dielectric", "q", "count", "note")
CORE_KEYS = ("name", "al", "tolerance", "outer", "inner", "height", "note")
_SAMPLE = {
    Kind.CAPACITOR: (Dimension.CAPACITANCE, "150 pF"),
    Kind.COIL: (Dimension.INDUCTANCE, "1.2 uH"),
    Kind.RESISTOR: (Dimension.RESISTANCE, "47 ohm"),
}


def read_stock(path: Path) -> tuple[StockPart, ...]:
    """The parts that are there. raises InputError with every mistake and its line"""
    return _rows(path, "part", STOCK_KEYS, _stock_part)


def read_cores(path: Path) -> tuple[RingCore, ...]:
    """The user's own ring cores. raises InputError with every mistake and its line"""
    return _rows(path, "core", CORE_KEYS, _core)


def _rows(path: Path, kind: str, keys: Sequence[str], make: Callable[[Table], T | None]) -> tuple[T, ...]:
    """The rows of a table file: [[part]] or [[core]] in TOML, or one line each in CSV."""
    text = _text(path, kind)
    findings, tables = (_from_csv if path.suffix.lower() == ".csv" else _from_toml)(text, path.name, kind, keys)
    made = []
    for table in tables:
        row = make(table)
        if row is not None:
            made.append(row)
    if not tables and not findings.found:
        findings.mistake((), "no row", f"[[{kind}]] tables in TOML, or a line for each {kind} in CSV")
    if findings.found:
        named = (Mistake(f"{path.name}: {m.where}", m.found, m.expected, m.line) for m in findings.mistakes())
        raise InputError(*named)
    return tuple(made)


def _text(path: Path, kind: str) -> str:
    """The text of a small file. raises InputError"""
    expected = f"a table of {kind}s in TOML or CSV, as UTF-8 text"
    try:
        raw = path.read_bytes()
        if len(raw) > MOST_BYTES:
            raise InputError(Mistake(str(path), f"{len(raw)} bytes", f"at most {MOST_BYTES}"))
        return raw.decode("utf-8-sig")
    except OSError as error:
        raise InputError(Mistake(str(path), error.strerror or "cannot be read", expected)) from error
    except UnicodeDecodeError as error:
        raise InputError(Mistake(str(path), "not UTF-8 text", expected)) from error


def _from_toml(text: str, name: str, kind: str, known: Sequence[str]) -> tuple[Findings, tuple[Table, ...]]:
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(Mistake(name, str(error), f"TOML with [[{kind}]] tables")) from error
    findings = Findings(key_lines(text))
    top = Table(data, (), findings)
    for key in data:
        if key != kind:
            top.mistake(key, "unknown table", f"[[{kind}]]")
    tables = top.tables(kind, f"[[{kind}]] tables")
    for table in tables:
        for key in table.data:
            if key not in known:
                table.mistake(key, "unknown key", one_of(key, tuple(known), f"keys of {kind}"))
    return findings, tables


def _from_csv(text: str, name: str, kind: str, known: Sequence[str]) -> tuple[Findings, tuple[Table, ...]]:
    """Lines with a head line of keys; comma or semicolon between cells. Lines that begin with # are remarks."""
    numbered = [(n, line) for n, line in enumerate(text.splitlines(), 1) if line.strip() and line.lstrip()[0] != "#"]
    if not numbered:
        raise InputError(Mistake(name, "empty", f"a head line of keys, then a line for each {kind}"))
    mark = ";" if numbered[0][1].count(";") > numbered[0][1].count(",") else ","
    keys, *rows = [[cell.strip() for cell in next(csv.reader([line], delimiter=mark))] for _, line in numbered]
    lines: dict[KeyPath, int] = {(): numbered[0][0]}
    findings, tables = Findings(lines), []
    for key in keys:
        if key not in known:
            lines[(key,)] = numbered[0][0]
            findings.mistake((key,), "unknown column", one_of(key, tuple(known), f"keys of {kind}"))
    for i, (row, (number, _)) in enumerate(zip(rows, numbered[1:], strict=True)):
        at: KeyPath = (kind, i)
        lines[at] = number
        if len(row) > len(keys):
            expected = f"{len(keys)}, as the head line has; quotes around a cell with {mark} in it"
            findings.mistake(at, f"{len(row)} cells", expected)
        data = {k: cell for k, cell in zip(keys, row, strict=False) if cell and k in known}
        tables.append(Table({k: _bare(k, v) for k, v in data.items()}, at, findings))
    return findings, tuple(tables)


def _bare(key: str, text: str) -> object:
    """Plain numbers of a CSV cell, where the key takes one."""
    if key not in ("q", "count"):
        return text
    try:
        return int(text) if key == "count" else float(text)
    except ValueError:
        return text


def _stock_part(table: Table) -> StockPart | None:
    """One row of the stock."""
    word = table.text("kind", "capacitor, coil or resistor")
    kinds = tuple(k.value for k in Kind)
    for key in ("kind", "value"):
        if key not in table.data:
            table.missing(key, f'{key} = ..., such as kind = "capacitor", value = "150 pF"')
    if word is not None and word not in kinds:
        table.mistake("kind", f'"{word}"', one_of(word, kinds, "kinds"))
    if word not in kinds:
        return None
    kind = Kind(word)
    value = table.quantity("value", *_SAMPLE[kind])
    dielectric = table.text("dielectric", "a word")
    if dielectric is not None and (kind is not Kind.CAPACITOR or dielectric not in DIELECTRICS):
        table.mistake("dielectric", f'"{dielectric}" of a {kind.value}', one_of(dielectric, DIELECTRICS, "dielectrics"))
    rating = table.text("rating", 'a rating, like "500 V"')
    if rating is not None:
        try:
            read_rating(rating)
        except ValueError as error:
            table.mistake("rating", str(error).partition("; expected ")[0], str(error).partition("; expected ")[2])
    count = table.data.get("count")
    if count is not None and (isinstance(count, bool) or not isinstance(count, int) or count < 1):
        table.mistake("count", f"{count!r}", "how many are there, a whole number from 1")
    tolerance = table.quantity("tolerance", Dimension.FRACTION, "5 %")
    if tolerance is not None and tolerance >= 1:
        table.mistake("tolerance", f'"{table.data["tolerance"]}"', "less than 100 %")
    q = table.number("q", 0, 1e6, "a quality factor")
    if value is None:
        return None
    kept = count if isinstance(count, int) else None
    return StockPart(kind, value, tolerance, rating, dielectric, q, kept, table.text("note") or "")


def _core(table: Table) -> RingCore | None:
    """One row of the user's cores."""
    name = table.text("name", "a name")
    al = table.quantity("al", Dimension.INDUCTANCE, "4.0 nH")
    for key, expected in (("name", 'name = "A12"'), ("al", 'al = "4.0 nH", per turn squared')):
        if key not in table.data:
            table.missing(key, expected)
    tolerance = table.quantity("tolerance", Dimension.FRACTION, "5 %")
    outer, inner, height = (table.quantity(k, Dimension.LENGTH, "12.7 mm") for k in ("outer", "inner", "height"))
    if outer is not None and inner is not None and inner >= outer:
        table.mistake("inner", f'"{table.data["inner"]}"', "less than outer")
    note = table.text("note") or ""
    if name is None or al is None:
        return None
    return RingCore(name, al, tolerance or A_L_TOLERANCE, f"own table: {note}", outer, inner, height)
