"""What a drawing prints beside a part: a value, a range of a trimmer, turns on a core, two editions, nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace

from halfsplit.parts import Kind, core, core_names, read_rating
from halfsplit.quantity import Ask, Dimension, NotFitted, QuantityError, Turns, Value, parse_part_value
from halfsplit.unit.keys import one_of
from halfsplit.unit.lines import KeyPath
from halfsplit.unit.table import Table, kind_of

DIMENSIONS = {
    Kind.CAPACITOR: (Dimension.CAPACITANCE, "560 pF"),
    Kind.COIL: (Dimension.INDUCTANCE, "1.2 uH"),
    Kind.RESISTOR: (Dimension.RESISTANCE, "47 ohm"),
}

ON_TEST = "selected on test"
ON_TEST_TOLERANCE = 0.3
"""How far a part selected on test may lie from the value written beside `about` (common practice, from memory)."""


@dataclass(frozen=True)
class Stated:
    """value : SI or None; tolerance : fraction or None; stated : as printed; wound : given as turns on a core."""

    value: float | None = None
    tolerance: float | None = None
    stated: str = ""
    notes: tuple[str, ...] = ()
    adjustable: bool = False
    on_test: bool = False
    wound: bool = False


def stated_value(table: Table, ref: str, kind: Kind) -> Stated:
    """The value of one part from whichever of value, changed, about, range and al the table has."""
    if "range" in table.data:
        return _trimmer(table, ref, kind)
    raw = table.data.get("value")
    if raw is None:
        table.missing("value", f'value = "{DIMENSIONS[kind][1]}", or value = "{ON_TEST}" where none is printed')
        return Stated()
    found = _editions(table, ref, kind, raw) if isinstance(raw, list) else _one(table, ref, kind, ("value",), raw)
    if "about" in table.data and not found.on_test:
        table.mistake("about", "a value and about", f'about stands only beside value = "{ON_TEST}"')
    if "changed" in table.data:
        found = _changed(table, ref, kind, found)
    elif found.on_test:
        found = _on_test(table, ref, kind, found)
    if "al" in table.data and not found.wound:
        table.mistake("al", "al without turns", 'al stands only beside turns, like value = "12 turns"')
    return found


def stated_rating(table: Table) -> str | None:
    """What the part stands, as printed; words that are no such figure are kept, and a warning says so."""
    text = table.text("rating", 'a rating as printed, like "500 V"')
    if text is not None:
        try:
            read_rating(text)
        except ValueError as error:
            table.warn("rating", f"kept, but nothing is held against it: {error}")
    return text


def _one(table: Table, ref: str, kind: Kind, steps: KeyPath, raw: object) -> Stated:
    """One printed value: a quantity, turns on a core for a coil, or selected on test."""
    dimension, example = DIMENSIONS[kind]
    read = _read(table, steps, raw, dimension, example)
    if read is None:
        return Stated(stated=raw if isinstance(raw, str) else "")
    if isinstance(read, NotFitted):
        if read.reason != ON_TEST:
            table.findings.mistake((*table.at, *steps), f'"{read.text}"', f"leave {ref} out: its place is empty")
        return Stated(stated=read.text, on_test=True)
    notes = (read.remark,) if read.remark else ()
    if isinstance(read, Turns):
        return Stated(_turns(table, read, steps), stated=read.text, notes=notes, wound=True)
    return Stated(table.signed(read, steps), stated=read.text, notes=notes)


def _read(
    table: Table, steps: KeyPath, raw: object, dimension: Dimension, example: str
) -> Value | Turns | NotFitted | None:
    """What the drawing writes beside a part; None where it is not text or not clear (noted)."""
    at = (*table.at, *steps)
    text = table.quoted(raw, steps, dimension, example)
    if text is None:
        return None
    try:
        read = parse_part_value(text, dimension)
    except QuantityError as error:
        table.findings.refused(at, error)
        return None
    if isinstance(read, Ask):
        choices = " or ".join(f'"{s}"' for s in read.suggestions)
        table.findings.mistake(at, f'"{text}": {read.question}', choices)
        return None
    return read


def _turns(table: Table, read: Turns, steps: KeyPath) -> float | None:
    """L = AL N^2; AL from the key al (per turn squared), or from the package's table of cores."""
    if "al" in table.data:
        per_turn = table.quantity("al", Dimension.INDUCTANCE, "4.0 nH")
        return None if per_turn is None else per_turn * read.turns**2
    if read.core in core_names():
        return core(read.core).al * read.turns**2
    found = f'core "{read.core}" is not in the table' if read.core else f'"{read.text}": turns without a core'
    expected = one_of(read.core, core_names(), "known cores") + '; or al = "4.0 nH" per turn squared'
    table.findings.mistake((*table.at, *steps), found, expected)
    return None


