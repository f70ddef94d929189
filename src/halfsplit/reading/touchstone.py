"""Touchstone files of one and two ports: from text to S-parameters."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from halfsplit.errors import Mistake, ReadingError
from halfsplit.reading.curve import checked_frequencies, dropped, merged, refuse_two_sweeps
from halfsplit.reading.source import to_text
from halfsplit.reading.touchstone_text import OPTION_WANTED, Sheet, read_sheet
from halfsplit.reading.two_port import Complex, Real, normalised, to_s

_PLACES = {1: [(0, 0)], 2: [(0, 0), (1, 0), (0, 1), (1, 1)]}

NOTHING = 1e-9
"""An S-parameter below this (-180 dB) at every point was not measured: some files write zero as -300 dB."""


@dataclass(frozen=True, slots=True)
class Touchstone:
    """The S-parameters of a file, sorted and without duplicates.

    f : (n,) Hz; s : (n, ports, ports) referred to `references` (ohm, one per port)
    form : "DB", "MA" or "RI"; kind : "S", "Z", "Y", "H" or "G" as the file had it
    zero, absent : places (row, column) that are zero, or no number, at every point
    """

    f: Real
    s: Complex
    references: tuple[float, ...]
    form: str
    kind: str
    zero: frozenset[tuple[int, int]]
    absent: frozenset[tuple[int, int]]
    warnings: tuple[str, ...]


def parse_touchstone(name: str, raw: bytes) -> Touchstone:
    """The S-parameters in a Touchstone file of version 1 or 2.

    raises ReadingError listing every mistake, with its line
    """
    sheet = read_sheet(to_text(name, raw))
    if not sheet.option_line and not sheet.mistakes:
        sheet.wrong(1, "no option line", OPTION_WANTED)
    ports = _ports(name, sheet)
    points = _points(sheet, ports) if ports in _PLACES else []
    if not points and not sheet.mistakes:
        sheet.wrong(sheet.option_line, "no data rows", f"rows of {_width(sheet, ports)} numbers")
    references = _references(sheet, ports)
    if sheet.mistakes:
        raise ReadingError(*(Mistake(name, m.found, m.expected, m.line) for m in sheet.mistakes))
    table = np.array(points, dtype=float)
    f = table[:, 0] * sheet.factor
    with np.errstate(all="ignore"):
        p = _matrix(table[:, 1:], sheet, ports)
    return _settled(name, f, p, references, sheet)


def _ports(name: str, sheet: Sheet) -> int:
    by_name = re.search(r"\.s([0-9]{1,3})p\Z", name.strip(), re.I)
    stated = int(by_name[1]) if by_name else None
    ports = sheet.ports or stated
    if sheet.ports and stated and sheet.ports != stated:
        sheet.warnings.append(f"named as {stated}-port, but the file says {sheet.ports} ports: the file is followed")
    if ports is None and sheet.rows:
        ports = {3: 1, 9: 2, 5: 2, 7: 2}.get(len(sheet.rows[0][1]))
    if ports is None:
        sheet.wrong(sheet.option_line, "the number of ports is not clear", "a name ending in .s1p or .s2p")
        return 1
    if ports not in _PLACES:
        sheet.wrong(sheet.option_line, f"a file of {ports} ports", "one or two ports; export the path under test alone")
    return ports


def _width(sheet: Sheet, ports: int) -> int:
    return 1 + 2 * (3 if ports == 2 and sheet.matrix != "full" else ports * ports)


def _references(sheet: Sheet, ports: int) -> Real:
    given = sheet.references * ports if len(sheet.references) == 1 else sheet.references
    if len(given) != ports or not all(np.isfinite(r) and 0 < r < 1e9 for r in given):
        shown = " ".join(f"{r:g}" for r in given)[:40]
        sheet.wrong(sheet.option_line, f"reference {shown!r}", f"{ports} resistance(s) above zero, in ohm")
        return np.full(ports, 50.0)
    return np.array(given)


def _points(sheet: Sheet, ports: int) -> list[list[float]]:
    """Rows put together to points; a point may stand on several lines, a noise block ends them."""
    need, rows = _width(sheet, ports), sheet.rows
    points: list[list[float]] = []
    at = 0
    while at < len(rows):
        end, numbers = at, list[float]()
        while end < len(rows) and len(numbers) < need:
            numbers += rows[end][1]
            end += 1
        if len(numbers) != need and _noise_from(sheet, ports, at):
            sheet.noise_rows += len(rows) - at
            break
        if len(numbers) != need or (ports == 2 and end - at == 3 and len(rows[at][1]) == 3):
            _misfit(sheet, rows[at : max(end, at + 1)], need, len(numbers), last=end >= len(rows) and bool(points))
            if len(sheet.mistakes) >= 5 or end >= len(rows):
                break
            at += 1
            continue
        points.append(numbers)
        at = end
    if sheet.noise_rows:
        sheet.warnings.append(f"noise block of {sheet.noise_rows} rows not used")
    if sheet.frequencies not in (None, len(points)):
        sheet.warnings.append(f"the file announces {sheet.frequencies} frequencies but holds {len(points)}")
    return points


def _noise_from(sheet: Sheet, ports: int, at: int) -> bool:
    """Version 1 two-ports may carry noise rows of five numbers behind the data."""
    return ports == 2 and sheet.version < 2 and all(len(numbers) == 5 for _, numbers in sheet.rows[at:])


def _misfit(sheet: Sheet, rows: list[tuple[int, list[float]]], need: int, got: int, last: bool) -> None:
    line, first = rows[0][0], len(rows[0][1])
    if last and got < need and first < need:
        sheet.warnings.append(f"the last point is cut short (line {line}: {got} of {need} numbers) and was dropped")
        return
    hint = " (a one-port file under a two-port name?)" if first == 3 and need == 9 else ""
    sheet.wrong(line, f"{first if first != need else got} numbers in a row{hint}", f"{need} numbers per point")


def _matrix(columns: Real, sheet: Sheet, ports: int) -> Complex:
    """Pairs of numbers to a matrix per point. columns : (n, 2 k); returns (n, ports, ports)"""
    first, second = columns[:, 0::2], columns[:, 1::2]
    if sheet.form == "RI":
        values = first + 1j * second
    else:
        size = 10 ** (first / 20) if sheet.form == "DB" else first
        values = size * np.exp(1j * np.deg2rad(second))
    p = np.zeros((len(columns), ports, ports), dtype=complex)
    if ports == 2 and sheet.matrix != "full":
        corner = (1, 0) if sheet.matrix == "lower" else (0, 1)
        places = [(0, 0), corner, (1, 1)]
        p[:, corner[1], corner[0]] = values[:, 1]
    else:
        places = list(_PLACES[ports])
        if ports == 2 and sheet.version >= 2:
            if sheet.order is None:
                sheet.warnings.append("no [Two-Port Data Order]: taken as 21_12, the order of version 1")
            if sheet.order == "12_21":
                places[1], places[2] = places[2], places[1]
    for k, (row, column) in enumerate(places):
        p[:, row, column] = values[:, k]
    return p


def _settled(name: str, f: Real, p: Complex, references: Real, sheet: Sheet) -> Touchstone:
    """Drop what is no number, convert to S, sort and merge."""
    ports = p.shape[1]
    every = [(i, j) for i in range(ports) for j in range(ports)]
    absent = frozenset(place for place in every if not np.isfinite(p[:, *place]).any())
    if len(absent) == len(every) or (sheet.kind != "S" and absent):
        raise ReadingError(Mistake(name, "no point has a number in every column", "finite numbers"))
    for place in absent:
        p[:, *place] = 0
    nothing = np.abs(p).max(axis=0) < NOTHING if sheet.kind == "S" else np.zeros((ports, ports), bool)
    zero = frozenset(place for place in every if nothing[place]) - absent
    good = np.isfinite(f) & np.isfinite(p).all(axis=(1, 2))
    warnings = list(sheet.warnings) + dropped(int((~good).sum()), "no number in one of its cells")
    if not good.any():
        raise ReadingError(Mistake(name, "not one point holds a number in every column", "finite numbers"))
    f, p = f[good], p[good]
    try:
        if sheet.kind in "ZYHG" and sheet.version >= 2:
            p = normalised(sheet.kind, p, references)
        s = to_s(sheet.kind, p)
    except (np.linalg.LinAlgError, IndexError, ValueError):
        raise ReadingError(
            Mistake(name, f"{sheet.kind}-parameters without an S-parameter equivalent", "S-parameters")
        ) from None
    warnings += checked_frequencies(name, f)
    for place in every:
        size = np.abs(s[:, *place])
        refuse_two_sweeps(name, f, 20 * np.log10(np.maximum(size, 1e-3)))
    f, s, notes = merged(f, s)
    return Touchstone(f, s, tuple(references), sheet.form, sheet.kind, zero, absent, (*warnings, *notes))
