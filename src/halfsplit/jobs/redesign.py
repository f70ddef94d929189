"""The verbs `recognise` and `design`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from halfsplit.errors import InputError, Mistake, UnitError
from halfsplit.filters import Design, FilterFacts, Impossible, Wish, Yield, describe, designs, lot, wish_figures
from halfsplit.filters.design import Figures, meets
from halfsplit.jobs.opinions import SEED
from halfsplit.jobs.sources import unit_in
from halfsplit.unit import Filter, Unit


@dataclass(frozen=True, slots=True)
class Drawn:
    """A filter of the drawing against the wish of a design, with its own tolerances and Q where it states them."""

    name: str
    figures: Figures
    lot: Yield
    meets: bool


@dataclass(frozen=True, slots=True)
class Designed:
    """What `design` found. drawn : None where no drawing was given to compare with"""

    wish: Wish
    designs: tuple[Design, ...]
    drawn: Drawn | None


def recognise(source: Path, name: str | None = None) -> tuple[FilterFacts, ...]:
    """What the filters of a unit are. name : one of them. raises UnitError"""
    unit = unit_in(source)
    chosen = unit.filters if name is None else (named(unit, name),)
    if not chosen:
        raise UnitError(Mistake(str(source), "no filter", "a unit file with a [filter.NAME]"))
    out = []
    for one in chosen:
        served = [b for b in unit.bands if b.filter == one.name]
        out.append(describe(one, served, one.impedance or unit.impedance))
    return tuple(out)


def named(unit: Unit, name: str) -> Filter:
    """A filter by name. raises InputError that lists those there are"""
    try:
        return unit.filter(name)
    except KeyError:
        known = ", ".join(f.name for f in unit.filters) or "none"
        raise InputError(Mistake("filter", repr(name), f"one of: {known}")) from None


def design(wish: Wish, draws: int, compare: Path | None = None, name: str | None = None) -> Designed:
    """Designs for a wish, and the filter of a drawing beside them. raises InputError where no design meets it"""
    if name is not None and compare is None:
        raise InputError(Mistake("--filter", "given without --compare", "--compare UNIT as well"))
    drawn = None if compare is None else against(wish, compare, name, draws)
    try:
        found = designs(wish, np.random.default_rng(SEED), draws)
    except Impossible as error:
        expected = "a smaller wish, a higher --order, or fewer dB of --return-loss"
        raise InputError(Mistake("wish", f"no low-pass meets it: {error.missing}", expected)) from error
    return Designed(wish, found, drawn)


def against(wish: Wish, source: Path, name: str | None, draws: int) -> Drawn:
    """A filter of a drawing against the wish. raises InputError where it is no ladder of coils and capacitors"""
    unit = unit_in(source)
    if name is None:
        serving = [b for b in unit.bands if b.filter and b.low <= wish.high and wish.low <= b.high]
        if not serving:
            bands = ", ".join(b.name for b in unit.bands if b.filter) or "none"
            raise InputError(
                Mistake("--compare", f"no band of {unit.name} holds the wish", f"--filter; bands: {bands}")
            )
        name = serving[0].filter or ""
    chosen = replace(named(unit, name), impedance=wish.ohm)
    try:
        have = wish_figures(wish, chosen)
    except ValueError as error:
        raise InputError(Mistake("--filter", str(error), "a ladder of coils and capacitors with values")) from error
    return Drawn(name, have, lot(wish, chosen, np.random.default_rng(SEED), draws), meets(wish, have))
