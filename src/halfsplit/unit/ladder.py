"""Parts, rungs and filters of the unit file."""

from __future__ import annotations

import re
from typing import Literal

from halfsplit.parts import Kind, Part
from halfsplit.quantity import Dimension
from halfsplit.unit.keys import one_of
from halfsplit.unit.records import Filter, Rung
from halfsplit.unit.table import Table
from halfsplit.unit.values import Stated, stated_rating, stated_value

DIELECTRICS = ("mica", "ceramic", "film", "paper", "air", "glass", "trimmer")

_LETTERS = {
    "C": Kind.CAPACITOR,
    "CV": Kind.CAPACITOR,
    "TC": Kind.CAPACITOR,
    "VC": Kind.CAPACITOR,
    "L": Kind.COIL,
    "T": Kind.COIL,
    "R": Kind.RESISTOR,
}
_RUNG = '{ shunt = "C1", value = "560 pF" } or { series = "L1", value = "1.2 uH" }'


def read_filter(name: str, table: Table) -> Filter:
    """One filter with its ladder."""
    table.only("filter")
    rungs = tuple(r for t in table.tables("ladder", f"rungs like {_RUNG}") if (r := read_rung(t)) is not None)
    if "ladder" not in table.data or table.data["ladder"] == []:
        table.missing("ladder", f"a list of rungs like {_RUNG}")
    return Filter(
        name=name,
        rungs=rungs,
        input=table.text("input", "the relay or switch at its input"),
        output=table.text("output", "the relay or switch at its output"),
        impedance=table.quantity("impedance", Dimension.RESISTANCE, "50 ohm"),
        stray=table.quantity("stray", Dimension.CAPACITANCE, "25 pF", sign="not negative"),
        note=table.text("note") or "",
    )


def read_rung(table: Table) -> Rung | None:
    """One rung: a part in the shunt or in the series arm, alone or with a second one across or with it."""
    table.only("rung")
    if ("shunt" in table.data) == ("series" in table.data):
        found = "both shunt and series" if "shunt" in table.data else "neither shunt nor series"
        table.mistake(None, found, f"one of them, like {_RUNG}")
        return None
    place: Literal["series", "shunt"] = "shunt" if "shunt" in table.data else "series"
    combined = _combined(table, place)
    if "ground" in table.data and place == "series":
        table.mistake("ground", "a series part with an earth point", "ground stands only beside shunt")
    ref = table.text(place, 'a designator, like "C21"')
    first = None if ref is None else read_part(table, ref)
    second = _second(table, combined) if combined else None
    if first is None or (combined and second is None):
        return None
    parts = (first,) if second is None else (first, second)
    return Rung(place, parts, combined if second else None, table.text("ground", "the name of an earth point"))


def _combined(table: Table, place: str) -> Literal["across", "with"] | None:
    """Which of across and with the rung has, and whether it may."""
    if "across" in table.data and place == "shunt":
        table.mistake("across", "a second part across a shunt part", "two shunt rungs one after the other, or with")
        return None
    if "with" in table.data and place == "series":
        table.mistake("with", "a second part in series with a series part", "two series rungs, or across")
        return None
    if "across" in table.data:
        return "across"
    return "with" if "with" in table.data else None


def _second(table: Table, key: str) -> Part | None:
    """The second part of a trap."""
    inner = table.table(key)
    if inner is None:
        return None
    inner.only("part")
    ref = inner.text("part", 'a designator, like "C24"')
    if ref is None:
        inner.missing("part", 'a designator, like "C24"')
        return None
    return read_part(inner, ref)


def kind_of_part(table: Table, ref: str) -> Kind | None:
    """The kind from the key kind, else from the letters of the designator (IEC 81346, IEEE 315)."""
    stated = table.text("kind", "capacitor, coil or resistor")
    if stated is not None:
        if stated in {k.value for k in Kind}:
            return Kind(stated)
        table.mistake("kind", f'"{stated}"', one_of(stated, tuple(k.value for k in Kind), "kinds"))
        return None
    letters = re.match(r"[A-Za-z]*", ref)
    kind = _LETTERS.get(letters.group().upper()) if letters else None
    if kind is None:
        table.mistake(None, f'designator "{ref}"', 'one that begins with C, L, R or T, or kind = "capacitor"')
    return kind


def read_part(table: Table, ref: str) -> Part | None:
    """One part; None where its kind cannot be known (noted)."""
    kind = kind_of_part(table, ref)
    if kind is None:
        return None
    stated = stated_value(table, ref, kind)
    _fits_kind(table, kind)
    return Part(
        ref=ref,
        kind=kind,
        value=stated.value,
        tolerance=_tolerance(table, stated),
        q=table.number("q", 0, 1e6, "a quality factor"),
        lead_inductance=table.quantity("lead", Dimension.INDUCTANCE, "6 nH", sign="not negative"),
        self_capacitance=table.quantity("self_capacitance", Dimension.CAPACITANCE, "1.5 pF", sign="not negative"),
        loss_ohm=table.quantity("loss", Dimension.RESISTANCE, "0.5 ohm", sign="not negative"),
        adjustable=table.flag("adjustable") or stated.adjustable,
        dielectric=_dielectric(table),
        rating=stated_rating(table),
        stated=stated.stated,
        note="; ".join((*stated.notes, *((table.text("note") or "",) if "note" in table.data else ()))),
    )


def _tolerance(table: Table, stated: Stated) -> float | None:
    """The printed tolerance as a fraction; that of the range or of `about` where none is printed."""
    printed = table.quantity("tolerance", Dimension.FRACTION, "5 %")
    if printed is not None and printed >= 1:
        table.mistake("tolerance", f'"{table.data["tolerance"]}"', "less than 100 %")
        return None
    return stated.tolerance if printed is None else printed


def _dielectric(table: Table) -> str | None:
    """The dielectric in one of the words that the table of failures knows."""
    word = table.text("dielectric", "a word")
    if word is not None and word not in DIELECTRICS:
        table.mistake("dielectric", f'"{word}"', one_of(word, DIELECTRICS, "dielectrics"))
    return word


def _fits_kind(table: Table, kind: Kind) -> None:
    """Keys that make sense for one kind of part only."""
    only = {"dielectric": Kind.CAPACITOR, "self_capacitance": Kind.COIL, "al": Kind.COIL}
    for key, wanted in only.items():
        if key in table.data and kind is not wanted:
            table.mistake(key, f"a {kind.value} with {key}", f"{key} stands only beside a {wanted.value}")
