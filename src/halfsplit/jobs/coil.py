"""The verb coil: what a winding has, what it needs, which way to bend it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from halfsplit.errors import InputError, Mistake
from halfsplit.jobs.own_tables import read_cores
from halfsplit.jobs.sources import unit_in
from halfsplit.jobs.stress import SEED
from halfsplit.parts import Kind
from halfsplit.parts.air_coils import (
    ENAMEL,
    Adjustment,
    AirCoil,
    CoilError,
    adjustment,
    length_for,
    turns_at_length,
    turns_at_pitch,
)
from halfsplit.parts.ring_cores import RingCore, Wound, flux, flux_guideline, ring_cores, wound
from halfsplit.parts.windings import wheeler_1928
from halfsplit.stress import Case, band_stress
from halfsplit.unit import Unit

ANY = "any"
FAR_FROM_RESONANCE = 0.3
"""Of a coil's own resonance: below it the reactance is within 10 % of that of its inductance."""


@dataclass(frozen=True, slots=True)
class CoilWish:
    """What was asked, SI; None where nothing was said.

    henry : wanted; form : m, what it is wound on; diameter : m between wire centres; wire : m of copper
    measured : H, of the coil as it is; f : Hz; core : name, or "any"; cores : own table; volts : rms across it
    source, part : a job or a unit file and a coil of it, whose value and band are taken
    """

    henry: float | None = None
    form: float | None = None
    diameter: float | None = None
    wire: float | None = None
    turns: float | None = None
    length: float | None = None
    pitch: float | None = None
    measured: float | None = None
    f: float | None = None
    core: str | None = None
    cores: Path | None = None
    volts: float | None = None
    source: Path | None = None
    part: str | None = None


@dataclass(frozen=True, slots=True)
class AirFound:
    """An air coil. wheeler : H, the rule of thumb beside the exact figure; closest : m, its turns touching

    needed : what of it was worked out: "inductance", "turns", "length", "adjustment"; whole : the nearest whole turns,
    and the length at which they make the value; None where the turns were given
    """

    needed: str
    coil: AirCoil
    wheeler: float
    closest: float
    whole: AirCoil | None
    adjustment: Adjustment | None


@dataclass(frozen=True, slots=True)
class RingFound:
    """A ring core. tesla, guideline : peak flux density and what suppliers advise; None where it cannot be said"""

    wound: Wound
    tesla: float | None
    guideline: float | None
    present: float | None
    turns_to_add: int

    @property
    def hot(self) -> bool:
        """More flux than the suppliers advise."""
        return self.tesla is not None and self.guideline is not None and self.tesla > self.guideline


@dataclass(frozen=True, slots=True)
class CoilFound:
    """What `coil` found. henry : wanted; f : Hz that Q and resonance are for; notes : what to know beside it"""

    what: str
    henry: float | None
    f: float | None
    air: AirFound | None
    rings: tuple[RingFound, ...]
    notes: tuple[str, ...]


def coil(wish: CoilWish) -> CoilFound:
    """The answer. raises InputError with every mistake, UnitError, JobFileError"""
    wish, what = filled(wish)
    if wish.core is not None or wish.cores is not None:
        rings = ring_answers(wish)
        return CoilFound(what, wish.henry, wish.f, None, rings, ring_notes(wish, rings))
    try:
        air = air_answer(wish)
    except CoilError as error:
        raise InputError(Mistake("coil", error.found, error.expected)) from error
    return CoilFound(what, wish.henry, wish.f, air, (), air_notes(wish, air))


def filled(wish: CoilWish) -> tuple[CoilWish, str]:
    """The wish with value and frequency of the part that it names, and what it is about, in words."""
    if (wish.source is None) != (wish.part is None):
        given = "--part" if wish.source is None else "--of"
        raise InputError(Mistake(given, "given alone", "--of SOURCE --part L1, both"))
    if wish.source is None:
        return wish, "a coil"
    unit = unit_in(wish.source)
    coils = {p.ref: p.value for f in unit.filters for p in f.parts if p.kind is Kind.COIL}
    coils |= {b.part.ref: b.part.value for x in unit.blocks for b in x.branches if b.part.kind is Kind.COIL}
    if wish.part not in coils:
        raise InputError(Mistake("--part", f"no coil {wish.part!r} in {unit.name}", f"one of: {', '.join(coils)}"))
    henry = wish.henry if wish.henry is not None else coils[wish.part]
    f = wish.f if wish.f is not None else middle_of(unit, wish.part)
    volts = wish.volts if wish.volts is not None or wish.core is None else volts_across(unit, wish.part)
    return replace(wish, henry=henry, f=f, volts=volts), f"{wish.part} of {unit.name}"


