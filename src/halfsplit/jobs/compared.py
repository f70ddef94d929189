"""The verb compare: two readings, or the unit before and after work, check by check, with what may be chance."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from halfsplit.errors import InputError, Mistake
from halfsplit.expect import Observation
from halfsplit.expect.noise import GAMMA_WHITE, INSTRUMENT_DB
from halfsplit.hookup import Hookup, describe
from halfsplit.jobs.opinions import judged, opened
from halfsplit.jobs.records import Job
from halfsplit.reading import What
from halfsplit.verdict import LevelVerdict, Verdict, Word

Real = npt.NDArray[np.float64]
Item = tuple[Observation, Verdict]

DB = 20.0 / np.log(10.0)
AGAIN_DB = {"through": 0.05, "calibrated": 0.03, "none": 0.3}
"""1 sigma of the level of a hook-up that is tied on again, by its reference: common practice of the bench."""
DEEP = 0.015
"""The same, for each dB of attenuation."""
METER = 0.03
"""1 sigma of a watt, ampere or volt meter against itself, as a fraction: common practice of the bench."""
CHANCE = 2.0
FORM = re.compile(r"(?P<side>before|after)\s+(?P<key>D\d+)", re.I)
EXAMPLES = '"R1" and "R4", "before D1" and "after D1", "start" and "now"'


@dataclass(frozen=True, slots=True)
class Difference:
    """One figure before and after. before, after, change, sigma : in `unit`; sigma : 1 sigma of the change

    word : "better", "worse" (nearer to, farther from what a sound unit shows), "changed" where that is not said,
    "no change" where it may be chance; at_hz : where, of the figure after
    """

    band: str
    name: str
    before_key: str
    after_key: str
    before: float
    after: float
    change: float
    sigma: float
    unit: str
    word: str
    before_verdict: str
    after_verdict: str
    at_hz: float | None
    text: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two states of the unit. only_first, only_second : readings that have no counterpart; notes : sentences"""

    first: str
    second: str
    rows: tuple[Difference, ...]
    only_first: tuple[str, ...]
    only_second: tuple[str, ...]
    notes: tuple[str, ...]


def compare(job: Path, first: str = "start", second: str = "now") -> Comparison:
    """Compare two readings, or two states of the unit.

    first, second : key of a reading, "before D1", "after D1", "start", "now"
    raises InputError for what is none; JobFileError without a reading
    """
    return compared(opened(job), first, second)


def compared(loaded: Job, first: str, second: str) -> Comparison:
    """Two states of a job that is open."""
    found = judged(loaded, None)
    items = list(zip(loaded.observations, found.verdicts, strict=True))
    a, b = (side_of(loaded, items, text) for text in (first, second))
    one = is_reading(first) and is_reading(second)
    rows, notes, used = [], [], set[int]()
    for before in a:
        match = counterpart(before, b, one)
        if match is None:
            continue
        used |= {id(before[0]), id(match[0])}
        rows += differences(before, match)
        if bare(before[0].hookup) != bare(match[0].hookup):
            said = f"{describe(before[0].hookup)}; {describe(match[0].hookup)}"
            notes.append(f"{before[0].key} and {match[0].key} were not read in the same hook-up: {said}")
    rows += levels_between(loaded, found.levels, first, second)
    if not rows:
        found_text = f"{first} and {second} have no figure in common"
        raise InputError(Mistake("compare", found_text, "two readings of one kind on one band"))
    left = [tuple(o.label for o, _ in side if id(o) not in used) for side in (a, b)]
    order = {b.name: n for n, b in enumerate(loaded.unit.bands)}
    rows.sort(key=lambda r: (order.get(r.band, 0), r.word == "no change", -abs(r.change) / r.sigma))
    return Comparison(first, second, tuple(rows), left[0], left[1], tuple(dict.fromkeys(notes)))


def is_reading(text: str) -> bool:
    """Whether a side is a single reading."""
    return re.fullmatch(r"R\d+", text.strip(), re.I) is not None


