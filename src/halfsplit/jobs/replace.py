"""The verb replace: what may stand in for a part, and what that does to the path before it is soldered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from halfsplit.circuit import spread
from halfsplit.errors import InputError, Mistake
from halfsplit.filters import PathFigures, lowest_q, path_figures
from halfsplit.jobs.own_tables import read_stock
from halfsplit.jobs.sources import unit_in
from halfsplit.jobs.stress import SEED, Wish, case_for
from halfsplit.parts import Dielectric, Kind, Part, StockPart, dielectrics, read_rating, series
from halfsplit.parts.combine import Combination, Found, Member, Needs, StockError, search
from halfsplit.quantity import Dimension, format_value
from halfsplit.stress import BandStress, Case, PlaceStress, band_stress
from halfsplit.unit import Band, Unit

DIMENSIONS = {
    Kind.CAPACITOR: Dimension.CAPACITANCE, Kind.COIL: Dimension.INDUCTANCE, Kind.RESISTOR: Dimension.RESISTANCE,
}  # fmt: skip
USUAL_SERIES = {Kind.CAPACITOR: 24, Kind.COIL: 12, Kind.RESISTOR: 24}
SERIES_TOLERANCE = {6: 0.20, 12: 0.10, 24: 0.05, 48: 0.02, 96: 0.01, 192: 0.005}
SERIES_REACH = 30.0
"""Preferred values up to this factor from the wanted one are tried where there is no stock."""
USUAL_TOLERANCE = 0.05
UNIT_WORDS = {"peak_volts": "V peak", "rms_volts": "V rms", "amps": "A", "watts": "W", "va": "VA"}
SAID = {
    "a": "{0}", "a p b": "{0} || {1}", "a s b": "{0} in series with {1}", "a p b p c": "{0} || {1} || {2}",
    "a s b s c": "{0} in series with {1} in series with {2}", "a p (b s c)": "{0} || ({1} in series with {2})",
    "a s (b p c)": "{0} in series with ({1} || {2})",
}  # fmt: skip

NO_POWER = "No power is known (rated_power in the unit file, or --power): volts, amps and watts are not looked at."
LEFT_OUT = "Too lossy for this place and left out: {} of the stock."
UNRATED = "Parts without a printed rating: see that each stands its share of volts, amps and watts."
PICK_THEM = "Where the parts' own tolerance is wider than what is wanted, measure them and pick."
IN_SERIES = (
    "Capacitors in series share DC by their leakage, not by their value: where DC stands there, a resistor across each."
)
BY_HEAT = (
    "A rating in volts is for DC as a rule; at radio frequency amps and heat limit a capacitor first. Keep leads "
    "short: about 1 nH per mm."
)
COILS_APART = "Coils side by side couple: set them at right angles or a diameter apart, else the value is another."
WIND_IT = "A coil is wound sooner than found: halfsplit coil --of SOURCE --part {}."
ALLOWED_LOSS = 0.05
"""dB that a replacement may add to the loss where no limit is stated (our choice: 1 % of the power)."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One combination with the part that it makes and what the path does with it, band by band."""

    combination: Combination
    part: Part
    figures: tuple[PathFigures, ...]


@dataclass(frozen=True, slots=True)
class QNeed:
    """How good the part must be. band : where it counts most; q : lowest Q, None where even the best does not do

    because : the limit that it keeps; watts : what the part would get at that Q, None without a power
    """

    band: str
    q: float | None
    because: str
    watts: float | None


