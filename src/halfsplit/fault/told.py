"""What was told about the unit, as a weight on every cause: the complaint is a reading, by hearsay."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from halfsplit.fault.answers import ANY, AWAY, Elsewhere, kind_of, table
from halfsplit.fault.hypotheses import Hypothesis, Place, designator, parts_of
from halfsplit.fault.reach import SEEN, SHARES, Reach, any_seen
from halfsplit.fault.standing import Fit
from halfsplit.history import History
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

UNSEEN = 0.05
"""Chance, for each of SEEN, that a fault shows so though its curves do not: without effect there is no complaint."""
WORTH_SAYING = 1.4


@dataclass(frozen=True, slots=True)
class Entry:
    """One cause: a place of a hypothesis, or what lies outside a sound path. prior : probability before any answer."""

    key: str
    place: Place
    kind: str
    prior: float
    elsewhere: Elsewhere | None = None
    neutral: bool = False


@dataclass(eq=False)
class Causes:
    """All causes of a unit, and how likely each makes an answer.

    hypotheses : with before, their prior probability by key; measured : bands that readings touch, None without any
    reach : of the unit, where it is there already
    """

    unit: Unit
    hypotheses: Sequence[Hypothesis]
    before: Mapping[str, float]
    measured: frozenset[str] | None = None
    reach: Reach | None = None

    def __post_init__(self) -> None:
        reach = self.reach or Reach(self.unit)
        self.effects, self.refused = reach.effects(self.hypotheses), dict(reach.refused)
        self.names = tuple(b.name for b in self.unit.bands)
        self.unmeasured = tuple(n for n in self.names if self.measured is not None and n not in self.measured)

    @cached_property
    def entries(self) -> tuple[Entry, ...]:
        """Every place of every hypothesis, and every cause outside the path in the place of the sound unit."""
        parts, cables = parts_of(self.unit), frozenset(c.ref for c in self.unit.cables)
        out = []
        for h in self.hypotheses:
            if h.family == "sound":
                out += self.outside(h.key)
                continue
            for p in h.places:
                prior = self.before[h.key] * p.weight / h.weight
                kind = kind_of(p, parts, cables)
                out.append(Entry(h.key, p, kind, prior, neutral=h.family == "mix-up"))
        return tuple(out)

    def outside(self, key: str) -> list[Entry]:
        """Causes outside the path, the path on bands without a reading among them. key : of the sound unit"""
        rows: list[Elsewhere] = []
        for e in table().elsewhere:
            if e.kind == ANY:
                share = e.weight / len(self.names)
                rows += [replace(e, name=b, text=f"{e.text} {b}", weight=share) for b in self.unmeasured]
            elif e.kind != AWAY or self.measured is not None:
                rows.append(e)
        whole = sum(e.weight for e in rows)
        return [
            Entry(key, Place(e.name, "outside", e.weight), e.kind, self.before[key] * e.weight / whole, e) for e in rows
        ]

    @cached_property
    def prior(self) -> Real:
        """(n,) prior probabilities."""
        return np.array([e.prior for e in self.entries])

    def settled(self, like: Real) -> Real:
        """Chances with those of neutral causes (mistakes of a hook-up explain no complaint) put at the mean."""
        neutral = np.array([e.neutral for e in self.entries])
        if not neutral.any():
            return like
        weight = np.where(neutral, 0.0, self.prior)
        return np.where(neutral, float(weight @ like / weight.sum()), like)

    def chance(self, question: str, answer: str) -> Real:
        """(n,) chance of an answer to a question with a choice."""
        rows = [table().chances(question, e.kind, e.place.word) for e in self.entries]
        return self.settled(np.array([row[answer] for row in rows]))

    def chance_of_work(self, names: Sequence[str]) -> Real:
        """(n,) relative chance that just these places were worked on before. names : designators or bands"""
        figure, filters = table().figures, {f.name: f for f in self.unit.filters}
        home = {p.ref: f.name for f in filters.values() for p in f.parts}
        home |= {c: f.name for f in filters.values() for c in (f.input, f.output) if c is not None}
        bands = {b.filter for b in self.unit.bands if b.name in names}
        near = {home[n] for n in names if n in home}
        stages = {s.name for s in self.unit.stages}
        out = []
        for e in self.entries:
            mine = designator(e.place.name)
            worked = mine in names or home.get(mine) in bands or (e.kind == "stage" and bool(stages & set(names)))
            out.append(figure["touched"] if worked else figure["near_touched"] if home.get(mine) in near else 1.0)
        return self.settled(np.array(out))

    @cached_property
    def seen(self) -> Real:
        """(n, n_size, n_band, 3) chance that the owner notices each of SEEN; nothing where a cause has no effect."""
        blank = np.zeros((len(SHARES), len(self.names), len(SEEN)))
        return np.array([self.effects[e.key].seen if e.key in self.effects else blank for e in self.entries])

    def chance_seen(self, symptom: str | None, bad: Sequence[str], good: Sequence[str]) -> Real:
        """(n,) chance of a symptom on some bands and not on others: one answer, since a fault's size decides both."""
        rows = [table().chances("symptom", e.kind, e.place.word) for e in self.entries]
        known = np.array([sum(row[s] for s in SEEN) for row in rows])
        shown, visible = np.ones(self.seen.shape[:2]), any_seen(self.seen)
        if symptom in SEEN:
            at = SEEN.index(symptom)
            most = self.seen.max(axis=2)
            whole = np.maximum(most.sum(axis=2), 1.0) + len(SEEN) * UNSEEN
            shown = (most[..., at] + UNSEEN) / whole * known[:, None]
            visible = self.seen[..., at]
        elif symptom is not None:
            shown = shown * np.array([row[symptom] for row in rows])[:, None]
        like = (shown * self.reported(visible, bad, good)).mean(axis=1)
        for i, e in enumerate(self.entries):
            if e.elsewhere is not None:
                like[i] = self.pattern(e, bad, good) * (1.0 if symptom is None else rows[i][symptom])
        return self.settled(like)

    def reported(self, visible: Real, bad: Sequence[str], good: Sequence[str]) -> Real:
        """Chance that just these bands are told to be bad and good. visible : (..., n_band) chance that each is bad."""
        figure = table().figures
        told_bad = visible * (1.0 - figure["missed"]) + (1.0 - visible) * figure["imagined"]
        out = np.ones(visible.shape[:-1])
        for i, name in enumerate(self.names):
            if name in self.refused:
                continue
            if name in bad:
                out = out * told_bad[..., i]
            elif name in good:
                out = out * (1.0 - told_bad[..., i])
        return np.asarray(out)

    def pattern(self, e: Entry, bad: Sequence[str], good: Sequence[str]) -> float:
        """Chance of the bands under a cause outside the path: all of them, or a run of neighbours in frequency."""
        n = len(self.names)
        if e.kind == ANY:
            return float(self.reported(np.eye(n)[self.names.index(e.place.name)], bad, good))
        extent = table().chances("extent", e.kind)
        whole = float(self.reported(np.ones(n), bad, good))
        order = np.argsort([b.low for b in self.unit.bands])
        runs = []
        for a in range(n):
            for z in range(a + 1, n + 1):
                if z - a < n:
                    runs.append(np.isin(np.arange(n), order[a:z]).astype(float))
        if not runs:
            return whole
        return extent["all"] * whole + extent["some"] * float(self.reported(np.array(runs), bad, good).mean())


