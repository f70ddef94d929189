"""Series and parallel combinations of up to three stock parts that come to a wanted value: every one of them.

All is counted in the quantity that adds in parallel (farad, 1/ohm, 1/henry). Pairs are formed once and sorted; for
every third part the pairs that complete it are found by bisection, so the search is exhaustive and costs little more
than its answers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.parts.ratings import Rating, read_rating
from halfsplit.parts.records import Kind
from halfsplit.parts.stock import StockPart

Real = npt.NDArray[np.float64]
Index = npt.NDArray[Any]

SHAPES = ("a", "a p b", "a s b", "a p b p c", "a s b s c", "a p (b s c)", "a s (b p c)")
"""All ways to join up to three two-terminal parts; p is parallel, s in series."""
LIMITS = ("peak_volts", "rms_volts", "amps", "watts", "va")


MOST = 5_000_000
"""More combinations than this are not formed (some 600 MB); nobody reads the millionth."""


class StockError(ValueError):
    """A stock that cannot be searched. found, expected : in words"""

    def __init__(self, found: str, expected: str) -> None:
        super().__init__(f"{found}; expected {expected}")
        self.found, self.expected = found, expected


@dataclass(frozen=True, slots=True)
class Needs:
    """What a place asks of whatever stands there; 0 where nothing is known. Fields as in Rating."""

    peak_volts: float = 0.0
    rms_volts: float = 0.0
    amps: float = 0.0
    watts: float = 0.0
    va: float = 0.0


@dataclass(frozen=True, slots=True)
class Member:
    """One part of a combination. volts, amps : its share of the whole; use : of its rating, None if none is printed"""

    part: StockPart
    volts: float
    amps: float
    use: float | None
    use_of: str


@dataclass(frozen=True, slots=True)
class Combination:
    """What may stand in. value : F, H or ohm; off : value / wanted - 1; tolerance : fraction, worst case of its parts

    q : None where that of a member is not known; use : the largest of its members, None where one has no rating
    """

    shape: str
    members: tuple[Member, ...]
    value: float
    off: float
    tolerance: float | None
    q: float | None
    use: float | None


@dataclass(frozen=True, slots=True)
class Found:
    """What the search found. counted : combinations within tolerance; standing : those that stand what is needed

    best : of those, fewest parts first; weakest : where none stands it, the one that misses by least
    nearest : where none is within tolerance, the nearest one
    """

    counted: int
    standing: int
    best: tuple[Combination, ...]
    weakest: Combination | None
    nearest: Combination | None


@dataclass(frozen=True, slots=True)
class Hits:
    """Combinations of one shape. members : (m, k) rows of the stock; total : (k,) in the quantity that adds in parallel

    volts, amps : (m, k) shares of the whole
    """

    shape: str
    members: Index
    total: Real
    volts: Real
    amps: Real


def additive(kind: Kind, value: npt.ArrayLike) -> Real:
    """The quantity that adds where parts stand in parallel, and back: farad as they are, the rest inverted."""
    v = np.asarray(value, float)
    return v if kind is Kind.CAPACITOR else 1.0 / v


def search(
    stock: Sequence[StockPart], kind: Kind, wanted: float, tolerance: float, needs: Needs, most: int = 3
) -> Found:
    """Every combination of up to three parts within tolerance, judged against what the place asks.

    wanted : F, H or ohm; tolerance : fraction below 1; most : combinations to hand back for each number of parts
    raises StockError for an empty stock of that kind, and for one so large or a tolerance so wide that there is no end
    """
    own = sorted((p for p in stock if p.kind is kind), key=lambda p: p.value)
    if not own:
        raise StockError(f"the stock has no {kind.value}", f"parts of kind {kind.value!r}")
    v = additive(kind, [p.value for p in own])
    low, high = sorted(additive(kind, [wanted * (1.0 - tolerance), wanted * (1.0 + tolerance)]).tolist())
    bench = Bench(own, kind, wanted, needs)
    groups = [h for h in (bench.counted(x) for x in hits(v, low, high)) if h.total.size]
    uses = [bench.uses(h) for h in groups]
    counted = sum(h.total.size for h in groups)
    if not counted:
        return Found(0, 0, (), None, nearest(bench, v))
    standing = sum(int((u <= 1.0).sum()) for u in uses)
    if not standing:
        k = int(np.argmin([u.min() for u in uses]))
        return Found(counted, 0, (), bench.made(groups[k], int(np.argmin(uses[k]))), None)
    best: list[Combination] = []
    for size in (1, 2, 3):
        rows = [
            (merit, g, i)
            for g, (h, u) in enumerate(zip(groups, uses, strict=True))
            if len(h.members) == size
            for merit, i in bench.leading(h, u, most)
        ]
        best += [bench.made(groups[g], i) for _, g, i in sorted(rows)[:most]]
    return Found(counted, standing, tuple(best), None, None)


def nearest(bench: Bench, v: Real) -> Combination | None:
    """The combination that comes nearest where none is within tolerance; None where none is within a factor of ten."""
    reach = 0.02
    while reach < 10.0:
        target = float(additive(bench.kind, bench.wanted))
        groups = [bench.counted(h) for h in hits(v, target / (1.0 + reach), target * (1.0 + reach))]
        rows = [(abs(float(x)), g, i) for g, h in enumerate(groups) for i, x in enumerate(np.log(h.total / target))]
        if rows:
            _, g, i = min(rows)
            return bench.made(groups[g], i)
        reach *= 2.0
    return None


def hits(v: Real, low: float, high: float) -> list[Hits]:
    """Every combination with a total from low to high, each once. v : (n,) values that add in parallel"""
    n = len(v)
    i, j = (k.astype(np.int32) for k in np.triu_indices(n))
    parallel, series = v[i] + v[j], v[i] * v[j] / (v[i] + v[j])
    one = np.flatnonzero((v >= low) & (v <= high))
    out = [shared("a", one[None], v)]
    for shape, x in (("a p b", parallel), ("a s b", series)):
        k = np.flatnonzero((x >= low) & (x <= high))
        out.append(shared(shape, np.stack([i[k], j[k]]), v))
    for inner, x in (("p", parallel), ("s", series)):
        order = np.argsort(x, kind="stable")
        for outer in ("p", "s"):
            first, pair = completed(v, x[order], low, high, outer)
            b, c = i[order[pair]], j[order[pair]]
            if outer == inner:
                once = first <= b
                out.append(shared(f"a {outer} b {inner} c", np.stack([first[once], b[once], c[once]]), v))
            else:
                out.append(shared(f"a {outer} (b {inner} c)", np.stack([first, b, c]), v))
    return out


def completed(v: Real, pairs: Real, low: float, high: float, outer: str) -> tuple[Index, Index]:
    """(rows of v, rows of the sorted pairs) that together come to low..high, joined as `outer` says."""
    if outer == "p":
        least, most = low - v, high - v
    else:  # 1/total = 1/a + 1/pair
        with np.errstate(divide="ignore"):
            rest = [1.0 / low - 1.0 / v, 1.0 / high - 1.0 / v]
            least, most = (np.where(r > 0, 1.0 / np.where(r > 0, r, 1.0), np.inf) for r in rest)
    left = np.searchsorted(pairs, least, "left")
    counts = np.maximum(np.searchsorted(pairs, most, "right") - left, 0)
    if counts.sum() > MOST:
        raise StockError(
            f"{counts.sum()} combinations of one shape within tolerance", f"at most {MOST}: a tighter tolerance"
        )
    first = np.repeat(np.arange(len(v), dtype=np.int32), counts)
    begun = np.repeat(left - np.concatenate([[0], np.cumsum(counts)[:-1]]), counts)
    return first, begun + np.arange(first.size)


def shared(shape: str, members: Index, v: Real) -> Hits:
    """How volts and amps divide in combinations of one shape."""
    x = v[members]
    whole = np.broadcast_to(1.0, x.shape)
    if shape in ("a", "a p b", "a p b p c"):
        total = x.sum(axis=0)
        return Hits(shape, members, total, whole, x / total)
    if shape in ("a s b", "a s b s c"):
        total = 1.0 / (1.0 / x).sum(axis=0)
        return Hits(shape, members, total, total / x, whole)
    volts, amps = np.empty_like(x), np.empty_like(x)
    if shape == "a p (b s c)":
        pair = x[1] * x[2] / (x[1] + x[2])
        total = x[0] + pair
        volts[0] = 1.0
        np.divide(pair, x[1:], out=volts[1:])
        amps[0] = x[0] / total
        amps[1:] = pair / total
        return Hits(shape, members, total, volts, amps)
    pair = x[1] + x[2]
    total = x[0] * pair / (x[0] + pair)
    volts[0] = total / x[0]
    volts[1:] = total / pair
    amps[0] = 1.0
    np.divide(x[1:], pair, out=amps[1:])
    return Hits(shape, members, total, volts, amps)


class Bench:
    """The sorted stock of one kind with what the place asks."""

    def __init__(self, own: Sequence[StockPart], kind: Kind, wanted: float, needs: Needs) -> None:
        self.own, self.kind, self.wanted, self.needs = own, kind, wanted, needs
        ratings = [Rating() if p.rating is None else read_rating(p.rating) for p in own]
        # What one part gets for its whole share, of each printed limit; nothing where nothing is printed.
        asked = {n: [getattr(needs, n) / (getattr(r, n) or np.inf) for r in ratings] for n in LIMITS}
        self.asked = {n: np.array(x, float) for n, x in asked.items()}
        self.by_volts = np.maximum(self.asked["peak_volts"], self.asked["rms_volts"])
        self.by_amps = self.asked["amps"]
        self.by_power = np.maximum(self.asked["watts"], self.asked["va"])
        self.given = [r.given for r in ratings]
        self.rated = np.array([bool(g) for g in self.given])
        self.counts = np.array([np.iinfo(np.intp).max if p.count is None else p.count for p in own])

    def counted(self, found: Hits) -> Hits:
        """Those for which there are enough of every value."""
        m = found.members
        if (self.counts >= len(m)).all():
            return found
        enough = np.ones(m.shape[1], bool)
        for k in range(len(m)):
            enough &= (m == m[k]).sum(axis=0) <= self.counts[m[k]]
        return Hits(found.shape, m[:, enough], found.total[enough], found.volts[:, enough], found.amps[:, enough])

    def uses(self, found: Hits) -> Real:
        """The largest use of any printed limit by any member, (k,); 0 where nothing is printed."""
        top = np.zeros(found.total.size)
        for m, volts, amps in zip(found.members, found.volts, found.amps, strict=True):
            for limit, share in ((self.by_volts, volts), (self.by_amps, amps), (self.by_power, volts * amps)):
                if limit.any():
                    np.maximum(top, limit[m] * share, out=top)
        return top

    def member_uses(self, at: int, volts: float, amps: float) -> list[tuple[float, str]]:
        """(use, limit) of one part at its shares, for what is printed; watts and VA go with both shares."""
        share = {"peak_volts": volts, "rms_volts": volts, "amps": amps, "watts": volts * amps, "va": volts * amps}
        given = self.given[at]
        return [(float(self.asked[n][at]) * share[n], n) for n in LIMITS if n in given]

    def leading(self, found: Hits, use: Real, most: int) -> list[tuple[float, int]]:
        """(merit, row) of the best that stand it: nearest in value first, what has no rating behind what has one."""
        rows = np.flatnonzero(use <= 1.0)
        merit = np.abs(found.total[rows] / float(additive(self.kind, self.wanted)) - 1.0)
        if not self.rated.all():
            merit += 10.0 * ~self.rated[found.members[:, rows]].all(axis=0)
        best: Index = np.argpartition(merit, min(most, merit.size) - 1)[:most] if merit.size else rows
        return [(float(merit[k]), int(rows[k])) for k in best]

    def made(self, found: Hits, row: int) -> Combination:
        """One row as a record."""
        members, share = [], []
        for k, at in enumerate(found.members[:, row]):
            volts, amps = float(found.volts[k, row]), float(found.amps[k, row])
            known = self.member_uses(int(at), volts, amps)
            top, name = max(known) if known else (None, "")
            members.append(Member(self.own[at], volts, amps, top, name))
            share.append(volts * amps)
        value = float(additive(self.kind, found.total[row]))
        known_uses = [m.use for m in members if m.use is not None]
        return Combination(
            found.shape, tuple(members), value, value / self.wanted - 1.0,
            weighed(share, [m.part.tolerance for m in members]), harmonic(share, [m.part.q for m in members]),
            max(known_uses) if len(known_uses) == len(members) else None,
        )  # fmt: skip


def weighed(share: Sequence[float], each: Sequence[Any]) -> float | None:
    """Tolerance of the whole in the worst case: each member counts with its share of the energy (they add up to 1)."""
    return None if None in each else sum(s * t for s, t in zip(share, each, strict=True))


def harmonic(share: Sequence[float], each: Sequence[Any]) -> float | None:
    """Q of the whole: losses add, each in proportion to the member's share of the energy."""
    return None if None in each else 1.0 / sum(s / q for s, q in zip(share, each, strict=True))