def volts_across(unit: Unit, ref: str) -> float | None:
    """Rms volts across a coil at rated power into a matched load, worst of its bands; None where it is not known."""
    if unit.rated_watts is None:
        return None
    found = []
    for band in unit.bands:
        rng = np.random.default_rng(SEED)
        places = band_stress(unit, band.name, Case(unit.rated_watts), rng, draws=2).places
        found += [p.rms_volts.matched for p in places if p.place == ref and p.rms_volts is not None]
    return max(found, default=None)


def middle_of(unit: Unit, ref: str) -> float | None:
    """The middle of the served range of the filter that holds a part, Hz; None where no band uses it."""
    names = {f.name for f in unit.filters if any(p.ref == ref for p in f.parts)}
    served = [b for b in unit.bands if b.filter in names]
    return math.sqrt(min(b.low for b in served) * max(b.high for b in served)) if served else None


def air_answer(wish: CoilWish) -> AirFound:
    """The air coil that was asked about. raises InputError with every mistake, CoilError"""
    mistakes = [
        Mistake(option, "not given", expected)
        for option, value, expected in (
            ("--wire", wish.wire, 'the diameter of its copper, "1 mm" or "AWG 18"'),
            ("--form", wish.form or wish.diameter, 'what it is wound on, "8 mm" (or --diameter between wire centres)'),
        )
        if value is None
    ]
    both = (("--form", wish.form, "--diameter", wish.diameter), ("--length", wish.length, "--pitch", wish.pitch))
    mistakes += [Mistake(b, f"given with {a}", "one of the two") for a, x, b, y in both if x and y]
    if wish.henry is None and (wish.turns is None or (wish.length is None and wish.pitch is None)):
        mistakes.append(Mistake("--value", "not given", "the inductance wanted; or --turns and --length of a coil"))
    if wish.measured is not None and None in (wish.turns, wish.length or wish.pitch, wish.henry):
        mistakes.append(Mistake("--measured", "not enough beside it", "--value, --turns and --length as well"))
    if mistakes:
        raise InputError(*mistakes)
    assert wish.wire is not None
    diameter = wish.diameter if wish.diameter is not None else (wish.form or 0.0) + wish.wire
    closest = wish.wire * ENAMEL
    if wish.turns is None:
        return wanted_turns(wish, diameter, closest)
    length = wish.length if wish.length is not None else None if wish.pitch is None else wish.pitch * wish.turns
    if length is None:
        assert wish.henry is not None
        length = length_for(wish.henry, diameter, wish.turns, wish.wire)
        made = AirCoil(diameter, length, wish.turns, wish.wire)
        return AirFound("length", made, wheeler(made), closest * wish.turns, None, None)
    made = AirCoil(diameter, length, wish.turns, wish.wire)
    found = None if wish.henry is None else adjustment(made, wish.henry, wish.measured)
    return AirFound(
        "inductance" if found is None else "adjustment", made, wheeler(made), closest * wish.turns, None, found
    )


def wheeler(made: AirCoil) -> float:
    """Wheeler's rule for the same coil, H."""
    return wheeler_1928(made.diameter, made.length, made.turns)


def wanted_turns(wish: CoilWish, diameter: float, closest: float) -> AirFound:
    """Turns for a value: at the pitch or on the length that is given, else touching."""
    assert wish.henry is not None and wish.wire is not None
    if wish.length is not None:
        turns = turns_at_length(wish.henry, diameter, wish.wire, wish.length)
        made = AirCoil(diameter, wish.length, turns, wish.wire)
    else:
        pitch = wish.pitch or closest
        turns = turns_at_pitch(wish.henry, diameter, wish.wire, pitch)
        made = AirCoil(diameter, turns * pitch, turns, wish.wire)
    whole = float(math.ceil(turns - 1e-9))
    rounded = AirCoil(diameter, length_for(wish.henry, diameter, whole, wish.wire), whole, wish.wire)
    return AirFound("turns", made, wheeler(made), closest * whole, rounded, None)


