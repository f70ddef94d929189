"""A filter of the drawing in figures and words, before anything is measured."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from halfsplit.filters import prototypes
from halfsplit.filters.families import Row, hump_db
from halfsplit.filters.figures import (
    cutoffs_of,
    hump_below,
    mends,
    notches_of,
    return_loss_below,
    served_in,
    uneven_pairs,
    with_losses,
)
from halfsplit.filters.recognise import ROUGH, Fit, Recognised, fit, is_idle, recognise
from halfsplit.filters.records import Family, FamilyFit, FilterFacts, Hump, PartFit, Pass, Served, Suspicion
from halfsplit.filters.shape import Shape, shape_of, topology_words
from halfsplit.filters.words import family_text, headline, suspicion_text, uneven_text
from halfsplit.parts import Kind
from halfsplit.unit import Band, Filter

FOREIGN = 0.15
"""A drawing this far from a family (rms of ln v) does not belong to it."""
RIVAL = 4.0
"""Explanations within this difference of -2 ln evidence cannot be told apart."""


def describe(chosen: Filter, bands: Sequence[Band] = (), z0: float = 50.0) -> FilterFacts:
    """What a filter of the drawing should do, which family it comes from, and which value does not fit.

    bands : the bands that use it; figures of merit are taken in their served ranges only. z0 : ohm at both ends, used
    where the filter states no impedance of its own
    Parts without value take the value that the nearest family gives them; without a family no figures are worked out.
    """
    ohm = chosen.impedance or z0
    shape = shape_of(chosen)
    served_range = (min(b.low for b in bands), max(b.high for b in bands)) if bands else None
    found = _credible(recognise(shape, ohm, served_range), chosen, bands, ohm)
    nearest, others = _families(found, shape)
    suspicions = _suspicions(found, shape, nearest)
    suspicions = tuple(s for s in suspicions if s.drawn is None or mends(chosen, _factors(s), bands, ohm))
    complete, filled = _completed(chosen, nearest)
    lossy, assumed = with_losses(complete)
    ready = all(p.value is not None for p in lossy.parts) and bool(shape.arms)
    served = tuple(served_in(lossy, band, ohm) for band in bands) if ready else ()
    around = _around(served_range, nearest, shape)
    cut = cutoffs_of(lossy, served_range, ohm, around) if ready else (None, None)
    cut = (None, cut[1]) if shape.passes is Pass.LOW else (cut[0], None) if shape.passes is Pass.HIGH else cut
    hump = hump_below(lossy, served, ohm) if shape.passes is Pass.LOW else None
    facts = FilterFacts(
        chosen.name, shape.passes, shape.order, topology_words(shape), ohm, nearest, others, suspicions, served, cut,
        notches_of(lossy, shape_of(complete), ohm) if ready else (), hump, _other_ohm(found, shape, ohm),
        (*filled, *assumed), (), "",
    )  # fmt: skip
    notes = (*_notes(facts), *_return_loss_note(facts, lossy), *(() if ready else _no_figures(lossy)))
    return replace(facts, notes=notes, headline=headline(facts))


def _credible(found: Recognised, chosen: Filter, bands: Sequence[Band], z0: float) -> Recognised:
    """Without those repaired fits whose correction would not make the filter serve its bands better."""
    kept = []
    for f in found.repaired:
        blamed = [k for k in f.out if math.isfinite(found.rows[k].value)]
        factors = {ref: math.exp(-f.residual[k]) for k in blamed for ref in found.rows[k].refs}
        if mends(chosen, factors, bands, z0):
            kept.append(f)
    return replace(found, repaired=tuple(kept))


def _factors(found: Suspicion) -> dict[str, float]:
    return {} if found.drawn is None else dict.fromkeys(found.refs, found.fits / found.drawn)


def _families(found: Recognised, shape: Shape) -> tuple[FamilyFit | None, tuple[FamilyFit, ...]]:
    """The nearest family and the next best. A fit without the value that spoils it counts before one with it."""
    fits = [f for f in (*found.repaired, *found.plain) if f.distance < FOREIGN and not is_idle(f, shape.order)]
    once: dict[Family, Fit] = {}
    for f in sorted(fits, key=lambda f: f.score):
        if not (f.model.family is Family.TRAPS and Family.ELLIPTIC in once):
            once.setdefault(f.model.family, f)
    made = [_family_fit(f, found.rows, shape) for f in once.values()]
    return (made[0], tuple(made[1:3])) if made else (None, ())


def _family_fit(f: Fit, rows: Sequence[Row], shape: Shape) -> FamilyFit:
    ideal = np.exp(f.log_ideal).tolist()
    parts = tuple(
        PartFit(row.refs, row.kind, None, i, None)
        if math.isnan(row.value)
        else PartFit(row.refs, row.kind, row.value, i, row.value / i - 1.0)
        for row, i in zip(rows, ideal, strict=True)
    )
    family = f.model.family
    edge = f.edge / (2.0 * math.pi)
    ripple = math.exp(f.shape_par[0]) if f.shape_par.size and family is not Family.M_DERIVED else None
    hump_to = top = stop = load = None
    if family is Family.ZOLOTAREV and ripple is not None:
        start = float(f.shape_par[1])
        hump_to = edge / start if shape.passes is Pass.HIGH else edge * start
        top = hump_db(shape.order, f.shape_par)
    if family is Family.ELLIPTIC and ripple is not None:
        stop = prototypes.elliptic_stop_db(shape.order, ripple, 1.0 + math.exp(f.shape_par[1]))
    if family is Family.CHEBYSHEV and shape.order % 2 == 0 and ripple is not None:
        g = prototypes.chebyshev_load(shape.order, ripple)
        load = f.ohm * g if shape.arms[-1].place == "shunt" else f.ohm / g
    left_out = tuple(ref for k in f.out for ref in rows[k].refs)
    made = FamilyFit(family, f.distance, edge, f.ohm, parts, "", ripple, hump_to, top, stop, load, left_out)
    return replace(made, text=family_text(made, shape.passes))


def _suspicions(found: Recognised, shape: Shape, nearest: FamilyFit | None) -> tuple[Suspicion, ...]:
    """Values that alone spoil the best explanation; where several explain as well, all of them."""
    out: dict[tuple[str, ...], Suspicion] = {}
    for f in found.repaired:
        if f.score > found.repaired[0].score + RIVAL or is_idle(f, shape.order):
            continue
        blamed = [k for k in f.out if math.isfinite(found.rows[k].value)]
        refs = tuple(ref for k in blamed for ref in found.rows[k].refs)
        drawn, fits = found.rows[blamed[0]].value, float(np.exp(f.log_ideal[blamed[0]]))
        made = Suspicion(refs, drawn, fits, drawn / fits - 1.0, "")
        text = suspicion_text(made, found.rows[blamed[0]].kind is Kind.COIL, _family_fit(f, found.rows, shape))
        out.setdefault(refs, replace(made, text=text))
    if out or (nearest is not None and nearest.distance < ROUGH):
        return tuple(out.values())
    for refs, value, mirror, its in uneven_pairs(shape):
        coil = any(refs == arm.coil_refs for arm in shape.arms)
        for mine, drawn, wanted in ((refs, value, its), (mirror, its, value)):
            text = uneven_text(refs, value, mirror, its, coil)
            out[mine] = Suspicion(mine, drawn, wanted, drawn / wanted - 1.0, text)
    return tuple(out.values())


def _completed(chosen: Filter, nearest: FamilyFit | None) -> tuple[Filter, tuple[str, ...]]:
    """The filter with parts without value set to what the nearest family gives them, and that said in words."""
    wanted = {
        fit.refs[0]: fit.ideal for fit in (nearest.parts if nearest else ()) if fit.value is None and len(fit.refs) == 1
    }
    rungs = tuple(
        replace(r, parts=tuple(replace(p, value=wanted[p.ref]) if p.ref in wanted else p for p in r.parts))
        for r in chosen.rungs
    )
    words = tuple(f"{ref} has no value on the drawing: the value that fits the family is used" for ref in wanted)
    return replace(chosen, rungs=rungs), words


def _around(served: tuple[float, float] | None, nearest: FamilyFit | None, shape: Shape) -> float:
    """A frequency in the middle of things, Hz: of the served range, the family's edge, or the parts themselves."""
    if served is not None:
        return math.sqrt(served[0] * served[1])
    if nearest is not None and shape.passes is not Pass.BAND:
        return nearest.edge
    coils = [a.coil for a in shape.arms if a.coil and math.isfinite(a.coil)]
    caps = [a.capacitor for a in shape.arms if a.capacitor and math.isfinite(a.capacitor)]
    if not coils or not caps:
        return 1e7
    return 1.0 / (2.0 * math.pi * math.sqrt(float(np.median(coils)) * float(np.median(caps))))