def _on_test(table: Table, ref: str, kind: Kind, found: Stated) -> Stated:
    """A part selected on test: no value, or the one written beside about."""
    if "about" not in table.data:
        table.warn("value", f"{ref} is selected on test and has no value: add about = ... where one was found")
        return found
    about = _one(table, ref, kind, ("about",), table.data["about"])
    note = f"selected on test, about {about.stated}"
    table.warn("value", f"{ref} is {note}: taken as that value +-{ON_TEST_TOLERANCE:.0%}")
    return Stated(about.value, ON_TEST_TOLERANCE, found.stated, (*about.notes, note), on_test=True)


def _editions(table: Table, ref: str, kind: Kind, raw: list[object]) -> Stated:
    """Two editions print different values: the first is used, all are kept in the note, and the reader says so."""
    if len(raw) < 2:
        table.mistake("value", f"a list of {len(raw)}", "one value in quotes, or the values of two editions or more")
        return Stated()
    read = [_one(table, ref, kind, ("value", index), item) for index, item in enumerate(raw)]
    others = " and ".join(r.stated for r in read[1:])
    table.warn("value", f"{ref}: editions of the drawing differ: {read[0].stated} is used, not {others}")
    return replace(read[0], notes=(*read[0].notes, f"another edition prints {others}"))


def _changed(table: Table, ref: str, kind: Kind, printed: Stated) -> Stated:
    """A former owner put another value in: that one counts, the printed one stays in the note."""
    fitted = _one(table, ref, kind, ("changed",), table.data["changed"])
    table.warn("changed", f"{ref} was changed: {fitted.stated} is fitted, the drawing prints {printed.stated}")
    note = f"changed to {fitted.stated}; the drawing prints {printed.stated}"
    return replace(fitted, notes=(*printed.notes, *fitted.notes, note), wound=fitted.wound or printed.wound)


def _trimmer(table: Table, ref: str, kind: Kind) -> Stated:
    """A trimmer: at its printed setting, else in the middle of its range; it may stand anywhere in it."""
    ends = table.data["range"]
    dimension, example = DIMENSIONS[kind]
    if not isinstance(ends, list) or len(ends) != 2:
        table.mistake("range", kind_of(ends), 'the two ends of its travel, like ["5 pF", "60 pF"]')
        return Stated()
    low, high = (table.quantity_of(e, ("range", i), dimension, example) for i, e in enumerate(ends))
    if low is None or high is None:
        return Stated()
    if low >= high:
        table.mistake("range", f'"{ends[0]}" is not below "{ends[1]}"', "the smaller end first")
        return Stated()
    set_to = (
        _one(table, ref, kind, ("value",), table.data["value"]).value if "value" in table.data else (low + high) / 2
    )
    if set_to is None:
        return Stated()
    if not low <= set_to <= high:
        table.mistake("value", f'"{table.data["value"]}"', f'a value inside the range "{ends[0]}" to "{ends[1]}"')
    note = f"trimmer, {ends[0]} to {ends[1]}"
    if "value" not in table.data:
        table.warn("range", f"{ref}: no setting printed, the middle of {ends[0]} to {ends[1]} is taken")
    stray = max(high - set_to, set_to - low) / set_to
    return Stated(set_to, stray, f"{ends[0]} to {ends[1]}", (note,), adjustable=True)
