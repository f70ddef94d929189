"""How the columns of a text table stand: separator, decimal mark, headings, key lines."""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass

from halfsplit.errors import Mistake, ReadingError
from halfsplit.reading.answers import Answers, DecimalMark
from halfsplit.reading.records import Question
from halfsplit.reading.source import to_lines
from halfsplit.reading.table_cells import UNITS, Cell, read_cell

_SEPARATORS = ("\t", ";", ",", "|", " ")
SEPARATOR_NAMES = {"\t": "tab", ";": "semicolon", ",": "comma", "|": "bar", " ": "blank"}
_COMMENT = re.compile(r'\s*"?\s*(?:#|!|%|//|\*|;|REM\b|\')')
_PROBE_LINES = 300
_MOST_COLUMNS = 500
Row = tuple[int, list[Cell]]


@dataclass(frozen=True, slots=True)
class Layout:
    """A table taken apart.

    headings : one text per column, () where the file has none (two heading rows are joined)
    keys : (key, value) lines above the rows; rows : line number and cells
    """

    separator: str
    mark: DecimalMark
    headings: tuple[str, ...]
    keys: tuple[tuple[str, str], ...]
    rows: tuple[Row, ...]
    warnings: tuple[str, ...]
    asks: tuple[Question, ...]


def lay_out(name: str, text: str, answers: Answers) -> Layout:
    """Find separator, decimal mark, headings and rows of a text table.

    raises ReadingError where no two columns of numbers can be found
    """
    lines = [(n, line) for n, line in enumerate(to_lines(text), 1) if line.strip()]
    forced = re.match(r'\s*"?sep=(.)"?', lines[0][1], re.I) if lines else None
    if forced:
        lines = lines[1:]
    comments = [(n, line) for n, line in lines if _is_comment(line)]
    plain = [(n, line) for n, line in lines if not _is_comment(line)]
    separator, mark, asks = _choose(name, plain, forced[1] if forced else None, answers)
    before, rows, warnings = _sort_lines(plain, separator, mark)
    width = Counter(len(cells) for _, cells in rows).most_common(1)[0][0]
    if width > _MOST_COLUMNS:
        expected = f"at most {_MOST_COLUMNS} columns; one row per frequency"
        raise ReadingError(Mistake(name, f"{width} columns", expected, rows[0][0]))
    _refuse_split_decimals(name, rows, width, before, separator)
    headings, keys = _head(before, [line for _, line in comments if _ < rows[0][0]], separator, width)
    return Layout(separator, mark, headings, keys, tuple(rows), tuple(warnings), tuple(asks))


def _is_comment(line: str) -> bool:
    return bool(_COMMENT.match(line))


def split_line(line: str, separator: str) -> list[str]:
    """The cells of a line as text; quotes keep a separator inside a cell."""
    if separator == " ":
        return _blank_cells(line)
    if '"' in line:
        try:
            return [c.strip() for c in next(csv.reader([line], delimiter=separator, skipinitialspace=True), [])]
        except csv.Error:
            return line.split(separator)
    cells = line.split(separator)
    return cells[:-1] if len(cells) > 2 and not cells[-1].strip() else cells


def _blank_cells(line: str) -> list[str]:
    """Cells parted by blanks; a unit word or a bracket belongs to the cell before it."""
    cells: list[str] = []
    for word in line.split():
        belongs = word[0] in "[(" or (word.lower() in UNITS and cells and cells[-1].lower() not in UNITS)
        if cells and belongs and not cells[-1].endswith((")", "]")):
            cells[-1] += " " + word
        else:
            cells.append(word)
    return cells


def _choose(
    name: str, lines: list[tuple[int, str]], forced: str | None, answers: Answers
) -> tuple[str, DecimalMark, list[Question]]:
    """Separator and decimal mark under which the most lines are clean rows of numbers."""
    probe = lines[:_PROBE_LINES]
    separators = (forced,) if forced in _SEPARATORS else _SEPARATORS
    marks: tuple[DecimalMark, ...] = (answers.decimal_mark,) if answers.decimal_mark else (".", ",")
    scores: dict[tuple[str, DecimalMark], int] = {}
    for separator in separators:
        if separator != " " and not any(separator in line for _, line in probe):
            continue
        for mark in marks:
            if separator == mark == "," and not any('"' in line for _, line in probe):
                continue
            rows = [r for _, line in probe if (r := _row(line, separator, mark)) is not None]
            widths = Counter(len(r) for r in rows)
            scores[separator, mark] = widths.most_common(1)[0][1] if widths else 0
    best = max(scores.values(), default=0)
    if not best:
        raise _no_table(name, probe)
    winners = [choice for choice, score in scores.items() if score == best]
    separator, mark = winners[0]
    both = (separator, ".") in winners and (separator, ",") in winners
    if not both or separator == ",":
        return separator, mark, []
    body = [line for _, line in probe if _row(line, separator, ".") is not None]
    if not any("," in line for line in body):
        return separator, ".", []
    ask = Question("decimal_mark", "Is the comma the decimal mark, or does it part thousands?", ",")
    return separator, ",", [ask]