def _other_ohm(found: Recognised, shape: Shape, z0: float) -> FamilyFit | None:
    """The family that fits far better at another resistance, None where there is none."""
    if not found.plain or found.plain[0].distance < ROUGH or found.repaired:
        return None
    best: Fit | None = None
    for f in found.plain:
        start = tuple(f.shape_par.tolist())
        free = fit(f.model, found.rows, z0, f.out, shape.passes is Pass.BAND, free_ohm=True, start=start)
        if free is not None and (best is None or free.score < best.score):
            best = free
    if best is None or best.score > found.plain[0].score - RIVAL or best.distance > ROUGH:
        return None
    return _family_fit(best, found.rows, shape) if abs(math.log(best.ohm / z0)) > 0.1 else None


def _notes(facts: FilterFacts) -> tuple[str, ...]:
    """What to know when reading the figures."""
    out = []
    near = facts.nearest
    if near is not None and near.family is Family.HALF_WAVE:
        out.append(
            "Handbook figures for half-wave filters (30, 48, 60, 67 dB at 2 to 5 times for two sections) are image "
            "attenuation; the insertion loss between equal resistances is less at the second harmonic (25 dB)."
        )
    if facts.hump is not None:
        out.append(_hump_note(facts.hump))
    if near is not None and near.load_ohm is not None:
        out.append(f"An even order Chebyshev wants {near.load_ohm:.1f} ohm at its output, not {facts.z0:g} ohm.")
    if near is not None and _edge_inside(near, facts):
        out.append(
            f"The ideal's edge ({near.edge / 1e6:.2f} MHz) lies inside the served range: family or values are in doubt."
        )
    if facts.other_ohm is not None:
        other = facts.other_ohm
        out.append(f"The values fit {other.ohm:.1f} ohm far better than {facts.z0:g} ohm: {other.text}.")
    return tuple(out)


