"""How the value of a part may lie: the distributions that tolerances and fault ranges are printed as."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
import numpy.typing as npt

Real = npt.NDArray[np.float64]
LN2PI = float(np.log(2.0 * np.pi))


class Shape(StrEnum):
    """Kinds of distribution of a value."""

    NORMAL = "normal"
    UNIFORM = "uniform"
    LOG_UNIFORM = "log-uniform"
    FIXED = "fixed"


@dataclass(frozen=True, slots=True)
class Spread:
    """A distribution of a value (SI units).

    a, b : mean and standard deviation (normal), lowest and highest (uniform, log-uniform), the value twice (fixed)
    The coordinate t used below is (ln value - middle) / width: about a unit of spread.
    raises ValueError for bounds that are not positive and rising, and for a normal spread of more than a sixth of its
    mean (it would reach zero)
    """

    shape: Shape
    a: float
    b: float

    def __post_init__(self) -> None:
        if self.shape is Shape.NORMAL:
            sane = self.a > 0 and 0 < self.b <= self.a / 6.0
        elif self.shape is Shape.FIXED:
            sane = self.a == self.b > 0
        else:
            sane = 0 < self.a < self.b
        if not sane:
            raise ValueError(f"no {self.shape} spread has {self.a:g} and {self.b:g}")

    @property
    def boxed(self) -> bool:
        """True where the value has hard limits."""
        return self.shape in (Shape.UNIFORM, Shape.LOG_UNIFORM)

    @property
    def middle(self) -> float:
        """ln of the middle value."""
        return float(0.5 * (np.log(self.a) + np.log(self.b)) if self.boxed else np.log(self.a))

    @property
    def width(self) -> float:
        """Standard deviation of ln value, roughly; 0 where fixed."""
        if self.boxed:
            return float(np.log(self.b / self.a) / 12.0**0.5)
        return self.b / self.a if self.shape is Shape.NORMAL else 0.0

    @property
    def limits(self) -> tuple[float, float]:
        """Limits of t."""
        if not self.boxed:
            return -np.inf, np.inf
        return (float(np.log(self.a)) - self.middle) / self.width, (float(np.log(self.b)) - self.middle) / self.width

    def log_density(self, t: npt.NDArray[Any]) -> Real:
        """ln of the density over t, inside the limits. t : any shape. returns the same shape."""
        if self.shape is Shape.FIXED:  # t moves nothing: any proper density will do
            return np.asarray(-0.5 * (t * t + LN2PI))
        if self.shape is Shape.LOG_UNIFORM:
            return np.full(t.shape, -0.5 * float(np.log(12.0)))
        log_value = self.middle + self.width * t
        if self.shape is Shape.UNIFORM:
            return np.asarray(log_value + np.log(self.width / (self.b - self.a)))
        z = (np.exp(log_value) - self.a) / self.b
        return np.asarray(-0.5 * (z * z + LN2PI) + log_value + np.log(self.width / self.b))
