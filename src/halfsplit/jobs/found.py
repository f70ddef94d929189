"""What a meter, a bridge or a jumper found, as it is typed: one line for each result."""

from __future__ import annotations

import re
from typing import cast

from halfsplit.circuit import build
from halfsplit.errors import HalfsplitError, Mistake, ReadingError
from halfsplit.fault import Finding
from halfsplit.fault.findings import Kind
from halfsplit.fault.hypotheses import parts_of
from halfsplit.hookup import Hookup
from halfsplit.parts import Kind as PartKind
from halfsplit.quantity import Dimension, QuantityError, format_value, parse
from halfsplit.unit import Unit

FORMS = {
    "ohms across": re.compile(r"ohms? across (?P<place>.+?)\s*(?:=|:)\s*(?P<result>.+)", re.I),
    "measure lifted part": re.compile(r"(?P<place>.+?) lifted\s*(?:=|:)\s*(?P<result>.+)", re.I),
    "bridge and sweep again": re.compile(r"(?P<place>.+?) bridged\s*(?:=|:)\s*(?P<result>.+)", re.I),
    "swap jumper": re.compile(r"(?P<place>.+?) swapped\s*(?:=|:)\s*(?P<result>.+)", re.I),
}
EXAMPLES = (
    '"ohms across E41 = 0.02 ohm", "C22 lifted = 310 pF", "K12 contact bridged = cured", "W1 swapped = no change"'
)
UNITS = {
    PartKind.CAPACITOR: Dimension.CAPACITANCE,
    PartKind.COIL: Dimension.INDUCTANCE,
    PartKind.RESISTOR: Dimension.RESISTANCE,
}
OPEN_OHM = 1e7


def found(unit: Unit, line: str) -> Finding:
    """A result as it was typed.

    Forms: ohms across PLACE = OHM (or open); REF lifted = VALUE (or open, short), with ", low Q" or ", Q right" behind;
    PLACE bridged = cured (or no change); JUMPER swapped = cured (or no change).
    raises ReadingError where the form, the place or the figure is not understood
    """
    text = " ".join(line.split())
    for kind, form in FORMS.items():
        match = form.fullmatch(text)
        if match is not None:
            return read(unit, kind, match["place"], match["result"])
    raise ReadingError(Mistake("found", repr(text), f"one of these forms: {EXAMPLES}"))


def read(unit: Unit, kind: str, place: str, result: str) -> Finding:
    """One result of a kind of test."""
    if kind == "ohms across":
        name = named(place, joints(unit))
        value = OPEN_OHM if result.lower() == "open" else figure(result, Dimension.RESISTANCE)
        return Finding("ohms across", name, value)
    if kind == "measure lifted part":
        parts = parts_of(unit)
        name = named(place, sorted(parts))
        return lifted(name, UNITS[parts[name].kind], result)
    known = [c.ref for c in unit.cables] if kind == "swap jumper" else joints(unit)
    words = {"cured": "cured", "no change": "no change"}
    if result.lower() not in words:
        raise ReadingError(Mistake("found", repr(result), '"cured" or "no change"'))
    return Finding(cast("Kind", kind), named(place, known), word=words[result.lower()])


def lifted(name: str, dimension: Dimension, result: str) -> Finding:
    """A part that was lifted and measured."""
    first, _, tail = (x.strip() for x in result.partition(", "))
    losses = {"": None, "low q": True, "q low": True, "q right": False}
    if tail.lower() not in losses:
        raise ReadingError(Mistake("found", repr(tail), '"low Q" or "Q right" behind the value, or nothing'))
    if first.lower() in ("open", "short"):
        return Finding("measure lifted part", name, word=first.lower())
    return Finding("measure lifted part", name, figure(first, dimension), lossy=losses[tail.lower()])


def figure(text: str, dimension: Dimension) -> float:
    """A figure above zero. raises ReadingError"""
    try:
        value = float(parse(text, dimension).value)
    except QuantityError as error:
        raise ReadingError(Mistake("found", repr(text), str(error))) from error
    if value <= 0:
        raise ReadingError(Mistake("found", repr(text), "a figure above zero"))
    return value


def named(text: str, known: list[str]) -> str:
    """The place that is meant: its name, or the beginning of one name only. raises ReadingError"""
    exact = [n for n in known if n.lower() == text.lower()]
    begun = [n for n in known if n.lower().startswith(f"{text.lower()} ")]
    if exact or len(begun) == 1:
        return (exact or begun)[0]
    listed = ", ".join(begun or known)
    raise ReadingError(Mistake("found", repr(text), f"one of: {listed}"))


def joints(unit: Unit) -> list[str]:
    """Every joint and contact that can be touched, over all bands. A band that cannot be built has none to offer."""
    names: dict[str, None] = {}
    for band in unit.bands:
        try:
            scene = build(unit, Hookup(band.name, unit.path.points[0], unit.path.points[-1]))
        except HalfsplitError:
            continue
        names |= dict.fromkeys(e.place for e in scene.elements if e.place.endswith("joint") or "contact" in e.place)
    return list(names)


def words_of(unit: Unit, x: Finding) -> str:
    """A finding in one line. unit : that it was made on"""
    if x.kind == "ohms across":
        assert x.value is not None
        shown = "open" if x.value >= OPEN_OHM else format_value(x.value, Dimension.RESISTANCE)
        return f"ohms across {x.place}: {shown}"
    if x.kind == "measure lifted part":
        dimension = UNITS[parts_of(unit)[x.place].kind]
        shown = x.word if x.value is None else format_value(x.value, dimension)
        return f"{x.place} lifted: {shown}{', low Q' if x.lossy else ''}"
    return f"{x.place} {'bridged' if x.kind.startswith('bridge') else 'swapped'}: {x.word}"
