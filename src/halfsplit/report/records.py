"""What a bench sheet is made of: the shape that any caller's records must have."""

from __future__ import annotations

from typing import Protocol

from halfsplit.advise import Advice
from halfsplit.emission import NamedSpectrum
from halfsplit.expect import Observation
from halfsplit.fault import Ranking
from halfsplit.journal import Act, StoredPhoto, StoredReading, StoredWork
from halfsplit.unit import Unit
from halfsplit.verdict import BandVerdict, EmissionVerdict, HarmonicVerdict, LevelVerdict, Verdict


class SheetJob(Protocol):
    """The job with its unit read. broken : (key, why) of readings that this version cannot use."""

    @property
    def unit(self) -> Unit: ...

    @property
    def observations(self) -> tuple[Observation, ...]: ...

    @property
    def broken(self) -> tuple[tuple[str, str], ...]: ...


class SheetNotebook(Protocol):
    """The journal. unit_hash : SHA-256 of the unit file as read; hookups : (key, in words)."""

    @property
    def name(self) -> str: ...

    @property
    def complaint(self) -> str: ...

    @property
    def unit_source(self) -> str: ...

    @property
    def unit_hash(self) -> str: ...

    @property
    def made_by(self) -> str: ...

    @property
    def readings(self) -> tuple[StoredReading, ...]: ...

    @property
    def hookups(self) -> tuple[tuple[str, str], ...]: ...

    @property
    def acts(self) -> tuple[Act, ...]: ...

    @property
    def work(self) -> tuple[StoredWork, ...]: ...

    @property
    def photos(self) -> tuple[StoredPhoto, ...]: ...


class SheetSpectra(Protocol):
    """All spectra, named together, with their verdicts. says : sentences"""

    @property
    def named(self) -> tuple[NamedSpectrum, ...]: ...

    @property
    def limits(self) -> tuple[EmissionVerdict, ...]: ...

    @property
    def harmonics(self) -> tuple[HarmonicVerdict, ...]: ...

    @property
    def says(self) -> tuple[str, ...]: ...


class SheetData(Protocol):
    """All that a bench sheet shows. ranking : None where no reading counts."""

    @property
    def job(self) -> SheetJob: ...

    @property
    def notebook(self) -> SheetNotebook: ...

    @property
    def verdicts(self) -> tuple[Verdict, ...]: ...

    @property
    def bands(self) -> tuple[BandVerdict, ...]: ...

    @property
    def ranking(self) -> Ranking | None: ...

    @property
    def advice(self) -> tuple[Advice, ...]: ...

    @property
    def spectra(self) -> SheetSpectra | None: ...

    @property
    def levels(self) -> tuple[LevelVerdict, ...]: ...