@dataclass(frozen=True, eq=False)
class Account:
    """What a history does to the causes.

    items : (words, (n,) chance against that of any cause) of each answer; ratio : (n,) all answers together, bounded
    """

    causes: Causes
    history: History
    items: tuple[tuple[str, Real], ...]
    ratio: Real

    @cached_property
    def by_place(self) -> dict[tuple[str, Place], float]:
        """Ratio of every place of every hypothesis."""
        return {(e.key, e.place): float(r) for e, r in zip(self.causes.entries, self.ratio, strict=True)}

    def factor(self) -> dict[str, float]:
        """Factor on the probability of every hypothesis, by key."""
        top: dict[str, float] = {}
        whole: dict[str, float] = {}
        for e, r in zip(self.causes.entries, self.ratio, strict=True):
            top[e.key] = top.get(e.key, 0.0) + e.prior * float(r)
            whole[e.key] = whole.get(e.key, 0.0) + e.prior
        return {key: top[key] / whole[key] for key in top}

    def onto(self, h: Hypothesis) -> Hypothesis:
        """A hypothesis with the shares of its places as the answers have them."""
        if h.family == "sound":
            return h
        return replace(h, places=tuple(replace(p, weight=p.weight * self.by_place[h.key, p]) for p in h.places))

    def refitted(self, fits: Sequence[Fit]) -> tuple[Fit, ...]:
        """Fits with the shares of their places as the answers have them."""
        return tuple(replace(f, hypothesis=self.onto(f.hypothesis)) for f in fits)

    def outside(self, sound: float) -> tuple[tuple[str, str, float], ...]:
        """(name, in words, probability) of causes outside the path, the likeliest first; sound : of all together."""
        found = [
            (e.elsewhere, e.prior * float(r))
            for e, r in zip(self.causes.entries, self.ratio, strict=True)
            if e.elsewhere is not None
        ]
        whole = sum(p for _, p in found)
        rows = [(x.name, self.words_of(x), sound * p / whole) for x, p in found]
        return tuple(sorted(rows, key=lambda r: -r[2]))

    def words_of(self, x: Elsewhere) -> str:
        """A cause outside the path in words, with the names that this unit has for it."""
        if x.kind == "stage" and self.causes.unit.stages:
            return f"{x.text} ({', '.join(s.name for s in self.causes.unit.stages)})"
        return x.text

    def reasons(self, place: str, word: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """What was told for a cause, and against it."""
        at = [i for i, e in enumerate(self.causes.entries) if (e.place.name, e.place.word) == (place, word)]
        speaks_for, against = [], []
        for words, ratio in self.items if at else ():
            r = float(ratio[at[0]])
            if r > WORTH_SAYING:
                speaks_for.append(f"told: {words}")
            elif r < 1.0 / WORTH_SAYING:
                against.append(f"told: {words}")
        return tuple(speaks_for), tuple(against)


def account(causes: Causes, history: History) -> Account:
    """Weigh a history: chances multiplied as if answers were independent, and the product bounded because they are not.

    source: the table answers.toml; the bound is its figure "cap", approached smoothly, so that order is kept
    """
    items = tuple((words, relative(causes, like)) for words, like in chances_of(causes, history))
    total = sum((np.log(ratio) for _, ratio in items), np.zeros(len(causes.entries)))
    cap = table().figures["cap"]
    return Account(causes, history, items, np.exp(cap * np.tanh(total / cap)))


def relative(causes: Causes, like: Real) -> Real:
    """(n,) chances against their mean over all causes: 1 everywhere where all causes make the answer alike."""
    mean = float(causes.prior @ like / causes.prior.sum())
    return like / mean if np.ptp(like) > 1e-12 * mean else np.ones(len(like))


def chances_of(causes: Causes, history: History) -> list[tuple[str, Real]]:
    """Each answer in words with the chance that every cause gives it."""
    out = []
    symptom = history.answer("symptom")
    if symptom or history.bad or history.good:
        out.append((seen_words(history, causes.names), causes.chance_seen(symptom, history.bad, history.good)))
    out += [(f"{key}: {answer}", causes.chance(key, answer)) for key, answer in history.chosen if key != "symptom"]
    for key, names in (("repaired", history.repaired), ("modified", history.modified)):
        if names:
            out.append((f"{key}: {', '.join(names)}", causes.chance_of_work(names)))
    return out


def seen_words(history: History, bands: Sequence[str]) -> str:
    """Symptom and bands in words. bands : of the unit, in its order"""
    words = [history.answer("symptom") or "wrong"]
    bad, good = (", ".join(b for b in bands if b in names) for names in (history.bad, history.good))
    words += [f"on {bad}"] if bad else []
    return " ".join(words) + (f"; good on {good}" if good else "")
