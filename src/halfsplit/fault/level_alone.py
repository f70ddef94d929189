"""The ranking of a job that has watts, amps and volts, and no sweep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import How
from halfsplit.expect import LevelSet
from halfsplit.expect.level_factory import bench_of
from halfsplit.fault import words
from halfsplit.fault.groups import APART, SHOWN, credible
from halfsplit.fault.heard import heard
from halfsplit.fault.hypotheses import Hypothesis, Place, designator
from halfsplit.fault.level_causes import causes
from halfsplit.fault.level_evidence import size_range
from halfsplit.fault.level_record import Levels
from halfsplit.fault.level_weigh import fresh_entry, level_hypotheses, outside_shares, weighed
from halfsplit.fault.level_words import kept_apart, sharing, with_figures
from halfsplit.fault.rank import prior
from halfsplit.fault.records import Cause, Group, Ranking
from halfsplit.fault.standing import SOUND
from halfsplit.fault.told import Causes, account
from halfsplit.fault.weights import Weights
from halfsplit.history import History
from halfsplit.quantity import format_value
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

ALONE = (
    "Watts, amps and volts alone cannot tell the parts of a path apart: a sweep of the bands that are low says whether "
    "the path is at fault at all."
)


@dataclass(frozen=True, slots=True, eq=False)
class LevelsAlone:
    """The weighed causes of such a job. hypotheses, probability : (n,); levels : what the readings say about each"""

    hypotheses: tuple[Hypothesis, ...]
    probability: Real
    levels: Levels
    ranking: Ranking


def rank_levels(
    unit: Unit, sets: Sequence[LevelSet], history: History | None = None, complaint: str = "",
    weights: Weights | None = None,
) -> LevelsAlone:  # fmt: skip
    """Rank the causes that explain all level readings together.

    history : what was told; complaint : in the owner's words
    raises UnitError, ReadingError, HookupError where they cannot be used
    """
    table, bench = weights or Weights(), bench_of(unit, sets)
    found = [SOUND, *level_hypotheses(bench, unit, table)]
    before = prior(found, table)
    told = account(Causes(unit, found, before, None), history or History())
    factor = told.factor()
    outside = causes(bench)
    shares, rest, _ = outside_shares(told, bool(complaint or history), outside)
    entries = [fresh_entry(h) for h in found]
    log_p = np.log([before[h.key] * factor.get(h.key, 1.0) for h in found])
    sound = log_p[0]
    log_p[0] += np.log(sum(p for _, _, p in rest))
    log_prior = np.concatenate([log_p, sound + np.log([shares[c.hypothesis.key] for c in outside])])
    said = weighed(bench, entries, outside, log_prior)
    every = (*found, *(c.hypothesis for c in outside))
    value = log_prior + np.array([said[h.key].log_evidence for h in every])
    p = np.exp(value - value.max())
    levels = Levels(bench, said, {c.hypothesis.key: c for c in outside}, rest)
    p = p / p.sum()
    ranking = with_figures(ranking_of(every, p, levels, complaint), levels)
    held = sharing([(h, float(x)) for h, x in zip(every, p, strict=True)], levels)
    if history or complaint or ranking.groups[0].family != "sound":
        ranking = kept_apart(heard(ranking, told, held), levels)
    return LevelsAlone(every, p, levels, ranking)


def ranking_of(every: Sequence[Hypothesis], p: Real, levels: Levels, complaint: str) -> Ranking:
    """Groups, places and words."""
    groups = grouped(every, p, levels)
    places: dict[str, float] = {}
    parts: dict[str, float] = {}
    for h, x in zip(every, p, strict=True):
        for place in h.places:
            share = float(x) * place.weight / h.weight
            places[place.name] = places.get(place.name, 0.0) + share
            parts[designator(place.name)] = parts.get(designator(place.name), 0.0) + share
    first, second = (tuple(sorted(d.items(), key=lambda r: (-r[1], r[0]))) for d in (places, parts))
    sound, unlisted = (sum(g.probability for g in groups if g.family == f) for f in ("sound", "unlisted"))
    return Ranking(
        groups, first, second, sound, unlisted, credible(groups, 0.9), (), (), (), (ALONE,),
        words.belief(groups, complaint),
    )  # fmt: skip


def grouped(every: Sequence[Hypothesis], p: Real, levels: Levels) -> tuple[Group, ...]:
    """Causes of one kind whose predictions differ by less than the figures can tell."""
    clusters: list[list[int]] = []
    for i in (int(k) for k in np.argsort(-p, kind="stable")):
        if p[i] < SHOWN and clusters:
            continue
        apart = every[i].family in ("sound", "unlisted")
        for members in clusters:
            leader = every[members[0]]
            alone = apart or leader.family in ("sound", "unlisted")
            if not alone and levels.apart(leader.key, every[i].key) < APART:
                members.append(i)
                break
        else:
            clusters.append([i])
    out = []
    for members in clusters:
        found = [c for i in members for c in causes_of(every[i], float(p[i]), levels)]
        found.sort(key=lambda c: -c.probability)
        total = float(sum(p[i] for i in members))
        out.append(Group(words.group_name(found), total, tuple(found), words.why_together(found), found[0].family))
    return tuple(sorted(out, key=lambda g: -g.probability))


def causes_of(h: Hypothesis, p: float, levels: Levels) -> list[Cause]:
    """The places of one hypothesis, each with its share."""
    said, sound = levels.said[h.key], levels.said["sound"]
    size, size_text = levels.size(h.key) if h.key in levels.outside else path_size(h, levels)
    speaks_for, against = levels.reasons(h.key)
    places = h.places or (Place("sound", "sound", 1.0),)
    whole = sum(x.weight for x in places)
    return [
        Cause(
            x.name, x.word, f"{x.name}: {x.word}{', ' + size_text if size_text else ''}", size, size_text,
            p * x.weight / whole, said.log_evidence - sound.log_evidence, speaks_for, against, h.family,
        )
        for x in places
    ]  # fmt: skip


def path_size(h: Hypothesis, levels: Levels) -> tuple[float | None, str]:
    """Size of a fault of the path and its text, as far as level readings tell it."""
    if not h.sized or h.change is None or h.change.how is How.OPEN:
        return None, ""
    said = levels.said[h.key]
    low, high = size_range(said)
    how = h.change.how
    if how in words.BY_HOW:
        unit = words.BY_HOW[how]
        return said.best, f"{format_value(said.best, unit)} ({format_value(low, unit)} to {format_value(high, unit)})"
    if how is How.LINE_LOSS:
        return said.best, f"{said.best:.1f} dB more at 10 MHz"
    return said.best, f"{said.best:.2f} times the stated one ({low:.2f} to {high:.2f})"
