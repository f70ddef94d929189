"""What is thought of a job by its watts, amps and volts."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from halfsplit import advise as advice_room
from halfsplit import fault, verdict
from halfsplit.advise import Advice
from halfsplit.expect import LevelSet
from halfsplit.fault import Ranking
from halfsplit.jobs.records import Job
from halfsplit.jobs.tests_table import table_of

SEED = 20261125


def advised_by_levels(loaded: Job, most: int, own: Path | None = None) -> tuple[Ranking, tuple[Advice, ...]]:
    """The ranking and the next tests of a job without a sweep."""
    found = fault.rank_levels(loaded.unit, levels_now(loaded), loaded.history, loaded.complaint)
    broken = (*(f"{key} does not count: {text}" for key, text in loaded.broken), *levels_before(loaded))
    rng = np.random.default_rng(SEED)
    advice = advice_room.next_by_levels(loaded.unit, found, loaded.history, rng, most, table_of(own))
    ranking = replace(found.ranking, warnings=(*found.ranking.warnings, *broken))
    return ranking, advice


def levels_now(loaded: Job) -> tuple[LevelSet, ...]:
    """Level readings of the unit as it is: those since the last work on it."""
    return tuple(s for s in loaded.levels if s.state == len(loaded.works))


def levels_before(loaded: Job) -> tuple[str, ...]:
    """Level readings that do not weigh, because work was done since."""
    now = levels_now(loaded)
    return tuple(
        f"{s.key} (watts, amps and volts) was read before the last work on the unit and does not weigh: read them again"
        for s in loaded.levels
        if s not in now
    )


def latest_figures(loaded: Job, key: str) -> str:
    """What the latest level reading shows, as the beginning of a sentence."""
    own = [s for s in loaded.levels if s.key == key]
    verdicts = verdict.judge_levels(loaded.unit, own, np.random.default_rng(SEED))
    worst = max(verdicts, key=lambda v: abs(v.sigma))
    if all(v.word is verdict.Word.WITHIN for v in verdicts):
        return f"{key} ({len(own[0].reading.rows)} figures) is within what a sound transmitter shows"
    return f"{key} is {worst.word.value} on {worst.band}, {worst.text.rstrip('.')}"
