"""Before and after: which readings were taken after the last work on the unit, and what each band showed then."""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.journal import StoredWork
from halfsplit.report.records import SheetData
from halfsplit.unit import Band
from halfsplit.verdict import Verdict, Word
from halfsplit.verdict.records import SEVERITY


@dataclass(frozen=True, slots=True)
class BandProof:
    """One band before the first and after the last work that counts.

    before, after : the worst word of its readings then, None where none was taken; limits : what the manual asks and
    how it was met, by the latest readings; shown : the verdict whose drawing says most, None without a reading
    """

    band: Band
    before: Word | None
    after: Word | None
    limits: tuple[tuple[Word, str], ...]
    shown: Verdict | None


def work_done(data: SheetData) -> tuple[StoredWork, ...]:
    """The work on the unit that counts, in order."""
    return tuple(w for w in data.notebook.work if w.withdrawn is None)


def taken_after(data: SheetData) -> frozenset[str]:
    """Keys of readings that came in after the last work; empty where no work is written down."""
    done = work_done(data)
    if not done:
        return frozenset()
    last = max(w.since for w in done)
    return frozenset(r.key for r in data.notebook.readings if r.act > last and r.withdrawn is None)


def taken_before(data: SheetData) -> frozenset[str]:
    """Keys of readings that came in before the first work: all of them where no work is written down."""
    first = min((w.since for w in work_done(data)), default=None)
    known = (r for r in data.notebook.readings if r.withdrawn is None)
    return frozenset(r.key for r in known if first is None or r.act <= first)


def worst(found: list[Verdict]) -> Word | None:
    """The worst word of some verdicts."""
    return max((v.word for v in found), key=lambda w: SEVERITY[w], default=None)


def loudness(v: Verdict) -> tuple[int, float]:
    """How much a verdict has to say."""
    return SEVERITY[v.word], max((c.loudness for c in v.checks), default=0.0)


def proofs(data: SheetData) -> tuple[BandProof, ...]:
    """Every band of the unit, before and after."""
    before, after = taken_before(data), taken_after(data)
    out = []
    for band in data.job.unit.bands:
        own = [v for v in data.verdicts if v.band == band.name]
        old, new = [v for v in own if v.key in before], [v for v in own if v.key in after]
        latest = new or old
        limits = tuple((c.word, c.text) for v in latest for c in v.checks if c.name.startswith("limit"))
        out.append(BandProof(band, worst(old), worst(new), limits, max(latest, key=loudness, default=None)))
    return tuple(out)
