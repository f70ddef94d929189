"""Groups: causes that these readings cannot tell apart stand together, with one probability."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from halfsplit.fault import words
from halfsplit.fault.hypotheses import designator
from halfsplit.fault.pairs import Pair
from halfsplit.fault.posterior import Posterior
from halfsplit.fault.records import Cause, Group
from halfsplit.fault.search import apart
from halfsplit.fault.standing import Fit

APART = 2.0
SHOWN = 2e-3


def credible(groups: Sequence[Group], share: float) -> tuple[str, ...]:
    """Names of the most probable groups that together hold the share."""
    out, held = [], 0.0
    for g in groups:
        out.append(g.name)
        held += g.probability
        if held >= share:
            break
    return tuple(out)


def grouped(posterior: Posterior) -> tuple[Group, ...]:
    """Causes whose predictions differ by less than the readings can tell, around the most probable of them."""
    clusters: list[list[int]] = []
    for i in (int(k) for k in np.argsort(-posterior.alone, kind="stable")):
        if posterior.alone[i] < SHOWN and clusters:
            continue
        family = posterior.fits[i].hypothesis.family
        for members in clusters:
            leader = posterior.fits[members[0]]
            alike = family not in ("sound", "unlisted") and leader.hypothesis.family not in ("sound", "unlisted")
            if alike and away(posterior, leader, posterior.fits[i]) < APART:
                members.append(i)
                break
        else:
            clusters.append([i])
    groups = [group_of(posterior, members) for members in clusters] + grouped_pairs(posterior)
    return tuple(sorted(groups, key=lambda g: -g.probability))


def away(posterior: Posterior, a: Fit, b: Fit) -> float:
    """Squared distance of what two explanations predict, for sweeps and level readings."""
    gap = apart(posterior.search, a, b)
    return gap if posterior.levels is None else gap + posterior.levels.apart(a.hypothesis.key, b.hypothesis.key)


def group_of(posterior: Posterior, members: Sequence[int]) -> Group:
    """A group from the fits that belong to it."""
    causes = []
    for i in members:
        causes += causes_of(posterior, posterior.fits[i], float(posterior.alone[i]))
    causes.sort(key=lambda c: -c.probability)
    name = words.group_name(causes)
    total = float(sum(posterior.alone[i] for i in members))
    return Group(name, total, tuple(causes), words.why_together(causes), causes[0].family)


def causes_of(posterior: Posterior, fit: Fit, probability: float) -> list[Cause]:
    """The places that one fit stands for, each with its share."""
    h = fit.hypothesis
    places = h.places or tuple(p for x in posterior.search.hypotheses if x.family == "sound" for p in x.places)
    whole = sum(p.weight for p in places)
    size, size_text = words.size_of(posterior.search, fit)
    against_sound = fit.log_evidence - posterior.search.sound.log_evidence
    speaks_for, against = words.reasons(posterior.search, fit)
    text = ""
    if posterior.levels is not None:
        more_for, more_against = posterior.levels.reasons(h.key)
        speaks_for, against = (*more_for, *speaks_for), (*more_against, *against)
        if h.key in posterior.levels.outside:
            size, size_text = posterior.levels.size(h.key)
            text = f" {size_text}" if size_text else ""
    return [
        Cause(
            p.name, p.word, words.sentence(posterior.search, fit, p) + text, size, size_text,
            probability * p.weight / whole, against_sound, speaks_for, against, h.family,
        )
        for p in places
    ]  # fmt: skip


def grouped_pairs(posterior: Posterior) -> list[Group]:
    """Two faults at once, those together that these readings cannot tell apart."""
    clusters: list[list[int]] = []
    for i in (int(k) for k in np.argsort(-posterior.together, kind="stable")):
        if posterior.together[i] < SHOWN:
            break
        for members in clusters:
            leader = posterior.pairs[members[0]].second
            if apart(posterior.search, leader, posterior.pairs[i].second) < APART:
                members.append(i)
                break
        else:
            clusters.append([i])
    return [pair_group(posterior, members) for members in clusters]


def pair_group(posterior: Posterior, members: Sequence[int]) -> Group:
    """A group of two faults at once from the pairs that belong to it; the most probable pair comes first."""
    sides: tuple[list[Cause], list[Cause]] = ([], [])
    leader = posterior.pairs[members[0]]
    for i in members:
        pair = aligned(posterior.pairs[i], leader)
        for side, fit in zip(sides, (pair.first, pair.second), strict=True):
            for cause in causes_of(posterior, fit, float(posterior.together[i])):
                merge(side, cause)
    for side in sides:
        side.sort(key=lambda c: -c.probability)
    causes = tuple(sorted((*sides[0], *sides[1]), key=lambda c: -c.probability))
    name = " and ".join(words.group_name(side) for side in sides)
    total = float(sum(posterior.together[i] for i in members))
    return Group(name, total, causes, words.TWO_AT_ONCE, "fault", 2)


def aligned(pair: Pair, leader: Pair) -> Pair:
    """A pair the same way round as the leader: what both hold stands on the same side."""
    mine, its = (
        [{designator(p.name) for p in f.hypothesis.places} for f in (x.first, x.second)] for x in (pair, leader)
    )
    crossed = bool(mine[0] & its[1] or mine[1] & its[0]) and not (mine[0] & its[0] or mine[1] & its[1])
    return Pair(pair.second, pair.first, pair.log_evidence) if crossed else pair


def merge(side: list[Cause], cause: Cause) -> None:
    """Add a cause, or its probability where the same cause is there already beside another."""
    for k, old in enumerate(side):
        if (old.place, old.mode) == (cause.place, cause.mode):
            side[k] = replace(old, probability=old.probability + cause.probability)
            return
    side.append(cause)