def states_of_side(loaded: Job, text: str) -> tuple[int, int, bool]:
    """(first state, last state, whether the latest of them is wanted) of a side in words. raises InputError"""
    words, last = " ".join(text.split()), len(loaded.works)
    if words.lower() in ("start", "now"):
        return 0, last, words.lower() == "now"
    match = FORM.fullmatch(words)
    known = {w.key: w.state for w in loaded.works}
    if match is None or match["key"].upper() not in known:
        listed = f"; work that counts: {', '.join(known)}" if known else "; no work is told yet"
        raise InputError(Mistake("compare", repr(text), f"{EXAMPLES}{listed}"))
    state = known[match["key"].upper()]
    return (0, state - 1, True) if match["side"].lower() == "before" else (state, last, False)


def side_of(loaded: Job, items: Sequence[Item], text: str) -> list[Item]:
    """The sweeps of one side: a reading, or of every hook-up the one nearest to a piece of work. raises InputError"""
    if is_reading(text):
        key = text.strip().upper()
        mine = [x for x in items if x[0].key == key]
        known = dict(loaded.read_in)
        if not mine and key not in known:
            raise InputError(Mistake("compare", f"no reading {key} that counts", f"one of: {', '.join(known)}"))
        return mine
    low, high, latest = states_of_side(loaded, text)
    nearest: dict[tuple[object, ...], Item] = {}
    for item in items if latest else reversed(items):
        if low <= item[0].state.number <= high:
            nearest[(item[0].what, *bare(item[0].hookup))] = item
    states = {k: x[0].state.number for k, x in nearest.items()}
    wanted = (max if latest else min)(states.values(), default=0)
    return [x for x in nearest.values() if latest or x[0].state.number == wanted or text.lower() == "start"]


def bare(h: Hookup) -> tuple[object, ...]:
    """What makes two hook-ups the same test."""
    return h.band, h.drive, h.read, h.lifted, h.released, h.bridged, h.operated


def counterpart(item: Item, others: Sequence[Item], one: bool) -> Item | None:
    """The same test on the other side; of two readings that were named, the same kind of sweep will do."""
    o = item[0]
    others = [x for x in others if x[0] is not o]
    same = [x for x in others if x[0].what is o.what and bare(x[0].hookup) == bare(o.hookup)]
    if not same and one:
        same = [x for x in others if x[0].what is o.what and x[0].hookup.band == o.hookup.band]
    return same[-1] if same else None


def error_of(o: Observation, at: float | None) -> float:
    """1 sigma of a reading against itself, tied on again: dB for a through reading, else of |Gamma|. at : Hz"""
    i = 0 if at is None else int(np.argmin(np.abs(o.f - at)))
    if o.what is not What.S21:
        return float(np.hypot(GAMMA_WHITE, o.sigma[i]))
    down = DEEP * max(-float(o.value[i]), 0.0)  # deep down a reading repeats less well
    parts = (o.sigma[i], INSTRUMENT_DB[o.hookup.instrument], AGAIN_DB[o.hookup.reference], down)
    return float(np.sqrt(sum(x**2 for x in parts)))


def differences(a: Item, b: Item) -> list[Difference]:
    """Every figure that both have, and the largest change of the sweep."""
    out = []
    now = {c.name: c for c in b[1].checks}
    for c in a[1].checks:
        d = now.get(c.name)
        if d is None or c.read is None or d.read is None or c.expected is None or d.expected is None:
            continue
        if c.unit != "dB" or c.name.startswith(("worst", "joint")):
            continue
        sigma = float(np.hypot(in_db(a[0], c.read, c.at_hz), in_db(b[0], d.read, d.at_hz)))
        limit = c.name.startswith("limit")
        better = d.word is not Word.OUTSIDE if limit else abs(d.read - d.expected) < abs(c.read - c.expected)
        out.append(row(a, b, c.name, (c.read, d.read), sigma, "dB", better, (c.word, d.word), d.at_hz))
    return [*out, *largest(a, b)]


