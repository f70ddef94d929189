"""Level readings tied to the unit: looks at the meters, each with its band, its load and its path."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from halfsplit.amplifier import Chain, Spot, chain_of
from halfsplit.errors import InputError, Mistake, ReadingError
from halfsplit.expect.level_paths import LookPath, look_path
from halfsplit.hookup import Hookup
from halfsplit.reading import LevelReading, LevelRow, Shows
from halfsplit.unit import Band, Unit

PLACES = ("case", "sink")


@dataclass(frozen=True, slots=True)
class LevelSet:
    """One level reading with its hook-up. key : of the reading in the job; state : number of works done before it"""

    key: str
    reading: LevelReading
    hookup: Hookup
    state: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """One look at the meters with the key down.

    key, number : reading and row of it; end : where the path ends; through : no path between final stage and load
    held : the level control sees the output; drive_only : the chain is broken at a test point, nothing behind it runs
    """

    key: str
    number: int
    band: Band
    end: str
    load: str
    path: LookPath
    held: bool
    drive_only: bool


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure with the look that it belongs to. look : its number among the looks"""

    key: str
    row: LevelRow
    look: int

    @property
    def label(self) -> str:
        """What to call it in a sentence."""
        return f"{self.row.band}: {named(self.row)}"


def named(row: LevelRow) -> str:
    """A figure in words, without its value."""
    words = {
        Shows.POWER: f"power at {row.point}",
        Shows.REFLECTED: f"reflected power at {row.point}",
        Shows.RF_VOLTS: f"RF volts at {row.point}",
        Shows.TEMPERATURE: f"temperature of {row.point}",
    }
    return words.get(row.shows, row.shows.value)


def tied(unit: Unit, sets: Sequence[LevelSet]) -> tuple[Chain, tuple[Look, ...], tuple[Figure, ...]]:
    """Looks and figures of level readings.

    raises UnitError where the unit file does not say enough; ReadingError, HookupError with every mistake
    """
    chain, mistakes = chain_of(unit), list[Mistake]()
    looks: list[Look] = []
    figures: list[Figure] = []
    for one in sets:
        for number in dict.fromkeys(r.look for r in one.reading.rows):
            rows = [r for r in one.reading.rows if r.look == number]
            found = _mistakes(unit, chain, one, rows)
            if found:
                mistakes += found
                continue
            try:
                looks.append(_look(unit, chain, one, rows, number))
            except InputError as error:
                mistakes += error.mistakes
                continue
            figures += [Figure(one.key, r, len(looks) - 1) for r in rows]
    if mistakes:
        raise ReadingError(*mistakes)
    return chain, tuple(looks), tuple(figures)


def _mistakes(unit: Unit, chain: Chain, one: LevelSet, rows: Sequence[LevelRow]) -> list[Mistake]:
    """What does not fit the unit in one look, or contradicts itself."""
    out, where = [], f"{one.reading.name}: row {rows[0].look}"
    bands = [b.name for b in unit.bands]
    if rows[0].band not in bands:
        return [Mistake(where, f"no band {rows[0].band!r}", f"one of: {', '.join(bands)}")]
    powers = dict.fromkeys(r.point for r in rows if r.shows in (Shows.POWER, Shows.REFLECTED))
    known = (*unit.path.points, *(p for p, _ in chain.places))
    for r in rows:
        if r.shows is Shows.TEMPERATURE:
            stage, _, place = r.point.rpartition(" ")
            if stage != chain.final.name or place not in PLACES:
                expected = " or ".join(f"{chain.final.name} {p}" for p in PLACES)
                out.append(Mistake(where, f"{r.text!r}: no place {r.point!r}", expected))
        elif r.point != "supply" and r.point not in known:
            out.append(Mistake(where, f"{r.text!r}: no point {r.point!r}", f"one of: {', '.join(known)}"))
    if len(powers) > 1:
        found = f"watts at {' and at '.join(powers)} in one look"
        out.append(Mistake(where, found, "a wattmeter ends the path where it stands: one row for each place"))
    return out or _contradictions(where, rows)


def _contradictions(where: str, rows: Sequence[LevelRow]) -> list[Mistake]:
    """More RF out than DC in: one of the figures is misread."""

    def first(shows: Shows) -> LevelRow | None:
        return next((r for r in rows if r.shows is shows), None)

    rf, amps, volts = first(Shows.POWER), first(Shows.SUPPLY_AMPS), first(Shows.SUPPLY_VOLTS)
    back = first(Shows.REFLECTED)
    out = []
    if rf and amps and volts and rf.value > volts.value * amps.value:
        dc = volts.value * amps.value
        share = f"efficiency {100 * rf.value / dc:.0f} %" if dc else "there is no current"
        found = f"{rf.value:.4g} W of RF out of {volts.value:.4g} V x {amps.value:.4g} A = {dc:.4g} W of DC: {share}"
        out.append(
            Mistake(where, found, "less out than in: look at the scale of the wattmeter, the shunt, the lead read")
        )
    if rf and back and back.value > rf.value > 0.0:
        found = f"{back.value:.4g} W come back of {rf.value:.4g} W"
        out.append(Mistake(where, found, "less back than forth: forward and reflected may be changed over"))
    return out


def _look(unit: Unit, chain: Chain, one: LevelSet, rows: Sequence[LevelRow], number: int) -> Look:
    """One look with its path. raises HookupError, ModelError"""
    band = unit.band(rows[0].band)
    last, first = unit.path.points[-1], unit.path.points[0]
    power = next((r for r in rows if r.shows in (Shows.POWER, Shows.REFLECTED)), None)
    end = last if power is None else power.point
    drive_only = chain.before(end) is not None
    inner = end in unit.path.points[1:-1]
    if inner and not (one.hookup.lifted or one.hookup.released):
        found = f"watts at {end} with the path still on behind it"
        raise ReadingError(Mistake(f"{one.reading.name}: row {number}", found, "what was taken off there: --lifted W2"))
    through = drive_only or end == first
    ohm = unit.impedance if power is None or power.ohm is None else power.ohm
    hookup = replace(
        one.hookup, band=band.name, drive=first, read=end if not through else last, source_ohm=unit.impedance,
        detector_ohm=ohm, reference="calibrated", instrument="analyser", source_pad=None, detector_pad=None,
    )  # fmt: skip
    spot = Spot(band.name, float(np.sqrt(band.low * band.high)))
    path = look_path(unit, spot, hookup, through=through)
    held = chain.hold_watts is not None and end == last
    return Look(one.key, number, band, end, rows[0].load, path, held, drive_only)
