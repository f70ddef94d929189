"""Decibels, standing waves and levels.

Formulas: IEC 60027-3:2002 (decibel); Pozar, Microwave Engineering, section 2.3 (return loss, SWR).
"""

from __future__ import annotations

import math
from typing import Any, overload

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


@overload
def db20(ratio: float | complex) -> float: ...
@overload
def db20(ratio: npt.NDArray[Any]) -> Array: ...
def db20(ratio: float | complex | npt.NDArray[Any]) -> float | Array:
    """20 log10 |ratio| in dB, for voltage ratios and S-parameters; zero gives -inf."""
    with np.errstate(divide="ignore"):
        out = 20 * np.log10(np.abs(ratio))
    return out if isinstance(ratio, np.ndarray) else float(out)


@overload
def db10(ratio: float) -> float: ...
@overload
def db10(ratio: Array) -> Array: ...
def db10(ratio: float | Array) -> float | Array:
    """10 log10 ratio in dB, for power ratios; zero gives -inf. raises ValueError below zero."""
    if np.any(np.asarray(ratio) < 0):
        raise ValueError("a power ratio cannot be below zero")
    with np.errstate(divide="ignore"):
        out = 10 * np.log10(ratio)
    return out if isinstance(ratio, np.ndarray) else float(out)


@overload
def from_db20(db: float) -> float: ...
@overload
def from_db20(db: Array) -> Array: ...
def from_db20(db: float | Array) -> float | Array:
    """The voltage ratio that `db` stands for."""
    return 10 ** (db / 20)


@overload
def from_db10(db: float) -> float: ...
@overload
def from_db10(db: Array) -> Array: ...
def from_db10(db: float | Array) -> float | Array:
    """The power ratio that `db` stands for."""
    return 10 ** (db / 10)


def gamma_from_swr(swr: float) -> float:
    """|Gamma| (1) from the standing wave ratio (1, at least 1; inf gives 1). raises ValueError below 1."""
    if not swr >= 1:
        raise ValueError(f"a standing wave ratio is 1 or more, not {swr}")
    return 1.0 if math.isinf(swr) else (swr - 1) / (swr + 1)


def swr_from_gamma(gamma: float) -> float:
    """Standing wave ratio (1) from |Gamma| (0 to 1; 1 gives inf). raises ValueError outside."""
    if not 0 <= gamma <= 1:
        raise ValueError(f"a passive reflection factor lies between 0 and 1, not {gamma}")
    return math.inf if gamma == 1 else (1 + gamma) / (1 - gamma)


def return_loss_from_gamma(gamma: float) -> float:
    """Return loss in dB, positive for |Gamma| below 1; zero gives inf. raises ValueError below zero."""
    if not gamma >= 0:
        raise ValueError(f"the magnitude of a reflection factor is not below zero: {gamma}")
    return 0.0 - db20(gamma)


def gamma_from_return_loss(loss_db: float) -> float:
    """|Gamma| (1) from the return loss in dB (positive: less comes back)."""
    return float(10 ** (-loss_db / 20))


def return_loss_from_swr(swr: float) -> float:
    """Return loss in dB from the standing wave ratio. raises ValueError below 1."""
    return return_loss_from_gamma(gamma_from_swr(swr))


def swr_from_return_loss(loss_db: float) -> float:
    """Standing wave ratio from the return loss in dB (zero or more). raises ValueError below zero."""
    return swr_from_gamma(gamma_from_return_loss(loss_db))


def dbm_from_watt(watt: float) -> float:
    """Level in dBm of a power in W; zero gives -inf. raises ValueError below zero."""
    return db10(watt) + 30.0


def watt_from_dbm(dbm: float) -> float:
    """Power in W of a level in dBm."""
    return float(10 ** ((dbm - 30) / 10))


def volt_from_dbm(dbm: float, ohm: float = 50.0) -> float:
    """Effective (rms) volts of a level in dBm across `ohm`."""
    return math.sqrt(watt_from_dbm(dbm) * ohm)


def dbm_from_volt(volt: float, ohm: float = 50.0) -> float:
    """Level in dBm of effective (rms) volts across `ohm`; zero gives -inf."""
    return dbm_from_watt(volt * volt / ohm)
