"""The verb `cable`: a sweep of a piece of coax, or the coax of a unit."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import cast, get_args

from halfsplit.cables import CableFacts, End, StubEffect, Way, Wish, cable_facts, stub_effects, velocity_factor
from halfsplit.errors import InputError, Mistake
from halfsplit.jobs.drawing import load_unit
from halfsplit.jobs.incoming import readable, taken
from halfsplit.jobs.sources import is_job
from halfsplit.jobs.work import unit_of
from halfsplit.journal import open_job
from halfsplit.parts import cable_names
from halfsplit.reading import answers_from, read_bytes

ENDS = {"open": End.OPEN, "short": End.SHORT, "resistor": End.LOAD}


def holds_unit(source: Path) -> bool:
    """Whether a file is a unit file or a job; anything else is taken for a sweep."""
    return source.suffix.lower() == ".toml" or is_job(source)


def coax_of(source: Path) -> tuple[StubEffect, ...]:
    """The coax of a unit on every band. source : a unit file or a job. raises UnitError"""
    if is_job(source):
        with open_job(source) as file:
            return stub_effects(unit_of(file))
    return stub_effects(load_unit(source)[0])


def factor_of(permittivity: float, factor: float | None) -> float:
    """The velocity factor of a dielectric. factor : one given besides, which is one too many. raises InputError"""
    if factor is not None:
        raise InputError(Mistake("--permittivity", "given with --velocity-factor", "one of the two"))
    try:
        return velocity_factor(permittivity)
    except ValueError as error:
        raise InputError(Mistake("--permittivity", str(error), "2.26 for solid PE, 2.1 for PTFE")) from error


def wish_of(
    kind: str | None, velocity_factor: float | None, metres: float | None, end: str | None, way: str | None
) -> Wish:
    """What is known about a piece of coax, checked. raises InputError listing every mistake"""
    mistakes = []
    if kind is not None and kind not in cable_names():
        mistakes.append(Mistake("--type", repr(kind), f"one of: {', '.join(cable_names())}"))
    if velocity_factor is not None and not 0.3 < velocity_factor <= 1.0:
        mistakes.append(
            Mistake("--velocity-factor", f"{velocity_factor:g}", "a number from 0.3 to 1, 0.66 for solid PE")
        )
    if metres is not None and not metres > 0:
        mistakes.append(Mistake("--length", f"{metres:g} m", "a length above 0"))
    if way is not None and way not in get_args(Way):
        mistakes.append(Mistake("--as", repr(way), f"one of: {', '.join(get_args(Way))}"))
    if mistakes:
        raise InputError(*mistakes)
    return Wish(kind, velocity_factor, metres, None if end is None else ENDS[end], cast("Way | None", way))


def cable(source: Path, wish: Wish, answers: Mapping[str, str]) -> CableFacts:
    """What a sweep says about a piece of coax. raises ReadingError"""
    return cable_facts(read_bytes(readable(source.name), taken(source), answers_from(answers)), wish)
