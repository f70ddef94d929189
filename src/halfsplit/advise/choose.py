"""The next test: expected information per minute over all candidates, two tests ahead where few parts are left.

Risk counts as minutes. When one part holds ENOUGH, what is left to do is the test that confirms it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from halfsplit.advise import sequence
from halfsplit.advise.causes import Suspect, numbered_parts, numbered_places, probabilities, suspects_of
from halfsplit.advise.costs import Cost, costs
from halfsplit.advise.forecast import Beliefs, told
from halfsplit.advise.information import entropy_bits
from halfsplit.advise.level_first import first_look
from halfsplit.advise.level_tests import level_options
from halfsplit.advise.records import Advice
from halfsplit.advise.sweeps import Sweep, candidates, worthwhile_points
from halfsplit.advise.touches import Touch, cure, touches
from halfsplit.advise.wording import advice_of_sweep, advice_of_touch
from halfsplit.expect import Setup
from halfsplit.fault import Finding, Posterior, Ranking
from halfsplit.fault.findings import Meter
from halfsplit.fault.hypotheses import designator
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]
Progress = Callable[[float, str], None]

LEAST_BITS = 0.01
ENOUGH = 0.9
FEW = 6.0
CLOSER = 8
PLANNED = 8
DEPTH = 2


@dataclass(frozen=True, slots=True, eq=False)
class Option:
    """A test that could be made. table : (n_suspect, n_outcome) probability of each outcome."""

    advice: Advice
    cost: float
    table: Real


def next_tests(
    unit: Unit,
    posterior: Posterior,
    ranking: Ranking,
    rng: np.random.Generator,
    most: int = 3,
    progress: Progress | None = None,
    table: dict[str, Cost] | None = None,
    findings: Sequence[Finding] = (),
) -> tuple[Advice, ...]:
    """The best tests, best first.

    posterior, ranking : of all readings so far; rng : for sampling outcomes; most : how many
    table : of tests, None for the package's; findings : what was found at single places: not to be asked again
    returns at most `most` pieces of advice; none where no candidate would tell anything apart
    """
    suspects, table = suspects_of(posterior, ranking), table or costs()
    made = {(f.kind, f.place) for f in findings}
    by_hand = [t for t in touches(posterior.search, suspects) if (t.kind, t.subject) not in made]
    lead, held = leading(suspects)
    if held >= ENOUGH and lead != "sound":
        sure = confirmations(by_hand, table, suspects, lead)
        if sure:
            return tuple(sure[:most])
    found = options(unit, posterior, suspects, by_hand, table, rng, progress)
    if not found and lead.startswith("something not listed"):
        return tuple(halving(unit, posterior, suspects, table)[:most])
    best = [o.advice for o in ordered(found, suspects)]
    return tuple([*first_look(unit, posterior, ranking.sound, table), *best][:most])


def halving(unit: Unit, posterior: Posterior, suspects: tuple[Suspect, ...], table: dict[str, Cost]) -> list[Advice]:
    """Where nothing on the list explains the readings, the ranking cannot choose: make sure of the reading, then halve
    the path as the craft does."""
    check = cure(Meter(posterior.search), suspects, "check the hook-up", "hook-up 1")
    splits = "Nothing on the list explains the readings: first make sure that they can be believed."
    out = [replace(advice_of_touch(check, table[check.kind], suspects, 0.0), splits=splits, outcomes=())]
    beliefs = Beliefs(posterior.search, [posterior.search.sound])
    whole = worthwhile_points(unit, next(s.hookup.band for s in posterior.search.setups if not s.baseline))
    splits = "Halving: in tolerance or not, it says in which half of the path the trouble sits."

    def off_middle(sweep: Sweep) -> float:
        at = [whole.index(x) for x in (sweep.hookup.drive, sweep.hookup.read or "")]
        return abs((at[1] - at[0]) - 0.5 * (len(whole) - 1))

    plain = [
        s for s in candidates(unit, posterior.search, suspects)
        if s.kind == "through sweep" and s.hookup.drive in whole and s.hookup.read in whole
    ]  # fmt: skip
    for sweep in sorted(plain, key=off_middle):
        setup = beliefs.setup(sweep)
        if setup is not None:
            seen = beliefs.quick(sweep, setup)
            rows, noise = np.repeat(seen.values, len(suspects), axis=0), np.sqrt(np.diag(seen.cov[0]))
            advice = advice_of_sweep(sweep, rows, noise, table[sweep.kind], suspects, 0.0)
            out.append(replace(advice, splits=splits, outcomes=()))
    return out


def leading(suspects: tuple[Suspect, ...]) -> tuple[str, float]:
    """The most probable part, and how much it holds with its joints."""
    held: dict[str, float] = {}
    for s in suspects:
        name = designator(s.place.name)
        held[name] = held.get(name, 0.0) + s.probability
    name = max(held, key=lambda n: held[n])
    return name, held[name]


def options(
    unit: Unit, posterior: Posterior, suspects: tuple[Suspect, ...], by_hand: list[Touch], table: dict[str, Cost],
    rng: np.random.Generator, progress: Progress | None = None,
) -> list[Option]:  # fmt: skip
    """Every test that would tell something about the part, or about the place within it."""
    group = group_of(suspects)
    found = []
    for touch in by_hand:
        bits = bits_of(touch.table, suspects, group)
        cost = table[touch.kind]
        advice = advice_of_touch(touch, cost, suspects, bits)
        found.append(Option(advice, cost.minutes + cost.risk_minutes, touch.table))
    found += swept(unit, posterior, suspects, table, rng, progress)
    if posterior.levels is not None:
        looks = level_options(unit, posterior.levels, suspects, rng, table)
        found += [Option(o.advice, o.cost, o.table) for o in looks]
    return [o for o in found if o.advice.information_bits > LEAST_BITS]


def group_of(suspects: tuple[Suspect, ...]) -> npt.NDArray[np.intp]:
    """What is to be told apart: parts; where one part holds enough, the places within it."""
    return numbered_places(suspects) if leading(suspects)[1] >= ENOUGH else numbered_parts(suspects)


def bits_of(table: Real, suspects: tuple[Suspect, ...], group: npt.NDArray[np.intp]) -> float:
    """Expected information of a test from its table."""
    one = sequence.menu([1.0], [table], [int(g) for g in group])
    return max(float(sequence.information(one, probabilities(suspects))[0]), 0.0)


def swept(
    unit: Unit, posterior: Posterior, suspects: tuple[Suspect, ...], table: dict[str, Cost], rng: np.random.Generator,
    progress: Progress | None,
) -> list[Option]:  # fmt: skip
    """Sweeps: all of them roughly, with the spread of the likeliest cause; the best of them with each cause's own."""
    fits = list({id(s.fit): s.fit for s in suspects}.values())
    number = {id(f): k for k, f in enumerate(fits)}
    row = np.array([number[id(s.fit)] for s in suspects])
    beliefs, group = Beliefs(posterior.search, fits), group_of(suspects)
    rough: list[tuple[float, Sweep, Setup]] = []
    every = list(candidates(unit, posterior.search, suspects))
    for n, sweep in enumerate(every):
        setup = beliefs.setup(sweep)
        if setup is not None:
            spoken = told(beliefs.quick(sweep, setup), rng, draws=16)
            cost = table[sweep.kind]
            bits = bits_of(spoken[row], suspects, group)
            rough.append((bits / (cost.minutes + cost.risk_minutes), sweep, setup))
        if progress is not None:
            progress((n + 1) / len(every), "weighing what a sweep would tell")
    rough.sort(key=lambda x: -x[0])
    out = []
    for _, sweep, setup in rough[:CLOSER]:
        seen, cost = beliefs.forecast(sweep, setup), table[sweep.kind]
        spoken = told(seen, rng)[row]
        noise = np.sqrt(np.einsum("kii->ki", seen.cov).mean(0))
        bits = bits_of(spoken, suspects, group)
        advice = advice_of_sweep(sweep, seen.values[row], noise, cost, suspects, bits)
        out.append(Option(advice, cost.minutes + cost.risk_minutes, spoken))
    return out


