"""The alignment: what the sweeps say about each part, which parts to move by how much, and when that cannot be told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from halfsplit.align.belief import Belief, learnt, moved, sigmas
from halfsplit.align.plan import Aim, Plan, plan, promise
from halfsplit.align.records import Alignment, Fitted, Move, PartNow, Prediction, Requirement, Standing
from halfsplit.align.target import Limit, Plain
from halfsplit.align.words import why_of
from halfsplit.errors import HookupError, Mistake
from halfsplit.expect import Bench, Observation
from halfsplit.hookup import Hookup
from halfsplit.parts import Kind, Part
from halfsplit.reading import What
from halfsplit.unit import Filter, Unit

Real = npt.NDArray[np.float64]

DRAWS = 48
LIKELY = 0.05
"""An explanation less probable than this is not planned on."""
SURE = 0.5
UNSURE_MOVE = 1.0
"""A move smaller than so many of its own standard deviations is no move."""
UNTOLD = 0.12
"""1 sigma (ln) of how far an adjustable part may have been moved between two sweeps where nothing was told."""
EXECUTED = 0.35
"""1 sigma of an executed change over the change that was advised. Common practice: a coil is bent by feel."""
LEAST_EXECUTED = 0.015


@dataclass(frozen=True, slots=True)
class Sweep:
    """One state of the filter as it was read.

    observations : of this state, of one band; adjusted : parts moved since the sweep before; None: not told, so any
    """

    observations: tuple[Observation, ...]
    adjusted: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Learnt:
    """Where the alignment stands: what is known, and the plan on it."""

    belief: Belief
    bench: Bench
    spread: Mapping[str, float]
    aim: Aim
    plan: Plan
    refs: tuple[str, ...]
    plain: Plain
    limits: tuple[Limit, ...]


def adjustable(chosen: Filter, named: Sequence[str] = ()) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Parts of a filter that may be adjusted, and what was assumed about that.

    named : parts to be taken, else those that the unit file calls adjustable, else every coil
    raises HookupError for a name that the filter does not have
    """
    parts = {p.ref: p for p in chosen.parts}
    wrong = [n for n in named if n not in parts]
    if wrong:
        raise HookupError(*(Mistake("--part", n, f"a part of {chosen.name}: {', '.join(parts)}") for n in wrong))
    if named:
        return tuple(r for r in parts if r in named), ()
    marked = tuple(p.ref for p in parts.values() if p.adjustable)
    if marked:
        return marked, ()
    coils = tuple(p.ref for p in parts.values() if p.kind is Kind.COIL)
    return coils, ("the unit file marks no part as adjustable: every coil is taken to be (its turns can be moved)",)


def stand(unit: Unit, sweeps: Sequence[Sweep], refs: Sequence[str], rng: np.random.Generator) -> Learnt:
    """What is known after the sweeps in order, and what to do next. rng : for draws of what is not known

    Where it was told that the advised part was moved, it is taken to have gone about as far as was advised.
    """
    hookup = sweeps[0].observations[0].hookup
    chosen = unit.filter(unit.band(hookup.band).filter or "")
    pairs = mirror_pairs(chosen, refs)
    state: Learnt | None = None
    for sweep in sweeps:
        before = None if state is None else moved(state.belief, state.spread, moves_between(state, sweep.adjusted))
        belief, bench = learnt(unit, sweep.observations, refs, before, pairs)
        spread = sigmas(bench, refs)
        state = planned(unit, hookup, belief, bench, spread, tuple(refs), rng)
    assert state is not None
    return state


def moves_between(state: Learnt, adjusted: Sequence[str] | None) -> dict[str, tuple[float, float]]:
    """How far each part is taken to have been moved since the plan was made: (ln of the change, 1 sigma)."""
    first = state.refs[state.plan.order[0]] if state.plan.order else None
    out = {}
    for k, ref in enumerate(state.refs):
        if adjusted is None:
            out[ref] = (0.0, UNTOLD)
        elif ref in adjusted:
            meant = float(state.plan.change[k]) if ref == first else 0.0
            out[ref] = (meant, max(EXECUTED * abs(meant), LEAST_EXECUTED) if ref == first else UNTOLD)
    return out


