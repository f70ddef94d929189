"""How long a fault lived: work on a place ends a fault there, leaves it, or puts a new one in."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

from halfsplit.expect import State
from halfsplit.fault.hypotheses import Hypothesis, Place, designator

LEAST = 1e-9
RENEWING = ("replaced", "adjusted", "other")
"""Work after which the value of a part is another one."""


@dataclass(frozen=True, slots=True)
class Work:
    """One piece of work on the unit.

    key : in the job; kind : row of the table of cures; place : where; text : in one line
    after : the unit from then on; states are numbered by the work that was done before, in order
    """

    key: str
    kind: str
    place: str
    text: str
    after: State

    @property
    def state(self) -> int:
        """Number of the state of the unit that begins with it, 1 for the first work."""
        return self.after.number


@dataclass(frozen=True, slots=True)
class Cure:
    """What work does to one way of failing. cured : chance that it is gone; spoilt : weight of a new one, relative"""

    cured: float
    spoilt: float
    source: str


NONE = Cure(0.0, 0.0, "not touched")


@cache
def table() -> dict[tuple[str, str, str], Cure]:
    """The table of cures by (work, nature of the place, mode)."""
    rows = tomllib.loads(files("halfsplit.fault").joinpath("cures.toml").read_text("utf-8"))["row"]
    return {(r["work"], r["at"], r["mode"]): Cure(r["cured"], r["spoilt"], r["source"]) for r in rows}


def nature(name: str) -> str:
    """Whether a place is a joint, a contact, or a part (or anything else that stands for itself)."""
    return "contact" if " contact" in name else "joint" if name.endswith("joint") else "part"


def touches(work: Work, name: str) -> bool:
    """Whether a place is what was worked on, or a joint or contact of it."""
    return work.place in (name, designator(name))


def cure(work: Work, place: Place) -> Cure:
    """What work does to a way of failing at a place."""
    if not touches(work, place.name):
        return table().get(("any", nature(place.name), "elsewhere"), NONE)
    at, mode = nature(place.name), "value" if place.word.startswith("value") else "any"
    rows = table()
    return rows.get((work.kind, at, mode)) or rows[work.kind, at, "any"]


def lives(place: Place, works: Sequence[Work]) -> dict[tuple[int, int], float]:
    """Every span of states in which a fault of a place may have been there, with its weight.

    A fault that came with the unit ends with the first work that cures it; work may put another one in.
    works : in order. returns {(first state, first state without it): share of the weight}; the last state counts as one
    without end, len(works) + 1
    """
    touching = [(w.state, cure(w, place)) for w in works]
    out: dict[tuple[int, int], float] = {}
    for start, weight in [(0, 1.0), *((state, c.spoilt) for state, c in touching)]:
        left = weight
        for state, c in touching:
            if state > start:
                out[start, state] = out.get((start, state), 0.0) + left * c.cured
                left *= 1.0 - c.cured
        out[start, len(works) + 1] = out.get((start, len(works) + 1), 0.0) + left
    return {span: w for span, w in out.items() if w > LEAST}


def lived(hypotheses: Sequence[Hypothesis], works: Sequence[Work], read: frozenset[int]) -> tuple[Hypothesis, ...]:
    """The hypotheses of a job with work done: each once for every span in which its fault may have been there.

    read : states of which there are readings: a span without any says nothing and is left out
    """
    if not works:
        return tuple(hypotheses)
    out = []
    for h in hypotheses:
        if h.family != "fault":
            out.append(h)
            continue
        spans: dict[tuple[int, int], list[Place]] = {}
        for place in h.places:
            for span, share in told_apart(lives(place, works), read, len(works)).items():
                spans.setdefault(span, []).append(replace(place, weight=place.weight * share))
        for (first, end), places in spans.items():
            life = frozenset(range(first, end))
            whole = first == 0 and end > len(works)
            if life & read:
                key = h.key if whole else f"{h.key}|states {first} to {end - 1}"
                out.append(replace(h, key=key, places=tuple(places), life=None if whole else life))
    return tuple(out)


def told_apart(spans: dict[tuple[int, int], float], read: frozenset[int], last: int) -> dict[tuple[int, int], float]:
    """Spans that hold the same readings, and are there today or not alike, put together under the weightiest."""
    groups: dict[tuple[frozenset[int], bool], list[tuple[float, tuple[int, int]]]] = {}
    for (first, end), weight in spans.items():
        seen = frozenset(range(first, end)) & read
        groups.setdefault((seen, end > last), []).append((weight, (first, end)))
    return {max(rows)[1]: sum(w for w, _ in rows) for (seen, _), rows in groups.items() if seen}


def ended_by(h: Hypothesis, works: Sequence[Work]) -> Work | None:
    """The work that a hypothesis says has cured its fault; None where it is still there, or always was not."""
    if h.life is None or len(works) in h.life:
        return None
    return works[max(h.life)]


def begun_by(h: Hypothesis, works: Sequence[Work]) -> Work | None:
    """The work that a hypothesis says has put its fault in."""
    if h.life is None or 0 in h.life:
        return None
    return works[min(h.life) - 1]
