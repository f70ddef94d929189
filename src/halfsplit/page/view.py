"""What the templates of the sheet are given: records of the other rooms, and the one choice that the address makes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote, urlencode

from halfsplit.expect import Observation
from halfsplit.fault import Ranking
from halfsplit.jobs import Job, JobData, Notebook
from halfsplit.page.book import Forms, Line, forms, lines
from halfsplit.page.opinions import Opinion
from halfsplit.unit import Band, Unit
from halfsplit.verdict import Verdict
from halfsplit.verdict.records import SEVERITY


@dataclass(frozen=True, slots=True)
class View:
    """One job as the sheet shows it.

    name : of the job on the desk; loaded, book : the job file as it is now
    opinion : what is thought of it; band : the band that path and traces show; at : the station that is open, or ""
    drafts : what is being written into the journal, by form
    """

    name: str
    path: Path
    loaded: Job
    book: Notebook
    opinion: Opinion
    band: Band
    at: str
    drafts: dict[str, dict[str, str]]

    @property
    def unit(self) -> Unit:
        """The unit under test."""
        return self.loaded.unit

    @property
    def data(self) -> JobData | None:
        """The last good result."""
        return self.opinion.data

    @property
    def ranking(self) -> Ranking | None:
        """The ranking of the last good result."""
        return None if self.data is None else self.data.ranking

    @property
    def revision(self) -> int:
        """The state of the job file: its number of acts."""
        return revision_of(self.book)

    @property
    def seen(self) -> str:
        """What a window shows, for it to ask whether there is anything newer."""
        return f"{self.revision}.{self.opinion.version}.{self.opinion.ticks}"

    @property
    def lines(self) -> tuple[Line, ...]:
        """The journal, act by act."""
        return lines(self.book)

    @property
    def forms(self) -> Forms:
        """What may be written into the journal."""
        return forms(self.unit, self.book, self.drafts)

    def old(self, part: str) -> bool:
        """True where a part ("verdicts", "ranking", "tests") is shown as it was before the latest readings."""
        return self.data is not None and part not in self.opinion.fresh

    def link(self, *, band: str = "", at: str = "") -> str:
        """The address of this sheet with another choice."""
        chosen = {"band": band or self.band.name} | ({"at": at} if at else {})
        return f"/job/{quote(self.name, safe='')}?{urlencode(chosen)}"

    def base(self) -> str:
        """The address of this job, for what stands below it."""
        return f"/job/{quote(self.name, safe='')}"

    def verdicts(self, band: str) -> tuple[Verdict, ...]:
        """The verdicts of a band, loudest first; those of readings that are withdrawn by now left out."""
        if self.data is None:
            return ()
        there = {o.key for o in self.loaded.observations}
        own = [v for v in self.data.verdicts if v.band == band and v.key in there]
        return tuple(sorted(own, key=lambda v: (-SEVERITY[v.word], -loudness(v))))

    def unjudged(self, band: str) -> tuple[Observation, ...]:
        """Readings of a band that are not judged yet."""
        known = {(v.key, v.what) for v in self.verdicts(band)}
        return tuple(o for o in self.loaded.observations if o.hookup.band == band and (o.key, o.what) not in known)


def loudness(v: Verdict) -> float:
    """How loud the loudest check of a verdict is."""
    return max((c.loudness for c in v.checks), default=0.0)


def revision_of(book: Notebook) -> int:
    """The number of acts in a journal."""
    return book.acts[-1].number if book.acts else 0


def chosen_band(unit: Unit, wanted: str, data: JobData | None, loaded: Job) -> Band:
    """The band that was asked for, else the one with the loudest verdict, else one with a reading, else the first."""
    names = [b.name for b in unit.bands]
    if wanted in names:
        return unit.band(wanted)
    judged = sorted(data.bands if data else (), key=lambda b: -SEVERITY[b.word])
    measured = [o.hookup.band for o in loaded.observations]
    for name in [*(b.band for b in judged), *measured, *loaded.history.bad]:
        if name in names:
            return unit.band(name)
    return unit.bands[0]
