"""The frequency plan of a unit: what oscillates in it besides the signal. Read from [plan] of the unit file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from halfsplit.quantity import Dimension
from halfsplit.unit.keys import one_of
from halfsplit.unit.table import Table

Side = Literal["above", "below"]


@dataclass(frozen=True, slots=True)
class Plan:
    """What else runs in the unit.

    intermediate : Hz, the intermediate frequencies of the transmit chain in the order of the signal; the last mixer
                   brings the last of them to the carrier
    lo : (band or "all", side): whether the oscillator of the last mixer lies above or below the carrier; () not known
    oscillators : (name, Hz) fixed oscillators and clocks; ripple : (name, Hz) switching frequencies of supplies
    mains : Hz, None where not known
    """

    intermediate: tuple[float, ...] = ()
    lo: tuple[tuple[str, Side], ...] = ()
    oscillators: tuple[tuple[str, float], ...] = ()
    ripple: tuple[tuple[str, float], ...] = ()
    mains: float | None = None

    def sides(self, band: str) -> tuple[Side, ...]:
        """Where the oscillator of the last mixer may lie on a band: one side where it is known, else both."""
        known = dict(self.lo)
        side = known.get(band, known.get("all"))
        return ("above", "below") if side is None else (side,)


def read_plan(table: Table | None, bands: tuple[str, ...]) -> Plan | None:
    """The frequency plan; None where the file has none. bands : names that a side of the oscillator may be given for"""
    if table is None:
        return None
    table.only("plan")
    listed = table.data.get("intermediate", [])
    values = listed if isinstance(listed, list) else [listed]
    steps = [("intermediate", i) if isinstance(listed, list) else ("intermediate",) for i in range(len(values))]
    read = [table.quantity_of(v, at, Dimension.FREQUENCY, "9 MHz") for v, at in zip(values, steps, strict=True)]
    return Plan(
        intermediate=tuple(hz for hz in read if hz is not None),
        lo=_sides(table, bands),
        oscillators=_named(table, "oscillators"),
        ripple=_named(table, "ripple"),
        mains=table.quantity("mains", Dimension.FREQUENCY, "50 Hz"),
    )


def _named(table: Table, key: str) -> tuple[tuple[str, float], ...]:
    """Frequencies by name: oscillators = { "reference" = "10 MHz" }."""
    inner = table.table(key)
    if inner is None:
        return ()
    found = ((name, inner.quantity(name, Dimension.FREQUENCY, "10 MHz")) for name in inner.data)
    return tuple((name, hz) for name, hz in found if hz is not None)


def _sides(table: Table, bands: tuple[str, ...]) -> tuple[tuple[str, Side], ...]:
    """Side of the oscillator: one word for all bands, or a table by band."""
    if not isinstance(table.data.get("lo"), dict):
        word = _side(table, "lo")
        return () if word is None else (("all", word),)
    inner = table.table("lo")
    assert inner is not None
    out: list[tuple[str, Side]] = []
    for name in inner.data:
        word = _side(inner, name)
        if name not in bands:
            inner.mistake(name, f'"{name}" is no band', one_of(name, bands, "bands"))
        elif word is not None:
            out.append((name, word))
    return tuple(out)


def _side(table: Table, key: str) -> Side | None:
    """above or below under a key; None where it is not there or is something else (noted)."""
    word = table.text(key, '"above" or "below" the carrier')
    if word is None:
        return None
    if word == "above" or word == "below":
        return word  # type: ignore[return-value]
    table.mistake(key, f'"{word}"', '"above" or "below": where the oscillator lies from the carrier')
    return None
