"""Cables: length, loss, impedance and damage of a piece of coax from a sweep, and what hanging pieces do in a unit."""

from halfsplit.cables.find import Way, Wish, cable_facts
from halfsplit.cables.geometry import STRANDED, impedance, velocity_factor
from halfsplit.cables.line import Line, reflection, scattering
from halfsplit.cables.records import BandEffect, CableFacts, Echo, End, Figure, LineFit, StubEffect, TableCheck
from halfsplit.cables.stubs import stub_effect, stub_effects

__all__ = [
    "STRANDED",
    "BandEffect",
    "CableFacts",
    "Echo",
    "End",
    "Figure",
    "Line",
    "LineFit",
    "StubEffect",
    "TableCheck",
    "Way",
    "Wish",
    "cable_facts",
    "impedance",
    "reflection",
    "scattering",
    "stub_effect",
    "stub_effects",
    "velocity_factor",
]
