"""Verdicts in one line each, with units."""

from __future__ import annotations

import numpy as np

from halfsplit.expect import Expectation, Observation
from halfsplit.quantity import hertz
from halfsplit.reading import What


def return_loss(gamma: float) -> float:
    """Return loss in dB of a reflection coefficient, at most 60 dB."""
    return float(min(-20.0 * np.log10(max(float(gamma), 1e-3)), 60.0))


def loss_line(f: float, read: float, expected: float, low: float, high: float, z: float) -> str:
    """Loss at the worst point of the served band."""
    base = (
        f"loss in the served band: {0.0 - read:.2f} dB at {hertz(f)}, expected {0.0 - expected:.2f} dB "
        f"({0.0 - high:.2f} to {0.0 - low:.2f} dB)"
    )
    if read >= expected:
        return base
    more = expected - read
    lost = 100.0 * (1.0 - 10.0 ** (-more / 10.0))
    return f"{base}: {more:.2f} dB too much, {abs(z):.1f} sigma; {lost:.0f} % of the power is lost there"


def match_line(f: float, read: float, expected: float, worst: float, z: float) -> str:
    """Return loss at the worst point of the served band."""
    return (
        f"return loss in the served band: {read:.1f} dB at {hertz(f)}, expected {expected:.1f} dB "
        f"(at least {worst:.1f} dB), {abs(z):.1f} sigma"
    )


def gain_line(f: float, above: float) -> str:
    """What it would take to explain a reading above 0 dB."""
    product = 10.0 ** (above / 20.0) - 1.0
    each = product**0.5
    swr = (1.0 + each) / (1.0 - each) if each < 1.0 else float("inf")
    return (
        f"passivity: {above:+.2f} dB at {hertz(f)}; a passive path has no gain. An offset of {above:.2f} dB, or "
        f"mismatch at both ends (|Gamma| product {product:.3f}, SWR {swr:.2f} at each) would explain it; "
        "check the reference"
    )


def figure_line(name: str, unit: str, read: float, expected: float, low: float, high: float, z: float) -> str:
    """A figure of merit against its range."""
    if unit == "Hz":
        return f"{name}: {hertz(read)}, expected {hertz(expected)} ({hertz(low)} to {hertz(high)}), {abs(z):.1f} sigma"
    return f"{name}: {read:.1f} dB, expected {expected:.1f} dB ({low:.1f} to {high:.1f} dB), {abs(z):.1f} sigma"


def point_line(o: Observation, i: int, e: Expectation, z: float) -> str:
    """The worst single point."""
    if o.what is What.S21:
        return (
            f"worst point: {o.value[i]:.2f} dB at {hertz(o.f[i])}, expected {e.median[i]:.2f} dB "
            f"({e.low[i]:.2f} to {e.high[i]:.2f} dB), {abs(z):.1f} sigma"
        )
    return (
        f"worst point: |Gamma| {o.value[i]:.3f} at {hertz(o.f[i])} (return loss {return_loss(o.value[i]):.1f} dB), "
        f"expected {e.median[i]:.3f} ({e.low[i]:.3f} to {e.high[i]:.3f}), {abs(z):.1f} sigma"
    )


def joint_line(total: float, n: int, p: float, strained: float, key: str) -> str:
    """All points together; where only a strained part lets a sound unit show this, that is said first."""
    if p >= 0.05 and strained > 3.0:
        return (
            f"joint misfit: {total:.0f} over {n} points, but only with {key} {strained:.1f} sigma off: a sound unit "
            "seldom strays so far"
        )
    chance = "less than 1 in 1000" if p < 1e-3 else f"{100 * p:.0f} %"
    tail = f"; nearest sound unit has {key} {strained:.1f} sigma off" if strained > 2.0 else ""
    odds = f"chance of a sound unit to show this much or more: {chance}"
    return f"joint misfit: {total:.0f} over {n} points; {odds}{tail}"


def limit_line(name: str, read: float, stated: float, margin: float, f: float, *, most: bool) -> str:
    """A stated limit."""
    kind = "at most" if most else "at least"
    met = f"met by {margin:.2f} dB" if margin >= 0 else f"missed by {-margin:.2f} dB"
    return f"{name}: {read:.2f} dB at {hertz(f)}, the manual asks {kind} {stated:g} dB: {met}"
