"""Which parts to move, by how much, and which first: the fewest moves that bring all limits within reach."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Protocol

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from halfsplit.align.target import Limit, Plain

Real = npt.NDArray[np.float64]

REACH = 0.5
"""1 sigma of ln change that is held to be easy: larger ones count as effort."""
EFFORT = 0.05
STEP = 1e-3
MOST_MOVED = 0.6
ENOUGH = 0.8
"""With this chance that all limits are met a filter is left alone."""
AGAIN = 2.5
"""Steps that a plan costs which turns out not to do."""
HOPELESS = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """Changes that should do. order : places among the adjustable parts, the first to be moved first

    change : (n_adj,) ln of value then over now; chance : that they meet all limits; met : whether they can
    """

    order: tuple[int, ...]
    change: Real
    chance: float
    met: bool


class Question(Protocol):
    """What a plan is made on: changes (C, n_adj) in, what is then missing and how sure the limits are met out."""

    @property
    def count(self) -> int:
        """Number of adjustable parts."""
        ...

    def missing(self, changes: Real) -> Real:
        """What is missing from the aim after changes, (C, n), effort included."""
        ...

    def chance(self, change: Real) -> float:
        """How likely all limits are met after a change (n_adj,)."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Aim:
    """What is known, as a question. theta : (P,) the explanation to plan on; draws : (D, P) from all explanations

    at, sigma : (n_adj,) place and ln spread of the adjustable parts
    """

    plain: Plain
    limits: tuple[Limit, ...]
    theta: Real
    draws: Real
    at: npt.NDArray[np.intp]
    sigma: Real

    @property
    def count(self) -> int:
        """Number of adjustable parts."""
        return len(self.at)

    def moved(self, thetas: Real, changes: Real) -> Real:
        """Nuisances (K, P) after changes (C, n_adj): (C, K, P)."""
        out = np.repeat(thetas[None], len(changes), axis=0)
        out[:, :, self.at] += (changes / self.sigma)[:, None, :]
        return out

    def missing(self, changes: Real) -> Real:
        """Shortfall from the aim, and effort: (C, n)."""
        short = self.plain.shortfall(self.moved(self.theta[None], changes)[:, 0], self.limits)
        return np.concatenate([short, EFFORT * changes / REACH], axis=1)

    def chance(self, change: Real) -> float:
        """Share of the draws that meet all limits after a change."""
        return float(self.plain.met(self.moved(self.draws, change[None])[0], self.limits).mean())


def plan(aim: Question) -> Plan:
    """The parts whose moves promise the fewest steps in all: their number, and what a plan that fails costs again.

    Where no set of parts is likely to meet the limits: the nearest that they come.
    """
    n = aim.count
    none = np.zeros(n)
    chance = aim.chance(none)
    if chance > ENOUGH:
        return Plan((), none, chance, True)
    best: tuple[float, float, tuple[int, ...], Real, float] | None = None
    for size in range(1, n + 1):
        if best is not None and best[0] <= size:
            break
        for chosen in combinations(range(n), size):
            cost, change = solved(aim, chosen)
            sure = aim.chance(change)
            score = size + AGAIN * (1.0 - sure)
            if best is None or (score, cost) < best[:2]:
                best = (score, cost, chosen, change, sure)
    assert best is not None
    _, _, chosen, change, sure = best
    if sure < HOPELESS:
        chosen = tuple(range(n))
        _, change = solved(aim, chosen)
    return Plan(ordered(aim, chosen, change), change, sure, sure >= HOPELESS)


def promise(made: Plan) -> float:
    """Steps that a plan stands for, those of its failure included; fewer is better."""
    return len(made.order) + AGAIN * (1.0 - made.chance)


def solved(aim: Question, chosen: Sequence[int]) -> tuple[float, Real]:
    """Least shortfall by moving the chosen parts alone. returns (cost, changes (n_adj,))"""
    n, at = aim.count, list(chosen)

    def full(x: Real) -> Real:
        out = np.zeros((*x.shape[:-1], n))
        out[..., at] = x
        return out

    def left(x: Real) -> Real:
        return np.asarray(aim.missing(full(x)[None])[0])

    def slopes(x: Real) -> Real:
        cases = np.concatenate([x[None] + STEP * np.eye(len(at)), x[None] - STEP * np.eye(len(at))])
        seen = aim.missing(full(cases))
        return np.asarray((seen[: len(at)] - seen[len(at) :]).T / (2.0 * STEP))

    best: tuple[float, Real] | None = None
    for start in (0.0, *([0.1, -0.1] if len(at) == 1 else [])):
        found = least_squares(
            left, np.full(len(at), start), jac=slopes, bounds=(-MOST_MOVED, MOST_MOVED), max_nfev=25, xtol=1e-4,
            ftol=1e-4,
        )  # fmt: skip
        if best is None or found.cost < best[0]:
            best = (float(found.cost), full(np.asarray(found.x)))
    assert best is not None
    return best


def ordered(aim: Question, chosen: Sequence[int], change: Real) -> tuple[int, ...]:
    """The chosen parts in the order of moving them: each time the one after which least is missing."""
    done = np.zeros(len(change))
    left, out = list(chosen), []
    while left:
        cases = np.repeat(done[None], len(left), axis=0)
        for row, k in enumerate(left):
            cases[row, k] = change[k]
        cost = (aim.missing(cases) ** 2).sum(axis=1)
        first = left.pop(int(np.argmin(cost)))
        done[first] = change[first]
        out.append(first)
    return tuple(out)
