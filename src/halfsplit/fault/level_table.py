"""The table of causes that watts, amps and volts can tell of."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt

from halfsplit.expect.normal import below, quantile

Real = npt.NDArray[np.float64]

NODES = 7


@dataclass(frozen=True, slots=True)
class CauseRow:
    """One way of failing. kind : of answers.toml; of : "stage", "final", "unit"; band : on each single band

    typical, spread, least : size, 1 sigma of its ln, what is no fault yet
    """

    kind: str
    mode: str
    of: str
    band: bool
    weight: float
    typical: float
    spread: float
    least: float
    source: str

    def sizes(self) -> Real:
        """Sizes of equal chance, the largest of them not below what is a fault. (n,)"""
        if self.spread <= 0.0:
            return np.array([self.typical])
        low = float(below((np.log(self.least) - np.log(self.typical)) / self.spread))
        shares = low + (np.arange(NODES) + 0.5) / NODES * (1.0 - low)
        return np.asarray(self.typical * np.exp(self.spread * quantile(shares)))


@dataclass(frozen=True, slots=True)
class LevelTable:
    """All rows and figures."""

    rows: tuple[CauseRow, ...]
    figures: Mapping[str, float]
    sources: tuple[str, ...]


@cache
def level_table() -> LevelTable:
    """The table of the package, each row with its source."""
    found = tomllib.loads(files("halfsplit.fault").joinpath("levels.toml").read_text(encoding="utf-8"))
    rows = tuple(CauseRow(**row) for row in found["cause"])
    sources = tuple(str(x["source"]) for key in ("cause", "figure") for x in found[key])
    return LevelTable(rows, {f["name"]: float(f["value"]) for f in found["figure"]}, sources)
