"""The question about complaint and history that would help most: expected drop of entropy about the place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.fault.answers import table
from halfsplit.fault.hypotheses import designator
from halfsplit.fault.records import Ask, Reply
from halfsplit.fault.told import Causes
from halfsplit.history import LIVE, QUESTIONS, History

Real = npt.NDArray[np.float64]

LEAST_BITS = 0.005
WORK_KNOWN = 0.1
"""Chance that a place was worked on before where the cause is elsewhere; where it is there, "touched" times that."""
LEAST_MOVE = 0.015
ONE_GROUP = 0.8


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A question with, for each answer, the chance that every cause gives it.

    rows : what to type for each answer; chances : (n_answer, n), columns sum to 1
    """

    text: str
    answers: tuple[str, ...]
    rows: tuple[str, ...]
    chances: Real


def best_question(causes: Causes, history: History, p: Real, names: Sequence[str]) -> Ask | None:
    """The question that is expected to help most, None where none would.

    p : (n,) probability of every cause now; names : (n,) of the group that each belongs to
    source: Lindley 1956, Ann. Math. Stat. 27, 986-1005
    """
    if p.sum() <= 0.0:
        return None
    p = p / p.sum()
    places = [e.place.name for e in causes.entries]
    numbers = np.unique(places, return_inverse=True)[1]
    scored = [(drop_of_entropy(c.chances, p, numbers), c) for c in candidates(causes, history, p)]
    bits, best = max(scored, key=lambda s: s[0], default=(0.0, None))
    if best is None or bits < LEAST_BITS:
        return None
    live = any(q.live and q.text == best.text for q in QUESTIONS)
    return Ask(best.text, bits, replies(best, p, telling(causes, p, names)), LIVE if live else "")


def telling(causes: Causes, p: Real, names: Sequence[str]) -> list[str]:
    """(n,) what to call each cause: by its group, or by its part where one group holds nearly everything."""
    held: dict[str, float] = {}
    for name, share in zip(names, p, strict=True):
        held[name] = held.get(name, 0.0) + float(share)
    if max(held.values()) < ONE_GROUP:
        return list(names)
    return [
        name if e.elsewhere is not None else designator(e.place.name)
        for name, e in zip(names, causes.entries, strict=True)
    ]


def drop_of_entropy(chances: Real, p: Real, place: npt.NDArray[np.intp]) -> float:
    """Expected drop of entropy about the place, bits.

    chances : (n_answer, n) of every answer by cause; p : (n,); place : (n,) number of the place of each cause
    """

    def entropy(q: Real) -> float:
        at = np.bincount(place, q)
        at = at[at > 0.0]
        return float(-(at * np.log2(at)).sum())

    after = 0.0
    for row in chances:
        come = float(p @ row)
        after += come * entropy(p * row / come) if come > 0.0 else 0.0
    return entropy(p) - after


def candidates(causes: Causes, history: History, p: Real) -> Iterator[Candidate]:
    """Every question that has not been answered yet."""
    for q in QUESTIONS:
        if q.answers and q.key not in history.asked:
            rows = tuple(f"{q.key} = {a}" for a in q.answers)
            yield candidate(q.text, q.answers, rows, [of_choice(causes, history, q.key, a) for a in q.answers])
    told = {*history.bad, *history.good}
    for band in causes.names if len(causes.names) > 1 and not ({"bad", "good"} & history.asked and not told) else ():
        if band not in told and band not in causes.refused:
            chances = [of_band(causes, history, band, bad=bad) for bad in (True, False)]
            yield candidate(f"Is it wrong on {band}?", ("yes", "no"), (f"bad = {band}", f"good = {band}"), chances)
    if "repaired" not in history.asked:
        yield from work(causes, p)


def candidate(text: str, answers: Sequence[str], rows: Sequence[str], chances: Sequence[Real]) -> Candidate:
    """A question with the chances of its answers made to sum to 1."""
    stacked = np.array(chances)
    return Candidate(text, tuple(answers), tuple(rows), stacked / stacked.sum(axis=0))


def of_choice(causes: Causes, history: History, key: str, answer: str) -> Real:
    """(n,) chance of an answer to a question with a choice, with what is told already."""
    if key == "symptom":
        return causes.chance_seen(answer, history.bad, history.good)
    return causes.chance(key, answer)


def of_band(causes: Causes, history: History, band: str, *, bad: bool) -> Real:
    """(n,) chance that a band is told to be bad, or good, together with what is told already."""
    more = (band,)
    return causes.chance_seen(
        history.answer("symptom"), history.bad + (more if bad else ()), history.good + (() if bad else more)
    )


def work(causes: Causes, p: Real) -> Iterator[Candidate]:
    """Whether the leading part was worked on before."""
    by_part: dict[str, float] = {}
    for e, held in zip(causes.entries, p, strict=True):
        if e.elsewhere is None and not e.neutral and " " not in designator(e.place.name):
            by_part[designator(e.place.name)] = by_part.get(designator(e.place.name), 0.0) + float(held)
    if by_part:
        lead = max(by_part, key=lambda k: by_part[k])
        here = np.array([e.elsewhere is None and designator(e.place.name) == lead for e in causes.entries])
        yes = np.where(here, WORK_KNOWN * table().figures["touched"], WORK_KNOWN)
        text = f"Was {lead} or its joints worked on before?"
        yield candidate(text, ("yes", "no"), (f"repaired = {lead}", "repaired = none"), [yes, 1.0 - yes])


def replies(best: Candidate, p: Real, names: Sequence[str]) -> tuple[Reply, ...]:
    """What each answer would mean: which cause gains most, and which leads then; answers by their chance."""
    labels = sorted({n for n in names if n})
    at = np.array([labels.index(n) if n else len(labels) for n in names])
    before = by_label(at, p, len(labels))
    out = []
    for answer, row, chance in zip(best.answers, best.rows, best.chances, strict=True):
        come = float(p @ chance)
        after = by_label(at, p * chance / come, len(labels))
        out.append(Reply(answer, come, meaning(labels, before, after), row))
    return tuple(sorted(out, key=lambda r: -r.probability))


def by_label(at: npt.NDArray[np.intp], p: Real, n: int) -> Real:
    """(n,) probability of every label. at : (n_cause,) number of the label of each cause, n for none"""
    return np.asarray(np.bincount(at, p, n + 1)[:n], float)


def meaning(labels: Sequence[str], before: Real, after: Real) -> str:
    """What moves most, up and down, in words."""
    up, down = int(np.argmax(after - before)), int(np.argmin(after - before))
    parts = [
        f"{labels[k]} {word} from {100 * before[k]:.0f} to {100 * after[k]:.0f} %"
        for k, word in ((up, "rises"), (down, "falls"))
        if abs(after[k] - before[k]) > LEAST_MOVE
    ]
    return "; ".join(parts) or "hardly anything moves"
