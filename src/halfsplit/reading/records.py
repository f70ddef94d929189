"""What stood on the display."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class What(StrEnum):
    """The quantity of a trace."""

    S21 = "s21"
    S11 = "s11"
    S12 = "s12"
    S22 = "s22"
    LEVEL = "level"
    IMPEDANCE = "impedance"


@dataclass(frozen=True, slots=True)
class Trace:
    """One quantity over frequency, sorted, without duplicates.

    f : Hz, strictly rising
    db : dB (S-parameters: 20 log10 |S|, so |S11| of a good load is negative) or dBm for LEVEL; ohm magnitude for
         IMPEDANCE
    degrees : phase, or () where the file had none
    sigma_db : stated uncertainty (1 sigma) per point, or ()
    at_least : True where the instrument only showed that the value is at or below `db` (its floor), or ()
    resolution_db : step of the read-out, None where not known
    z0 : ohm, the reference of the S-parameter (traces are given renormalised to 50 ohm where phase allows)
    independent : False for a mirrored or zero reverse column
    """

    what: What
    f: tuple[float, ...]
    db: tuple[float, ...]
    degrees: tuple[float, ...] = ()
    sigma_db: tuple[float, ...] = ()
    at_least: tuple[bool, ...] = ()
    resolution_db: float | None = None
    z0: float = 50.0
    independent: bool = True


@dataclass(frozen=True, slots=True)
class Question:
    """What the reader could not decide alone: the question, and what it assumed meanwhile."""

    about: str
    text: str
    assumed: str


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading as it came in.

    name : file name or "typed"
    original : the bytes as they came
    understood : one line that says what was understood
    warnings : sentences, one each; asks : open questions with the assumption made
    """

    name: str
    original: bytes
    traces: tuple[Trace, ...]
    understood: str
    warnings: tuple[str, ...] = ()
    asks: tuple[Question, ...] = ()
