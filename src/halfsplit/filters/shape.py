"""The form of a ladder: which arms it has, and the low-pass that it comes from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from halfsplit.filters.records import Pass
from halfsplit.parts import Kind, Part
from halfsplit.unit import Filter, Rung

Form = Literal["coil", "capacitor", "resonant pass", "trap", "other"]


@dataclass(frozen=True, slots=True)
class Arm:
    """One arm of a ladder after parts in parallel (shunt) or in series (series arm) are taken together.

    form : "trap" blocks at its resonance, "resonant pass" passes there
    coil, capacitor : H and F, the sums; None where the arm has none, nan where a value is missing
    """

    place: Literal["series", "shunt"]
    form: Form
    coil_refs: tuple[str, ...] = ()
    capacitor_refs: tuple[str, ...] = ()
    coil: float | None = None
    capacitor: float | None = None

    @property
    def refs(self) -> tuple[str, ...]:
        """All parts of the arm."""
        return self.coil_refs + self.capacitor_refs


@dataclass(frozen=True, slots=True)
class Shape:
    """A ladder by its arms."""

    passes: Pass
    arms: tuple[Arm, ...]

    @property
    def order(self) -> int:
        """Number of arms with a coil or capacitor."""
        return len(self.arms)

    @property
    def traps(self) -> tuple[int, ...]:
        """Places of the arms that make a notch."""
        return tuple(k for k, arm in enumerate(self.arms) if arm.form == "trap")


def shape_of(chosen: Filter) -> Shape:
    """Arms of a filter and what it passes."""
    arms = tuple(_arm(place, list(rungs)) for place, rungs in groupby(chosen.rungs, lambda rung: rung.place))
    return Shape(_passes(arms), arms)


def _arm(place: Literal["series", "shunt"], rungs: Sequence[Rung]) -> Arm:
    """One arm from the rungs of the same place that follow each other."""
    if len(rungs) == 1 and len(rungs[0].parts) == 2:
        return _pair(place, rungs[0])
    parts = [part for rung in rungs for part in rung.parts]
    coils = [p for p in parts if p.kind is Kind.COIL]
    caps = [p for p in parts if p.kind is Kind.CAPACITOR]
    plain = all(len(rung.parts) == 1 for rung in rungs) and len(coils) + len(caps) == len(parts)
    if not plain:
        return Arm(place, "other", tuple(p.ref for p in coils), tuple(p.ref for p in parts if p not in coils))
    in_series = place == "series"
    coil = _total(coils, adds=in_series)
    cap = _total(caps, adds=not in_series)
    form: Form = "resonant pass" if coils and caps else ("coil" if coils else "capacitor")
    return Arm(place, form, tuple(p.ref for p in coils), tuple(p.ref for p in caps), coil, cap)


def _pair(place: Literal["series", "shunt"], rung: Rung) -> Arm:
    """Two parts drawn as one: a trap where coil and capacitor block, otherwise something else."""
    coils = [p for p in rung.parts if p.kind is Kind.COIL]
    caps = [p for p in rung.parts if p.kind is Kind.CAPACITOR]
    blocks = rung.combined == ("across" if place == "series" else "with")
    if len(coils) == 1 and len(caps) == 1:
        form: Form = "trap" if blocks else "resonant pass"
        coil, cap = _total(coils, adds=True), _total(caps, adds=True)
        return Arm(place, form, (coils[0].ref,), (caps[0].ref,), coil, cap)
    parallel = rung.combined == "across"
    if len(caps) == 2:
        return Arm(place, "capacitor", (), tuple(p.ref for p in caps), None, _total(caps, adds=parallel))
    if len(coils) == 2:
        return Arm(place, "coil", tuple(p.ref for p in coils), (), _total(coils, adds=not parallel), None)
    return Arm(place, "other", tuple(p.ref for p in coils), tuple(p.ref for p in rung.parts if p not in coils))


def _total(parts: Sequence[Part], adds: bool) -> float | None:
    """Value of parts together; nan where one has none."""
    if not parts:
        return None
    values = [math.nan if p.value is None else p.value for p in parts]
    return sum(values) if adds else 1.0 / sum(1.0 / v for v in values)


def _passes(arms: Sequence[Arm]) -> Pass:
    """What the ladder passes, from the kinds of its arms."""
    if not arms or any(arm.form == "other" for arm in arms):
        return Pass.OTHER
    if all(arm.form == "resonant pass" for arm in arms):
        return Pass.BAND
    low = {"series": "coil", "shunt": "capacitor"}
    high = {"series": "capacitor", "shunt": "coil"}
    for kinds, passes in ((low, Pass.LOW), (high, Pass.HIGH)):
        plain = [arm for arm in arms if arm.form != "trap"]
        if plain and all(arm.form == kinds[arm.place] for arm in plain):
            return passes
    return Pass.OTHER


def topology_words(shape: Shape) -> str:
    """The ladder in words."""
    if not shape.arms:
        return "no parts"
    first = "a shunt arm" if shape.arms[0].place == "shunt" else "a series arm"
    plural = "s" if shape.order > 1 else ""
    words = f"{shape.passes} ladder, {shape.order} arm{plural}, begins with {first}"
    if shape.passes is Pass.OTHER:
        words = f"ladder of {shape.order} arm{plural}, neither low-pass, high-pass nor band-pass, begins with {first}"
    traps = [shape.arms[k] for k in shape.traps]
    if traps:
        names = ", ".join("-".join(arm.refs) for arm in traps)
        words += f"; {len(traps)} trap{'s' if len(traps) > 1 else ''}: {names}"
    return words
