"""Verbs that think: expect, judge, suspects, next. Nothing of this is stored; it is computed again each time."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from halfsplit import advise as advice_room
from halfsplit import fault, verdict
from halfsplit.advise import Advice
from halfsplit.errors import JobFileError
from halfsplit.expect import Expectation, expectation
from halfsplit.fault import Ranking
from halfsplit.jobs.bench import hookup_for, notebook_of
from halfsplit.jobs.drawing import load_unit
from halfsplit.jobs.records import Job, JobData, Judged
from halfsplit.jobs.work import load_job, unit_of
from halfsplit.journal import open_job
from halfsplit.reading import What
from halfsplit.verdict import by_band

Progress = Callable[[float, str], None]

SEED = 20261125


def opened(job: Path, *, told_will_do: bool = False) -> Job:
    """The job, with at least one reading that can be used. raises JobFileError where there is none.

    told_will_do : what was told of complaint and history is enough
    """
    with open_job(job) as file:
        loaded = load_job(file)
    if not loaded.observations and not (told_will_do and loaded.history):
        why = "; ".join(f"{key}: {text}" for key, text in loaded.broken)
        tail = f" ({why})" if why else ""
        more = f", or say what is wrong with: halfsplit tell {job}" if told_will_do else ""
        raise JobFileError(f"{job}: no reading to work with yet{tail}; add one with: halfsplit add {job} FILE{more}")
    return loaded


def is_job(path: Path) -> bool:
    """True for an SQLite file, by its first bytes."""
    try:
        with path.open("rb") as stream:
            return stream.read(15) == b"SQLite format 3"
    except OSError:
        return False


def expect(
    source: Path, fields: Mapping[str, object], what: What, f: np.ndarray[tuple[int], np.dtype[np.float64]] | None
) -> Expectation:
    """What a sound unit would show.

    source : a job or a unit file; fields : of the hook-up, in words
    f : (n,) Hz; None for points spread over the band, its edges and its harmonics
    raises UnitError, HookupError, ModelError
    """
    if is_job(source):
        with open_job(source) as file:
            unit = unit_of(file)
    else:
        unit = load_unit(source)[0]
    hookup = hookup_for(unit, fields)
    if f is None:
        band = unit.band(hookup.band)
        inside = np.linspace(band.low, band.high, 5)
        harmonics = np.outer([2.0, 3.0, 4.0, 5.0], [band.low, band.high]).ravel()
        f = np.unique(np.concatenate([0.5 * inside[:1], inside, 1.3 * inside[-1:], harmonics]))
    return expectation(unit, hookup, what, f, np.random.default_rng(SEED))


def judge(job: Path, progress: Progress | None = None) -> Judged:
    """Every reading against what a sound unit would show. raises JobFileError without a reading."""
    return judged(opened(job), progress)


def judged(loaded: Job, progress: Progress | None) -> Judged:
    """The verdicts of a job that is open."""
    rng = np.random.default_rng(SEED)
    verdicts = verdict.judge(loaded.unit, loaded.observations, rng, progress)
    bands = by_band(verdicts)
    measured = {b.band for b in bands}
    rest = tuple(b.name for b in loaded.unit.bands if b.name not in measured)
    return Judged(verdicts, bands, rest, uncounted(loaded))


def suspects(job: Path, progress: Progress | None = None) -> Ranking:
    """The causes that explain all readings and answers together. raises JobFileError where there are none of both."""
    loaded = opened(job, told_will_do=True)
    if not loaded.observations:
        return untested(loaded)
    found = fault.rank(loaded.unit, loaded.observations, loaded.complaint, progress, loaded.history)
    return with_broken(found, loaded)


def untested(loaded: Job) -> Ranking:
    """The causes by what was told alone."""
    return with_broken(fault.rank_untested(loaded.unit, loaded.history, loaded.complaint), loaded)


def uncounted(job: Job) -> tuple[str, ...]:
    """Readings that this version cannot use, and why."""
    return tuple(f"{key} does not count: {text}" for key, text in job.broken)


def with_broken(ranking: Ranking, job: Job) -> Ranking:
    """Name the readings that did not count."""
    return replace(ranking, warnings=(*ranking.warnings, *uncounted(job)))


def advise(job: Path, most: int = 3, progress: Progress | None = None) -> tuple[Ranking, tuple[Advice, ...]]:
    """The next tests, best first, with the ranking that they are meant to sharpen."""
    return advised(opened(job, told_will_do=True), most, progress)


def advised(loaded: Job, most: int, progress: Progress | None) -> tuple[Ranking, tuple[Advice, ...]]:
    """The ranking and the next tests of a job that is open."""
    if not loaded.observations:
        return untested(loaded), advice_room.first_readings(loaded.unit, loaded.history)[:most]
    posterior = fault.weigh(loaded.unit, loaded.observations, progress, history=loaded.history)
    ranking = with_broken(fault.ranking_of(posterior, loaded.complaint), loaded)
    rng = np.random.default_rng(SEED)
    return ranking, advice_room.next_tests(loaded.unit, posterior, ranking, rng, most, progress)


def everything(job: Path, progress: Progress | None = None) -> JobData:
    """All that a report shows; of a job without readings and answers, its head and journal alone."""
    with open_job(job) as file:
        loaded, book = load_job(file), notebook_of(file)
    if not loaded.observations and not loaded.history:
        return JobData(loaded, book, (), (), None, ())
    if not loaded.observations:
        return JobData(loaded, book, (), (), *advised(loaded, 3, progress))
    found = judged(loaded, None if progress is None else part_of(progress, 0.0, 0.3))
    ranking, advice = advised(loaded, 3, None if progress is None else part_of(progress, 0.3, 1.0))
    return JobData(loaded, book, found.verdicts, found.bands, ranking, advice)


def part_of(progress: Progress, low: float, high: float) -> Progress:
    """Progress of one of several steps."""

    def told(done: float, what: str) -> None:
        progress(low + (high - low) * done, what)

    return told
