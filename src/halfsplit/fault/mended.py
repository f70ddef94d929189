"""What work on the unit has mended, and what is wrong with it now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from halfsplit.fault import words
from halfsplit.fault.groups import causes_of, merge
from halfsplit.fault.lives import Work, ended_by, touches
from halfsplit.fault.posterior import Posterior, posterior_of
from halfsplit.fault.records import Cause, Group, Mended
from halfsplit.fault.search import Search
from halfsplit.fault.standing import Fit

SAID = 0.01
CURED, IDLE = 0.5, 0.05


def as_it_is(posterior: Posterior) -> Posterior:
    """The same with every cause that is gone by now counted as sound: what the ranking and the next test are about.

    Of two faults of which one is gone, the other is alone. The nuisances of the sound unit are those of its most
    probable way to be sound.
    """
    now = len(posterior.search.works)
    if not posterior.search.works:
        return posterior
    sound = next(f for f in posterior.fits if f.hypothesis.family == "sound")
    weighed: dict[str, list[tuple[float, Fit]]] = {sound.hypothesis.key: []}
    for fit, p in zip(posterior.fits, posterior.alone, strict=True):
        as_now(weighed, fit, float(p), sound, now)
    both = []
    for pair, p in zip(posterior.pairs, posterior.together, strict=True):
        alive = [f for f in (pair.first, pair.second) if f.hypothesis.alive(now)]
        if len(alive) == 2:
            both.append((pair, float(p)))
        else:
            as_now(weighed, alive[0] if alive else pair.first, float(p), sound, now)
    fits = [max(rows, key=lambda x: x[0])[1] for rows in weighed.values()]
    with np.errstate(divide="ignore"):
        alone = np.log(np.array([sum(p for p, _ in rows) for rows in weighed.values()]))
        together = np.log(np.array([p for _, p in both]))
    return posterior_of(posterior.search, fits, alone, [x for x, _ in both], together, posterior.told)


def as_now(weighed: dict[str, list[tuple[float, Fit]]], fit: Fit, p: float, sound: Fit, now: int) -> None:
    """Put an explanation where it belongs now: under its own cause, or under the sound unit where that is gone."""
    if not fit.hypothesis.alive(now):
        fit = replace(fit, hypothesis=sound.hypothesis)
    weighed.setdefault(fit.hypothesis.key, []).append((p, fit))


def mended_of(posterior: Posterior) -> tuple[Mended, ...]:
    """What each piece of work did."""
    works = posterior.search.works
    weighed = [(f, float(p)) for f, p in zip(posterior.fits, posterior.alone, strict=True)]
    for pair, p in zip(posterior.pairs, posterior.together, strict=True):
        weighed += [(f, float(p)) for f in (pair.first, pair.second)]
    out = []
    for work in works:
        mine = sorted(((f, p) for f, p in weighed if ended_by(f.hypothesis, works) is work), key=lambda x: -x[1])
        total = min(sum(p for _, p in mine), 1.0)
        causes: list[Cause] = []
        for fit, p in mine:
            for cause in causes_of(posterior, fit, p):
                merge(causes, cause)
        causes = sorted((c for c in causes if c.probability >= SAID), key=lambda c: -c.probability)
        before, after = labels(posterior.search, work)
        says = sentence(work, total, causes, before, after)
        out.append(Mended(work.key, work.text, total, says, tuple(causes), before, after))
    return tuple(out)


def labels(search: Search, work: Work) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Keys of the readings of the unit before a piece of work, and since."""
    read = [(v.observation.key, s.state) for s in search.setups if not s.baseline for v in s.views]
    before = dict.fromkeys(key for key, state in read if state < work.state)
    after = dict.fromkeys(key for key, state in read if state >= work.state)
    return tuple(before), tuple(after)


def sentence(work: Work, p: float, causes: Sequence[Cause], before: Sequence[str], after: Sequence[str]) -> str:
    """What one piece of work did, in one sentence."""
    done = f"{work.key} ({work.text})"
    if not before:
        return f"{done}: there is no reading from before it"
    if not causes or p < IDLE:
        tail = "" if after else ", and no reading since"
        return f"{done} cured nothing that {listed(before)} showed{tail}: that speaks against {work.place}"
    lead = causes[0]
    share = "over 99 %" if p > 0.99 else f"{100 * p:.0f} %"
    since = (
        f"{listed(after)} {'shows' if len(after) == 1 else 'show'} it gone" if after else "no reading since proves it"
    )
    if not touches(work, lead.place):
        chance = "another place: it healed by itself, or the work moved it, and it may come back"
        return f"{lead.text} explained {listed(before)} and is gone since {done} ({share}), which was {chance}; {since}"
    return f"{lead.text} explained {listed(before)}; {done} cured it ({share}); {since}"


def listed(keys: Sequence[str]) -> str:
    """Keys of readings in a row: runs of them by their ends."""
    numbers = sorted({int(k[1:]) for k in keys if k[1:].isdigit()})
    runs: list[list[int]] = []
    for n in numbers:
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    said = [f"R{r[0]}" if len(r) == 1 else f"R{r[0]}{' and ' if len(r) == 2 else ' to '}R{r[-1]}" for r in runs]
    return " and ".join([", ".join(said[:-1]), said[-1]] if len(said) > 1 else said)


def belief_of(groups: Sequence[Group], mended: Sequence[Mended], complaint: str) -> str:
    """What the tool now believes, in one sentence; after work that cured something, with what it cured."""
    plain = words.belief(groups, complaint)
    cured = [m for m in mended if m.probability >= CURED]
    if not cured:
        return plain
    return f"{plain} {cured[-1].says[:1].upper()}{cured[-1].says[1:]}."


def unproved(search: Search) -> tuple[str, ...]:
    """A warning where the latest work was not followed by a reading."""
    if not search.works or any(s.state == search.today.number for s in search.setups if not s.baseline):
        return ()
    last = search.works[-1]
    return (f"No reading since {last.key} ({last.text}): measure again what showed the fault, and one more band.",)
