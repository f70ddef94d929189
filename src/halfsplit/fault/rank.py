"""The ranking: evidence times prior weight, groups of what cannot be told apart, and why."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.expect import Observation
from halfsplit.fault import words
from halfsplit.fault.blind import blind_spots
from halfsplit.fault.findings import Finding, heed
from halfsplit.fault.heard import heard
from halfsplit.fault.hypotheses import Hypothesis
from halfsplit.fault.records import Blind, Cause, Group, Ranking
from halfsplit.fault.search import Search, predicted
from halfsplit.fault.standing import Fit
from halfsplit.fault.told import Account, Causes, account
from halfsplit.fault.weights import Weights
from halfsplit.history import History
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]
Progress = Callable[[float, str], None]

APART = 2.0
SHOWN = 2e-3
CLEARED = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """The weighed hypotheses of one job.

    fits : one for each hypothesis that was fitted, the sound unit among them; probability : (n,)
    told : complaint and history, where something was told
    """

    search: Search
    fits: tuple[Fit, ...]
    probability: Real
    told: Account | None = None

    def order(self) -> list[int]:
        """Indices by falling probability."""
        return [int(i) for i in np.argsort(-self.probability, kind="stable")]


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
    history: History | None = None, findings: Sequence[Finding] = (),
) -> Posterior:  # fmt: skip
    """Fit and weigh every hypothesis against all observations, and what was found at single places.

    history : complaint and history as told; each hypothesis is weighed by the chance of these answers
    raises HookupError or ModelError where an observation cannot be modelled
    """
    search = Search(unit, observations, weights or Weights())
    if progress is not None:
        progress(0.1, "fitting a sound unit")
    fits = search.run(progress)
    fits = [f for f in fits if f.hypothesis.family != "sound"] + [search.sound]
    before = prior(search.hypotheses, search.weights)
    told = account(causes_in(search), history) if history else None
    factor = told.factor() if told else {}
    log_p = np.array(
        [f.log_evidence + np.log(before[k] * factor.get(k, 1.0)) for f in fits for k in [f.hypothesis.key]]
    )
    p = np.exp(log_p - log_p.max())
    refitted = told.refitted(fits) if told else tuple(fits)
    return heeding(Posterior(search, refitted, p / p.sum(), told), findings)


def heeding(posterior: Posterior, findings: Sequence[Finding]) -> Posterior:
    """The same readings, weighed together with what was found at single places."""
    if not findings:
        return posterior
    fits, probability = heed(posterior.search, posterior.fits, posterior.probability, findings)
    return Posterior(posterior.search, fits, probability, posterior.told)


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
    """The ranking of a weighed job."""
    groups = grouped(posterior)
    places = by_place(posterior)
    sound = sum(g.probability for g in groups if g.family == "sound")
    not_listed = sum(g.probability for g in groups if g.family == "unlisted")
    parts: dict[str, float] = {}
    for place, p in places:
        parts[words.designator(place)] = parts.get(words.designator(place), 0.0) + p
    warnings = words.warnings_of(posterior.search, sound, not_listed)
    ranking = Ranking(
        groups, places, tuple(sorted(parts.items(), key=lambda x: -x[1])), sound, not_listed, credible(groups, 0.9),
        cleared(posterior), blind_spots(posterior.search) if sound > 0.02 else tuple[Blind, ...](),
        tuple(o.label for o in posterior.search.bench.observations), warnings, words.belief(groups, complaint),
    )  # fmt: skip
    if not (posterior.told or complaint or groups[0].family != "sound"):
        return ranking  # nobody complains and nothing shows: there is nothing to ask
    held = [(f.hypothesis, float(p)) for f, p in zip(posterior.fits, posterior.probability, strict=True)]
    return heard(ranking, posterior.told or account(causes_in(posterior.search), History()), held)


def credible(groups: Sequence[Group], share: float) -> tuple[str, ...]:
    """Names of the most probable groups that together hold the share."""
    out, held = [], 0.0
    for g in groups:
        out.append(g.name)
        held += g.probability
        if held >= share:
            break
    return tuple(out)


def grouped(posterior: Posterior) -> tuple[Group, ...]:
    """Causes whose predictions differ by less than the readings can tell, around the most probable of them."""
    clusters: list[list[int]] = []
    for i in posterior.order():
        if posterior.probability[i] < SHOWN and clusters:
            continue
        family = posterior.fits[i].hypothesis.family
        for members in clusters:
            leader = posterior.fits[members[0]]
            alike = family not in ("sound", "unlisted") and leader.hypothesis.family not in ("sound", "unlisted")
            if alike and apart(posterior.search, leader, posterior.fits[i]) < APART:
                members.append(i)
                break
        else:
            clusters.append([i])
    groups = [group_of(posterior, members) for members in clusters]
    return tuple(sorted(groups, key=lambda g: -g.probability))


def apart(search: Search, a: Fit, b: Fit) -> float:
    """Squared distance of what two explanations predict, in units of the readings' noise: twice the expected
    ln of the odds by which these readings tell them apart."""
    total = 0.0
    for i, setup in enumerate(search.setups):
        first = 0
        pa, pb = predicted(search, a, i), predicted(search, b, i)
        for view in setup.views:
            part = slice(first, first + view.size)
            total += float(((view.white @ (pa[part] - pb[part])) ** 2).sum())
            first += view.size
    return total


def group_of(posterior: Posterior, members: Sequence[int]) -> Group:
    """A group from the fits that belong to it."""
    causes = []
    for i in members:
        causes += causes_of(posterior, i)
    causes.sort(key=lambda c: -c.probability)
    name = words.group_name(causes)
    total = float(sum(posterior.probability[i] for i in members))
    return Group(name, total, tuple(causes), words.why_together(causes), causes[0].family)


def causes_of(posterior: Posterior, i: int) -> list[Cause]:
    """The places that one fit stands for, each with its share."""
    fit, h = posterior.fits[i], posterior.fits[i].hypothesis
    places = h.places or tuple(p for x in posterior.search.hypotheses if x.family == "sound" for p in x.places)
    whole = sum(p.weight for p in places)
    size, size_text = words.size_of(posterior.search, fit)
    against_sound = fit.log_evidence - posterior.search.sound.log_evidence
    speaks_for, against = words.reasons(posterior.search, fit)
    return [
        Cause(
            p.name, p.word, words.sentence(posterior.search, fit, p), size, size_text,
            float(posterior.probability[i] * p.weight / whole), against_sound, speaks_for, against, h.family,
        )
        for p in places
    ]  # fmt: skip


def by_place(posterior: Posterior) -> tuple[tuple[str, float], ...]:
    """Probability of every place, whatever the way of failing."""
    out: dict[str, float] = {}
    for fit, p in zip(posterior.fits, posterior.probability, strict=True):
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
                name = words.designator(x.name)
                before[name] = before.get(name, 0.0) + p * x.weight / h.weight
    for place, p in by_place(posterior):
        name = words.designator(place)
        now[name] = now.get(name, 0.0) + p
    return tuple(sorted(n for n, p in before.items() if now.get(n, 0.0) < CLEARED * p))
