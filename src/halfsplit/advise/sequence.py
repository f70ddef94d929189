"""Sequences of tests: what a policy costs on average, and which test to make first when one looks several ahead.

States are what may be wrong, tests have a few outcomes each, and every outcome has a probability for every state (0 or
1 where a test is certain). A policy is done when one group of states holds enough.
source: one step ahead, de Kleer & Williams 1987, Artif. Intell. 32, 97-130; optimum and its bounds, Pattipati &
Alexandridis 1990, IEEE Trans. SMC 20, 872-887; expected information, Lindley 1956, Ann. Math. Stat. 27, 986-1005
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.advise.information import entropy_bits

Real = npt.NDArray[np.float64]
Policy = Callable[[Real], int | None]

CERTAIN = 1.0 - 1e-9
TINY = 1e-9
SLOWEST = 1e-4  # bits for one unit of cost, where no test tells more
WIDE = 8
LONGEST = 200


@dataclass(frozen=True, slots=True, eq=False)
class Menu:
    """Tests to choose from.

    costs : (T,) in any one unit, above 0; tables : (T, n, O) probability of each outcome in each state
    member : (n, G) 1 where a state belongs to a group: states of one group need not be told apart
    enough : a group that holds this much ends the work
    """

    costs: Real
    tables: Real
    member: Real
    enough: float = CERTAIN

    def done(self, p: Real) -> npt.NDArray[np.bool_]:
        """Whether the work is over. p : (..., n). returns (...)."""
        return np.asarray((p @ self.member).max(-1) >= self.enough)

    def entropy(self, p: Real) -> Real:
        """Bits of uncertainty about the group. p : (..., n). returns (...)."""
        return entropy_bits(p @ self.member)


def menu(
    costs: Sequence[float], tables: Sequence[Real], group: Sequence[int] | None = None, enough: float = CERTAIN
) -> Menu:
    """Tests with differing numbers of outcomes, side by side.

    costs : (T,); tables : T of (n, O_t), rows sum to 1
    group : (n,) number of the group of each state, None: each its own
    raises ValueError for a cost that is not above 0, or for rows that are no probabilities
    """
    n, most = tables[0].shape[0], max(t.shape[1] for t in tables)
    out = np.zeros((len(tables), n, most))
    for i, t in enumerate(tables):
        if t.shape[0] != n or (t < 0).any() or not np.allclose(t.sum(1), 1.0):
            raise ValueError(f"table {i}: every row must be probabilities that sum to 1")
        out[i, :, : t.shape[1]] = t
    if len(costs) != len(tables) or min(costs) <= 0:
        raise ValueError("every test needs a cost above 0")
    of = np.arange(n) if group is None else np.asarray(group)
    member = np.zeros((n, int(of.max()) + 1))
    member[np.arange(n), of] = 1.0
    return Menu(np.array(costs, float), out, member, enough)


def after(tests: Menu, p: Real) -> tuple[Real, Real]:
    """What each outcome of each test would leave. p : (..., n).

    returns chance of the outcomes (..., T, O), and what is then believed (..., T, O, n)
    """
    joint = p[..., None, :, None] * tests.tables
    chance = joint.sum(-2)
    left = np.swapaxes(joint, -1, -2) / np.maximum(chance, 1e-300)[..., None]
    return chance, left


def information(tests: Menu, p: Real) -> Real:
    """Expected drop of entropy by each test, bits. p : (..., n). returns (..., T)."""
    chance, left = after(tests, p)
    return np.asarray(tests.entropy(p)[..., None] - (chance * tests.entropy(left)).sum(-1))


def to_go(tests: Menu, p: Real, depth: int) -> Real:
    """Estimated cost still to be paid, trying `depth` tests in turn.

    What is left after them is taken to go at the rate of the best single test there. p : (B, n). returns (B,)
    """
    out = np.zeros(len(p))
    open_ = np.flatnonzero(~tests.done(p))
    if not len(open_):
        return out
    here = p[open_]
    if depth == 0:
        rate = (information(tests, here) / tests.costs).max(-1)
        out[open_] = tests.entropy(here) / np.maximum(rate, SLOWEST)
    else:
        least = costs_first(tests, here, depth).min(-1)
        out[open_] = np.where(np.isfinite(least), least, tests.entropy(here) / SLOWEST)
    return out


def costs_first(tests: Menu, p: Real, depth: int) -> Real:
    """Estimated cost if a test is made first. p : (B, n); depth : at least 1.

    Only the WIDE tests with most bits for their cost are followed up.
    returns (B, T); infinite for a test that is not followed up, or tells nothing
    """
    chance, left = after(tests, p)
    told = tests.entropy(p)[:, None] - (chance * tests.entropy(left)).sum(-1)
    wide = min(WIDE, len(tests.costs))
    pick = np.argsort(-told / tests.costs, axis=1, kind="stable")[:, :wide]
    row = np.arange(len(p))[:, None]
    some, then = chance[row, pick], left[row, pick]
    rest = to_go(tests, then.reshape(-1, p.shape[1]), depth - 1).reshape(some.shape)
    total = tests.costs[pick] + (some * np.where(some > TINY, rest, 0.0)).sum(-1)
    out = np.full(told.shape, np.inf)
    out[row, pick] = np.where(told[row, pick] > TINY, total, np.inf)
    return out


def best_rate(tests: Menu, p: Real) -> int | None:
    """The test with most bits for its cost; None where none tells anything. p : (n,)."""
    rate = information(tests, p) / tests.costs
    return int(np.argmax(rate)) if rate.max() > TINY else None


def ahead(tests: Menu, p: Real, depth: int = 2) -> int | None:
    """The test to make first, trying `depth` tests in turn; None where none tells anything. p : (n,)."""
    total = costs_first(tests, p[None], depth)[0]
    return int(np.argmin(total)) if np.isfinite(total).any() else None


def expected_cost(tests: Menu, p: Real, policy: Policy) -> float:
    """What a policy costs on average until it is done, or knows no test any more. p : (n,).

    Branches of less than TINY chance are left out.
    raises ValueError for a policy that never ends
    """
    stack, total = [(1.0, p, 0)], 0.0
    while stack:
        weight, here, long = stack.pop()
        if bool(tests.done(here)):
            continue
        chosen = policy(here)
        if chosen is None:
            continue
        if long >= LONGEST:
            raise ValueError("the policy does not end")
        total += weight * float(tests.costs[chosen])
        chance, left = after(tests, here)
        for o in np.flatnonzero(weight * chance[chosen] > TINY):
            stack.append((weight * float(chance[chosen, o]), left[chosen, o], long + 1))
    return total


def optimum(tests: Menu, p: Real) -> float:
    """Least average cost that any policy can have, by dynamic programming over the sets of states still possible.

    For tests whose outcomes are certain, states each a group of their own. p : (n,)
    raises ValueError for uncertain outcomes, or where some states look the same in every test
    """
    if not np.isin(tests.tables, (0.0, 1.0)).all():
        raise ValueError("the optimum is computed for certain outcomes only")
    shown = tests.tables.argmax(-1)
    known: dict[frozenset[int], float] = {}

    def cost(states: frozenset[int]) -> float:
        if len(states) <= 1:
            return 0.0
        if states not in known:
            held = float(sum(p[list(states)]))
            known[states] = min(
                (held * float(c) + rest(row, states) for c, row in zip(tests.costs, shown, strict=True))
            )
        return known[states]

    def rest(row: npt.NDArray[np.intp], states: frozenset[int]) -> float:
        parts: dict[int, set[int]] = {}
        for s in states:
            parts.setdefault(int(row[s]), set()).add(s)
        return float("inf") if len(parts) < 2 else sum(cost(frozenset(x)) for x in parts.values())

    least = cost(frozenset(int(s) for s in np.flatnonzero(p > 0)))
    if not np.isfinite(least):
        raise ValueError("some states look the same in every test")
    return least / float(p.sum())
