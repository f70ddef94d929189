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
from halfsplit.fault import Posterior, Ranking
from halfsplit.jobs.bench import hookup_for, notebook_of
from halfsplit.jobs.found import words_of
from halfsplit.jobs.harmonics import with_harmonics
from halfsplit.jobs.level_opinions import advised_by_levels, latest_figures, levels_before, levels_now
from halfsplit.jobs.records import Job, JobData, Judged
from halfsplit.jobs.sources import unit_in
from halfsplit.jobs.spectra import explained
from halfsplit.jobs.tests_table import table_of
from halfsplit.jobs.work import load_job
from halfsplit.journal import open_job
from halfsplit.reading import What
from halfsplit.verdict import Word, by_band
from halfsplit.verdict.records import SEVERITY

Progress = Callable[[float, str], None]
Believed = Callable[[Ranking, tuple[Advice, ...]], None]
Arrived = Callable[[JobData], None]

MOST_EXPLAINED = 8
"""Above so many readings what the latest changed is not worked out: it takes as long as the ranking itself."""
SEED = 20261125


def opened(job: Path, *, told_will_do: bool = False, levels_will_do: bool = False) -> Job:
    """The job, with at least one reading that can be used. raises JobFileError where there is none.

    told_will_do : what was told of complaint and history is enough; levels_will_do : levels or spectra are
    """
    with open_job(job) as file:
        loaded = load_job(file)
    enough = (told_will_do and (loaded.history or loaded.spectra)) or (
        levels_will_do and (loaded.levels or loaded.spectra)
    )
    if not loaded.observations and not enough:
        why = "; ".join(f"{key}: {text}" for key, text in loaded.broken)
        tail = f" ({why})" if why else ""
        more = f", or say what is wrong with: halfsplit tell {job}" if told_will_do else ""
        raise JobFileError(f"{job}: no reading to work with yet{tail}; add one with: halfsplit add {job} FILE{more}")
    return loaded


def expect(
    source: Path, fields: Mapping[str, object], what: What, f: np.ndarray[tuple[int], np.dtype[np.float64]] | None
) -> Expectation:
    """What a sound unit would show.

    source : a job or a unit file; fields : of the hook-up, in words
    f : (n,) Hz; None for points spread over the band, its edges and its harmonics
    raises UnitError, HookupError, ModelError
    """
    unit = unit_in(source)
    hookup = hookup_for(unit, fields)
    if f is None:
        band = unit.band(hookup.band)
        inside = np.linspace(band.low, band.high, 5)
        harmonics = np.outer([2.0, 3.0, 4.0, 5.0], [band.low, band.high]).ravel()
        f = np.unique(np.concatenate([0.5 * inside[:1], inside, 1.3 * inside[-1:], harmonics]))
    return expectation(unit, hookup, what, f, np.random.default_rng(SEED))


def judge(job: Path, progress: Progress | None = None) -> Judged:
    """Every reading against what a sound unit would show. raises JobFileError without a reading."""
    return judged(opened(job, levels_will_do=True), progress)


def judged(loaded: Job, progress: Progress | None) -> Judged:
    """The verdicts of a job that is open; of a band, by the readings since the last work before which it was read."""
    rng = np.random.default_rng(SEED)
    verdicts = verdict.judge(loaded.unit, loaded.observations, rng, progress)
    levels = verdict.judge_levels(loaded.unit, loaded.levels, rng)
    latest = {b: max(o.state.number for o in loaded.observations if o.hookup.band == b) for b in bands_of(loaded)}
    now = [v for v, o in zip(verdicts, loaded.observations, strict=True) if o.state.number == latest[v.band]]
    bands = verdict.with_levels(by_band(now), levels)
    spectra = explained(loaded.unit, loaded.spectra) if loaded.spectra else None
    if spectra is not None:
        bands = verdict.with_spectra(bands, spectra.limits, spectra.harmonics)
    measured = {b.band for b in bands}
    rest = tuple(b.name for b in loaded.unit.bands if b.name not in measured)
    return Judged(verdicts, bands, rest, (*uncounted(loaded), *overtaken(loaded, latest)), levels, spectra)


