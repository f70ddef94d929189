"""How a ranking is marked against a truth, and how sure a share of cases is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt

from halfsplit.fault import Group, Ranking


@dataclass(frozen=True)
class Mark:
    """One ranking against its truth.

    first : the most probable name (all its ways to fail added up; the sound unit and the unlisted cause compete)
            is a true one
    in_group : the most probable group holds a true name; in_set : one of the groups of the 90 % set does
    said : probability given to the most probable group; given : probability given to all true names
    top : name of the most probable group; wide : number of different places in the 90 % set: naming them all is
    easy, naming few is the art
    """

    first: bool
    in_group: bool
    in_set: bool
    said: float
    given: float
    top: str
    wide: int


def names(place: str, true: str) -> bool:
    """True where a place is the true thing or one of its joints or contacts ("C22 ground joint" for "C22")."""
    return place == true or place.startswith(true + " ")


def holds(group: Group, truths: Iterable[str]) -> bool:
    """True where one of the causes of a group sits at a true place."""
    if group.family == "sound":
        return "sound" in truths
    return any(names(c.place, t) for c in group.causes for t in truths)


def mark(ranking: Ranking, truths: Sequence[str]) -> Mark:
    """Mark a ranking.

    truths : names that are right; ("sound",) for a sound unit
    """
    groups = ranking.groups
    inside = groups[: len(ranking.set90)]
    best, p = ranking.parts[0] if ranking.parts else ("", 0.0)
    rivals = {"sound": ranking.sound, "not listed": ranking.not_listed, best: p}
    winner = max(rivals, key=lambda name: rivals[name])
    given = sum(p for place, p in ranking.places if any(names(place, t) for t in truths))
    return Mark(
        any(names(winner, t) for t in truths),
        holds(groups[0], truths),
        any(holds(g, truths) for g in inside),
        groups[0].probability,
        ranking.sound if "sound" in truths else given,
        groups[0].name,
        len({c.place for g in inside for c in g.causes}),
    )


def wilson(hits: int, of: int, z: float = 1.96) -> tuple[float, float]:
    """Confidence interval of a share of cases. z : 1.96 for 95 %.

    source: Wilson 1927, J. Am. Stat. Assoc. 22(158), 209-212
    """
    if of == 0:
        return 0.0, 1.0
    p, n = hits / of, float(of)
    middle = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z * sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n)
    return max(0.0, middle - half), min(1.0, middle + half)


def share(hits: int, of: int) -> str:
    """A share with its interval, as text."""
    low, high = wilson(hits, of)
    percent = 100 * hits / of if of else float("nan")
    return f"{hits}/{of} = {percent:.0f} % ({100 * low:.0f} to {100 * high:.0f} %)"


EDGES = (0.0, 0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 0.97, 1.0)


def reliability(marks: Sequence[Mark], edges: Sequence[float] = EDGES) -> list[tuple[float, float, int, float, int]]:
    """What was said against what was true, for the most probable group.

    returns rows (from, to, cases, mean probability said, cases that were right)
    """
    rows = []
    for low, high in pairwise(edges):
        inside = [m for m in marks if low <= m.said < high or (high == 1.0 and m.said >= 1.0)]
        if inside:
            mean = sum(m.said for m in inside) / len(inside)
            rows.append((low, high, len(inside), mean, sum(m.in_group for m in inside)))
    return rows
