"""Formulas of windings and wires: inductance, what crosses them, what they lose. SI everywhere: m, H, F, ohm, Hz.

Diameters of a winding are between wire centres; its length is from the wire's centre at one end to that at the other,
turns times pitch. Each formula says how far it may be off as a formula; a coil wound by hand and measured with
callipers is known to some 3 % at best (common practice).
"""

from __future__ import annotations

import math
from functools import cache

MU0 = 4e-7 * math.pi
COPPER = 1.724e-8
"""Ohm metre at 20 degrees C: annealed copper, IEC 60028 (from memory)."""


def nagaoka(ratio: float) -> float:
    """Nagaoka's coefficient of a current sheet, exact. ratio : diameter / length, above 0

    source: Lorenz 1879; Nagaoka 1909, J. Coll. Sci. Tokyo 27; tables in Grover 1946 (rows P04, P05)
    """
    from scipy.special import ellipe, ellipk

    m = ratio**2 / (1.0 + ratio**2)
    k, rest = math.sqrt(m), 1.0 / math.sqrt(1.0 + ratio**2)
    first, second = float(ellipk(m)), float(ellipe(m))
    return 4.0 / (3.0 * math.pi * rest) * (rest**2 / m * (first - second) + second - k)


def current_sheet(diameter: float, length: float, turns: float) -> float:
    """Inductance of a winding of thin touching tape, H. Exact for that; source: as `nagaoka`"""
    return MU0 * turns**2 * math.pi * diameter**2 / 4.0 * nagaoka(diameter / length) / length


def round_wire(diameter: float, length: float, turns: float, wire: float) -> float:
    """Inductance of a winding of round wire at radio frequency, H: the current sheet with both corrections of Rosa.

    wire : its diameter; the current runs on its surface
    Within 1.1 % of the sum over circular rings up to a pitch of 0.3 diameters, 3 % at half a diameter (tests); both
    leave out the slope of the turns, which adds about as much at wide pitches
    source: Rosa 1906, Bull. Bur. Stand. 2; the corrections are derived here from the logarithms of the distances
    """
    pitch = length / turns
    own = 1.5 - math.log(2.0 * pitch / wire)
    return current_sheet(diameter, length, turns) - MU0 * diameter / 2.0 * turns * (own + neighbours(turns))


def neighbours(turns: float) -> float:
    """Rosa's correction for the distances between turns, per turn; 0 for one turn, 0.336 for very many.

    Exact for whole turns, in between on a straight line
    """
    whole = math.floor(turns)
    if turns == whole:
        return _between_turns(whole)
    return (whole + 1 - turns) * _between_turns(whole) + (turns - whole) * _between_turns(whole + 1)


@cache
def _between_turns(whole: int) -> float:
    """The correction for whole turns: the current sheet's logarithm of distance against the sum over all pairs."""
    logs = 2.0 * sum((whole - i) * math.log(i) for i in range(2, whole))
    return (logs - whole**2 * math.log(whole) + 1.5 * (whole**2 - whole)) / whole


def wheeler_1928(diameter: float, length: float, turns: float) -> float:
    """Wheeler's rule, H: 1 % for coils longer than 0.4 of their diameter.

    source: Wheeler 1928, Proc. IRE 16, 1398-1400 (row P06); in inches r^2 N^2 / (9 r + 10 l) microhenry
    """
    r, l = diameter / 2.0 / 0.0254, length / 0.0254
    return 1e-6 * r**2 * turns**2 / (9.0 * r + 10.0 * l)


def wheeler_1982(diameter: float, length: float, turns: float) -> float:
    """Wheeler's continuous formula, H: 0.1 % of the current sheet for any shape.

    source: Wheeler 1982, Proc. IEEE 70, 1449-1450 (row P08)
    """
    a = diameter / 2.0
    return (
        MU0
        * turns**2
        * a
        * (math.log(1.0 + math.pi * a / length) + 1.0 / (2.3 + 1.6 * length / a + 0.44 * (length / a) ** 2))
    )


