"""The path behind the final stage in every look at the meters: as drawn, changed, and as far as it strays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.amplifier import Presented, Spot, presented
from halfsplit.circuit import Change, Model, Scene, build
from halfsplit.hookup import Hookup
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]

STEP = 0.2
MOST_WAYS = 10
LEAST_WAY = 0.003
THROUGH = np.array([[0.0, 1.0], [1.0, 0.0]], complex)


@dataclass(frozen=True, slots=True, eq=False)
class LookPath:
    """The path in one look. model : None where the load sits right at the final stage, or before it."""

    spot: Spot
    hookup: Hookup
    model: Model | None

    @property
    def scene(self) -> Scene | None:
        """The scene, where there is a path."""
        return None if self.model is None else self.model.scene

    def theta(self, known: Mapping[str, float]) -> Real:
        """Nuisances of this path, (1, P). known : by name, the others typical"""
        assert self.model is not None
        return np.array([[known.get(k, 0.0) for k in self.model.keys]])

    def solved(
        self, ohm: float, known: Mapping[str, float], change: Change | None = None, sizes: Real | None = None
    ) -> Presented | None:
        """The path with a change at several sizes; None where it has no such place, or there is no path."""
        if self.model is None:
            return None
        theta = self.theta(known)
        if change is None or sizes is None:
            return presented(self.model, theta, ohm)
        at = self.model.resolve(change)
        if at is None:
            return None
        return presented(self.model, np.repeat(theta, len(sizes), axis=0), ohm, [(at, float(x)) for x in sizes])


def look_path(unit: Unit, spot: Spot, hookup: Hookup, *, through: bool) -> LookPath:
    """The path of a look. through : True where no path lies between the final stage and the load

    raises HookupError, ModelError
    """
    model = None if through else Model(build(unit, hookup), np.array([spot.f]))
    return LookPath(spot, hookup, model)


@dataclass(frozen=True, slots=True, eq=False)
class Straying:
    """How the paths of all looks stray together. ways : (r, B, 2, 2) of s for 1 sigma each."""

    ways: Complex


def straying(
    paths: Sequence[LookPath],
    ohm: float,
    known: Mapping[str, float],
    keys: Sequence[str] = (),
    spread: Real | None = None,
) -> Straying:
    """The few independent ways in which nuisances move the paths.

    known : nuisances by name; keys, spread : those of which more is known than their prior, and their covariance
    """
    names: dict[str, int] = {k: i for i, k in enumerate(keys)}
    blocks: list[dict[str, Complex]] = []
    for path in paths:
        if path.model is None:
            blocks.append({})
            continue
        base = path.theta(known)
        theta = np.vstack([base, base + STEP * np.eye(base.shape[1])])
        s = presented(path.model, theta, ohm).s
        blocks.append({k: (s[i + 1] - s[0]) / STEP for i, k in enumerate(path.model.keys)})
        for k in path.model.keys:
            names.setdefault(k, len(names))
    slope = np.zeros((len(names), len(paths), 2, 2), complex)
    for b, block in enumerate(blocks):
        for k, ds in block.items():
            slope[names[k], b] = ds
    if spread is not None and len(keys):
        root = np.linalg.cholesky(spread + 1e-12 * np.eye(len(keys)))
        slope[: len(keys)] = np.einsum("ij,ibkl->jbkl", root, slope[: len(keys)])
    return Straying(principal(slope))


def principal(slope: Complex) -> Complex:
    """The strongest independent ways of what many nuisances do. slope : (n, B, 2, 2) for 1 sigma each."""
    if not slope.size:
        return np.zeros((0, *slope.shape[1:]), complex)
    flat = np.concatenate([slope.real, slope.imag], axis=-1).reshape(len(slope), -1)
    _, size, ways = np.linalg.svd(flat, full_matrices=False)
    keep = [i for i in range(len(size)) if size[i] > LEAST_WAY][:MOST_WAYS]
    out = (size[keep, None] * ways[keep]).reshape(len(keep), slope.shape[1], 2, 4)
    return np.asarray(out[..., :2] + 1j * out[..., 2:])
