"""The table of causes that watts, amps and volts can tell of."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt

Real = npt.NDArray[np.float64]

NODES = 9
FARTHEST = 2.5
"""How far out in its prior a size is tried, sigma."""


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

    def sizes(self) -> tuple[Real, Real]:
        """Sizes to be tried, none below what is a fault, and ln of the chance of each. (n,), (n,)"""
        if self.spread <= 0.0:
            return np.array([self.typical]), np.zeros(1)
        low = (np.log(self.least) - np.log(self.typical)) / self.spread
        z = np.linspace(low, max(FARTHEST, low + 1.0), NODES)
        density = np.exp(-0.5 * z**2)
        return np.asarray(self.typical * np.exp(self.spread * z)), np.log(density / density.sum())


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
