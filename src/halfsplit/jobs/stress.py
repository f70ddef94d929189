"""The verb stress: what every part of the path sees at rated power."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from halfsplit.errors import InputError, Mistake
from halfsplit.jobs.sources import unit_in
from halfsplit.stress import BandStress, Case, Held, Signal, band_stress
from halfsplit.unit import Unit

SEED = 20261125
MOST_SWR = 1000.0

SAID_OF = {
    Held.FORWARD: "the forward power at the socket is held: a level control that works",
    Held.DRIVE: "the drive is held that makes this power into a matched load: a level control that is blind or off",
    Held.DELIVERED: "the power that the load takes is held",
}

LINEAR = (
    "The last stage is taken as linear. A real one clips at its supply, so with the drive held these are upper figures."
)
DC_VOLTS = (
    "Volts printed on a part are volts DC as a rule and are held against the peak. At radio frequency a capacitor is "
    "limited by its amps and its heat first: a data sheet that gives them decides."
)
TONES = "Two-tone figures are for tones close together: peak envelope power as named, mean power half of it."
OPEN_CONTACTS = (
    "Idle filters hang on the same buses behind open contacts: such a contact stands the bus volts (see the points)."
)


@dataclass(frozen=True, slots=True)
class Wish:
    """What was asked for. watts : None for the rated power; source_ohm : None for what the unit file says"""

    watts: float | None = None
    swr: float = 3.0
    held: Held = Held.FORWARD
    signal: Signal = Signal.CARRIER
    source_ohm: float | None = None


@dataclass(frozen=True, slots=True)
class Stressed:
    """What `stress` found. unit : its name; bands : one for each band asked for; notes : what to know beside it"""

    unit: str
    case: Case
    bands: tuple[BandStress, ...]
    notes: tuple[str, ...]


def stress(source: Path, bands: tuple[str, ...], wish: Wish) -> Stressed:
    """The stress of every place of the path.

    source : a job or a unit file; bands : names, all bands where empty
    raises UnitError, InputError with every mistake, ModelError
    """
    unit = unit_in(source)
    case = case_for(unit, bands, wish)
    names = bands or tuple(b.name for b in unit.bands)
    found = tuple(band_stress(unit, name, case, np.random.default_rng(SEED)) for name in names)
    return Stressed(unit.name, case, found, notes_for(unit, case, found))


def case_for(unit: Unit, bands: tuple[str, ...], wish: Wish) -> Case:
    """The case that was asked for, filled up from the unit file. raises InputError with every mistake"""
    known = tuple(b.name for b in unit.bands)
    mistakes = [
        Mistake("--band", f"no band {name!r} in {unit.name}", f"one of: {', '.join(known)}")
        for name in bands
        if name not in known
    ]
    power = unit.rated_watts if wish.watts is None else wish.watts
    if power is None or not power > 0:
        found = "no power is named, and the unit file has no rated_power" if power is None else f"{power:g} W"
        mistakes.append(Mistake("--power", found, 'a power above zero, like --power "40 W"'))
    if not 1.0 <= wish.swr <= MOST_SWR:
        mistakes.append(Mistake("--swr", f"{wish.swr:g}", f"1 (a matched load) to {MOST_SWR:g}"))
    stages = [s.output_ohm for s in unit.stages if s.output_ohm is not None]
    ohm = wish.source_ohm if wish.source_ohm is not None else stages[-1] if stages else None
    if wish.held is Held.DRIVE and ohm is None:
        expected = 'output_impedance of the last stage in the unit file, or --source-ohm "50 ohm"'
        mistakes.append(Mistake("--source-ohm", "what the last stage looks like is not known", expected))
    if wish.held is not Held.DRIVE and wish.source_ohm is not None:
        mistakes.append(Mistake("--source-ohm", "means nothing unless the drive is held", "--held drive as well"))
    if mistakes:
        raise InputError(*mistakes)
    return Case(float(power or 0.0), wish.swr, wish.held, wish.signal, ohm if wish.held is Held.DRIVE else None)


def notes_for(unit: Unit, case: Case, bands: tuple[BandStress, ...]) -> tuple[str, ...]:
    """What to know beside the figures."""
    places = [p for b in bands for p in b.places]
    notes = [f"{SAID_OF[case.held][0].upper()}{SAID_OF[case.held][1:]}."]
    notes += [LINEAR] if case.held is Held.DRIVE else []
    if not any(p.uses for p in places):
        notes.append("No part of this path has a rating in the unit file: nothing is held against a limit.")
    unread = sorted({p.place for p in places if p.rating is not None and not p.uses})
    notes += [f"Rating kept as printed but not held against anything: {', '.join(unread)}."] if unread else []
    notes.append(DC_VOLTS)
    notes += [TONES] if case.signal is Signal.TWO_TONE else []
    notes += [OPEN_CONTACTS] if sum(bool(f.input or f.output) for f in unit.filters) > 1 else []
    return tuple(notes)
