"""The causes still in play, each with its place: what a test has to tell apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.fault import Posterior, Ranking
from halfsplit.fault.hypotheses import Place, designator
from halfsplit.fault.standing import Fit

Real = npt.NDArray[np.float64]

LEAST = 4e-3
MOST = 30


@dataclass(frozen=True, slots=True, eq=False)
class Suspect:
    """One cause: a fit and one of the places that it stands for."""

    fit: Fit
    place: Place
    probability: float
    group: str


def suspects_of(posterior: Posterior, ranking: Ranking) -> tuple[Suspect, ...]:
    """The causes that hold nearly all of the probability, renormalised to 1."""
    names = {(c.place, c.mode): g.name for g in ranking.groups for c in g.causes}
    out = []
    for i in posterior.order():
        fit = posterior.fits[i]
        h = fit.hypothesis
        places = h.places or (Place("sound", "sound", 1.0),)
        whole = sum(p.weight for p in places)
        for place in places:
            p = float(posterior.probability[i]) * place.weight / whole
            if p >= LEAST:
                out.append(Suspect(fit, place, p, names.get((place.name, place.word), place.name)))
    out = sorted(out, key=lambda s: -s.probability)[:MOST]
    total = sum(s.probability for s in out)
    return tuple(Suspect(s.fit, s.place, s.probability / total, s.group) for s in out)


def numbered_places(suspects: tuple[Suspect, ...]) -> npt.NDArray[np.intp]:
    """Number of the place of each suspect: a part and its joints are told apart, the ways of failing are not."""
    names = list(dict.fromkeys(s.place.name for s in suspects))
    return np.array([names.index(s.place.name) for s in suspects])


def numbered_parts(suspects: tuple[Suspect, ...]) -> npt.NDArray[np.intp]:
    """Number of the part of each suspect: its joints and ways of failing are its own."""
    names = designators(suspects)
    return np.array([names.index(designator(s.place.name)) for s in suspects])


def probabilities(suspects: tuple[Suspect, ...]) -> Real:
    """(n,) probabilities."""
    return np.array([s.probability for s in suspects])


def designators(suspects: tuple[Suspect, ...]) -> list[str]:
    """Designators in play, the most probable first."""
    return list(dict.fromkeys(designator(s.place.name) for s in suspects))
