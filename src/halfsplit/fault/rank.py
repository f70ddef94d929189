"""The ranking: evidence times prior weight, groups of what cannot be told apart, and why."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from halfsplit.expect import LevelSet, Observation
from halfsplit.fault import level_weigh, words
from halfsplit.fault.blind import blind_spots
from halfsplit.fault.findings import Finding, heed, heed_pairs
from halfsplit.fault.groups import credible, grouped
from halfsplit.fault.heard import heard
from halfsplit.fault.hypotheses import Hypothesis, designator
from halfsplit.fault.level_words import kept_apart, sharing, with_figures
from halfsplit.fault.lives import Work
from halfsplit.fault.mended import as_it_is, belief_of, mended_of, unproved
from halfsplit.fault.pairs import Pair, find_pairs
from halfsplit.fault.posterior import Posterior, posterior_of
from halfsplit.fault.records import Blind, Ranking
from halfsplit.fault.search import Search
from halfsplit.fault.told import Causes, account
from halfsplit.fault.weights import Weights
from halfsplit.history import History
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]
Progress = Callable[[float, str], None]

CLEARED = 0.05


def prior(hypotheses: Sequence[Hypothesis], weights: Weights) -> dict[str, float]:
    """Prior probabilities: each family has its share, whatever the number of its members."""
    total: dict[str, float] = {}
    for h in hypotheses:
        total[h.family] = total.get(h.family, 0.0) + h.weight
    shares = weights.shares()
    whole = sum(shares[family] for family in total)
    return {h.key: shares[h.family] / whole * h.weight / total[h.family] for h in hypotheses}


def weigh(
    unit: Unit, observations: Sequence[Observation], progress: Progress | None = None, weights: Weights | None = None,
    history: History | None = None, findings: Sequence[Finding] = (), works: Sequence[Work] = (),
) -> Posterior:  # fmt: skip
    """Fit and weigh every hypothesis against all observations, and what was found at single places.

    Where no single cause explains the readings, two faults at once are tried as well.
    history : complaint and history as told; each hypothesis is weighed by the chance of these answers
    works : what was done to the unit, in order; the states of the observations are numbered by it
    raises HookupError or ModelError where an observation cannot be modelled
    """
    search = Search(unit, observations, weights or Weights(), works)
    if progress is not None:
        progress(0.1, "fitting a sound unit")
    fits = search.run(progress)
    fits = [f for f in fits if f.hypothesis.family != "sound"] + [search.sound]
    before = prior(search.hypotheses, search.weights)
    told = account(causes_in(search), history) if history else None
    factor = told.factor() if told else {}
    log_prior = {k: float(np.log(p * factor.get(k, 1.0))) for k, p in before.items()}
    pairs, fits = find_pairs(search, fits, log_prior, progress)
    log_p = np.array([f.log_evidence + log_prior[f.hypothesis.key] for f in fits])
    log_pair = np.array([x.log_evidence + log_pair_prior(search, before, factor, x) for x in pairs])
    refitted = told.refitted(fits) if told else tuple(fits)
    return heeding(posterior_of(search, refitted, log_p, pairs, log_pair, told), findings)


def log_pair_prior(search: Search, before: Mapping[str, float], factor: Mapping[str, float], pair: Pair) -> float:
    """ln prior weight of two causes at once: any two, as likely as each is, and what was told speaks for either."""
    ill = [h for h in search.hypotheses if h.family in ("fault", "mix-up")]
    whole = sum(before[h.key] for h in ill)
    both = [before[k] for k in pair.keys]
    told = 0.5 * sum(factor.get(k, 1.0) for k in pair.keys)
    present = sum(search.weights.shares()[x] for x in {h.family for h in search.hypotheses})
    share = search.weights("two at once", "any") / present
    return float(np.log(share * 2.0 * both[0] * both[1] / whole**2 * told))


def heeding(posterior: Posterior, findings: Sequence[Finding]) -> Posterior:
    """The same readings, weighed together with what was found at single places."""
    if not findings:
        return posterior
    fits, likelihood = heed(posterior.search, posterior.fits, findings)
    pairs, of_pairs = heed_pairs(posterior.search, posterior.pairs, fits, findings)
    with np.errstate(divide="ignore"):
        log_p, log_pair = np.log(posterior.alone * likelihood), np.log(posterior.together * of_pairs)
    heeded = posterior_of(posterior.search, fits, log_p, pairs, log_pair, posterior.told)
    return replace(heeded, levels=posterior.levels)


def with_levels(posterior: Posterior, sets: Sequence[LevelSet], complaint: str = "") -> Posterior:
    """The same readings, weighed together with watts, amps and volts.

    raises UnitError, ReadingError, HookupError where these cannot be used
    """
    if not sets:
        return posterior
    told = posterior.told or account(causes_in(posterior.search), History())
    complained = bool(complaint or posterior.told)
    return level_weigh.with_levels(posterior, posterior.search.bench.unit, sets, told, complained)[0]


def causes_in(search: Search) -> Causes:
    """The causes of a job with readings, for what was told."""
    measured = frozenset(s.hookup.band for s in search.setups if not s.baseline)
    return Causes(search.bench.unit, search.hypotheses, prior(search.hypotheses, search.weights), measured)


def rank(
    unit: Unit, observations: Sequence[Observation], complaint: str = "", progress: Progress | None = None,
    history: History | None = None,
) -> Ranking:  # fmt: skip
    """Rank the causes that explain all observations together.

    complaint : in the owner's words, only shown; history : what was told in answer to the questions, which weighs
    raises HookupError, ModelError; ValueError without any observation
    """
    if not observations:
        raise ValueError("no reading to explain")
    return ranking_of(weigh(unit, observations, progress, history=history), complaint)


def ranking_of(posterior: Posterior, complaint: str = "") -> Ranking:
    """The ranking of a weighed job: what is wrong with the unit as it is now, and what earlier work has mended."""
    mended, posterior = mended_of(posterior), as_it_is(posterior)
    groups = grouped(posterior)
    places = by_place(posterior)
    sound = sum(g.probability for g in groups if g.family == "sound")
    not_listed = sum(g.probability for g in groups if g.family == "unlisted")
    parts: dict[str, float] = {}
    for place, p in places:
        parts[designator(place)] = parts.get(designator(place), 0.0) + p
    warnings = (*words.warnings_of(posterior.search, sound, not_listed), *unproved(posterior.search))
    ranking = Ranking(
        groups, places, tuple(sorted(parts.items(), key=lambda x: -x[1])), sound, not_listed, credible(groups, 0.9),
        cleared(posterior), blind_spots(posterior.search) if sound > 0.02 else tuple[Blind, ...](),
        tuple(o.label for o in posterior.search.bench.observations), warnings, belief_of(groups, mended, complaint),
        mended=mended,
    )  # fmt: skip
    ranking = ranking if posterior.levels is None else with_figures(ranking, posterior.levels)
    if not (posterior.told or complaint or groups[0].family != "sound"):
        return ranking  # nobody complains and nothing shows: there is nothing to ask
    held = [(f.hypothesis, float(p)) for f, p in zip(posterior.fits, posterior.probability, strict=True)]
    told = posterior.told or account(causes_in(posterior.search), History())
    if posterior.levels is None:
        return heard(ranking, told, held)
    return kept_apart(heard(ranking, told, sharing(held, posterior.levels)), posterior.levels)


def by_place(posterior: Posterior) -> tuple[tuple[str, float], ...]:
    """Probability of every place, whatever the way of failing. Two faults at once count for both their places."""
    out: dict[str, float] = {}
    single = zip(posterior.fits, posterior.alone, strict=True)
    double = [(f, p) for x, p in zip(posterior.pairs, posterior.together, strict=True) for f in (x.first, x.second)]
    for fit, p in [*single, *double]:
        places = fit.hypothesis.places
        whole = sum(x.weight for x in places)
        for x in places:
            out[x.name] = out.get(x.name, 0.0) + float(p * x.weight / whole)
    return tuple(sorted(out.items(), key=lambda x: (-x[1], x[0])))


def cleared(posterior: Posterior) -> tuple[str, ...]:
    """Designators whose probability has fallen below a twentieth of what it was before the readings."""
    before: dict[str, float] = {}
    now: dict[str, float] = {}
    for key, p in prior(posterior.search.hypotheses, posterior.search.weights).items():
        h = next(x for x in posterior.search.hypotheses if x.key == key)
        if h.family == "fault":
            for x in h.places:
                name = designator(x.name)
                before[name] = before.get(name, 0.0) + p * x.weight / h.weight
    for place, p in by_place(posterior):
        name = designator(place)
        now[name] = now.get(name, 0.0) + p
    return tuple(sorted(n for n, p in before.items() if now.get(n, 0.0) < CLEARED * p))