def bands_of(loaded: Job) -> tuple[str, ...]:
    """Bands with a sweep that counts."""
    return tuple(dict.fromkeys(o.hookup.band for o in loaded.observations))


def overtaken(loaded: Job, latest: Mapping[str, int]) -> tuple[str, ...]:
    """Bands that were not swept again since the last work on the unit. latest : state of the last sweep by band"""
    if not loaded.works:
        return ()
    last = loaded.works[-1]
    bands = [b for b, state in latest.items() if state < last.state]
    return tuple(f"{b}: not swept since {last.key} ({last.text})" for b in bands)


def suspects(job: Path, progress: Progress | None = None, own: Path | None = None) -> Ranking:
    """The causes that explain all readings and answers together, and what the latest test changed.

    own : a table of tests to be used in place of the package's
    raises JobFileError where there are neither readings nor answers
    """
    loaded = with_harmonics(opened(job, told_will_do=True, levels_will_do=True))
    if len(loaded.observations) > MOST_EXPLAINED:
        return ranked(loaded, progress)[1]
    return advised(loaded, 1, progress, own)[0]


def untested(loaded: Job) -> Ranking:
    """The causes by what was told alone."""
    return with_broken(fault.rank_untested(loaded.unit, loaded.history, loaded.complaint), loaded)


def uncounted(job: Job) -> tuple[str, ...]:
    """Readings that this version cannot use, and why."""
    return tuple(f"{key} does not count: {text}" for key, text in job.broken)


def with_broken(ranking: Ranking, job: Job) -> Ranking:
    """Name the readings that did not count."""
    return replace(ranking, warnings=(*ranking.warnings, *uncounted(job), *levels_before(job)))


def advise(
    job: Path, most: int = 3, progress: Progress | None = None, own: Path | None = None
) -> tuple[Ranking, tuple[Advice, ...]]:
    """The next tests, best first, with the ranking that they are meant to sharpen.

    own : a table of tests to be used in place of the package's
    """
    loaded = with_harmonics(opened(job, told_will_do=True, levels_will_do=True))
    return advised(loaded, most, progress, own, explained=False)


def advised(
    loaded: Job, most: int, progress: Progress | None, own: Path | None = None, *, explained: bool = True,
    arrived: Believed | None = None,
) -> tuple[Ranking, tuple[Advice, ...]]:  # fmt: skip
    """The ranking and the next tests of a job that is open.

    explained : with what the latest test changed, which takes as long again
    arrived : told of the ranking as soon as it stands, and again with the next tests
    """
    if not loaded.observations and levels_now(loaded):
        return advised_by_levels(loaded, most, own)
    if not loaded.observations:
        return untested(loaded), advice_room.first_readings(loaded.unit, loaded.history)[:most]
    table = table_of(own)
    (bare, posterior), ranking = ranked(loaded, part_of(progress, 0.0, 0.6))
    if arrived is not None:
        arrived(ranking, ())
    findings = [f for _, f in loaded.findings]
    rng = np.random.default_rng(SEED)
    advice = advice_room.next_tests(
        loaded.unit, posterior, ranking, rng, most, part_of(progress, 0.6, 0.7), table, findings
    )  # fmt: skip
    if not explained or len(loaded.observations) > MOST_EXPLAINED:
        return ranking, advice
    if arrived is not None:
        arrived(ranking, advice)
    before = without_latest(loaded, bare, part_of(progress, 0.7, 1.0))
    changed = advice_room.what_changed(before, ranking, latest(loaded), advice)
    return replace(ranking, what_changed=changed), advice


