"""Two-terminal elements: impedance over frequency, and how it moves with each of its fields.

Fields are held as natural logarithms, in one array for all elements of a scene:
VALUE (F, H, ohm), Q, LEAD (H in series), ACROSS (F in parallel).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Any

import numpy as np
import numpy.typing as npt

Complex = npt.NDArray[Any]
Real = npt.NDArray[np.float64]


class Core(IntEnum):
    """What the element is at heart."""

    CAPACITOR = 0
    COIL = 1
    RESISTOR = 2


class Field(IntEnum):
    """The fields of an element; all but VALUE may be absent."""

    VALUE = 0
    Q = 1
    LEAD = 2
    ACROSS = 3


@dataclass(frozen=True, slots=True)
class Element:
    """One element of a scene.

    place : what the technician calls it ("C22", "C22 ground joint", "K12 contact")
    fields : value, Q, lead inductance (H), capacitance across (F); 0 where absent, Q = inf for no loss
    ohm : fixed resistance in series
    """

    place: str
    core: Core
    value: float
    q: float = np.inf
    lead: float = 0.0
    across: float = 0.0
    ohm: float = 0.0
    is_part: bool = False


def impedance(core: Core, w: Real, value: Real, q: Real, lead: Real, across: Real) -> Complex:
    """Impedance of an element. w : (n_f,) rad/s; fields : (..., 1). returns (..., n_f) ohm."""
    if core is Core.CAPACITOR:
        return 1.0 / (w * value * (1j + 1.0 / q)) + 1j * w * lead
    if core is Core.COIL:
        return 1.0 / (1.0 / (w * value * (1j + 1.0 / q)) + 1j * w * across)
    return np.asarray(value + 1j * w * lead)


def sensitivity(
    core: Core, field: Field, w: Real, z: Complex, value: Real, q: Real, lead: Real, across: Real
) -> Complex:
    """dz/d ln(field) of an element whose impedance is z. returns the shape of z, ohm."""
    if field is Field.LEAD:
        return np.broadcast_to(1j * w * lead, z.shape)
    if core is Core.CAPACITOR:
        core_z = z - 1j * w * lead
        return np.asarray(-core_z if field is Field.VALUE else core_z / (1.0 + 1j * q))
    if core is Core.COIL:
        if field is Field.ACROSS:
            return np.asarray(-(z**2) * 1j * w * across)
        core_z = w * value * (1j + 1.0 / q)
        moved = core_z if field is Field.VALUE else -w * value / q
        return np.asarray((z / core_z) ** 2 * moved)
    return np.broadcast_to(np.asarray(value, complex), z.shape)