@dataclass(frozen=True, slots=True)
class Replaced:
    """What `replace` found. stress : of the place, by band; needs : the worst of them, that of 19 of 20 sound units

    drawn : figures of the path as drawn; suited, unsuited : dielectrics by their usual Q
    """

    unit: str
    part: Part
    wanted: float
    tolerance: float
    source: str
    case: Case | None
    stress: tuple[tuple[str, PlaceStress], ...]
    needs: Needs
    q: QNeed | None
    suited: tuple[Dielectric, ...]
    unsuited: tuple[Dielectric, ...]
    drawn: tuple[PathFigures, ...]
    counted: int
    standing: int
    choices: tuple[Choice, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReplaceWish:
    """What was asked. value, tolerance : None for those of the drawing; series : n of IEC 60063 without a stock"""

    ref: str
    stock: Path | None = None
    series: int | None = None
    value: float | None = None
    tolerance: float | None = None
    most: int = 3
    at_power: Wish = field(default_factory=Wish)


def replace_part(source: Path, wish: ReplaceWish) -> Replaced:
    """What may stand in for a part of a job's unit or of a unit file.

    raises UnitError, JobFileError, InputError: an unknown part, a part without value, a stock that has nothing within
    tolerance or nothing that stands the place, each with the figure that misses
    """
    drawing = unit_in(source)
    part, bands = found_part(drawing, wish.ref)
    wanted, tolerance = asked_for(part, wish)
    unit = with_part(drawing, replace(part, value=wanted))
    case = None if unit.rated_watts is None and wish.at_power.watts is None else case_for(unit, (), wish.at_power)
    stress = () if case is None else tuple((b.name, stress_at(unit, b, case, part.ref)) for b in bands)
    needs = needs_of([s for _, s in stress])
    q = q_need(unit, bands, replace(part, value=wanted), [s for _, s in stress])
    stock, said, left_out = fit_stock(*stock_of(wish, part.kind, wanted), part.kind, q)
    try:
        found = search(stock, part.kind, wanted, tolerance, needs, wish.most)
    except StockError as error:
        raise InputError(Mistake("--stock", error.found, error.expected)) from error
    refuse_none(found, part, wanted, tolerance)
    made = tuple(Choice(c, stand_in(part, c), ()) for c in found.best)
    drawn = figures(unit, bands, replace(part, value=wanted))
    choices = tuple(replace(c, figures=figures(unit, bands, c.part)) for c in made)
    good, bad = suited(q) if part.kind is Kind.CAPACITOR else ((), ())
    return Replaced(
        unit.name, part, wanted, tolerance, said, case, stress, needs, q, good, bad, drawn, found.counted,
        found.standing, choices, notes_for(part, case, found.best, left_out, tolerance),
    )  # fmt: skip


def kind_in(source: Path, ref: str) -> str:
    """The kind of a part, in one word. raises as `replace_part`"""
    return found_part(unit_in(source), ref)[0].kind.value


def found_part(unit: Unit, ref: str) -> tuple[Part, tuple[Band, ...]]:
    """The part and the bands whose path it is in. raises InputError"""
    parts = {p.ref: (p, tuple(b for b in unit.bands if b.filter == f.name or f.name in unit.path.order))
             for f in unit.filters for p in f.parts}  # fmt: skip
    coupled = {r for x in unit.blocks for c in x.couplings for r in (c.first, c.second)}
    for x in unit.blocks:
        bands = unit.bands if x.name in unit.path.order else ()
        parts |= {b.part.ref: (b.part, bands) for b in x.branches if b.part.ref not in coupled}
    if ref not in parts:
        why = (
            f"{ref!r} is a winding on a shared core: it has no value of its own"
            if ref in coupled
            else f"no part {ref!r}"
        )
        raise InputError(Mistake("PART", f"{why} in {unit.name}", f"one of: {', '.join(parts)}"))
    return parts[ref]


def asked_for(part: Part, wish: ReplaceWish) -> tuple[float, float]:
    """Value and tolerance that are wanted. raises InputError with every mistake"""
    mistakes = []
    value = wish.value if wish.value is not None else part.value
    if value is None:
        mistakes.append(Mistake("--value", f"{part.ref} has no value on the drawing", "the value wanted"))
    tolerance = wish.tolerance if wish.tolerance is not None else part.tolerance or USUAL_TOLERANCE
    if not 0.0 < tolerance < 0.9:
        mistakes.append(Mistake("--tolerance", f"{100 * tolerance:g} %", "above 0 and below 90 %"))
    if wish.series is not None and wish.stock is not None:
        mistakes.append(Mistake("--series", "given with --stock", "one of the two"))
    if mistakes:
        raise InputError(*mistakes)
    return float(value or 0.0), tolerance


def stock_of(wish: ReplaceWish, kind: Kind, wanted: float) -> tuple[tuple[StockPart, ...], str]:
    """The stock to look in, and what it is in words."""
    if wish.stock is not None:
        return read_stock(wish.stock), wish.stock.name
    n = wish.series or USUAL_SERIES[kind]
    decades = range(-13, 10)
    values = [float(f"{v}e{d}") for d in decades for v in series(n)]
    near = [v for v in values if wanted / SERIES_REACH <= v <= wanted * SERIES_REACH]
    return tuple(StockPart(kind, v, SERIES_TOLERANCE.get(n)) for v in near), f"preferred values E{n} (IEC 60063)"


def fit_stock(
    stock: Sequence[StockPart], said: str, kind: Kind, q: QNeed | None
) -> tuple[tuple[StockPart, ...], str, int]:
    """The stock of one kind with the usual Q of a dielectric where a part has none, without what is too lossy.

    returns (what is left, what it is in words, how many were left out); raises InputError where nothing is left
    """
    known, least = dielectrics(), 0.0 if q is None or q.q is None else q.q
    kept = []
    own = [p for p in stock if p.kind is kind]
    for p in own:
        row = None if p.dielectric is None else known[p.dielectric]
        usual = p if p.q is not None or row is None else replace(p, q=row.q)
        if (row is None or row.fit) and (usual.q is None or usual.q >= least):
            kept.append(usual)
    if own and not kept:
        best = max((p.q or known[p.dielectric or ""].q for p in own), default=0.0)
        found = (
            f"each of the {len(own)} parts of kind {kind.value} in {said} is too lossy: the best has a Q of {best:.0f}"
        )
        raise InputError(Mistake("--stock", found, f"a Q of {least:.0f} or more at this place"))
    return tuple(kept), said, len(own) - len(kept)


def stress_at(unit: Unit, band: Band, case: Case, ref: str) -> PlaceStress:
    """The stress at one place of one band."""
    found: BandStress = band_stress(unit, band.name, case, np.random.default_rng(SEED))
    return found.at(ref)


def needs_of(places: Sequence[PlaceStress]) -> Needs:
    """The most that any band asks of the place, by what 19 of 20 sound units stay below."""

    def top(name: str) -> float:
        return max((getattr(p, name).high for p in places if getattr(p, name) is not None), default=0.0)

    return Needs(top("peak_volts"), top("rms_volts"), top("amps"), top("watts"), top("va"))


def refuse_none(found: Found, part: Part, wanted: float, tolerance: float) -> None:
    """raises InputError where nothing may stand in, with the figure that misses"""
    shown = format_value(wanted, DIMENSIONS[part.kind])
    if not found.counted:
        near = (
            "nothing within a factor of ten"
            if found.nearest is None
            else (
                f"the nearest is {words(found.nearest)} = {format_value(found.nearest.value, DIMENSIONS[part.kind])} "
                f"({100 * found.nearest.off:+.2f} %)"
            )
        )
        what = f"no combination of up to three parts makes {shown} +-{100 * tolerance:g} %: {near}"
        raise InputError(Mistake("--stock", what, "a wider --tolerance, or more values"))
    if not found.standing and found.weakest is not None:
        worst = max((m for m in found.weakest.members if m.use is not None), key=lambda m: m.use or 0.0)
        what = (
            f"none of {found.counted} combinations that make {shown} +-{100 * tolerance:g} % stands it at {part.ref}; "
            f"the best, {words(found.weakest)}, puts {shortfall(worst)}"
        )
        raise InputError(Mistake("--stock", what, "parts of a higher rating, or a lower --power or --swr"))


def shortfall(worst: Member) -> str:
    """What misses at one member: what it gets and what is printed on it."""
    limit = float(getattr(read_rating(worst.part.rating or ""), worst.use_of))
    unit_word = UNIT_WORDS[worst.use_of]
    return f"{(worst.use or 0.0) * limit:.4g} {unit_word} where {limit:.4g} {unit_word} is printed"


def words(c: Combination) -> str:
    """A combination as one would say it: 330 pF || 100 pF."""
    return SAID[c.shape].format(*(format_value(m.part.value, DIMENSIONS[m.part.kind]) for m in c.members))


def stand_in(part: Part, c: Combination) -> Part:
    """The part that a combination makes, for the network: value, tolerance, Q, leads.

    Leads of parts side by side count with the square of the share of the current; those of parts in a row add up
    """
    lead = part.lead_inductance
    if part.kind is Kind.CAPACITOR:
        one = spread.CAPACITOR_LEAD.typical if lead is None else lead
        lead = one * sum(m.amps**2 for m in c.members)
    q = c.q if c.q is not None else part.q
    ohm = part.loss_ohm if c.q is None else None
    tolerance = c.tolerance if c.tolerance is not None else part.tolerance
    return replace(part, value=c.value, tolerance=tolerance, q=q, lead_inductance=lead, loss_ohm=ohm, adjustable=False)


def with_part(unit: Unit, part: Part) -> Unit:
    """The unit with another part of that designator."""

    def put(p: Part) -> Part:
        return part if p.ref == part.ref else p

    filters = tuple(
        replace(f, rungs=tuple(replace(r, parts=tuple(map(put, r.parts))) for r in f.rungs)) for f in unit.filters
    )
    blocks = tuple(replace(x, branches=tuple(replace(b, part=put(b.part)) for b in x.branches)) for x in unit.blocks)
    return replace(unit, filters=filters, blocks=blocks)


def figures(unit: Unit, bands: Sequence[Band], part: Part) -> tuple[PathFigures, ...]:
    """The path with that part, band by band, always with the same sound units drawn."""
    changed = with_part(unit, part)
    return tuple(path_figures(changed, b, np.random.default_rng(SEED)) for b in bands)


def q_need(unit: Unit, bands: Sequence[Band], part: Part, places: Sequence[PlaceStress]) -> QNeed | None:
    """The lowest Q that the path bears, on the band that asks for most; None for a resistor.

    Never more than that of the drawing, or the usual one where the drawing is silent
    """
    if part.kind is Kind.RESISTOR or not bands:
        return None
    found = []
    for k, band in enumerate(bands):
        q, because = lowest_q(unit, band, lambda q: with_part(unit, replace(part, q=q, loss_ohm=None)), ALLOWED_LOSS)
        usual = spread.COIL_Q.typical if part.kind is Kind.COIL else spread.CAPACITOR_Q.typical
        if q is not None and q > (part.q or usual):
            q, because = part.q or usual, "no worse than the part of the drawing"
        va = places[k].va if places else None
        watts = None if va is None or q is None else va.high / q
        found.append(QNeed(band.name, q, because, watts))
    return max(found, key=lambda n: np.inf if n.q is None else n.q)


def suited(q: QNeed | None) -> tuple[tuple[Dielectric, ...], tuple[Dielectric, ...]]:
    """Dielectrics whose usual Q is enough, and those whose is not, or that have no place at HF."""
    least = 0.0 if q is None or q.q is None else q.q
    rows = dielectrics().values()
    good = tuple(d for d in rows if d.fit and d.q >= least)
    return good, tuple(d for d in rows if d not in good)


def notes_for(
    part: Part, case: Case | None, best: Sequence[Combination], left_out: int, tolerance: float
) -> tuple[str, ...]:
    """What to know beside the figures."""
    notes = []
    if case is None:
        notes.append(NO_POWER)
    notes += [LEFT_OUT.format(left_out)] if left_out else []
    if any(c.use is None for c in best) and case is not None:
        notes.append(UNRATED)
    if any(c.tolerance is not None and c.tolerance > tolerance for c in best):
        notes.append(PICK_THEM)
    several = [c for c in best if len(c.members) > 1]
    if part.kind is Kind.CAPACITOR:
        notes += [IN_SERIES] if any(" s " in c.shape for c in several) else []
        notes.append(BY_HEAT)
    if part.kind is Kind.COIL:
        notes += [COILS_APART] if several else []
        notes.append(WIND_IT.format(part.ref))
    return tuple(notes)