def ring_answers(wish: CoilWish) -> tuple[RingFound, ...]:
    """The ring cores that were asked about. raises InputError with every mistake"""
    table: dict[str, RingCore] = dict(ring_cores())
    if wish.cores is not None:
        table = {**table, **{c.name: c for c in read_cores(wish.cores)}}
    mistakes = []
    if wish.core not in (None, ANY, *table):
        mistakes.append(Mistake("--core", f"no core {wish.core!r}", f"{ANY}, or one of: {', '.join(table)}"))
    if wish.henry is None and (wish.turns is None or wish.core in (None, ANY)):
        mistakes.append(Mistake("--value", "not given", "the inductance wanted; or one --core and its --turns"))
    if wish.turns is not None and (wish.turns != int(wish.turns) or wish.turns < 1):
        mistakes.append(Mistake("--turns", f"{wish.turns:g}", "whole turns: each pass through the hole is one"))
    if wish.measured is not None and (wish.turns is None or wish.henry is None or wish.core in (None, ANY)):
        mistakes.append(Mistake("--measured", "not enough beside it", "--value, one --core and its --turns as well"))
    for option, length in (("--form", wish.form), ("--diameter", wish.diameter), ("--length", wish.length)):
        if length is not None:
            mistakes.append(Mistake(option, "given with a ring core", "air coils only"))
    if mistakes:
        raise InputError(*mistakes)
    names = [wish.core] if wish.core in table else list(table)
    out, why = [], []
    for name in names:
        try:
            out.append(ring_answer(wish, table[str(name)]))
        except CoilError as error:
            why.append(Mistake("--core", error.found, error.expected))
    if not out:
        raise InputError(*why)
    return tuple(sorted(out, key=fitness))


def fitness(r: RingFound) -> tuple[bool, bool, bool, float]:
    """What fits and stays cool comes first, then what spreading the turns can put right, then the nearest value."""
    return r.wound.fits is False, r.hot, not r.wound.by_spreading, abs(r.wound.off)


def ring_answer(wish: CoilWish, core: RingCore) -> RingFound:
    """One ring core."""
    turns = None if wish.turns is None else int(wish.turns)
    made = wound(core, wish.henry or core.al * float(turns or 1) ** 2, wish.wire, turns)
    scale = 1.0 if wish.measured is None else wish.measured / made.henry
    best = wound(core, (wish.henry or made.henry) / scale, wish.wire)
    tesla = None
    if wish.volts is not None and wish.f is not None and core.area is not None:
        tesla = flux(wish.volts, wish.f, made.turns, core.area)
    return RingFound(
        made, tesla, None if wish.f is None else flux_guideline(wish.f), wish.measured, best.turns - made.turns
    )


def air_notes(wish: CoilWish, air: AirFound) -> tuple[str, ...]:
    """What to know beside an air coil."""
    coil = air.coil
    notes = [
        "The current sheet is exact, its correction for round wire within 1 to 3 %; diameter and length by hand leave "
        f"{100 * coil.spread:.0f} % in all. Leads add about 1 nH per mm; a can or chassis nearer than a diameter takes "
        "some off. Measure it in its place.",
    ]
    if coil.wire > 0.08 * coil.diameter and coil.pitch < 1.5 * coil.wire:
        notes.append(
            "Thick turns that nearly touch: at radio frequency the current crowds to their inside, and the coil has a "
            "few per cent less than the formula says."
        )
    if not 0.1 <= coil.length / coil.diameter <= 10.0:
        notes.append("Very short or very long: the estimates of Q and of its own resonance are rough there.")
    if wish.f is not None:
        notes.append("Q: an estimate for copper in free air, good to 30 %; solder, a can and dirt lower it.")
        if wish.f > FAR_FROM_RESONANCE * coil.resonance:
            notes.append(
                f"{wish.f / 1e6:.4g} MHz is {wish.f / coil.resonance:.0%} of its own resonance: it looks larger there "
                "than its inductance, and the figure of its resonance is good to 10 % only."
            )
    if air.adjustment is not None and wish.measured is None:
        notes.append("Without --measured the formula's own figure stands for the coil as it is: measure, then bend.")
    return tuple(notes)


def ring_notes(wish: CoilWish, rings: tuple[RingFound, ...]) -> tuple[str, ...]:
    """What to know beside ring cores."""
    notes = [
        "A_L of iron powder is known to 5 % or so; spreading the turns evenly or bunching them moves it by up to 10 % "
        "either way (bunched: more). Q 150 to 250 is usual on the -2 and -6 powders in their range (common practice)."
    ]
    if any(r.wound.fits is None for r in rings) and wish.wire is not None:
        notes.append("Where the size of a core is not known, it is not said whether the turns fit.")
    if any(r.tesla is not None for r in rings):
        notes.append(
            f"Flux at {wish.volts:.3g} V rms across the coil (with --of: at rated power into a matched load). "
            "Flux density against the suppliers' guideline for continuous duty: it is on the safe side, "
            "and smaller cores serve where overs are short. A core gets hot before it saturates: check it unkeyed."
        )
    return tuple(notes)