def _no_table(name: str, probe: list[tuple[int, str]]) -> ReadingError:
    numbers = [(n, line) for n, line in probe if re.search(r"[0-9]", line)]
    if not numbers:
        return ReadingError(Mistake(name, "no line with numbers", "columns of frequency and value"))
    line, text = numbers[-1]
    single = all(read_cell(t, m).kind == "number" for _, t in numbers[-3:] for m in (".",))
    found = "only one column of numbers" if single else f"{text.strip()[:50]!r}, and no row of two numbers"
    return ReadingError(Mistake(name, found, "at least two columns: frequency and value", line))


def _row(line: str, separator: str, mark: DecimalMark) -> list[Cell] | None:
    """The cells of a line of numbers, None for any other line."""
    cells: list[Cell] = []
    for text in split_line(line, separator):
        cell = read_cell(text, mark)
        if cell.kind == "odd":
            return None
        cells.append(cell)
    kinds = [cell.kind for cell in cells]
    numbers, gaps = kinds.count("number"), kinds.count("missing")
    whole = numbers >= 2 or (numbers == 1 and gaps >= 1 and kinds[0] != "words")
    return cells if whole else None


def _sort_lines(
    lines: list[tuple[int, str]], separator: str, mark: DecimalMark
) -> tuple[list[str], list[Row], list[str]]:
    """Lines above the first row, the rows, and a warning about lines in between that are no rows."""
    before: list[str] = []
    rows: list[Row] = []
    strange: list[int] = []
    for count, line in lines:
        cells = _row(line, separator, mark)
        if cells is not None:
            rows.append((count, cells))
        elif rows:
            strange.append(count)
        else:
            before.append(line)
    noun = "line" if len(strange) == 1 else "lines"
    warnings = [f"{len(strange)} {noun} not understood and left out (first: line {strange[0]})"] if strange else []
    return before, rows, warnings


def _refuse_split_decimals(name: str, rows: list[Row], width: int, before: list[str], separator: str) -> None:
    """Decimal commas written into comma-separated cells tear every number in two."""
    if separator != "," or width % 2 or width < 4:
        return
    whole = all(cell.value == int(cell.value) for _, cells in rows[:50] for cell in cells if cell.kind == "number")
    headings = [len(split_line(line, ",")) for line in before[-2:]]
    torn = sum(1 for _, cells in rows if any(c.value == 0 and str(c.value)[0] == "-" for c in cells))
    if whole and (width // 2 in headings or torn * 2 >= len(rows)):
        found = f"{width} cells in a row that seem to be {width // 2} numbers with a decimal comma"
        expected = "semicolons or tabs between the columns, or quoted cells"
        raise ReadingError(Mistake(name, found, expected, rows[0][0]))


def _head(
    before: list[str], comments: list[str], separator: str, width: int
) -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
    """Headings and key lines from the lines above the rows."""
    plain = [[c.strip().strip('"').strip() for c in split_line(line, separator)] for line in before]
    noted = [re.sub(r'^[\s"]*(?:#|!|%|//|\*|;|REM\b|\')+', "", line).strip().strip('"') for line in comments]
    keys = [(cells[0], cells[1]) for cells in plain if len(cells) == 2 and all(cells)]
    for note in noted:
        match = re.match(r"([^:=]{1,40})[:=]\s*(.+)", note)
        if match:
            keys.append((match[1].strip(), match[2].strip()))
    headings: tuple[str, ...] = ()
    if plain and _is_heading(plain[-1], width):
        headings = tuple(plain[-1])
        if len(plain) > 1 and _units_only(plain[-1]) and _is_heading(plain[-2], width):
            headings = tuple(f"{a} ({b})" if b else a for a, b in zip(plain[-2], plain[-1], strict=True))
    if not headings:
        for note in reversed(noted):
            cells = [c.strip().strip('"').strip() for c in split_line(note, separator)]
            if _is_heading(cells, width) and _names_frequency(cells):
                headings = tuple(cells)
                break
    kept = tuple(k for k in keys if k != headings)
    return headings, kept


def _is_heading(cells: list[str], width: int) -> bool:
    """A row of names: as many as columns, none a number, and one of them a frequency (or units only)."""
    if len(cells) != width or any(read_cell(c, ".").kind == "number" for c in cells):
        return False
    return _names_frequency(cells) or _units_only(cells)


def _names_frequency(cells: list[str]) -> bool:
    return any(re.match(r"\W*(?:f\b|fr[eéè]?[qc]|[kmg]?hz\b)", c, re.I) or re.search(r"hz\b", c, re.I) for c in cells)


def _units_only(cells: list[str]) -> bool:
    return all(not c or c.strip("()[] ").lower() in UNITS for c in cells) and any(cells)