def lundin(diameter: float, length: float, turns: float) -> float:
    """Lundin's handbook formula, H: 3 parts in a million of the current sheet.

    source: Lundin 1985, Proc. IEEE 73, 1428-1429 (row P07)
    """
    a = diameter / 2.0

    def first(x: float) -> float:
        return (1.0 + 0.383901 * x + 0.017108 * x * x) / (1.0 + 0.258952 * x)

    if length >= diameter:
        x = (diameter / length) ** 2
        return MU0 * turns**2 * math.pi * a**2 * (first(x) - 4.0 / (3.0 * math.pi) * diameter / length) / length
    x = (length / diameter) ** 2
    second = 0.093842 * x + 0.002029 * x**2 - 0.000801 * x**3
    return MU0 * turns**2 * a * ((math.log(8.0 * a / length) - 0.5) * first(x) + second)


def ring(diameter: float, wire: float) -> float:
    """Inductance of one ring of round wire, current on its surface, H. source: Grover 1946 (from memory)"""
    return MU0 * diameter / 2.0 * (math.log(8.0 * diameter / wire) - 2.0)


def between_rings(one: float, other: float, apart: float) -> float:
    """Mutual inductance of two coaxial rings, H. one, other : diameters; apart : between their planes, both above 0

    source: Maxwell 1873, art. 701 (from memory; row P16 rests on it)
    """
    from scipy.special import ellipe, ellipk

    a, b = one / 2.0, other / 2.0
    m = 4.0 * a * b / ((a + b) ** 2 + apart**2)
    k = math.sqrt(m)
    return MU0 * math.sqrt(a * b) * ((2.0 / k - k) * float(ellipk(m)) - 2.0 / k * float(ellipe(m)))


def ring_matrix(diameter: float, pitch: float, turns: int, wire: float) -> tuple[tuple[float, ...], ...]:
    """Self and mutual inductances of the turns of a coil taken as coaxial rings, (turns, turns) H."""
    by_step = [ring(diameter, wire)] + [between_rings(diameter, diameter, i * pitch) for i in range(1, turns)]
    return tuple(tuple(by_step[abs(i - j)] for j in range(turns)) for i in range(turns))


def with_shorted_turn(diameter: float, pitch: float, turns: int, wire: float, which: int) -> float:
    """What is left of a coil's inductance when one turn is closed on itself without resistance, as a share.

    which : from 0. L = L_rest - M^2 / L_turn, the shorted turn no longer in series
    source: coupled circuits; row P16
    """
    m = ring_matrix(diameter, pitch, turns, wire)
    rest = [i for i in range(turns) if i != which]
    left = sum(m[i][j] for i in rest for j in rest)
    shared = sum(m[i][which] for i in rest)
    return (left - shared**2 / m[which][which]) / sum(map(sum, m))


def straight_wire(length: float, wire: float) -> float:
    """Inductance of a straight round wire at radio frequency, far from its return, H.

    For a length of ten diameters and more within 2 % of the exact partial inductance
    source: Rosa 1908; Terman, Radio Engineers' Handbook (row P14)
    """
    return 2e-7 * length * (math.log(4.0 * length / wire) - 1.0)


def skin_depth(f: float, ohm_metre: float = COPPER) -> float:
    """Depth where the current has fallen to 1/e, m. f : Hz. source: any text on fields (row P24)"""
    return math.sqrt(ohm_metre / (math.pi * f * MU0))


def skin_ohms(length: float, wire: float, f: float) -> float:
    """Resistance of a straight round copper wire at radio frequency, ohm.

    The current is taken to fill a skin of one depth; 5 % off where the wire is five skins thick, more below
    """
    depth = min(skin_depth(f), wire / 2.0)
    return COPPER * length / (math.pi * depth * (wire - depth))


def self_capacitance(diameter: float, length: float) -> float:
    """Capacitance of a single-layer coil, one end earthed, F: a figure for its resonance, not a capacitance to measure.

    source: Medhurst 1947, Wireless Engineer 24, 35-43 and 80-92, formula from memory; he claims 5 % for coils on a rod,
    as built with leads and neighbours 20 % is fair (common practice)
    """
    slim = length / diameter
    return 1e-10 * diameter * (0.1126 * slim + 0.08 + 0.27 / math.sqrt(slim))


def air_q(diameter: float, length: float, f: float) -> float:
    """Q of a single-layer copper coil of reasonable spacing in free air, an estimate.

    Q = sqrt(f) / (6.9/r + 5.4/l), r and l in cm. source: Callendar 1947, Wireless Engineer 24, from memory; good to
    some 30 %, and a can or a chassis near by takes more
    """
    return math.sqrt(f) / (6.9 / (50.0 * diameter) + 5.4 / (100.0 * length))