def mirror_pairs(chosen: Filter, refs: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Adjustable parts that stand at mirror places of a ladder."""
    rungs = chosen.rungs
    out = []
    for k in range(len(rungs) // 2):
        for a, b in zip(rungs[k].parts, rungs[-1 - k].parts, strict=False):
            if a.ref in refs and b.ref in refs and a.kind is b.kind:
                out.append((a.ref, b.ref))
    return tuple(out)


def planned(
    unit: Unit, hookup: Hookup, belief: Belief, bench: Bench, spread: Mapping[str, float], refs: tuple[str, ...],
    rng: np.random.Generator,
) -> Learnt:  # fmt: skip
    """The plan on a belief."""
    plain = Plain(unit, hookup, belief.keys)
    limits = plain.limits_for(np.zeros((1, len(belief.keys))))
    at = np.array([belief.index(r) for r in refs], int)
    sigma = np.array([spread[r] for r in refs])
    modes = [m for m in belief.modes if m.weight >= LIKELY]
    draws = belief.draws(rng, DRAWS)
    aims = [Aim(plain, limits, m.mean, draws, at, sigma) for m in modes]
    plans = [plan(aim) for aim in aims]
    made, aim = min(zip(plans, aims, strict=True), key=lambda x: promise(x[0]))
    return Learnt(belief, bench, spread, aim, made, refs, plain, limits)


def alignment(
    unit: Unit, sweeps: Sequence[Sweep], refs: Sequence[str], rng: np.random.Generator, notes: Sequence[str] = ()
) -> Alignment:
    """How to bring a filter back, from the sweeps of one band in order.

    refs : its adjustable parts; rng : for the spread of what is said
    """
    state = stand(unit, sweeps, refs, rng)
    hookup = sweeps[-1].observations[0].hookup
    chosen = unit.filter(unit.band(hookup.band).filter or "")
    draws, order = state.aim.draws, state.plan.order
    standing = standing_of(state, draws)
    met_now = float(state.plain.met(draws, state.limits).mean())
    then = after(state, draws, order)
    met_then = float(state.plain.met(then, state.limits).mean())
    parts = {p.ref: p for p in chosen.parts}
    moves = tuple(move(state, draws, parts, k, order[:n]) for n, k in enumerate(order))
    made = Alignment(
        hookup.band, chosen.name, standing, tuple(s.observations[0].key for s in sweeps),
        tuple(part_now(state, parts[r], k, order) for k, r in enumerate(state.refs)),
        tuple(fitted(state, p) for p in chosen.parts if p.ref not in state.refs),
        moves, requirements(state, draws, then), predictions(state), rivals(state, parts), met_now, met_then, "",
        tuple(notes),
    )  # fmt: skip
    return with_reason(made, state)


def with_reason(made: Alignment, state: Learnt) -> Alignment:
    """The record with its one sentence."""
    only_through = all(o.what is What.S21 for o in state.bench.observations)
    return replace(made, why=why_of(made, only_through))


def standing_of(state: Learnt, draws: Real) -> Standing:
    """Whether anything is to be done, and whether the sweeps say what."""
    if not state.plan.order:
        return "met"
    if not state.plan.met:
        return "out of reach"
    first = state.plan.order[0]
    sigma = spread_of(state, state.refs[first])
    change = abs(float(state.plan.change[first]))
    met_now = float(state.plain.met(draws, state.limits).mean())
    met_then = float(state.plain.met(after(state, draws, state.plan.order), state.limits).mean())
    if change < UNSURE_MOVE * sigma and met_then < met_now + 0.1:
        return "cannot decide"
    rivals = [m for m in state.belief.modes[1:] if m.weight > 0.25]
    if rivals and met_then < SURE and not agrees(state, rivals[0].mean):
        return "cannot decide"
    return "adjust"


def agrees(state: Learnt, other: Real) -> bool:
    """Whether another explanation would have the same part moved first, the same way."""
    aim = replace(state.aim, theta=other, draws=other[None])
    theirs = plan(aim)
    if not theirs.order:
        return False
    k = state.plan.order[0]
    return k in theirs.order and theirs.change[k] * state.plan.change[k] > 0


def after(state: Learnt, draws: Real, order: Sequence[int]) -> Real:
    """The draws after the moves of some parts of the plan."""
    out = draws.copy()
    for k in order:
        out[:, state.aim.at[k]] += state.plan.change[k] / state.aim.sigma[k]
    return out


def value_row(state: Learnt, ref: str) -> Real:
    """How ln of a part's value hangs on the nuisances, (P,): its own, and the common scale of its filter."""
    setup = state.bench.setups[0]
    row = np.zeros(len(state.belief.keys))
    for param in setup.scene.params:
        for element, field, coefficient in param.moves:
            if setup.scene.elements[element].place == ref and field.name == "VALUE":
                row[state.belief.keys.index(param.key)] += param.sigma * coefficient
    return row


def spread_of(state: Learnt, ref: str) -> float:
    """1 sigma of ln of a part's value, over all explanations."""
    row = value_row(state, ref)
    weights = np.array([m.weight for m in state.belief.modes])
    means = np.array([row @ m.mean for m in state.belief.modes])
    middle = float(weights @ means / weights.sum())
    own = np.array([row @ m.cov @ row for m in state.belief.modes])
    return float(np.sqrt(weights @ (own + (means - middle) ** 2) / weights.sum()))


def now_of(state: Learnt, ref: str, drawn: float) -> tuple[float, float]:
    """Value of a part now in the likeliest explanation, and its 1 sigma over all of them."""
    value = drawn * float(np.exp(value_row(state, ref) @ state.belief.best.mean))
    return value, value * spread_of(state, ref)


def part_now(state: Learnt, part: Part, k: int, order: Sequence[int]) -> PartNow:
    """An adjustable part. order : places of the parts that the plan moves"""
    drawn = part.value or 0.0
    value, sigma = now_of(state, part.ref, drawn)
    wanted = value * float(np.exp(state.plan.change[k])) if k in order else None
    return PartNow(part.ref, drawn, value, sigma, wanted, part.kind is Kind.COIL)


def fitted(state: Learnt, part: Part) -> Fitted:
    """A part that is not adjusted."""
    drawn = part.value or 0.0
    return Fitted(part.ref, drawn, *now_of(state, part.ref, drawn), part.kind is Kind.COIL)


def move(state: Learnt, draws: Real, parts: Mapping[str, Part], k: int, done: Sequence[int]) -> Move:
    """One move of the plan, after those before it."""
    ref = state.refs[k]
    change = float(state.plan.change[k])
    sigma = spread_of(state, ref)
    value, _ = now_of(state, ref, parts[ref].value or 0.0)
    met = float(state.plain.met(after(state, draws, (*done, k)), state.limits).mean())
    at, kind = watch(state, k, done)
    low, high = (float(np.expm1(change + s * 1.645 * sigma)) for s in (-1.0, 1.0))
    return Move(
        ref, parts[ref].kind is Kind.COIL, float(np.expm1(change)), low, high, value, value * float(np.exp(change)),
        at, kind, met,
    )  # fmt: skip


def watch(state: Learnt, k: int, done: Sequence[int]) -> tuple[tuple[float, float, float], Literal["s21", "s11"]]:
    """Where a sweep moves most while a part is moved: (Hz, dB before, dB after), and of which trace.

    Taken in the band for the reflection, where its depth can be read, else anywhere above -60 dB for the transmission
    """
    setup = state.bench.setups[0]
    theta = after(state, state.belief.best.mean[None], done)
    both = np.concatenate([theta, after(state, theta, (k,))])
    values, _, _ = state.bench.predict(setup, both, slopes=False)
    first, best = 0, None
    for view in setup.views:
        part = values[:, first : first + view.size]
        first += view.size
        through = view.observation.what is What.S21
        db = part if through else 20.0 * np.log10(np.maximum(part, 1e-3))
        db = np.maximum(db, -60.0) if through else np.maximum(db, -35.0)
        gain = np.abs(db[1] - db[0])
        n = int(np.argmax(gain))
        kind: Literal["s21", "s11"] = "s21" if through else "s11"
        if best is None or gain[n] > best[0]:
            f = float(view.observation.f[view.index[n]])
            best = (float(gain[n]), (f, float(db[0, n]), float(db[1, n])), kind)
    assert best is not None
    return best[1], best[2]


def requirements(state: Learnt, draws: Real, then: Real) -> tuple[Requirement, ...]:
    """Each limit, how the filter stands against it, and how after the plan."""
    now = state.plain.worst(state.belief.best.mean[None])[0]
    spread = np.percentile(state.plain.worst(draws), [5.0, 95.0], axis=0)
    later = np.median(state.plain.worst(then), axis=0)
    return tuple(
        Requirement(
            x.what, x.times, x.db, float(now[i]), float(spread[0, i]), float(spread[1, i]), float(later[i]), x.stated
        )
        for i, x in enumerate(state.limits)
    )


def predictions(state: Learnt) -> tuple[Prediction, ...]:
    """Each trace of the latest sweep as read, and as the fitted parts make it. dB; reflections as 20 log10 too."""
    out = []
    for setup in state.bench.setups:
        values, _, _ = state.bench.predict(setup, state.belief.best.mean[None], slopes=False)
        first = 0
        for view in setup.views:
            fit = values[0, first : first + view.size]
            first += view.size
            read = view.value
            if view.observation.what is not What.S21:
                fit, read = (20.0 * np.log10(np.maximum(x, 1e-4)) for x in (fit, read))
            gap = fit - read
            out.append(
                Prediction(
                    view.observation.label, tuple(view.observation.f[view.index].tolist()), tuple(read.tolist()),
                    tuple(fit.tolist()), float(np.sqrt(np.mean(gap**2))),
                )
            )  # fmt: skip
    return tuple(out)


def rivals(state: Learnt, parts: Mapping[str, Part]) -> tuple[tuple[float, tuple[tuple[str, float], ...]], ...]:
    """Other explanations: their probability and what values the adjustable parts have in them."""
    out = []
    for mode in state.belief.modes[1:]:
        values = tuple(
            (r, (parts[r].value or 0.0) * float(np.exp(value_row(state, r) @ mode.mean))) for r in state.refs
        )
        out.append((mode.weight, values))
    return tuple(out)
