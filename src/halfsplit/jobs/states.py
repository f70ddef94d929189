"""The states of a unit between pieces of work: what is drawn anew since, and which readings belong to which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from halfsplit.expect import AS_IT_CAME, Observation, Renewal, State
from halfsplit.fault import Work
from halfsplit.fault.hypotheses import parts_of
from halfsplit.fault.lives import RENEWING
from halfsplit.jobs.found import UNITS
from halfsplit.journal import StoredReading, StoredWork
from halfsplit.parts import Part
from halfsplit.quantity import parse
from halfsplit.unit import Unit

ADJUSTED = 0.2
"""1 sigma of ln value of a part that was adjusted by hand: common practice; a squeezed coil moves by some 20 %."""


def works_of(unit: Unit, stored: Sequence[StoredWork]) -> tuple[Work, ...]:
    """The work that counts, in order, each with the state of the unit that it leaves."""
    parts, drawing, renewed = parts_of(unit), unit, dict[str, Renewal]()
    out: list[Work] = []
    for s in stored:
        if s.withdrawn is not None:
            continue
        part = parts.get(s.place)
        if part is not None and s.kind in RENEWING:
            renewed[s.place] = Renewal(s.place, s.key, None if s.kind == "replaced" else ADJUSTED)
            if s.value:
                drawing = with_value(drawing, part, float(parse(s.value, UNITS[part.kind]).value))
        state = State(len(out) + 1, tuple(renewed.values()), None if drawing is unit else drawing)
        out.append(Work(s.key, s.kind, s.place, s.text, state))
    return tuple(out)


def with_value(unit: Unit, part: Part, value: float) -> Unit:
    """The same unit with another value of one part."""

    def changed(p: Part) -> Part:
        return replace(p, value=value) if p.ref == part.ref else p

    filters = tuple(
        replace(f, rungs=tuple(replace(r, parts=tuple(changed(p) for p in r.parts)) for r in f.rungs))
        for f in unit.filters
    )
    blocks = tuple(
        replace(b, branches=tuple(replace(x, part=changed(x.part)) for x in b.branches)) for b in unit.blocks
    )
    return replace(unit, filters=filters, blocks=blocks)


def state_at(works: Sequence[Work], stored: Sequence[StoredWork], reading: StoredReading) -> State:
    """The state of the unit that a reading shows."""
    before = {s.key for s in stored if s.since < reading.act}
    done = [w for w in works if w.key in before]
    return done[-1].after if done else AS_IT_CAME


def in_state(o: Observation, state: State, works: Sequence[Work]) -> Observation:
    """An observation of the unit in a state, called so."""
    if state.number == 0:
        return o
    return replace(o, state=state, label=f"{o.label} (after {works[state.number - 1].key})")


def stages_run(unit: Unit) -> bool:
    """Whether the drawing says enough of the stages for watts and amps to be asked for."""
    return bool(unit.stages)
