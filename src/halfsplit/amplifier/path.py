"""What the path presents to the final stage at one frequency, and what it lets through."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import Alteration, Model

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]


@dataclass(frozen=True, slots=True, eq=False)
class Presented:
    """A path at the one frequency of its model, for K cases, from the final stage's output to where the load sits.

    s : (K, 2, 2) scattering parameters referred to `ohm`; nodes : by point, (K, 2): volts there for the volts at the
    two ends
    """

    s: Complex
    nodes: dict[str, Complex]
    ohm: float


def presented(
    model: Model, theta: Real, ohm: float, changes: Sequence[tuple[Alteration, float] | None] | None = None
) -> Presented:
    """Solve a path.

    model : of a scene driven at the final stage's output, its detector where the load sits, at one frequency
    theta : (K, P) nuisances; ohm : reference; changes : K changes or None
    raises ModelError where a case has no answer
    """
    solution = model.solve(theta, changes)
    scene = model.scene
    assert scene.detector is not None
    assert scene.detector_arm is not None
    ends = (scene.source, scene.detector)
    z = np.array([[solution.into[j][i][:, 0] for j in (0, 1)] for i in ends]).transpose(2, 0, 1)
    loaded = np.linalg.inv(z)
    y = loaded.copy()
    y[:, 0, 0] -= 1.0 / solution.loaded(scene.source_arm)[:, 0]
    y[:, 1, 1] -= 1.0 / solution.loaded(scene.detector_arm)[:, 0]
    one = np.eye(2)
    s = (one - ohm * y) @ np.linalg.inv(one + ohm * y)
    nodes = {}
    for name, node in scene.names.items():
        row = np.array([solution.into[j][node][:, 0] for j in (0, 1)]).T
        nodes[name] = np.einsum("ki,kij->kj", row, loaded)
    return Presented(s, nodes, ohm)


def into(s: Complex, load: Complex) -> Complex:
    """Reflection at the input of two-ports. s : (..., 2, 2); load : (...,) reflection of what hangs behind"""
    return np.asarray(s[..., 0, 0] + s[..., 0, 1] * s[..., 1, 0] * load / (1.0 - s[..., 1, 1] * load))


def transfer(s: Complex, load: Complex) -> Real:
    """Power in the load over power into two-ports, (...,). s : (..., 2, 2); load : (...,) reflection of the load

    source: operating power gain, e.g. Pozar, Microwave Engineering, section 12.1
    """
    taken = np.maximum(1.0 - np.abs(into(s, load)) ** 2, 1e-9)
    out = np.abs(s[..., 1, 0]) ** 2 * (1.0 - np.abs(load) ** 2) / np.abs(1.0 - s[..., 1, 1] * load) ** 2
    return np.asarray(np.clip(out / taken, 1e-12, 1.0))


def end_volts(s: Complex, load: Complex) -> Complex:
    """Volts at the far end for 1 V at the near end, (...,)."""
    wave = s[..., 1, 0] / (1.0 - s[..., 1, 1] * load)
    return np.asarray(wave * (1.0 + load) / (1.0 + into(s, load)))


def impedance(gamma: Complex, ohm: float) -> Complex:
    """Impedance of a reflection factor, ohm."""
    return np.asarray(ohm * (1.0 + gamma) / np.where(np.abs(1.0 - gamma) < 1e-9, 1e-9, 1.0 - gamma))
