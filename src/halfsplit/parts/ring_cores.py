"""Coils on ring cores: turns by A_L, what fits, how far spreading and bunching goes, how much flux the core has."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from halfsplit.parts.air_coils import ENAMEL, CoilError
from halfsplit.parts.tables import core, core_names, table_rows

INCH = 0.0254
A_L_TOLERANCE = 0.05
"""Of iron powder (from memory, see cores.toml)."""
BY_SPREADING = 0.10
"""How far turns that are spread evenly or bunched together move the inductance, either way (common practice)."""
OPEN_ANGLE = 30.0
"""Degrees left between the two ends of a winding, so that they do not couple (common practice)."""
ROUNDED = 0.92
"""Area of a core with rounded edges over half of (outer - inner) times height; three sizes agree (from memory)."""
Q_USUAL = (150.0, 250.0)
"""Q of small coils on the -2 and -6 powders in their range (common practice, row P22)."""


@dataclass(frozen=True, slots=True)
class RingCore:
    """One ring core. al : H per turn squared; tolerance : fraction; outer, inner, height : m, None where not known"""

    name: str
    al: float
    tolerance: float
    source: str
    outer: float | None = None
    inner: float | None = None
    height: float | None = None

    @property
    def area(self) -> float | None:
        """Cross section, m2; None where the size is not known."""
        if self.outer is None or self.inner is None or self.height is None:
            return None
        return ROUNDED * (self.outer - self.inner) / 2.0 * self.height

    def most_turns(self, wire: float) -> int | None:
        """Turns of enamelled wire that fit in one layer, with a gap between the ends. wire : m of copper"""
        if self.inner is None:
            return None
        thick = wire * ENAMEL
        if thick * 2.0 > self.inner:
            return 0
        return int(math.pi * (self.inner - thick) / thick * (1.0 - OPEN_ANGLE / 360.0))

    def wire_length(self, turns: float, wire: float) -> float | None:
        """Wire in the winding, without leads, m."""
        if self.outer is None or self.inner is None or self.height is None:
            return None
        return turns * (self.outer - self.inner + 2.0 * self.height + 4.0 * wire * ENAMEL)


@dataclass(frozen=True, slots=True)
class Wound:
    """Whole turns on one ring core. turns : whole; exact : the fraction that A_L asks for

    henry : H; off : henry / wanted - 1; low, high : H, by the core's tolerance; fits : in one layer, None: not known
    by_spreading : whether spreading or bunching the turns reaches the wanted value on a core of nominal A_L
    """

    core: RingCore
    turns: int
    exact: float
    henry: float
    off: float
    low: float
    high: float
    fits: bool | None
    most_turns: int | None
    wire_length: float | None
    by_spreading: bool


@cache
def ring_cores() -> Mapping[str, RingCore]:
    """The package's cores with their sizes, by name."""
    sizes = {str(r["name"]): r for r in table_rows("core_sizes.toml")}
    out = {}
    for name in core_names():
        size = sizes.get(name.partition("-")[0])
        outer, inner, height = (
            None if size is None else float(str(size[k])) * INCH for k in ("outer_inch", "inner_inch", "height_inch")
        )
        out[name] = RingCore(name, core(name).al, A_L_TOLERANCE, core(name).source, outer, inner, height)
    return out


def turns_for(henry: float, al: float) -> float:
    """Turns, a fraction included: N = sqrt(L / A_L). henry : H; al : H per turn squared"""
    return math.sqrt(henry / al)


def wound(chosen: RingCore, henry: float, wire: float | None = None, turns: int | None = None) -> Wound:
    """The nearest whole turns for an inductance, or what given turns make of it.

    wire : m of copper, None where it is not known
    raises CoilError where less than one turn would do
    """
    exact = turns_for(henry, chosen.al)
    if turns is None:
        if exact < 0.75:
            least = 1e6 * chosen.al
            raise CoilError(f"{1e6 * henry:.4g} uH on {chosen.name}", f"at least {least:.4g} uH: that of one turn")
        turns = max(1, min((math.floor(exact), math.ceil(exact)), key=lambda n: abs(n * n * chosen.al / henry - 1.0)))
    made = chosen.al * turns**2
    most = None if wire is None else chosen.most_turns(wire)
    return Wound(
        chosen, turns, exact, made, made / henry - 1.0,
        made * (1.0 - chosen.tolerance), made * (1.0 + chosen.tolerance),
        None if most is None else turns <= most, most, None if wire is None else chosen.wire_length(turns, wire),
        abs(henry / made - 1.0) <= BY_SPREADING,
    )  # fmt: skip


def flux(volts: float, f: float, turns: float, area: float) -> float:
    """Peak flux density in a core, tesla, by the usual formula. volts : rms across the winding; area : m2

    source: Faraday's law for a sine, V = 4.44 f N A B (the suppliers' form, studylib.net/doc/18707914)
    """
    return volts / (4.44 * f * turns * area)


def flux_guideline(f: float) -> float | None:
    """What suppliers advise for iron powder at a frequency, tesla; None outside the table (1 to 28 MHz)."""
    rows = [(float(str(r["hertz"])), float(str(r["tesla"]))) for r in table_rows("core_flux.toml")]
    for (f1, b1), (f2, b2) in pairwise(rows):
        if f1 <= f <= f2:
            share = math.log(f / f1) / math.log(f2 / f1)
            return float(b1 * (b2 / b1) ** share)
    return None
