"""The bridge between names and numbers: unit, hook-up and band become a network and its answers."""

from halfsplit.circuit import spread
from halfsplit.circuit.alone import REFERENCE_ARMS, build_path, path_s
from halfsplit.circuit.alter import Alteration, Beside
from halfsplit.circuit.build import build, known_band
from halfsplit.circuit.elements import Core
from halfsplit.circuit.ladder import drawn_admittance, ladder_response
from halfsplit.circuit.lumped import EARTH, Lumped, LumpedModel, LumpedPart, Observed, OpAmp
from halfsplit.circuit.model import Model, Solution
from halfsplit.circuit.points import points_of
from halfsplit.circuit.scene import Arm, Change, How, Param, Scene
from halfsplit.circuit.whatif import WhatIf

__all__ = [
    "EARTH",
    "REFERENCE_ARMS",
    "Alteration",
    "Arm",
    "Beside",
    "Change",
    "Core",
    "How",
    "Lumped",
    "LumpedModel",
    "LumpedPart",
    "Model",
    "Observed",
    "OpAmp",
    "Param",
    "Scene",
    "Solution",
    "WhatIf",
    "build",
    "build_path",
    "drawn_admittance",
    "known_band",
    "ladder_response",
    "path_s",
    "points_of",
    "spread",
]
