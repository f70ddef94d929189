"""A reading out of a text table."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from halfsplit.errors import Mistake, ReadingError
from halfsplit.reading.answers import Answers
from halfsplit.reading.curve import Real, checked_frequencies, dropped, merged, refuse_two_sweeps
from halfsplit.reading.records import Question, Reading, Trace, What
from halfsplit.reading.source import to_text
from halfsplit.reading.table_columns import Column, columns_of
from halfsplit.reading.table_layout import SEPARATOR_NAMES, Layout, lay_out
from halfsplit.reading.table_values import frequencies, in_db
from halfsplit.reading.traces import finished, span

_BEST_FIRST = ("dB", "loss", "dBm", "product", "linear", "magnitude", "?", "ohm", "SWR")


def table_reading(name: str, raw: bytes, answers: Answers) -> Reading:
    """The reading in a table of columns.

    raises ReadingError naming the line where that helps
    """
    layout = lay_out(name, to_text(name, raw), answers)
    columns, asks = columns_of(name, layout, answers)
    chosen, warnings, questions = _chosen(columns)
    asks = [*layout.asks, *asks, *questions]
    warnings = [*layout.warnings, *warnings, *_key_warnings(layout)]
    if not chosen:
        raise ReadingError(Mistake(name, "no column of readings", "a column such as 'S21 (dB)' beside the frequency"))
    frequency = next(c for c in columns if c.role == "frequency")
    grid, units = _grid(layout, len(columns))
    f, notes, questions = _frequency(name, frequency, grid, units, answers)
    warnings, asks = warnings + notes, asks + questions
    traces: list[Trace] = []
    for column in chosen:
        trace, notes, questions = _trace(name, column, columns, f, grid, units, answers)
        warnings += notes
        asks += questions
        if trace:
            trace, notes = finished(trace)
            warnings += notes
            traces.append(trace)
    if not traces:
        raise ReadingError(Mistake(name, "not one row holds a frequency and a value", "finite numbers"))
    warnings = list(dict.fromkeys(warnings))
    asks = [a for a in dict.fromkeys(asks) if getattr(answers, a.about) is None]
    return Reading(name, raw, tuple(traces), _understood(name, layout, traces), tuple(warnings), tuple(asks))


def _grid(layout: Layout, width: int) -> tuple[Real, list[list[str]]]:
    """Numbers (rows, columns), NaN where a cell holds none, and the units of cells."""
    grid = np.full((len(layout.rows), width), np.nan)
    units = [[""] * width for _ in layout.rows]
    for i, (_, cells) in enumerate(layout.rows):
        for j, cell in enumerate(cells[:width]):
            grid[i, j] = cell.value
            units[i][j] = cell.unit
    return grid, units


def _frequency(
    name: str, column: Column, grid: Real, units: list[list[str]], answers: Answers
) -> tuple[Real, list[str], list[Question]]:
    values = grid[:, column.place]
    good = np.isfinite(values)
    if not good.any():
        raise ReadingError(Mistake(name, f"no number in the frequency column {column.heading!r}", "frequencies"))
    f = np.full(len(values), np.nan)
    here = [row[column.place] for row, ok in zip(units, good, strict=True) if ok]
    f[good], warnings, asks = frequencies(name, column, values[good], here, answers)
    return f, warnings + checked_frequencies(name, f[good]), asks


def _chosen(columns: tuple[Column, ...]) -> tuple[list[Column], list[str], list[Question]]:
    """One column per quantity, the one that says most; a warning names those passed over, a question their equals."""
    values = [c for c in columns if c.role == "value"]
    pairs = [c for c in columns if c.role == "real" and _partner(c, columns, "imag")]
    known: dict[What | None, Column] = {}
    passed: list[Column] = []
    for column in sorted(pairs, key=lambda c: c.place) + sorted(values, key=lambda c: _BEST_FIRST.index(c.form)):
        unnamed_beside_named = column.what is None and any(k for k in known)
        if column.what in known or unnamed_beside_named:
            passed.append(column)
        else:
            known[column.what] = column
    names = ", ".join(repr(c.heading) for c in passed)
    notes = [f"not used: {names} (another column was taken for the reading)"] if passed else []
    asks: list[Question] = []
    for what, taken in known.items():
        equals = [taken, *(c for c in passed if c.what is what and c.form == taken.form and c.role == taken.role)]
        if len(equals) > 1:
            shown = ", ".join(f"{c.place + 1} {c.heading!r}" for c in equals)
            asks.append(Question("value_column", f"Which column is the reading: {shown}?", str(taken.place + 1)))
    return sorted(known.values(), key=lambda c: c.place), notes, asks


def _partner(column: Column, columns: tuple[Column, ...], role: str) -> Column | None:
    """The phase, imaginary or uncertainty column that belongs to a column: same quantity, or next behind it."""
    same = [c for c in columns if c.role == role and c.what is not None and c.what is column.what]
    if same:
        return min(same, key=lambda c: (abs(c.place - column.place), -c.place))
    if role == "imag":
        return None
    behind = [c for c in columns if c.role == role and c.place > column.place and c.what is None]
    nearest = behind[0] if behind else None
    between = nearest and any(c.role in ("value", "real") and column.place < c.place < nearest.place for c in columns)
    return None if between else nearest


def _trace(
    name: str,
    column: Column,
    columns: tuple[Column, ...],
    f: Real,
    grid: Real,
    units: list[list[str]],
    answers: Answers,
) -> tuple[Trace | None, list[str], list[Question]]:
    column, notes = _with_cell_unit(name, column, units), list[str]()
    values, degrees = grid[:, column.place], np.full(len(f), np.nan)
    if column.role == "real":
        imaginary = _partner(column, columns, "imag")
        assert imaginary is not None  # _chosen only takes pairs
        pair = values + 1j * grid[:, imaginary.place]
        values = np.abs(pair)
        degrees = np.degrees(np.angle(pair)) if column.form != "product" else degrees
    elif phase := _partner(column, columns, "phase"):
        degrees = grid[:, phase.place] * (180 / np.pi if phase.unit == "rad" else 1.0)
    good = np.isfinite(f) & np.isfinite(values)
    notes += dropped(int((~good).sum()), "no number for the frequency or the value")
    if not good.any():
        return None, notes, []
    what, db, slope, more, asks = in_db(name, column, values[good], answers)
    sigma = _sigma(column, columns, grid[good], slope, notes)
    flat = np.isfinite(db)
    notes += more + dropped(int((~flat).sum()), f"{what.value.upper()} exactly zero or perfectly matched, no dB value")
    if not flat.any():
        return None, notes, asks
    stack = np.stack([db, degrees[good], sigma], axis=1)[flat]
    refuse_two_sweeps(name, f[good][flat], db[flat])
    rising, table, merging = merged(f[good][flat], stack)
    if np.isfinite(table[:, 1]).all():
        table[:, 1] = (table[:, 1] + 180.0) % 360.0 - 180.0
    trace = Trace(what, _floats(rising), _floats(table[:, 0]), _whole(table[:, 1]), _whole(table[:, 2]))
    return trace, notes + merging, asks


def _with_cell_unit(name: str, column: Column, units: list[list[str]]) -> Column:
    """The column with the unit that its cells carry, where the heading has none."""
    found = {row[column.place] for row in units} - {""}
    if not found:
        return column
    if len(found) > 1 or not found <= {"dB", "dBm", "ohm"}:
        shown = ", ".join(sorted(found))
        raise ReadingError(
            Mistake(name, f"{shown} in column {column.place + 1}", "dB, dBm or ohm, the same in each cell")
        )
    unit = found.pop()
    if column.form == "?" or unit in ("dBm", "ohm"):
        what = {"dBm": What.LEVEL, "ohm": What.IMPEDANCE}.get(unit, column.what)
        return replace(column, unit=unit, form=unit, what=what)  # type: ignore[arg-type]
    return column


def _sigma(column: Column, columns: tuple[Column, ...], grid: Real, slope: Real, notes: list[str]) -> Real:
    stated = _partner(column, columns, "uncertainty")
    if stated is None or column.role == "real":
        return np.full(len(grid), np.nan)
    notes.append(f"{stated.heading!r} taken as standard uncertainty (1 sigma)")
    amount = np.abs(grid[:, stated.place])
    return np.asarray(amount if stated.unit == "dB" else amount * np.abs(slope))


def _whole(values: Real) -> tuple[float, ...]:
    """The values, or () where one is missing: a phase with gaps is no phase."""
    return _floats(values) if np.isfinite(values).all() else ()


def _floats(values: Real) -> tuple[float, ...]:
    return tuple(float(v) for v in values)


def _key_warnings(layout: Layout) -> list[str]:
    """Key lines that would move the level if they were true of the reading."""
    out: list[str] = []
    for key, value in layout.keys:
        low = key.lower()
        moved = any(w in low for w in ("pad", "attenuator", "offset", "correction", "preamp"))
        if moved and value.strip().strip("0., dB") and any(c.isdigit() for c in value):
            out.append(f"the file says {key!r} {value!r}: the values are taken as they stand, not corrected for it")
    return out


def _understood(name: str, layout: Layout, traces: list[Trace]) -> str:
    mark = ", decimal comma" if layout.mark == "," else ""
    unit = {What.LEVEL: "dBm", What.IMPEDANCE: "ohm"}
    shown = " ".join(t.what.value.upper() if t.what.value[0] == "s" else t.what.value for t in traces)
    return (
        f"{name}: table ({SEPARATOR_NAMES[layout.separator]}{mark}), {span(traces[0].f)}, "
        f"{shown} in {unit.get(traces[0].what, 'dB')}"
    )
