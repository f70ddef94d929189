"""The verb stability: the command, its text and its JSON object."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from halfsplit.cli.common import guarded, put, quantity
from halfsplit.cli.door import main

if TYPE_CHECKING:
    from halfsplit.jobs.steady import Nearest, Steady

SHOWN_F = (1e6, 2e6, 5e6, 10e6, 20e6, 50e6, 100e6, 200e6)


@main.command()
@click.argument("source", type=click.Path(path_type=Path))
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--band", default=None, help="Name of one band [all of them].")
@click.option("--stage", default=None, help="Stage of the unit that the file was measured on [the first of the path].")
@click.option("--cable", default=None, help="Jumper whose length is varied [the first of the path].")
@click.option("--longest", default="3 m", show_default=True, help="Longest length of it that is tried.")
@click.option("--load", default="50 ohm", show_default=True, help="What ends the path, at its last point.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object with documented keys instead of text.")
@guarded
def stability(
    source: Path, file: Path, band: str | None, stage: str | None, cable: str | None, longest: str, load: str,
    as_json: bool,
) -> int:  # fmt: skip
    """Whether a stage can oscillate into what the path presents to it from 1 to 200 MHz, and on which length of coax.

    SOURCE is a job or a unit file; FILE the S-parameters of the stage's device at its working point (Touchstone).
    """
    from halfsplit.jobs import steady

    metres = quantity("--longest", longest, "LENGTH")
    found = steady.stability(source, file, band, stage, cable, metres, quantity("--load", load, "RESISTANCE"))
    put(shape(found), show(found), as_json)
    return 0


def shape(found: Steady) -> dict[str, Any]:
    """halfsplit stability --json."""
    from halfsplit.cli.shape import plain_object

    return plain_object(
        unit=found.unit, stage=found.stage, branches=list(found.branches), cable=found.cable,
        lengths_m=list(found.lengths), load_ohm=found.antenna_ohm, f_hz=found.f, k=found.k, delta=found.delta,
        mu=found.mu, mu_source=found.mu_source, gain_db=found.gain_db,
        load_circle_re=found.load_centre.real, load_circle_im=found.load_centre.imag,
        load_circle_radius=found.load_radius, source_circle_re=found.source_centre.real,
        source_circle_im=found.source_centre.imag, source_circle_radius=found.source_radius,
        stable_inside=found.stable_inside,
        bands=[
            {
                "band": own.band, "as_drawn": one(own), "worst": one(worst), "any_length_margin": margin,
                "any_length_hz": f,
            }
            for own, worst, (_, margin, f) in zip(found.drawn, found.worst, found.turned, strict=True)
        ],
        warnings=list(found.warnings),
    )  # fmt: skip


def one(n: Nearest) -> dict[str, Any]:
    """Where a stage comes nearest to trouble."""
    return {
        "length_m": n.length, "f_hz": n.f, "margin": n.margin, "load_re_ohm": n.load.real, "load_im_ohm": n.load.imag,
        "input_reflection": n.reflection,
    }  # fmt: skip


def show(found: Steady) -> str:
    """halfsplit stability."""
    from halfsplit.cli.show import table, wrapped
    from halfsplit.report.cautions import DEFER

    lines = [wrapped(itself(found), "", "    ")]
    lines += [wrapped(f"note: {w}", "", "      ") for w in found.warnings]
    lines += ["", table(("f", "K", "mu", "mu source", "gain dB", "unsafe loads"), rows(found)), ""]
    head = ("band", f"{found.cable or 'path'} as drawn", "nearest with other lengths", "any length at all")
    lines += [table(head, [band_row(found, i) for i in range(len(found.drawn))]), ""]
    lines += [wrapped(x, "", "    ") for x in sentences(found)]
    lines += ["", wrapped(EXPLAINED), "", wrapped(f"{CAUTION} {DEFER}", "Caution: ", "  ")]
    return "\n".join(lines)


EXPLAINED = (
    "Margins are distances on the chart of reflection coefficients (its edge is 1 from the middle) to the nearest load "
    "that makes the input's reflection reach 1; below zero the input is already negative. K and mu above 1: no "
    "passive load can bring trouble. S-parameters are small-signal: a stage under drive can still divide its frequency "
    "(half-harmonic), and bias circuits oscillate below what was measured. 'Any length' leaves the loss of the added "
    "coax out."
)
CAUTION = (
    "A stage that breaks into oscillation can kill its transistors in a moment: try lengths at low supply with the "
    "current limited, into a rated dummy load."
)


def itself(found: Steady) -> str:
    """What can be said of the stage before it is put into its path."""
    name = found.stage or "the stage"
    parts = f" with {', '.join(found.branches)}" if found.branches else ""
    doubt = found.mu < 1.0
    if not doubt.any():
        return f"{name}{parts}: stable into any passive load from {mhz(found.f[0])} to {mhz(found.f[-1])}"
    at = int(found.mu.argmin())
    share = 100.0 * float(doubt.mean())
    return (
        f"{name}{parts}: some passive loads make it oscillate at {share:.0f} % of the frequencies between "
        f"{mhz(found.f[0])} and {mhz(found.f[-1])}, {spans(found)}; the smallest mu is {found.mu[at]:.3f} at "
        f"{mhz(found.f[at])} (K {found.k[at]:.3f})"
    )


def spans(found: Steady) -> str:
    """The stretches of frequency where some load brings trouble."""
    import numpy as np

    edges = np.flatnonzero(np.diff(np.concatenate([[0], (found.mu < 1.0).astype(int), [0]])))
    pairs = [f"{mhz(found.f[a])} to {mhz(found.f[b - 1])}" for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return ", ".join(pairs[:4]) + (f" and {len(pairs) - 4} more" if len(pairs) > 4 else "")


def rows(found: Steady) -> list[list[str]]:
    """The stage at a few frequencies."""
    wanted = [f for f in SHOWN_F if found.f[0] <= f <= found.f[-1]]
    picks = sorted({int(abs(found.f - f).argmin()) for f in wanted} | {int(found.mu.argmin())})
    return [
        [mhz(found.f[i]), f"{found.k[i]:.3f}", f"{found.mu[i]:.3f}", f"{found.mu_source[i]:.3f}",
         f"{found.gain_db[i]:.1f}", circle(found, i)]
        for i in picks
    ]  # fmt: skip


def circle(found: Steady, i: int) -> str:
    """The unsafe loads at a frequency, in words."""
    if found.mu[i] >= 1.0:
        return "none that is passive"
    side = "outside" if found.stable_inside[i] else "inside"
    c = complex(found.load_centre[i])
    return f"{side} {abs(c):.3f} at {math.degrees(math.atan2(c.imag, c.real)):.0f}°, radius {found.load_radius[i]:.3f}"


def band_row(found: Steady, i: int) -> list[str]:
    """One band in its path."""
    own, worst, (_, margin, f) = found.drawn[i], found.worst[i], found.turned[i]
    return [own.band, spot(own), spot(worst), f"{margin:+.3f} at {mhz(f)}"]


def spot(n: Nearest) -> str:
    """A margin with where it is."""
    length = "" if n.length is None else f", {1e3 * n.length:.0f} mm"
    return f"{n.margin:+.3f} at {mhz(n.f)}{length}"


def sentences(found: Steady) -> list[str]:
    """What it comes to."""
    own, worst = min(found.drawn, key=lambda n: n.margin), min(found.worst, key=lambda n: n.margin)
    out = [f"As drawn, {told(own)}"]
    if found.cable and worst.length != own.length:
        out.append(f"Of {len(found.lengths)} lengths of {found.cable} up to {found.lengths[-1]:g} m, {told(worst)}")
    return out


def told(n: Nearest) -> str:
    """Where it comes nearest, and what that means."""
    from halfsplit.jobs.steady import CLOSE

    sign = "+" if n.load.imag >= 0 else "-"
    load = f"{n.load.real:.3g} {sign} j{abs(n.load.imag):.3g} ohm" if math.isfinite(abs(n.load)) else "an open end"
    length = "" if n.length is None else f" with {1e3 * n.length:.0f} mm"
    head = f"{n.band}{length} comes nearest to trouble, at {mhz(n.f)}: the path presents {load} there, "
    if n.margin < 0:
        return head + f"and the input reflects {n.reflection:.2f}: it can oscillate, as the drive side allows."
    close = "which is close." if n.margin < CLOSE else "and the input stays passive."
    return head + f"{n.margin:.2f} from an unsafe load, {close}"


def mhz(f: float) -> str:
    """A frequency for a table."""
    return f"{f / 1e6:.4g} MHz"
