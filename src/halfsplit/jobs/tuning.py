"""The verb `align`: which adjustable parts to move, from the sweeps of a job."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from pathlib import Path

import numpy as np

from halfsplit.align import Alignment, Sweep, adjustable, alignment
from halfsplit.errors import HookupError, JobFileError, Mistake
from halfsplit.expect import Observation
from halfsplit.hookup import Hookup
from halfsplit.jobs.opinions import SEED, opened
from halfsplit.journal import StoredReading, StoredWork, open_job, work_of
from halfsplit.reading import What

MOVED = ("adjusted", "replaced")


def align(job: Path, band: str | None = None, parts: Sequence[str] = ()) -> Alignment:
    """How to bring the filter of a band back.

    band : None for that of the latest sweep; parts : those to be moved, none for what the unit file calls adjustable
    raises JobFileError without a sweep of the band, HookupError for an unknown band or part
    """
    loaded = opened(job)
    with open_job(job) as file:
        works = [w for w in work_of(file) if w.withdrawn is None]
    swept = [o for o in loaded.observations if whole(o)]
    if not swept:
        raise JobFileError(
            f"{job}: no sweep of a path with nothing lifted or bridged; add one with: halfsplit add {job} FILE"
        )
    chosen = band or swept[-1].hookup.band
    name = next((b.filter for b in loaded.unit.bands if b.name == chosen), None)
    if name is None:
        known = ", ".join(b.name for b in loaded.unit.bands if b.filter)
        raise HookupError(Mistake("--band", repr(chosen), f"a band with a filter: {known}"))
    own = [o for o in swept if o.hookup.band == chosen]
    if not own:
        raise JobFileError(f"{job}: no sweep of {chosen}; add one with: halfsplit add {job} --band '{chosen}' FILE")
    refs, notes = adjustable(loaded.unit.filter(name), parts)
    if not refs:
        raise HookupError(
            Mistake("--part", f"{name} has no coil and no adjustable part", "a filter that can be adjusted")
        )
    sweeps, told = states(own, loaded.readings, works, refs)
    return alignment(loaded.unit, sweeps, refs, np.random.default_rng(SEED), (*notes, *told))


def whole(o: Observation) -> bool:
    """Whether a reading shows the path as it works: through it, or into it with its end closed; nothing lifted."""
    plain = Hookup(o.hookup.band, o.hookup.drive, o.hookup.read)
    altered = any(
        getattr(o.hookup, name) != getattr(plain, name) for name in ("lifted", "bridged", "operated", "released")
    )
    return not altered and o.hookup.read is not None and len(o.f) > 8


def states(
    own: Sequence[Observation], readings: Sequence[StoredReading], works: Sequence[StoredWork], refs: Sequence[str]
) -> tuple[list[Sweep], list[str]]:
    """The sweeps of a band in order, those of one state together: readings between two adjustments, of different kinds.

    returns the sweeps, and what was assumed
    """
    act = {r.key: r.act for r in readings}
    out: list[Sweep] = []
    notes: list[str] = []
    before = 0
    for key, members in groupby(own, key=lambda o: o.key):
        group = tuple(members)
        done = [w.place for w in works if w.kind in MOVED and before < w.since <= act[key]]
        moved = tuple(r for r in refs if r in done)
        again = bool(out) and any(alike(a, b) for a in out[-1].observations for b in group)
        if out and not done and not again:
            out[-1] = Sweep((*out[-1].observations, *group), out[-1].adjusted)
        else:
            if again and not done:
                notes.append(
                    f"{key} repeats the sweep before it and no work was told: any adjustable part may have moved"
                )
            out.append(Sweep(group, moved if done else None))
        before = act[key]
    return out, notes


def alike(a: Observation, b: Observation) -> bool:
    """Whether two readings show the same thing in the same hook-up."""
    same = (a.hookup.drive, a.hookup.read, a.what) == (b.hookup.drive, b.hookup.read, b.what)
    return same and a.what in (What.S21, What.S11, What.S22)
