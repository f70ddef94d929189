"""What the alignment says, as records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Standing = Literal["met", "adjust", "cannot decide", "out of reach"]


@dataclass(frozen=True, slots=True)
class PartNow:
    """One adjustable part as the sweeps have it.

    drawn, now, sigma, wanted : SI; sigma is 1 standard deviation of `now`; wanted : after the whole plan, None where
    it stays as it is
    """

    ref: str
    drawn: float
    now: float
    sigma: float
    wanted: float | None
    coil: bool


@dataclass(frozen=True, slots=True)
class Fitted:
    """One part that is not adjusted, as the sweeps have it: drawn, now and its 1 sigma, SI."""

    ref: str
    drawn: float
    now: float
    sigma: float
    coil: bool


@dataclass(frozen=True, slots=True)
class Move:
    """One adjustment, to be followed by a sweep.

    change : wanted / now - 1; low, high : its 90 % range; value_now, value_then : SI
    watch : (Hz, dB now, dB then) where the sweep moves most while it is done, and `watched`, what it is
    met : chance that all limits are met after this move alone
    """

    ref: str
    coil: bool
    change: float
    low: float
    high: float
    value_now: float
    value_then: float
    watch: tuple[float, float, float]
    watched: Literal["s21", "s11"]
    met: float


@dataclass(frozen=True, slots=True)
class Requirement:
    """One limit of the band and how the filter stands against it.

    what : "loss", "return loss", "attenuation"; times : multiple of the band, 1 in the band; limit, now, low, high :
    dB, `low` and `high` the 90 % range of what it is now; stated : True where the unit file gives the limit
    then : dB after the whole plan
    """

    what: str
    times: float
    limit: float
    now: float
    low: float
    high: float
    then: float
    stated: bool


@dataclass(frozen=True, slots=True)
class Prediction:
    """A sweep as read, and as the fitted parts make it. f : Hz; measured, fitted : dB; rms_db : over the points."""

    label: str
    f: tuple[float, ...]
    measured: tuple[float, ...]
    fitted: tuple[float, ...]
    rms_db: float


@dataclass(frozen=True, slots=True)
class Alignment:
    """How to bring a filter back.

    standing : "met", "adjust", "cannot decide", "out of reach"
    parts : adjustable parts; fixed : the others of the filter; plan : moves in order, the first to be made now
    rivals : other sets of part values that explain the sweeps nearly as well: (probability, ((ref, value), ...))
    met_now, met_then : chance that all limits are met now, and after the whole plan
    why : one sentence on the standing; notes : what was assumed
    """

    band: str
    filter: str
    standing: Standing
    sweeps: tuple[str, ...]
    parts: tuple[PartNow, ...]
    fixed: tuple[Fitted, ...]
    plan: tuple[Move, ...]
    requirements: tuple[Requirement, ...]
    predictions: tuple[Prediction, ...]
    rivals: tuple[tuple[float, tuple[tuple[str, float], ...]], ...]
    met_now: float
    met_then: float
    why: str
    notes: tuple[str, ...]
