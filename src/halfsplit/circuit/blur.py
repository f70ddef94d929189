"""What the resonances of idle filters may do to a reading: where they lie is known far worse than how sharp they are.

Behind an open contact of a picofarad or two a filter rings at frequencies that its parts' spread moves by many times
its bandwidth. Which points of a sweep it spoils is therefore open; how much it can spoil them is not.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit.idle import SPREAD
from halfsplit.circuit.model import Solution
from halfsplit.network import GROUND

Complex = npt.NDArray[Any]
Real = npt.NDArray[np.float64]

SHIFTS = np.linspace(-1.25 * SPREAD, 1.25 * SPREAD, 21)
NAME = "idle filters"


def blurred(solution: Solution) -> Complex | None:
    """Transfer impedances of a solved scene with the idle filters' resonances moved by SHIFTS in ln f.

    solution : of one case
    returns (n_port, n_port, n_shift, F) ohm, entry [to, from] over the ports source and detector; None without idle
    filters
    """
    model = solution.model
    piece = next((p for p in model.scene.pieces if p.name == NAME), None)
    if piece is None or piece.y is None:
        return None
    grid, table = np.asarray(piece.f), np.asarray(piece.y)
    f = np.clip(model.f[None, :] * np.exp(SHIFTS[:, None]), grid[0], grid[-1])
    moved = np.array([[np.interp(f, grid, table[:, i, j]) for j in range(2)] for i in range(2)])
    dy = moved - model.block(NAME)[:, :, None, :]
    ends = [piece.a, piece.b]
    z = np.array([c[ends] for c in solution.factored.columns([(e, GROUND) for e in ends])])[:, :, 0].swapaxes(0, 1)
    into = np.array([column[ends] for column in solution.into])[:, :, 0]
    out = np.array([row[ends] for row in solution.out])[:, :, 0]
    middle = np.moveaxis(np.einsum("ijkf,jlf->ilkf", dy, z), (0, 1), (2, 3)) + np.eye(2)
    core = np.linalg.solve(middle, np.moveaxis(dy, (0, 1), (2, 3)))
    lost = np.einsum("tif,kfij,sjf->tskf", out, core, into)
    ports = [model.scene.source, *([] if model.scene.detector is None else [model.scene.detector])]
    whole = np.array([[row[p][0] for p in ports] for row in solution.out])
    return np.asarray(whole[:, :, None, :] - lost)


def transmissions(solution: Solution, z: Complex) -> Complex:
    """Through responses that belong to what `blurred` returns, (n_shift, F)."""
    scene = solution.model.scene
    assert scene.detector_arm is not None
    c = 1.0 / solution.loaded(scene.source_arm) + 1.0 / solution.loaded(scene.detector_arm)
    return np.asarray(z[1, 0] * c)


def reflections(solution: Solution, z: Complex, *, at_detector: bool) -> Complex:
    """Reflection coefficients that belong to what `blurred` returns, (n_shift, F)."""
    scene, port = solution.model.scene, 1 if at_detector else 0
    arm = scene.detector_arm if at_detector else scene.source_arm
    assert arm is not None
    y = (1.0 / z[port, port] - 1.0 / solution.loaded(arm)) * scene.z0
    return np.asarray((1.0 - y) / (1.0 + y))
