"""What a meter, a bridge or a jumper found: how likely that is under every cause.

Each finding is about one place. The chances that a test misleads are estimates of the authors: a joint that makes
contact under the probe, a meter read wrongly, a cure that was a knock. No finding is ever certain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import How
from halfsplit.circuit.elements import Field
from halfsplit.expect.normal import below
from halfsplit.fault.hypotheses import Place, designator, designators
from halfsplit.fault.lives import RENEWING
from halfsplit.fault.pairs import Pair
from halfsplit.fault.search import Search
from halfsplit.fault.standing import Fit

Real = npt.NDArray[np.float64]
Kind = Literal["measure lifted part", "ohms across", "bridge and sweep again", "swap jumper", "check the hook-up"]

METER = 0.02
GOOD_OHM, OPEN_OHM = 0.02, 1e6
LEAST_OHM = 0.002
GOOD_SPREAD, READ_SPREAD, OPEN_SPREAD = 0.9, 0.4, 2.0
HEALED = 0.06
STRAY_FIGURE, STRAY_WIDTH = 0.01, 2.0
STRAY_WORD = 0.01
LOSSY_SEEN, LOSSY_SAID = 0.9, 0.04
CURED, CURED_ANYWAY = 0.94, 0.03
SEEN = 5.0
LEAST_SHARE = 5e-3


@dataclass(frozen=True, slots=True)
class Finding:
    """One result of a test at a place.

    kind : row of the table of tests; place : designator, joint, contact, jumper or hook-up
    value : ohm, F or H, None where a word says it; word : "open" or "short" (of a lifted part), "cured" or "no change"
    lossy : of a lifted part, whether its Q is low; None where that was not looked at
    state : number of the state of the unit that it was made in; None: of today
    """

    kind: Kind
    place: str
    value: float | None = None
    word: str = ""
    lossy: bool | None = None
    state: int | None = None


@dataclass(frozen=True, slots=True)
class Mixture:
    """A figure as one cause predicts it: a mixture of normals. weights, means, sigmas : (n,) of ln figure."""

    weights: tuple[float, ...]
    means: tuple[float, ...]
    sigmas: tuple[float, ...]

    def density(self, x: float) -> float:
        """Probability density at x."""
        z = [(x - m) / s for m, s in zip(self.means, self.sigmas, strict=True)]
        parts = zip(self.weights, self.sigmas, z, strict=True)
        return float(sum(w * np.exp(-0.5 * u * u) / (s * np.sqrt(2.0 * np.pi)) for w, s, u in parts))

    def between(self, edges: Real) -> Real:
        """Probability between neighbouring edges. edges : (n,). returns (n + 1,), the two ends open."""
        held = np.zeros(len(edges))
        for w, m, s in zip(self.weights, self.means, self.sigmas, strict=True):
            held += w * below((edges - m) / s)
        return np.diff(np.concatenate([[0.0], held, [1.0]]))


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """The value of a lifted part as a sound unit has it. tilt : (P,) ln value by each nuisance; sigma : of ln value."""

    value: float
    tilt: Real
    sigma: float


def drawn(search: Search, spread: Real, name: str, state: int) -> Drawn | None:
    """What is known of a part's value before it is lifted; None where no reading's scene holds the part as it is then.

    spread : (P, P) covariance of the nuisances; state : number of the state of the unit
    """
    anew = [w.state for w in search.works if w.place == name and w.kind in RENEWING]
    for setup in search.setups:
        if any(min(setup.state, state) < n <= max(setup.state, state) for n in anew):
            continue  # another part, or the same with another value
        for e, element in enumerate(setup.scene.elements):
            if element.place == name and element.is_part:
                tilt = np.zeros(len(spread))
                for k, param in zip(setup.at, setup.scene.params, strict=False):  # neighbours of coils follow
                    tilt[k] += sum(param.sigma * c for i, field, c in param.moves if i == e and field is Field.VALUE)
                return Drawn(element.value, tilt, max(float(tilt @ spread @ tilt), 0.0) ** 0.5)
    return None


class Meter:
    """Tests at single places, as the causes of one job predict them."""

    def __init__(self, search: Search) -> None:
        self.search = search
        self.spread = search.spread()
        self.state = search.today.number
        self._drawn: dict[tuple[str, int], Drawn | None] = {}

    def drawn(self, name: str) -> Drawn | None:
        """What is known of a part's value before it is lifted."""
        key = name, self.state
        if key not in self._drawn:
            self._drawn[key] = drawn(self.search, self.spread, name, self.state)
        return self._drawn[key]

    def words(self, fit: Fit, place: Place, name: str) -> tuple[float, float]:
        """Probability that a lifted part reads open, and that it reads short."""
        change = fit.hypothesis.change
        if change is not None and place.name == name and change.how is How.OPEN:
            return 0.97, STRAY_WORD
        if change is not None and place.name == name and change.how is How.SHORT:
            return STRAY_WORD, 0.97
        return 0.5 * STRAY_WORD, 0.5 * STRAY_WORD

    def ratio(self, fit: Fit, place: Place, name: str) -> Mixture:
        """ln of the value of a lifted part over the drawn one."""
        known = self.drawn(name)
        if known is None:
            return Mixture((1.0,), (0.0,), (0.1,))
        theta = np.zeros(self.search.real)
        theta[:] = self.search.theta0
        inside = fit.keys < self.search.real
        theta[fit.keys[inside]] = fit.theta[inside]
        mean, sigma = float(known.tilt @ theta), float(np.hypot(METER, known.sigma))
        h = fit.hypothesis
        if h.change is not None and place.name == name and h.change.how in (How.VALUE, How.TURN):
            half = h.width * min(fit.spread_s, 3.0)
            turn = h.change.how is How.TURN
            mean += float(np.log1p(-min(float(np.exp(fit.ln_size)), 0.9))) if turn else fit.ln_size
            sigma = float(np.hypot(sigma, half * (0.5 if turn else 1.0)))
        return Mixture((1.0 - STRAY_FIGURE, STRAY_FIGURE), (mean, 0.0), (sigma, STRAY_WIDTH))

    def untouched(self, name: str) -> Mixture:
        """ln of the value of a lifted part over the drawn one, of sound units at large, whatever this one showed."""
        known = self.drawn(name)
        sigma = 0.1 if known is None else float(np.hypot(METER, (known.tilt @ known.tilt) ** 0.5))
        return Mixture((1.0 - STRAY_FIGURE, STRAY_FIGURE), (0.0, 0.0), (sigma, STRAY_WIDTH))

    def lossy(self, fit: Fit, place: Place, name: str) -> float:
        """Probability that the Q of a lifted part is called low."""
        change = fit.hypothesis.change
        ill = change is not None and place.name == name and change.how in (How.OHM, How.TURN)
        return LOSSY_SEEN if ill else LOSSY_SAID

    def ohms(self, fit: Fit, place: Place, name: str) -> Mixture:
        """ln of the ohms across a joint or contact. A bad one may be good at the moment of the test."""
        good = (float(np.log(GOOD_OHM)), GOOD_SPREAD)
        bad: tuple[float, float] | None = None
        h = fit.hypothesis
        if h.change is not None and h.change.how is How.OHM and place.name == name:
            bad = fit.ln_size, float(np.hypot(READ_SPREAD, h.width * min(fit.spread_s, 3.0)))
        elif self.breaks(fit, place, name):
            bad = float(np.log(OPEN_OHM)), OPEN_SPREAD
        stray = (np.log(10.0), 4.0)
        if bad is None:
            return Mixture((1.0 - STRAY_FIGURE, STRAY_FIGURE), (good[0], stray[0]), (good[1], stray[1]))
        weights = (1.0 - HEALED - STRAY_FIGURE, HEALED, STRAY_FIGURE)
        return Mixture(weights, (bad[0], good[0], stray[0]), (bad[1], good[1], stray[1]))

    def breaks(self, fit: Fit, place: Place, name: str) -> bool:
        """True where a cause leaves this very joint or contact open."""
        h = fit.hypothesis
        if h.variant is not None and h.variant.unit is not None and h.variant.band is not None:
            own = self.search.bench.unit.band(h.variant.band).filter
            chosen = None if own is None else self.search.bench.unit.filter(own)
            return chosen is not None and name.partition(" contact")[0] in (chosen.input, chosen.output)
        if h.change is None or h.change.how is not How.OPEN:
            return False
        return place.name == name or (place.word == "not operated" and name in h.change.place.split("+"))

    def cured(self, fit: Fit, own: bool) -> float:
        """Probability that the reading comes right when a place is bridged, swapped or set right."""
        visible = fit.log_evidence - self.search.sound.log_evidence > SEEN
        return CURED if own and visible else CURED_ANYWAY

    def cures(self, fit: Fit, place: Place, kind: str, name: str) -> bool:
        """Whether a test at a place would set a cause right."""
        if kind == "bridge and sweep again":
            change = fit.hypothesis.change
            ohmic = change is not None and change.how in (How.OHM, How.HENRY) and place.name == name
            alone = change is not None and "+" not in change.place and self.breaks(fit, place, name)
            return ohmic or alone
        if kind == "swap jumper":
            return place.name == name or place.name.startswith(f"{name} ")
        return place.name == name

    def likelihood(self, fit: Fit, place: Place, found: Finding) -> float:
        """Probability (density) of a finding under one cause, up to a factor that all causes share.

        raises ValueError for a finding that its kind of test cannot give
        """
        self.state = self.search.today.number if found.state is None else found.state
        if not fit.hypothesis.alive(self.state):
            place = Place("sound", "sound", 1.0)  # the fault was gone by then, or not there yet
            fit = replace(fit, hypothesis=replace(fit.hypothesis, change=None, variant=None))
        if found.kind == "measure lifted part":
            opened, shorted = self.words(fit, place, found.place)
            if found.word:
                return {"open": opened, "short": shorted}[found.word]
            known = self.drawn(found.place)
            if known is None:
                return 1.0
            if found.value is None:
                raise ValueError("a lifted part shows a value, open or short")
            p = self.ratio(fit, place, found.place).density(float(np.log(found.value / known.value)))
            low = self.lossy(fit, place, found.place)
            q = 1.0 if found.lossy is None else low if found.lossy else 1.0 - low
            return float((1.0 - opened - shorted) * p * q)
        if found.kind == "ohms across":
            if found.value is None:
                raise ValueError("an ohmmeter shows a figure")
            x = float(np.log(np.clip(found.value, LEAST_OHM, OPEN_OHM)))
            return self.ohms(fit, place, found.place).density(x)
        p = self.cured(fit, self.cures(fit, place, found.kind, found.place))
        return p if found.word == "cured" else 1.0 - p


