"""The ranking before any reading: what usually fails, weighed by what was told."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from halfsplit.errors import ModelError
from halfsplit.fault.groups import credible
from halfsplit.fault.heard import heard
from halfsplit.fault.hypotheses import Hypothesis, catalogue, designator
from halfsplit.fault.rank import prior
from halfsplit.fault.reach import Reach
from halfsplit.fault.records import Cause, Group, Ranking
from halfsplit.fault.told import Account, Causes, account
from halfsplit.fault.weights import Weights
from halfsplit.fault.words import belief
from halfsplit.history import History
from halfsplit.hookup import Hookup
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

WARNING = (
    "No reading yet: this leans on what usually fails, good to a factor of 3, and on what was told. It says where to "
    "measure first; it is no reason to unsolder anything."
)
TOGETHER = "no reading tells them apart yet"
SOUND = "path sound, the cause is outside it"


def rank_untested(unit: Unit, history: History, complaint: str = "", weights: Weights | None = None) -> Ranking:
    """Rank causes by complaint and history alone, in groups by what they can touch.

    history : at least one answer; complaint : in the owner's words, only shown
    raises ValueError where nothing was told; ModelError where no band can be modelled
    """
    if not history:
        raise ValueError("nothing was told")
    table, reach = weights or Weights(), Reach(unit)
    if not reach.scenes:
        raise ModelError(f"no band of {unit.name} can be modelled ({'; '.join(why for _, why in reach.refused)})")
    found = [h for h in catalogue(unit, reach.scenes, modelled(reach), table) if h.family != "mix-up"]
    before = prior(found, table)
    told = account(Causes(unit, found, before, None, reach), history)
    p = told.causes.prior * told.ratio
    p = p / p.sum()
    groups = grouped(told, found, p)
    share = {
        family: float(sum(g.probability for g in groups if g.family == family)) for family in ("sound", "unlisted")
    }
    places, parts = totals(told, p)
    ranking = Ranking(
        groups, places, parts, share["sound"], share["unlisted"], credible(groups, 0.9), (), (), (), (WARNING,),
        said(groups, complaint),
    )  # fmt: skip
    held: dict[str, float] = {}
    for e, x in zip(told.causes.entries, p, strict=True):
        held[e.key] = held.get(e.key, 0.0) + float(x)
    return heard(ranking, told, [(h, held[h.key]) for h in found])


def modelled(reach: Reach) -> tuple[Hookup, ...]:
    """The plain hook-ups of the bands that can be modelled."""
    refused = dict(reach.refused)
    return tuple(h for h in reach.hookups if h.band not in refused)


def said(groups: tuple[Group, ...], complaint: str) -> str:
    """What is believed, in one sentence that says where it comes from."""
    if groups[0].family == "sound":
        tail = f" (complaint: {complaint})" if complaint else ""
        percent = f"{100 * groups[0].probability:.0f} %"
        return f"By what was told alone, most likely the path is sound and the cause is outside it, {percent}{tail}."
    text = belief(groups, complaint)
    return f"By what was told alone: {text[0].lower()}{text[1:]}"


def grouped(told: Account, found: list[Hypothesis], p: Real) -> tuple[Group, ...]:
    """Causes by the bands whose path holds them."""
    family: dict[str, str] = {h.key: h.family for h in found}
    members: dict[tuple[str, str], list[Cause]] = {}
    for e, x in zip(told.causes.entries, p, strict=True):
        name, kind = block(told, e.key, family[e.key]), family[e.key]
        text = f"{e.place.name}: {e.place.word}" if e.elsewhere is None else f"elsewhere: {e.place.name}"
        cause = Cause(e.place.name, e.place.word, text, None, "", float(x), 0.0, (), (), kind)
        members.setdefault((name, kind), []).append(cause)
    groups = []
    for (name, kind), causes in members.items():
        causes.sort(key=lambda c: -c.probability)
        shown = (
            causes if kind != "sound" else [Cause("sound", "sound", SOUND, None, "", sum_of(causes), 0.0, (), (), kind)]
        )
        groups.append(Group(name, sum_of(causes), tuple(shown), TOGETHER if len(shown) > 1 else "", kind))
    return tuple(sorted(groups, key=lambda g: -g.probability))


def sum_of(causes: list[Cause]) -> float:
    """Probability of several causes together."""
    return float(sum(c.probability for c in causes))


def block(told: Account, key: str, family: str) -> str:
    """The part of the unit that a hypothesis belongs to, in words."""
    if family in ("sound", "unlisted"):
        return SOUND if family == "sound" else "something not listed"
    touched = told.causes.effects[key].touched
    names = [n for n in told.causes.names if n not in told.causes.refused]
    if len(touched) == len(names):
        alone = "the path" if len(told.causes.names) == 1 else f"the path on {names[0]}"
        return "what all bands share" if len(names) > 1 else alone
    filters = dict.fromkeys(b.filter for b in told.causes.unit.bands if b.name in touched and b.filter)
    if key.startswith("stuck|"):
        return "a contact stuck closed"
    return f"{', '.join(filters) or 'path'} and contacts ({', '.join(touched)})"


def totals(told: Account, p: Real) -> tuple[tuple[tuple[str, float], ...], tuple[tuple[str, float], ...]]:
    """(place, probability) and the same by designator, the likeliest first."""
    places: dict[str, float] = {}
    parts: dict[str, float] = {}
    for e, x in zip(told.causes.entries, p, strict=True):
        if e.elsewhere is None:
            places[e.place.name] = places.get(e.place.name, 0.0) + float(x)
            parts[designator(e.place.name)] = parts.get(designator(e.place.name), 0.0) + float(x)
    first, second = (tuple(sorted(d.items(), key=lambda r: (-r[1], r[0]))) for d in (places, parts))
    return first, second
