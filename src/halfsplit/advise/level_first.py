"""The next test of a job that has watts and amps and no sweep; the first look at the meters of one that has sweeps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from halfsplit.advise.causes import LEAST, MOST, Suspect
from halfsplit.advise.costs import Cost, costs
from halfsplit.advise.first import sweep
from halfsplit.advise.level_tests import level_options
from halfsplit.advise.records import Advice
from halfsplit.advise.wording import ALWAYS, rate
from halfsplit.errors import HalfsplitError
from halfsplit.expect.fit import Fit as AnyFit
from halfsplit.fault import LevelsAlone, Posterior
from halfsplit.fault.hypotheses import Hypothesis
from halfsplit.fault.standing import Fit
from halfsplit.history import History
from halfsplit.unit import Unit

WORTH = 0.01


def alone_fit(h: Hypothesis, log_evidence: float) -> Fit:
    """A hypothesis as a fit that no sweep has made."""
    none = np.zeros(0)
    return AnyFit(h, (), np.zeros(0, int), none, 0.0, h.middle, 1.0, log_evidence, (), 0.0, 0.0)


def suspects_alone(found: LevelsAlone) -> tuple[Suspect, ...]:
    """The causes that hold nearly all of the probability."""
    names = {(c.place, c.mode): g.name for g in found.ranking.groups for c in g.causes}
    out = []
    for h, p in zip(found.hypotheses, found.probability, strict=True):
        for place in h.places:
            share = float(p) * place.weight / h.weight
            if share >= LEAST:
                name = names.get((place.name, place.word), place.name)
                out.append(Suspect(alone_fit(h, found.levels.said[h.key].log_evidence), place, share, name))
    out = sorted(out, key=lambda s: -s.probability)[:MOST]
    total = sum(s.probability for s in out)
    return tuple(Suspect(s.fit, s.place, s.probability / total, s.group) for s in out)


def next_by_levels(
    unit: Unit, found: LevelsAlone, history: History, rng: np.random.Generator, most: int = 3,
    table: dict[str, Cost] | None = None,
) -> tuple[Advice, ...]:  # fmt: skip
    """The best tests of a job without a sweep, best first: looks at the meters, and a sweep of the worst band.

    rng : for sampling outcomes; table : of tests, None for the package's
    """
    own = table or costs()
    suspects = suspects_alone(found)
    looks = [o.advice for o in level_options(unit, found.levels, suspects, rng, own)]
    looks = [a for a in looks if a.information_bits > WORTH]
    every = [*looks, *swept(unit, found, suspects, history, own)]
    return tuple(sorted(every, key=lambda a: -a.score)[:most])


def swept(
    unit: Unit, found: LevelsAlone, suspects: tuple[Suspect, ...], history: History, table: dict[str, Cost]
) -> list[Advice]:
    """A sweep of the whole path on the worst band: it settles whether the path is at fault at all."""
    inside = [s for s in suspects if s.fit.hypothesis.key not in found.levels.outside]
    path = sum(s.probability for s in inside if s.fit.hypothesis.family == "fault")
    bits = entropy(path)
    if bits <= WORTH:
        return []
    bench = found.levels.bench
    sound = found.levels.said["sound"]
    worst = int(np.argmax(sound.misfit)) if len(sound.misfit) else 0
    band = bench.figures[worst].row.band if not history.bad else history.bad[0]
    cost = table["through sweep"]
    one = sweep(unit, band, "It says whether the path is at fault at all, or what drives and loads it.", cost)
    return [replace(one, information_bits=bits, score=rate(bits, cost))]


def entropy(p: float) -> float:
    """Bits of a question with two answers."""
    p = min(max(p, 1e-12), 1.0 - 1e-12)
    return float(-p * np.log2(p) - (1.0 - p) * np.log2(1.0 - p))


def first_look(unit: Unit, posterior: Posterior, ranking_sound: float, table: dict[str, Cost]) -> list[Advice]:
    """Where sweeps say that the path is sound and no meter was read with the key down: watts and amps.

    Nothing where the unit file knows no stage. Its worth is not computed: no figure says yet what to expect
    """
    from halfsplit.amplifier import chain_of

    if posterior.levels is not None or ranking_sound < 0.5 or posterior.told is None:
        return []
    try:
        chain_of(unit)
    except HalfsplitError:
        return []
    bad = [b.name for b in unit.bands if b.name in posterior.told.history.bad]
    band = (bad or [unit.bands[0].name])[0]
    cost = table["watts and amps"]
    end = unit.path.points[-1]
    connect = f"band {band}; wattmeter and rated dummy load at {end}, ammeter and voltmeter at the unit"
    splits = "The path is sound as far as measured: it says whether stage, supply, drive or load is at fault."
    cautions = tuple(c for c in (cost.caution, *ALWAYS) if c)
    title = f"Watts and amps on {band}"
    return [Advice(title, connect, cost.kind, None, cost.minutes, cost.risk, 0.0, 0.0, splits, (), cautions)]
