"""A unit file as a form: every text that can be changed with its place in the file."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from halfsplit.errors import InputError, Mistake
from halfsplit.unit.lines import KeyPath


@dataclass(frozen=True, slots=True)
class Place:
    """One text of the file. path : where it stands; value : None for what is no text and is changed in the text only"""

    path: KeyPath
    label: str
    value: str | None
    example: str = ""

    @property
    def key(self) -> str:
        """The path as it goes into an address."""
        return json.dumps(self.path)


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a ladder. kind : "shunt" or "series"; second : how a second part is tied to it, or "" """

    index: int
    kind: str
    second: str
    places: tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class Form:
    """The file as a form. filters : names; name : of the one whose ladder is open, or "" """

    unit: tuple[Place, ...]
    bands: tuple[tuple[Place, ...], ...]
    filters: tuple[str, ...]
    name: str
    steps: tuple[Step, ...]


UNIT = (("name", "Name", ""), ("rated_power", "Rated power", "40 W"), ("supply", "Supply", "13.8 V"),
        ("impedance", "Impedance", "50 ohm"), ("note", "Note", ""))  # fmt: skip


def form_of(text: str, wanted: str) -> Form | None:
    """The form of a unit file; None where the text cannot be read. wanted : the filter to be open"""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return None
    unit = tuple(place(data, ("unit", key), label, example) for key, label, example in UNIT)
    bands = tuple(band(data, n) for n, _ in enumerate(listed(data.get("band"))))
    filters = tuple(name for name in table(data.get("filter")) if isinstance(table(data["filter"]).get(name), dict))
    name = wanted if wanted in filters else next(iter(filters), "")
    rungs = listed(table(data.get("filter", {}).get(name)).get("ladder")) if name else []
    steps = tuple(step(data, name, n, table(rung)) for n, rung in enumerate(rungs))
    return Form(unit, bands, filters, name, steps)


def table(value: Any) -> Mapping[str, Any]:
    """The value if it is a table, else an empty one."""
    return value if isinstance(value, dict) else {}


def listed(value: Any) -> list[Any]:
    """The value if it is a list, else an empty one."""
    return value if isinstance(value, list) else []


def place(data: Any, path: KeyPath, label: str, example: str = "") -> Place:
    """A text of the file."""
    found: Any = data
    for key in path:
        try:
            found = found[key]
        except (KeyError, IndexError, TypeError):
            return Place(path, label, "", example)
    return Place(path, label, found if isinstance(found, str) else None, example)


def band(data: Any, n: int) -> tuple[Place, ...]:
    """One band."""
    at: KeyPath = ("band", n)
    return (
        place(data, (*at, "name"), "Band", "40 m"),
        place(data, (*at, "range", 0), "From", "7.0 MHz"),
        place(data, (*at, "range", 1), "To", "7.3 MHz"),
        place(data, (*at, "filter"), "Filter", "F1"),
    )


def step(data: Any, name: str, n: int, rung: Mapping[str, Any]) -> Step:
    """One step of a ladder."""
    at: KeyPath = ("filter", name, "ladder", n)
    kind = "shunt" if "shunt" in rung else "series"
    second = next((x for x in ("across", "with") if isinstance(rung.get(x), dict)), "")
    places = [
        place(data, (*at, kind), "Part", "C1"),
        place(data, (*at, "value"), "Value", "100 pF"),
        place(data, (*at, "tolerance"), "Tolerance", "5 %"),
    ]
    if second:
        places += [
            place(data, (*at, second, "part"), f"Part {second} it", "C2"),
            place(data, (*at, second, "value"), "Its value", "100 pF"),
        ]
    return Step(n, kind, second, tuple(places))


def path_of(key: str) -> KeyPath:
    """A path from an address. raises InputError"""
    try:
        found = json.loads(key)
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, list) or not 0 < len(found) < 12 or not all(type(x) in (str, int) for x in found):
        raise InputError(Mistake("place", repr(key[:60]), "a place of the unit file"))
    return tuple(found)