def ranked(loaded: Job, progress: Progress | None) -> tuple[tuple[Posterior, Posterior], Ranking]:
    """The weighed causes by the readings alone and with what was found at single places, and the ranking of these."""
    sets = (*loaded.observations, *loaded.baselines)
    bare = fault.weigh(loaded.unit, sets, progress, history=loaded.history, works=loaded.works)
    heeded = fault.heeding(bare, [f for _, f in loaded.findings])
    ranking, posterior = fault.ranking_of(heeded, loaded.complaint), fault.as_it_is(heeded)
    if levels_now(loaded):
        posterior = fault.with_levels(posterior, levels_now(loaded), loaded.complaint)
        ranking = replace(fault.ranking_of(posterior, loaded.complaint), mended=ranking.mended)
    ranking = advice_room.with_tests(loaded.unit, posterior, ranking)
    return (bare, posterior), with_broken(ranking, loaded)


def without_latest(loaded: Job, bare: Posterior, progress: Progress | None) -> Ranking | None:
    """The ranking as it stood before the latest reading or finding; None where that was the first."""
    key = latest_key(loaded)
    findings = [f for k, f in loaded.findings if k != key]
    levels = [s for s in levels_now(loaded) if s.key != key]
    before = [o for o in loaded.observations if o.key != key]
    if not before:
        return fault.rank_levels(loaded.unit, levels, loaded.history).ranking if levels else None
    if len(before) < len(loaded.observations):
        sets = (*before, *loaded.baselines)
        bare = fault.weigh(loaded.unit, sets, progress, history=loaded.history, works=loaded.works)
    heeded = fault.heeding(bare, findings)
    if not levels:
        return fault.ranking_of(heeded)
    return fault.ranking_of(fault.with_levels(fault.as_it_is(heeded), levels, loaded.complaint))


def latest_key(loaded: Job) -> str:
    """Key of the latest reading or finding that counts."""
    keys = [*(o.key for o in loaded.observations), *(k for k, _ in loaded.findings), *(s.key for s in loaded.levels)]
    return max(keys, key=lambda k: int(k[1:]))


def latest(loaded: Job) -> str:
    """What the latest reading or finding shows, as the beginning of a sentence."""
    key = latest_key(loaded)
    for k, finding in loaded.findings:
        if k == key:
            return f"{key} shows {words_of(loaded.unit, finding)}"
    if any(s.key == key for s in loaded.levels):
        return latest_figures(loaded, key)
    own = [o for o in loaded.observations if o.key == key]
    verdicts = verdict.judge(loaded.unit, own, np.random.default_rng(SEED))
    worst = max(verdicts, key=lambda v: SEVERITY[v.word])
    if worst.word is Word.WITHIN:
        return f"{key} ({worst.label}) is within what a sound unit shows"
    return f"{key} ({worst.label}) is {worst.word.value}, {worst.headline.rstrip('.')}"


def everything(job: Path, progress: Progress | None = None, arrived: Arrived | None = None) -> JobData:
    """All that a report shows; of a job without readings and answers, its head, journal and what to measure first.

    arrived : told of what there is so far: first the verdicts, then the ranking, then the next tests
    """
    with open_job(job) as file:
        loaded, book = load_job(file), notebook_of(file)
    if not loaded.observations:
        found = judged(loaded, None)
        ranking, advice = (None, advice_room.first_readings(loaded.unit, loaded.history))
        heard = with_harmonics(loaded)
        if loaded.history or loaded.levels or heard.observations:
            ranking, advice = advised(heard, 3, progress)
        return JobData(loaded, book, (), found.bands, ranking, advice, found.levels, found.spectra)
    found = judged(loaded, part_of(progress, 0.0, 0.3))
    so_far = JobData(loaded, book, found.verdicts, found.bands, None, (), found.levels, found.spectra)

    def believed(ranking: Ranking, advice: tuple[Advice, ...]) -> None:
        if arrived is not None:
            arrived(replace(so_far, ranking=ranking, advice=advice))

    if arrived is not None:
        arrived(so_far)
    ranking, advice = advised(with_harmonics(loaded), 3, part_of(progress, 0.3, 1.0), arrived=believed)
    return replace(so_far, ranking=ranking, advice=advice)


def part_of(progress: Progress | None, low: float, high: float) -> Progress | None:
    """Progress of one of several steps; None where nobody asks."""
    if progress is None:
        return None

    def told(done: float, what: str) -> None:
        progress(low + (high - low) * done, what)

    return told