def ordered(found: list[Option], suspects: tuple[Suspect, ...]) -> list[Option]:
    """Best first: by bits per minute; where few parts are left, by the minutes still to go, two tests ahead."""
    found = sorted(found, key=lambda o: (-o.advice.score, o.advice.title))
    p, group = probabilities(suspects), group_of(suspects)
    member = np.zeros((len(p), int(group.max()) + 1))
    member[np.arange(len(p)), group] = 1.0
    if not found or 2.0 ** float(entropy_bits(p @ member)) > FEW:
        return found
    near, far = found[:PLANNED], found[PLANNED:]
    tables = [merged(o.table, group, p) for o in near]
    plan = sequence.menu([o.cost for o in near], tables, [int(g) for g in group], ENOUGH)
    minutes = sequence.costs_first(plan, p[None], DEPTH)[0]
    near = [
        replace(o, advice=replace(o.advice, minutes_to_go=float(m) if np.isfinite(m) else None))
        for o, m in zip(near, minutes, strict=True)
    ]
    return [near[i] for i in np.argsort(minutes, kind="stable")] + far


def merged(table: Real, group: npt.NDArray[np.intp], p: Real) -> Real:
    """A table with the outcomes that speak for the same group taken together."""
    weight = np.zeros((int(group.max()) + 1, table.shape[1]))
    held = np.zeros(int(group.max()) + 1)
    np.add.at(weight, group, p[:, None] * table)
    np.add.at(held, group, p)
    best = (weight / np.maximum(held, 1e-300)[:, None]).argmax(0)
    kinds = np.unique(best)
    return np.stack([table[:, best == b].sum(1) for b in kinds], axis=1)


def confirmations(
    by_hand: list[Touch], table: dict[str, Cost], suspects: tuple[Suspect, ...], lead: str
) -> list[Advice]:
    """Tests that would confirm the leading part before it is repaired: the likeliest to show it, for its minutes."""
    mine = [k for k, s in enumerate(suspects) if designator(s.place.name) == lead]
    places, rows = numbered_places(suspects), []
    for touch in by_hand:
        cost = table[touch.kind]
        shown = sum(suspects[k].probability for k in mine if touch.confirms(k))
        if shown > 0.2:
            bits = bits_of(touch.table, suspects, places)
            rows.append((shown / (cost.minutes + cost.risk_minutes), advice_of_touch(touch, cost, suspects, bits)))
    rows.sort(key=lambda x: -x[0])
    splits = f"It confirms {lead} before it is repaired."
    return [replace(a, title=f"Confirm: {a.title}", splits=splits) for _, a in rows]
