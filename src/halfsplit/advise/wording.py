"""Advice in words: what to tie where, what each group would show, what is told apart."""

from __future__ import annotations

import numpy as np

from halfsplit.advise.causes import Suspect, probabilities
from halfsplit.advise.costs import Cost
from halfsplit.advise.records import Advice, Outcome
from halfsplit.advise.sweeps import Sweep
from halfsplit.advise.touches import Touch
from halfsplit.hookup import Hookup
from halfsplit.quantity import Dimension, format_value
from halfsplit.reading import What

Real = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

ALWAYS = (
    "High radio-frequency voltage burns, also on parts that are cold for direct current and on coax shields.",
    "The licence and local codes decide what may be transmitted; test into a rated dummy load.",
)


def rate(bits: float, cost: Cost) -> float:
    """Bits per minute, the risk counted as work."""
    return bits / (cost.minutes + cost.risk_minutes)


def advice_of_touch(touch: Touch, cost: Cost, suspects: tuple[Suspect, ...], bits: float) -> Advice:
    """Advice for a test at one place."""
    outcomes = outcomes_of(suspects, touch.shows)
    return Advice(
        touch.title, touch.connect, touch.kind, None, cost.minutes, cost.risk, bits, rate(bits, cost),
        splits_of(outcomes), outcomes, tuple(c for c in (cost.caution, *ALWAYS) if c), touch.subject,
    )  # fmt: skip


def advice_of_sweep(
    sweep: Sweep, values: Real, noise: Real, cost: Cost, suspects: tuple[Suspect, ...], bits: float
) -> Advice:
    """Advice for a sweep: outcomes are told at the frequency that separates the suspects most.

    values : (n_suspect, n) what each would show; noise : (n,) 1 sigma
    """
    through = sweep.what is What.S21
    p = probabilities(suspects)
    at = int(np.argmax((p[:, None] * (values - p @ values) ** 2).sum(0) / noise**2))
    f = format_value(float(sweep.f[at]), Dimension.FREQUENCY)
    shows = tuple(
        f"{v[at]:.1f} dB at {f}" if through else f"return loss {-20 * np.log10(max(v[at], 1e-3)):.1f} dB at {f}"
        for v in values
    )
    outcomes = outcomes_of(suspects, shows)
    h = sweep.hookup
    span = f"{sweep.f[0] / 1e6:.3g} to {sweep.f[-1] / 1e6:.3g} MHz"
    title = sweep_title(sweep)
    connect = f"band {h.band}; {connect_text(h, through)}; sweep {span}"
    return Advice(
        title, connect, cost.kind, h, cost.minutes, cost.risk, bits, rate(bits, cost), splits_of(outcomes), outcomes,
        tuple(c for c in (cost.caution, *ALWAYS) if c),
    )  # fmt: skip


def in_a_sentence(title: str) -> str:
    """The title of a test as it stands in the middle of a sentence."""
    bare = title.removeprefix("Confirm: ")
    return bare[:1].lower() + bare[1:]


def sweep_title(sweep: Sweep) -> str:
    """A sweep in a few words."""
    h, through = sweep.hookup, sweep.what is What.S21
    what = f"from {h.drive} to {h.read}" if through else f"looking into {h.drive}, {h.read} terminated"
    what += "".join(f", {a} bridged to {b}" for a, b in h.bridged) + off_text(h, ", {} off")
    return f"{'Sweep' if through else 'Return loss'} on {h.band} {what}"


def connect_text(h: Hookup, through: bool) -> str:
    """What to tie where."""
    also = "".join(f"; short lead from {a} to {b}" for a, b in h.bridged) + off_text(h, "; take off {}")
    if through:
        return f"generator {h.source_ohm:g} ohm at {h.drive}, detector {h.detector_ohm:g} ohm at {h.read}{also}"
    return f"return loss bridge or analyser at {h.drive}, {h.detector_ohm:g} ohm at {h.read}{also}"


def off_text(h: Hookup, text: str) -> str:
    """What is taken off for a sweep."""
    names = [*h.lifted, *(f"{x} (not operated)" for x in h.released)]
    return "".join(text.format(x) for x in names)


def outcomes_of(suspects: tuple[Suspect, ...], shows: tuple[str, ...]) -> tuple[Outcome, ...]:
    """What each group of causes would show: of its most probable member, groups by probability."""
    held: dict[str, tuple[float, str]] = {}
    for s, text in zip(suspects, shows, strict=True):
        p, first = held.get(s.group, (0.0, text))
        held[s.group] = (p + s.probability, first)
    rows = [Outcome(group, p, text) for group, (p, text) in held.items()]
    return tuple(sorted(rows, key=lambda o: -o.probability)[:5])


def splits_of(outcomes: tuple[Outcome, ...]) -> str:
    """What the test tells apart, in one sentence."""
    by_text: dict[str, list[str]] = {}
    for o in outcomes:
        by_text.setdefault(o.shows, []).append(o.group)
    if len(by_text) < 2:
        return "It tells parts or ways of failing apart within one group."
    parts = [f"{' / '.join(groups)}: {text}" for text, groups in list(by_text.items())[:3]]
    return "It separates " + "; ".join(parts) + "."
