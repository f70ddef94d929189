"""What the verbs hand back."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from halfsplit.advise import Advice
from halfsplit.emission import Spectrum
from halfsplit.errors import Mistake
from halfsplit.expect import LevelSet, Observation
from halfsplit.fault import Finding, Ranking, Work
from halfsplit.history import History
from halfsplit.journal import Act, StoredAnswer, StoredPhoto, StoredReading, StoredWork
from halfsplit.reading import Reading
from halfsplit.unit import Unit
from halfsplit.verdict import BandVerdict, LevelVerdict, Verdict

if TYPE_CHECKING:
    from halfsplit.filters import FilterFacts
    from halfsplit.jobs.spectra import Spectra


@dataclass(frozen=True, slots=True)
class Checked:
    """What `check` found. unit, facts : only where there is no mistake."""

    source: str
    unit: Unit | None
    mistakes: tuple[Mistake, ...]
    warnings: tuple[str, ...]
    facts: tuple[FilterFacts, ...]


@dataclass(frozen=True, slots=True)
class Added:
    """A reading as it was kept.

    labels : what it is used as; same_as : readings that count already with the same bytes and hook-up
    """

    key: str
    reading: Reading
    hookup_text: str
    labels: tuple[str, ...]
    same_as: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Job:
    """A job with its unit read and its readings understood again.

    observations : of the readings that count; broken : (key, why) of those that this version cannot use
    history : what was told of complaint and history, without what was withdrawn
    findings : (key, result) of tests at single places that count
    baselines : of readings of a sound unit; levels : watts, amps and volts that count; spectra : that count
    works : what was done to the unit and counts, in order; read_in : (key, state) of every reading that counts
    """

    name: str
    complaint: str
    unit: Unit
    readings: tuple[StoredReading, ...]
    observations: tuple[Observation, ...]
    broken: tuple[tuple[str, str], ...]
    history: History = field(default_factory=History)
    findings: tuple[tuple[str, Finding], ...] = ()
    baselines: tuple[Observation, ...] = ()
    levels: tuple[LevelSet, ...] = ()
    spectra: tuple[Spectrum, ...] = ()
    works: tuple[Work, ...] = ()
    read_in: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Notebook:
    """The journal of a job, and the head of it."""

    name: str
    complaint: str
    unit_source: str
    unit_hash: str
    made_by: str
    readings: tuple[StoredReading, ...]
    hookups: tuple[tuple[str, str], ...]
    acts: tuple[Act, ...]
    answers: tuple[StoredAnswer, ...] = ()
    work: tuple[StoredWork, ...] = ()
    photos: tuple[StoredPhoto, ...] = ()


@dataclass(frozen=True, slots=True)
class Judged:
    """Every reading against what a sound unit would show.

    unmeasured : bands of the unit without a reading that counts; warnings : readings that do not count, and why
    levels : watts, amps and volts against what a sound transmitter would show; spectra : named, or None
    """

    verdicts: tuple[Verdict, ...]
    bands: tuple[BandVerdict, ...]
    unmeasured: tuple[str, ...]
    warnings: tuple[str, ...]
    levels: tuple[LevelVerdict, ...] = ()
    spectra: Spectra | None = None


@dataclass(frozen=True, slots=True)
class JobData:
    """All that a report shows."""

    job: Job
    notebook: Notebook
    verdicts: tuple[Verdict, ...]
    bands: tuple[BandVerdict, ...]
    ranking: Ranking | None
    advice: tuple[Advice, ...]
    levels: tuple[LevelVerdict, ...] = ()
    spectra: Spectra | None = None
