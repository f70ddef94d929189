"""What a verdict says, as records."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from halfsplit.reading import What

Real = npt.NDArray[np.float64]


class Word(StrEnum):
    """The four verdicts."""

    WITHIN = "within"
    DOUBTFUL = "doubtful"
    OUTSIDE = "outside"
    CANNOT_TELL = "cannot tell"


SEVERITY = {Word.OUTSIDE: 3, Word.DOUBTFUL: 2, Word.CANNOT_TELL: 1, Word.WITHIN: 0}


@dataclass(frozen=True, slots=True)
class Check:
    """One comparison. read, expected, low, high : in `unit`; None where there is none

    margin_db, margin_sigma : distance inside (positive) or outside (negative) of what a sound unit shows
    at_hz : where; loudness : sorts the lines, the loudest first
    """

    name: str
    word: Word
    text: str
    read: float | None = None
    expected: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str = "dB"
    margin_db: float | None = None
    margin_sigma: float | None = None
    at_hz: float | None = None
    loudness: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Verdict:
    """One reading against its expectation. Arrays (n,): dB for S21, |Gamma| for S11 and S22.

    deviation : read minus expected; deviation_sigma : the same in units of its tolerance on that side
    """

    key: str
    label: str
    band: str
    what: What
    word: Word
    headline: str
    checks: tuple[Check, ...]
    f: Real
    read: Real
    expected: Real
    low: Real
    high: Real
    deviation: Real
    deviation_sigma: Real


@dataclass(frozen=True, slots=True)
class BandVerdict:
    """The worst verdict of a band and the line that says why."""

    band: str
    word: Word
    headline: str
    readings: tuple[str, ...]
