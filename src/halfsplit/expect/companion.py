"""A fault that all cases of a bench have besides their own, its size one more nuisance: how two faults are fitted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import Alteration, Beside, Change
from halfsplit.hookup import Hookup

if TYPE_CHECKING:
    from halfsplit.expect.bench import Setup

Real = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Companion:
    """A fault taken for granted.

    change : what differs; only : the hook-up to which it is confined; life : the states of the unit, None: all
    key : index of its size among the bench's nuisances, -1 where it has none
    middle, width : the prior of ln size is normal; low, high : bounds of the size in prior units
    """

    change: Change
    only: Hookup | None
    key: int
    middle: float
    width: float
    low: float
    high: float
    life: frozenset[int] | None = None

    def at(self, setup: Setup) -> Alteration | None:
        """Where it acts in a setup; None where it does not."""
        if setup.baseline or (self.only is not None and self.only != setup.hookup):
            return None
        if self.life is not None and setup.state not in self.life:
            return None
        return setup.model.resolve(self.change)

    def sizes(self, theta: Real) -> tuple[Real, Real]:
        """Sizes in SI units and their slopes d ln size / d theta, each (K,). theta : (K, P)."""
        if self.key < 0:
            return np.ones(len(theta)), np.zeros(len(theta))
        x = theta[:, self.key]
        inside = (x >= self.low) & (x <= self.high)
        return np.exp(self.middle + self.width * np.clip(x, self.low, self.high)), np.where(inside, self.width, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class AtWork:
    """A companion in one setup at K vectors of nuisances. place : of its size among the setup's local nuisances, -1
    where it has none; slope : (K, 1) d ln size / d theta."""

    beside: Beside
    place: int
    slope: Real


def at_work(companion: Companion, setup: Setup, theta: Real) -> AtWork | None:
    """The companion as a setup feels it; None where it does not."""
    if setup.beside is None:
        return None
    sizes, slope = companion.sizes(theta)
    place = int(np.searchsorted(setup.local, companion.key)) if companion.key >= 0 else -1
    return AtWork(Beside(setup.beside, sizes), place, slope[:, None])
