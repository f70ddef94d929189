"""How much is not known: entropy."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Real = npt.NDArray[np.float64]


def entropy_bits(p: Real) -> Real:
    """Entropy of distributions along the last axis, in bits."""
    safe = np.clip(p, 1e-300, 1.0)
    return np.asarray(-(p * np.log2(safe)).sum(axis=-1))
