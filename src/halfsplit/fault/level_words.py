"""The ranking with level readings in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from halfsplit.fault.hypotheses import Hypothesis
from halfsplit.fault.level_record import Levels
from halfsplit.fault.records import Outside, Ranking

VICTIM = (
    "A final stage that is dead may be the victim: before a device is replaced, prove the load (return loss into the "
    "path and the antenna side, the transmit relay under power), the bias without drive, and the drive level."
)
VICTIM_FROM = 0.15


def with_figures(ranking: Ranking, levels: Levels) -> Ranking:
    """The ranking with what its level readings add: their names among the readings, and the warning of a victim."""
    keys = dict.fromkeys(f.label for f in levels.bench.figures)
    dead = sum(
        c.probability for g in ranking.groups for c in g.causes
        if c.place == levels.bench.chain.final.name and "dead" in c.mode
    )  # fmt: skip
    warnings = (*ranking.warnings, VICTIM) if dead > VICTIM_FROM else ranking.warnings
    outside = tuple(Outside(*row) for row in levels.remaining(ranking.sound))
    return replace(ranking, readings=(*ranking.readings, *keys), warnings=warnings, outside=outside)


def kept_apart(ranking: Ranking, levels: Levels) -> Ranking:
    """What a sound path may still hide, without the causes that the level readings have weighed one by one."""
    return replace(ranking, outside=tuple(Outside(*row) for row in levels.remaining(ranking.sound)))


def sharing(held: Sequence[tuple[Hypothesis, float]], levels: Levels) -> list[tuple[Hypothesis, float]]:
    """Probabilities as the questions know them: causes outside the path are one with the sound path there."""
    out = [(h, p) for h, p in held if h.key not in levels.outside]
    outside = sum(p for h, p in held if h.key in levels.outside)
    return [(h, p + outside if h.family == "sound" else p) for h, p in out]
