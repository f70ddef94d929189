"""The verb stability: can this stage oscillate into what the path presents to it, and on which length of coax?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from halfsplit import amplifier
from halfsplit.circuit import Model, build, drawn_admittance
from halfsplit.errors import HookupError, InputError, Mistake, ReadingError
from halfsplit.hookup import Hookup
from halfsplit.jobs.incoming import taken
from halfsplit.jobs.sources import unit_in
from halfsplit.network import s_to_y, y_to_s
from halfsplit.reading import complex_two_port
from halfsplit.unit import Branch, Stage, Unit

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

LOW, HIGH = 1e6, 200e6
FEWEST = 300
LENGTHS = 41
CLOSE = 0.1
"""A margin on the chart below this is called close: a tenth of the way from the middle to the edge."""


@dataclass(frozen=True, slots=True)
class Nearest:
    """Where a stage comes nearest to trouble on one band with one length of cable.

    length : m, None where the path has no cable; f : Hz; margin : distance on the chart, negative where the input's
    reflection exceeds 1; load : ohm presented at f; reflection : |reflection coefficient| looking into the input
    """

    band: str
    length: float | None
    f: float
    margin: float
    load: complex
    reflection: float


@dataclass(frozen=True, slots=True, eq=False)
class Steady:
    """Stability of a stage by itself and in its path. Arrays (n,).

    f : Hz; k, mu, mu_source, delta : of the stage with the parts around it; gain_db : maximum available or stable
    load_centre, load_radius, source_centre, source_radius : stability circles
    magnitude, angle : of the load that comes nearest with any phase, per band in `turned`
    drawn, worst : per band with the cable as drawn, and over all lengths tried; turned : per band with any length
    cable : name of the cable that was turned, "" where there is none; warnings : sentences
    """

    stage: str
    unit: str
    f: Real
    k: Real
    delta: Real
    mu: Real
    mu_source: Real
    gain_db: Real
    load_centre: Complex
    load_radius: Real
    source_centre: Complex
    source_radius: Real
    stable_inside: npt.NDArray[np.bool_]
    branches: tuple[str, ...]
    cable: str
    lengths: tuple[float, ...]
    antenna_ohm: float
    drawn: tuple[Nearest, ...]
    worst: tuple[Nearest, ...]
    turned: tuple[tuple[str, float, float], ...]
    warnings: tuple[str, ...] = ()


def stability(
    source: Path, file: Path, band: str | None = None, stage: str | None = None, cable: str | None = None,
    longest: float = 3.0, antenna_ohm: float = 50.0,
) -> Steady:  # fmt: skip
    """How a measured stage stands in the path of a unit.

    source : a job or a unit file; file : Touchstone file of the stage's device; band : None for all of them
    stage : name of the stage of the unit, by default the one next to the path; cable : the jumper that is turned,
    by default the first of the path; longest : m; antenna_ohm : ohm at the last point of the path
    raises UnitError, JobFileError, ReadingError, InputError with every mistake, ModelError
    """
    unit = unit_in(source)
    chosen, jumper, bands = named(unit, stage, cable, band)
    f, s, warnings = device(file)
    branches = () if chosen is None else chosen.branches
    whole = branched(chosen, f, s, branches)
    lengths = () if jumper is None else tuple(np.linspace(longest / (LENGTHS - 1), longest, LENGTHS - 1))
    drawn, worst, turned = in_path(unit, bands, jumper, lengths, f, whole, antenna_ohm)
    load, back = amplifier.load_circle(whole), amplifier.source_circle(whole)
    return Steady(
        "" if chosen is None else chosen.name, unit.name, f, amplifier.k_factor(whole), abs(amplifier.delta(whole)),
        amplifier.mu_load(whole), amplifier.mu_source(whole), amplifier.maximum_gain_db(whole), load.centre,
        load.radius, back.centre, back.radius, load.stable_inside, tuple(b.part.ref for b in branches), jumper or "",
        lengths, antenna_ohm, drawn, worst, turned, warnings,
    )  # fmt: skip


def named(
    unit: Unit, stage: str | None, cable: str | None, band: str | None
) -> tuple[Stage | None, str | None, list[str]]:
    """The stage, the jumper and the bands that are meant. raises HookupError with every name that is unknown"""
    stages = {s.name: s for s in unit.stages}
    inside = [n for n in unit.path.order if n in {c.ref for c in unit.cables}]
    bands = [b.name for b in unit.bands]
    mistakes = [
        Mistake(what, f'"{name}"', f"one of: {', '.join(known) or 'there is none'}")
        for what, name, known in (("--stage", stage, stages), ("--cable", cable, inside), ("--band", band, bands))
        if name is not None and name not in known
    ]
    if mistakes:
        raise HookupError(*mistakes)
    first = next((stages[n] for n in unit.path.order if n in stages), None)
    chosen = first if stage is None else stages[stage]
    return chosen, cable or next(iter(inside), None), bands if band is None else [band]


def device(file: Path) -> tuple[Real, Complex, tuple[str, ...]]:
    """The device between 1 and 200 MHz in 50 ohm: (n,) Hz, (n, 2, 2), and what has to be said about it.

    Points that lie far apart are joined by straight lines of the real and the imaginary part.
    raises ReadingError where the file holds nothing there
    """
    f, flat, z0 = complex_two_port(taken(file), file.name)
    hertz, s = np.array(f), np.array(flat).reshape(-1, 2, 2)
    if z0 != 50.0:
        s = y_to_s(s_to_y(s, z0), 50.0)
    inside = (hertz >= LOW) & (hertz <= HIGH)
    low, high = max(LOW, hertz[0]), min(HIGH, hertz[-1])
    if not inside.any():
        found = f"only {hertz[0] / 1e6:g} to {hertz[-1] / 1e6:g} MHz"
        raise ReadingError(Mistake(file.name, found, "S-parameters of the stage between 1 and 200 MHz"))
    warnings = []
    if low > 1.001 * LOW or high < 0.999 * HIGH:
        warnings.append(
            f"the file covers {low / 1e6:g} to {high / 1e6:g} MHz of 1 to 200 MHz: nothing is known outside"
        )
    if inside.sum() < FEWEST and high > low:
        warnings.append(f"{inside.sum()} points there, joined by straight lines")
        grid = np.unique(np.concatenate([np.geomspace(low, high, FEWEST), hertz[inside]]))
    else:
        grid = hertz[inside]
    flat_s = s.reshape(len(s), 4)
    out = np.stack([np.interp(grid, hertz, c.real) + 1j * np.interp(grid, hertz, c.imag) for c in flat_s.T], axis=1)
    return grid, out.reshape(-1, 2, 2), tuple(warnings)


def branched(stage: Stage | None, f: Real, s: Complex, branches: Sequence[Branch]) -> Complex:
    """The device with the parts that the drawing has around it. raises InputError where that cannot be worked out"""
    w = 2.0 * np.pi * f
    try:
        return amplifier.with_branches(s, [(b.a, b.b, drawn_admittance(b.part, w)) for b in branches])
    except ValueError as error:
        where = f"stage.{'' if stage is None else stage.name}.branches"
        raise InputError(Mistake(where, str(error), "parts with values, every node tied on")) from error


def in_path(
    unit: Unit, bands: Sequence[str], jumper: str | None, lengths: Sequence[float], f: Real, s: Complex, ohm: float
) -> tuple[tuple[Nearest, ...], tuple[Nearest, ...], tuple[tuple[str, float, float], ...]]:
    """Where the stage comes nearest to trouble, per band: as drawn, over all lengths, and (margin, Hz) at any phase."""
    drawn, worst, turned = [], [], []
    own = next((c.length for c in unit.cables if c.ref == jumper), None)
    for band in bands:
        gamma = presented(unit, band, f, ohm)
        drawn.append(nearest(band, own, f, s, gamma))
        tried = [drawn[-1]]
        tried += [nearest(band, x, f, s, presented(recut(unit, jumper, x), band, f, ohm)) for x in lengths]
        worst.append(min(tried, key=lambda n: n.margin))
        any_phase, _ = amplifier.turned_margin(s, abs(gamma))
        at = int(any_phase.argmin())
        turned.append((band, float(any_phase[at]), float(f[at])))
    return tuple(drawn), tuple(worst), tuple(turned)


def recut(unit: Unit, jumper: str | None, length: float) -> Unit:
    """The unit with another length of one cable."""
    return replace(unit, cables=tuple(replace(c, length=length) if c.ref == jumper else c for c in unit.cables))


def presented(unit: Unit, band: str, f: Real, ohm: float) -> Complex:
    """Reflection coefficient (n,) in 50 ohm that the path presents to the stage, `ohm` at its far end.

    raises HookupError, ModelError
    """
    hookup = Hookup(band, unit.path.points[0], unit.path.points[-1], detector_ohm=ohm, reference="calibrated",
                    source_lead=0.0, detector_lead=0.0, instrument="analyser")  # fmt: skip
    model = Model(build(unit, hookup), f)
    solution = model.solve(np.zeros((1, len(model.keys))))
    gamma = solution.reflection()[0]
    z0 = model.scene.z0
    if math.isclose(z0, 50.0):
        return np.asarray(gamma)
    z = z0 * (1.0 + gamma) / (1.0 - gamma)
    return np.asarray((z - 50.0) / (z + 50.0))


def nearest(band: str, length: float | None, f: Real, s: Complex, gamma: Complex) -> Nearest:
    """The frequency at which a load comes nearest to trouble."""
    margin = amplifier.load_margin(s, gamma)
    at = int(margin.argmin())
    g = complex(gamma[at])
    load = complex(math.inf) if g == 1.0 else 50.0 * (1.0 + g) / (1.0 - g)
    into = float(abs(amplifier.gamma_in(s[at], g)))
    return Nearest(band, length, float(f[at]), float(margin[at]), load, into)
