"""The records of a scene: one unit in one hook-up on one band, as nodes, arms and pieces."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

import numpy.typing as npt

from halfsplit.circuit.elements import Element, Field
from halfsplit.parts import Cable

Complex = npt.NDArray[Any]


@dataclass(frozen=True, slots=True)
class Arm:
    """Elements in series between two nodes (-1 is ground). y : fixed admittance instead, siemens per rad/s (C)."""

    name: str
    a: int
    b: int
    elements: tuple[int, ...]
    opened: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """A two-port against ground: a coax, a measured block, the idle filters, or two coupled coils.

    a, b : nodes
    cable : the coax, or None
    f, y : (n,) Hz and (n, 2, 2) siemens of a tabulated piece, to be interpolated
    """

    name: str
    a: int
    b: int
    cable: Cable | None = None
    f: tuple[float, ...] = ()
    y: Complex | None = None


@dataclass(frozen=True, slots=True)
class Pair:
    """Two coupled coils between four nodes."""

    name: str
    nodes: tuple[int, int, int, int]
    l1: float
    l2: float
    k: float
    q: float


@dataclass(frozen=True, slots=True)
class Near:
    """Two neighbouring coils that may share a little flux. a, b : their arms; henry : sqrt(L1 L2); sigma : of k."""

    key: str
    a: int
    b: int
    henry: float
    sigma: float


@dataclass(frozen=True, slots=True)
class Param:
    """One nuisance: standard normal; it moves ln of the listed fields by sigma times the coefficient.

    key : equal keys in two scenes are the same physical quantity
    moves : (element, field, coefficient)
    """

    key: str
    sigma: float
    moves: tuple[tuple[int, Field, float], ...]


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything that the numbers need.

    n : nodes; names : what a hook-up may call a node -> node
    source, detector : nodes of the instruments' terminals (detector None: one-port)
    source_arm, detector_arm : arms that are the instruments' own resistances
    spots : (name, node) where a leak or stray may sit; spans : (filter, in, out) that may be bridged past
    z0 : reference of reflection, ohm; nears : neighbouring coils
    around : (Hz, amplitude) that may sneak around the chosen filter through the idle ones, an outer bound
    """

    n: int
    names: dict[str, int]
    elements: tuple[Element, ...]
    arms: tuple[Arm, ...]
    pieces: tuple[Piece, ...]
    pairs: tuple[Pair, ...]
    params: tuple[Param, ...]
    source: int
    detector: int | None
    source_arm: int
    detector_arm: int | None
    spots: tuple[tuple[str, int], ...]
    spans: tuple[tuple[str, int, int], ...]
    z0: float
    filter: str | None = None
    nears: tuple[Near, ...] = ()
    around: tuple[tuple[float, ...], tuple[float, ...]] | None = None
    notes: tuple[str, ...] = field(default=())


class How(StrEnum):
    """The ways in which a place can depart from the drawing."""

    VALUE = "value"
    TURN = "shorted turn"
    OHM = "resistance in series"
    HENRY = "inductance in series"
    OPEN = "open"
    SHORT = "short"
    LEAK = "leak"
    STRAY = "stray"
    PAST = "bridged past"
    LINE_Z0 = "impedance"
    LINE_LENGTH = "length"
    LINE_LOSS = "loss"


@dataclass(frozen=True, slots=True)
class Change:
    """One departure from the drawing, without its size.

    place : name of an element, an arm (several joined by "+"), a spot, a span or a cable
    sizes are: VALUE, LINE_Z0, LINE_LENGTH a factor; TURN the share of flux that the shorted turn takes (0..1);
    OHM, LEAK, PAST ohm; HENRY H; STRAY F; LINE_LOSS dB added at 10 MHz; OPEN F, what the
    crack or open contact still couples; SHORT none
    """

    how: How
    place: str