def in_db(o: Observation, read_db: float, at: float | None) -> float:
    """1 sigma of a figure in dB; of a return loss, from that of |Gamma| at its size."""
    sigma = error_of(o, at)
    return sigma if o.what is What.S21 else float(DB * sigma / max(10.0 ** (-abs(read_db) / 20.0), sigma))


def largest(a: Item, b: Item) -> list[Difference]:
    """The largest change over what both sweeps cover, in units of its own error."""
    (o, v), (p, w) = a, b
    inside = (p.f >= o.f.min()) & (p.f <= o.f.max())
    if not inside.any():
        return []
    f = p.f[inside]
    before, after = np.interp(f, o.f, o.value), p.value[inside]
    through = o.what is What.S21
    sigma = np.array([np.hypot(error_of(o, x), error_of(p, x)) for x in f])
    i = int(np.argmax(np.abs(after - before) / sigma))
    expected = np.interp(f[i], w.f, w.expected)
    better = abs(after[i] - expected) < abs(before[i] - expected)
    unit = "dB" if through else "|Gamma|"
    name = "largest change of the sweep" if through else "largest change of the return loss"
    return [row(a, b, name, (before[i], after[i]), float(sigma[i]), unit, bool(better), (v.word, w.word), float(f[i]))]


def row(
    a: Item, b: Item, name: str, read: tuple[float, float], sigma: float, unit: str, better: bool,
    words: tuple[Word, Word], at: float | None,
) -> Difference:  # fmt: skip
    """One figure before and after."""
    return difference(a[1].band, name, (a[0].key, b[0].key), read, sigma, unit, better, words, at)


def difference(
    band: str, name: str, keys: tuple[str, str], read: tuple[float, float], sigma: float, unit: str,
    better: bool | None, words: tuple[Word, Word], at: float | None = None,
) -> Difference:  # fmt: skip
    """One figure before and after, with its sentence."""
    change = float(read[1] - read[0])
    moved = abs(change) > CHANCE * sigma
    word = "no change" if not moved else "changed" if better is None else "better" if better else "worse"
    where = f" at {at / 1e6:.4g} MHz" if at is not None else ""
    shown = [f"{x:.3f}" if unit == "|Gamma|" else f"{x:.3g}" if unit in ("W", "A", "V") else f"{x:.2f}" for x in
             (float(read[0]), float(read[1]))]  # fmt: skip
    tail = "more than the readings' error" if moved else "no more than the readings' error"
    text = (
        f"{name}{where}: {shown[0]} before ({keys[0]}), {shown[1]} after ({keys[1]}) {unit}; "
        f"{change:+.3g} +- {CHANCE * sigma:.2g} {unit}, {tail}"
    )
    return Difference(
        band, name, keys[0], keys[1], float(read[0]), float(read[1]), change, sigma, unit, word,
        words[0].value, words[1].value, at, text,
    )  # fmt: skip


def levels_between(loaded: Job, levels: Sequence[LevelVerdict], first: str, second: str) -> list[Difference]:
    """Watts, amps and volts of both sides, figure by figure."""
    sides = [levels_of_side(loaded, levels, text) for text in (first, second)]
    out = []
    for key, before in sides[0].items():
        after = sides[1].get(key)
        if after is None or after.key == before.key:
            continue
        sigma = METER * float(np.hypot(before.read, after.read))
        better = abs(after.sigma) < abs(before.sigma)
        words = (before.word, after.word)
        keys = (before.key, after.key)
        out.append(
            difference(before.band, before.name, keys, (before.read, after.read), sigma, before.unit, better, words)
        )
    return out


def levels_of_side(loaded: Job, levels: Sequence[LevelVerdict], text: str) -> dict[tuple[str, str], LevelVerdict]:
    """The level figures of one side, by band and name."""
    states = dict(loaded.read_in)
    if is_reading(text):
        return {(v.band, v.name): v for v in levels if v.key == text.strip().upper()}
    low, high, latest = states_of_side(loaded, text)
    inside = [v for v in levels if low <= states.get(v.key, 0) <= high]
    return {(v.band, v.name): v for v in (inside if latest else reversed(inside))}
