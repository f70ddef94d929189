"""Coax by its dimensions: impedance and velocity factor of a line of round conductors with a dielectric between.

source: any text on lines, e.g. Pozar, Microwave Engineering, table 2.1: Z0 = sqrt(mu/epsilon)/(2 pi) ln(D/d)
"""

from __future__ import annotations

import math

VACUUM_OHM = 376.730313668
"""Impedance of free space, ohm. source: CODATA 2018"""
STRANDED = 0.94
"""Effective over drawn diameter of an inner conductor of seven strands. From memory, common practice."""


def velocity_factor(permittivity: float) -> float:
    """Velocity over that of light in a dielectric: 1/sqrt(permittivity), which is 1 or more. raises ValueError"""
    if not permittivity >= 1:
        raise ValueError(f"a relative permittivity is 1 or more, not {permittivity:g}")
    return 1.0 / math.sqrt(permittivity)


def impedance(outer: float, inner: float, permittivity: float) -> float:
    """Impedance of a coax, ohm.

    outer : inside diameter of the shield; inner : that of the inner conductor (strands: times STRANDED), same unit
    raises ValueError where inner is not below outer
    """
    if not 0 < inner < outer:
        raise ValueError(f"the inner conductor ({inner:g}) lies within the shield ({outer:g})")
    return VACUUM_OHM / (2.0 * math.pi) * velocity_factor(permittivity) * math.log(outer / inner)
