"""The signal path alone, between a transmitter and its load: no leads, no strays of a hook-up."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit.build import apply_points, known_band, walk_path
from halfsplit.circuit.builder import Builder
from halfsplit.circuit.elements import Core, Element
from halfsplit.circuit.model import Solution
from halfsplit.circuit.scene import Scene
from halfsplit.errors import ModelError
from halfsplit.hookup import Hookup
from halfsplit.network import GROUND
from halfsplit.unit import Unit

REFERENCE_ARMS = ("source resistance", "detector resistance")
"""The two arms of such a scene that are no part of the unit: its reference resistances."""


def build_path(unit: Unit, band: str) -> Scene:
    """The scene of the whole path on one band, from its first point to its last, a resistance at each end.

    The resistances are the unit's impedance, right at the points: what the path does between any other source and
    load follows from this one by the algebra of waves.
    raises HookupError for a band that is not there, ModelError for a path of a single point
    """
    found = known_band(unit, band)
    first, last = unit.path.points[0], unit.path.points[-1]
    if first == last:
        raise ModelError(f"the path has one point only ({first}): name the first and the last of it under points")
    builder = Builder(unit, Hookup(band, first, last, unit.impedance, unit.impedance))
    walk_path(builder, found)
    apply_points(builder)
    nodes, arms = [], []
    for name, point in zip(REFERENCE_ARMS, (first, last), strict=True):
        element = builder.element(Element(name, Core.RESISTOR, unit.impedance))
        nodes.append(builder.names[point])
        arms.append(builder.arm(name, builder.names[point], GROUND, (element,)))
    return builder.scene((nodes[0], nodes[1], arms[0], arms[1]), found.filter)


def path_s(solution: Solution) -> npt.NDArray[Any]:
    """Scattering parameters of a path built so, between its own reference resistances. returns (2, 2, K, F)"""
    scene = solution.model.scene
    assert scene.detector is not None
    into = solution.into
    z = np.array([[into[j][node] for j in (0, 1)] for node in (scene.source, scene.detector)])
    return np.asarray(2.0 * z / scene.z0 - np.eye(2)[:, :, None, None])