def _edge_inside(near: FamilyFit, facts: FilterFacts) -> bool:
    """Whether a low-pass family ends inside the served range; the frequency of a half-wave filter is no edge."""
    if not facts.served or facts.passes is not Pass.LOW or near.family is Family.HALF_WAVE:
        return False
    return near.edge < 0.95 * max(s.high for s in facts.served)


def _hump_note(hump: Hump) -> str:
    return (
        f"{hump.loss_db:.1f} dB at {hump.f / 1e6:.2f} MHz, below the served band, belongs to this design: it is no "
        "fault. Judge a sweep in the served band only."
    )


def _return_loss_note(facts: FilterFacts, lossy: Filter) -> tuple[str, ...]:
    """A healthy filter may reflect below its band: said where it reflects clearly more than in the band."""
    if not facts.served or facts.hump is not None or facts.passes is not Pass.LOW:
        return ()
    lowest: Served = min(facts.served, key=lambda s: s.low)
    f, worst = return_loss_below(lossy, lowest.low, facts.z0)
    if worst > min(20.0, lowest.return_loss - 3.0):
        return ()
    return (
        f"Return loss falls to {worst:.1f} dB at {f / 1e6:.2f} MHz, below the served band; a sound filter of this "
        "drawing does that. Only the served band counts.",
    )


def _no_figures(lossy: Filter) -> tuple[str, ...]:
    refs = ", ".join(p.ref for p in lossy.parts if p.value is None)
    return (
        (f"No figures: {refs} without value, and no family to take it from.",) if refs else ("No figures: no parts.",)
    )
