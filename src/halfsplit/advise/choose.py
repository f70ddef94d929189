"""The next test: expected information per minute over all candidates, risk counted as minutes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from halfsplit.advise.causes import Suspect, numbered_places, probabilities, suspects_of
from halfsplit.advise.costs import Cost, costs
from halfsplit.advise.information import expected_information
from halfsplit.advise.records import Advice, Outcome
from halfsplit.advise.sweeps import Forecast, Sweep, candidates, forecast
from halfsplit.advise.touches import Touch, touches
from halfsplit.fault import Posterior, Ranking
from halfsplit.fault.words import designator
from halfsplit.hookup import Hookup
from halfsplit.quantity import Dimension, format_value
from halfsplit.reading import What
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]
Progress = Callable[[float, str], None]

ALWAYS = (
    "High radio-frequency voltage burns, also on parts that are cold for direct current and on coax shields.",
    "The licence and local codes decide what may be transmitted; test into a rated dummy load.",
)
LEAST_BITS = 0.01


def next_tests(
    unit: Unit,
    posterior: Posterior,
    ranking: Ranking,
    rng: np.random.Generator,
    most: int = 3,
    progress: Progress | None = None,
) -> tuple[Advice, ...]:
    """The best tests, best first.

    posterior, ranking : of all readings so far; rng : for sampling outcomes; most : how many
    returns at most `most` pieces of advice; none where no candidate would tell anything apart
    """
    suspects = suspects_of(posterior, ranking)
    table, p, place = costs(), probabilities(suspects), numbered_places(suspects)
    found: list[Advice] = []
    by_hand = touches(posterior.search, suspects)
    for touch in by_hand:
        bits = expected_information(touch.outcome[:, None], p, place, rng)
        found.append(advice_of_touch(touch, table[touch.kind], suspects, bits))
    sweeps = list(candidates(unit, posterior.search, suspects))
    for n, sweep in enumerate(sweeps):
        seen = forecast(posterior.search, sweep, suspects)
        if seen is not None:
            bits = expected_information(seen.values @ seen.white.T, p, place, rng)
            found.append(advice_of_sweep(sweep, seen, table, suspects, bits))
        if progress is not None:
            progress((n + 1) / len(sweeps), "weighing what a sweep would tell")
    found = [a for a in found if a.information_bits > LEAST_BITS]
    found.sort(key=lambda a: (-a.score, a.title))
    if len(found) < most and suspects[0].fit.hypothesis.family != "sound":
        found += confirmations(by_hand, table, suspects, found)
    return tuple(found[:most])


def confirmations(
    by_hand: list[Touch], table: dict[str, Cost], suspects: tuple[Suspect, ...], have: list[Advice]
) -> list[Advice]:
    """Tests that would confirm the leading suspect before anything is unsoldered, the cheapest first."""
    titles = {a.title for a in have}
    lead = suspects[0].place.name
    about = [t for t in by_hand if t.subject in (lead, designator(lead)) and t.title not in titles]
    mine = [t for t in about if abs(t.outcome[0] - t.nothing) > 1.0]
    mine.sort(key=lambda t: table[t.kind].minutes + table[t.kind].risk_minutes)
    out = []
    for touch in mine:
        advice = advice_of_touch(touch, table[touch.kind], suspects, 0.0)
        splits = f"It confirms {lead} before it is repaired; it tells nothing else apart."
        out.append(replace(advice, title=f"Confirm: {advice.title}", splits=splits))
    return out


def score(bits: float, cost: Cost) -> float:
    """Bits per minute, the risk counted as work."""
    return bits / (cost.minutes + cost.risk_minutes)


def advice_of_touch(touch: Touch, cost: Cost, suspects: tuple[Suspect, ...], bits: float) -> Advice:
    """Advice for a test with one figure."""
    outcomes = outcomes_of(suspects, touch.shows)
    return Advice(
        touch.title, touch.connect, touch.kind, None, cost.minutes, cost.risk, bits, score(bits, cost),
        splits_of(outcomes), outcomes, tuple(c for c in (cost.caution, *ALWAYS) if c),
    )  # fmt: skip


def advice_of_sweep(
    sweep: Sweep, seen: Forecast, table: dict[str, Cost], suspects: tuple[Suspect, ...], bits: float
) -> Advice:
    """Advice for a sweep: outcomes are told at the frequency that separates the suspects most."""
    through = sweep.what is What.S21
    cost = table["through sweep" if through else "return loss sweep"]
    p = probabilities(suspects)
    mean = p @ seen.values
    spread = (p[:, None] * (seen.values - mean) ** 2).sum(0) * np.diag(seen.white) ** 2
    at = int(np.argmax(spread))
    f = format_value(float(sweep.f[at]), Dimension.FREQUENCY)
    shows = tuple(
        f"{v[at]:.1f} dB at {f}" if through else f"return loss {-20 * np.log10(max(v[at], 1e-3)):.1f} dB at {f}"
        for v in seen.values
    )
    outcomes = outcomes_of(suspects, shows)
    h = sweep.hookup
    what = f"from {h.drive} to {h.read}" if through else f"looking into {h.drive}, {h.read} terminated"
    span = f"{sweep.f[0] / 1e6:.3g} to {sweep.f[-1] / 1e6:.3g} MHz"
    title = f"{'Sweep' if through else 'Return loss'} on {h.band} {what}"
    connect = f"band {h.band}; {connect_text(h, through)}; sweep {span}"
    return Advice(
        title, connect, cost.kind, h, cost.minutes, cost.risk, bits, score(bits, cost), splits_of(outcomes), outcomes,
        tuple(c for c in (cost.caution, *ALWAYS) if c),
    )  # fmt: skip


def connect_text(h: Hookup, through: bool) -> str:
    """What to tie where."""
    if through:
        return f"generator {h.source_ohm:g} ohm at {h.drive}, detector {h.detector_ohm:g} ohm at {h.read}"
    return f"return loss bridge or analyser at {h.drive}, {h.detector_ohm:g} ohm at {h.read}"


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
        return "It tells ways of failing apart within one group."
    parts = [f"{' / '.join(groups)}: {text}" for text, groups in list(by_text.items())[:3]]
    return "It separates " + "; ".join(parts) + "."