def heed(search: Search, fits: Sequence[Fit], findings: Sequence[Finding]) -> tuple[tuple[Fit, ...], Real]:
    """Weigh fits once more, by what was found at single places.

    The places of a fit take new shares; one that keeps less than LEAST_SHARE of its fit is dropped from it.
    returns the fits, and the probability of the findings under each (n,)
    """
    meter, out, likelihood = Meter(search), [], np.ones(len(fits))
    for i, fit in enumerate(fits):
        h = fit.hypothesis
        places = h.places or (Place(h.family, h.family, 1.0),)
        weights = [x.weight for x in places]
        for found in findings:
            weights = [w * meter.likelihood(fit, x, found) for w, x in zip(weights, places, strict=True)]
        whole = sum(x.weight for x in places)
        likelihood[i] = sum(weights) / whole
        most = max(weights)
        kept = tuple(
            replace(x, weight=w * whole / max(sum(weights), 1e-300))
            for w, x in zip(weights, places, strict=True)
            if w > LEAST_SHARE * most or most == 0.0
        )
        out.append(replace(fit, hypothesis=replace(h, places=kept)) if h.places else fit)
    return tuple(out), likelihood


def heed_pairs(
    search: Search, pairs: Sequence[Pair], fits: Sequence[Fit], findings: Sequence[Finding]
) -> tuple[tuple[Pair, ...], Real]:
    """The same for two faults at once: each finding is about the one that sits there, and no single cure helps.

    fits : as `heed` returns them: their places are taken over
    returns the pairs, and the probability of the findings under each (m,)
    """
    meter, likelihood = Meter(search), np.ones(len(pairs))
    heard = {f.hypothesis.key: f.hypothesis for f in fits}
    out = []
    for i, pair in enumerate(pairs):
        for found in findings:
            if found.word in ("cured", "no change"):
                likelihood[i] *= CURED_ANYWAY if found.word == "cured" else 1.0 - CURED_ANYWAY
                continue
            here = designator(found.place)
            of = pair.second if here in designators(pair.second.hypothesis) else pair.first
            places = of.hypothesis.places
            shares = [x.weight * meter.likelihood(of, x, found) for x in places]
            likelihood[i] *= sum(shares) / sum(x.weight for x in places)
        both = [replace(f, hypothesis=heard.get(f.hypothesis.key, f.hypothesis)) for f in (pair.first, pair.second)]
        out.append(Pair(both[0], both[1], pair.log_evidence))
    return tuple(out), likelihood
