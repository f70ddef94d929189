"""How many tests and minutes it takes to find a fault: our own advice against half-splitting and against chance.

    python -m proving.bouts --cases 38 --seed 1000

Every bout is one simulated unit with one fault that shows in one end-to-end sweep on its band. Three players start from
that sweep; the world answers each test they make. The same unit answers all three.

- advice: the first line of `next`, until one part holds 90 %, and on through the test that confirms it.
- chance: any test of the same list, by lot, judged by the same ranking.
- half-splitting, played fairly: sweep one half of what is left, up to its middle test point or from there on, whichever
  can be had without the filter of the other half hanging on it (a jumper unplugged, a relay released, at no charge), in
  or out of tolerance by our own verdict; once inside one stage, its parts in the order of their prior weight: a part
  lifted and measured (its joints are looked at while it is off, and a bad one counts as found), ohms across a contact,
  another jumper, a look at everything else. A stage that turns out innocent sends him to the next one.

Minutes are those of the table of tests, the risk not counted. Seeds as in proving.faults; the fresh reporting seeds of
this trial begin at 40000.
"""

from __future__ import annotations

import argparse
import json
import os
import time
import traceback
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from halfsplit.advise import Advice, Cost, costs, next_tests
from halfsplit.advise.causes import suspects_of
from halfsplit.advise.choose import confirmations, options
from halfsplit.advise.sweeps import hanging, taken_off, tied
from halfsplit.advise.touches import touches
from halfsplit.errors import HalfsplitError
from halfsplit.expect import Observation, observe
from halfsplit.fault import Finding, Posterior, Ranking, heeding, ranking_of, weigh
from halfsplit.fault.hypotheses import designator
from halfsplit.hookup import Hookup, parse_hookup
from halfsplit.jobs import known_of
from halfsplit.reading import What, read_bytes
from halfsplit.unit import Unit, read_unit
from halfsplit.verdict import Word, judge
from proving.ailments import PICK, Ailment, damaged
from proving.case import Plan, loudness, pick_faults, plan, written
from proving.design import draw_unit
from proving.drawing import Drawing, Rng, unit_file
from proving.instruments import Gear, draw_gear
from proving.nodal import Real
from proving.score import share
from proving.strayed import Built, build_unit
from proving.world import sees

OUT = Path(__file__).parent / "out"
SHOWS = 3.0
MOST = 14
POINTS = 101
KINDS = [k for k in PICK if k not in ("detector not terminated", "long ground lead", "wrong reference", "wrong band")]
NOISE = {"ohm": 0.1, "value": 0.015, "sure": 0.95}


@dataclass(frozen=True, slots=True)
class Score:
    """One player in one bout.

    tests, minutes : until one part held 90 % (half-splitting: until a part was measured bad); named : which part
    last, last_minutes : the same with the confirming test; MOST tests and no name : given up
    """

    tests: int
    minutes: float
    named: str
    right: bool
    last: int
    last_minutes: float
    last_named: str
    last_right: bool
    trail: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Bout:
    """All players in one case."""

    seed: int
    kind: str
    truth: str
    advice: Score
    half: Score
    chance: Score
    seconds: float


class World:
    """The unit on the bench, which answers tests."""

    def __init__(self, seed: int, kind: str) -> None:
        self.rng = np.random.default_rng([seed, 78])
        for _ in range(400):
            self.drawing = draw_unit(self.rng, f"Bout {seed}")
            found = pick_faults(self.rng, self.drawing, kind, 1)
            if found and self.start(found[0]):
                break
        else:
            raise RuntimeError(f"no unit in which {kind} shows end to end in 400 drawings")
        self.unit: Unit = read_unit(unit_file(self.drawing), f"bout {seed}")
        self.known = known_of(self.unit)
        self.count = 0

    drawing: Drawing
    truth: Ailment
    gear: Gear
    ill: Built
    band: str

    def start(self, one: Ailment) -> bool:
        """Build the unit. returns whether the fault shows in a sweep from end to end on one of its bands."""
        built = build_unit(self.rng, self.drawing)
        self.truth, self.ill = one, damaged(built, one)
        self.gear = draw_gear(self.rng, "analyser" if self.rng.random() < 0.5 else "sweeper")
        own = [b for b in self.drawing.bands if not one.ladder or b.ladder == one.ladder]
        self.band = own[int(self.rng.integers(len(own)))].name
        p = self.plan(self.band, self.drawing.points[0], self.drawing.points[-1], self.span(self.band))
        ill, well = sees(self.ill, p.bench, p.f), sees(built, p.bench, p.f)
        return loudness(p, self.gear, ill, well, 0.0) > SHOWS

    def span(self, band: str) -> Real:
        """Frequencies of a sweep on a band."""
        b = self.drawing.band(band)
        return np.round(np.geomspace(0.5 * b.low, 4.0 * b.high, POINTS), -1)

    def plan(self, band: str, drive: str, read: str, f: Real) -> Plan:
        """A through sweep between two points, as it is said and as it really is."""
        return plan(self.rng, self.gear, self.drawing.band(band), drive, read, "through", f)

    def sweep(self, h: Hookup, what: What) -> list[Observation]:
        """Make a sweep."""
        assert h.read is not None
        self.count += 1
        p = self.plan(h.band, h.drive, h.read, self.span(h.band))
        fields = dict(p.hookup)
        if h.lifted:
            fields["lifted"] = list(h.lifted)
        if h.released:
            fields["released"] = list(h.released)
        if h.bridged:
            fields["bridged"] = [f"{a} = {b}" for a, b in h.bridged]
        shows = "through" if what is What.S21 else "reflection"
        p = replace(p, hookup=fields, shows=shows, bench=replace(p.bench, bridged=h.bridged))
        off = {f"{x} near-end joint" for x in h.lifted}
        ill = replace(self.ill, cut=self.ill.cut | off, dead=self.ill.dead | set(h.released))
        through, gamma = sees(ill, p.bench, p.f)
        taken = written(self.rng, self.gear, p, self.count, through, gamma, 0.0)
        reading = read_bytes(taken.file, taken.data)
        return list(observe(self.unit, parse_hookup(taken.hookup, self.known), reading, f"R{self.count}"))

    def complaint(self) -> list[Observation]:
        """The sweep that everything starts from."""
        points = self.drawing.points
        return self.sweep(Hookup(self.band, points[0], points[-1]), What.S21)

    def find(self, kind: str, place: str) -> Finding:
        """Make any other test."""
        one, lucky = self.truth, bool(self.rng.random() < NOISE["sure"])
        if kind == "measure lifted part":
            return self.lift(place)
        if kind == "ohms across":
            ohm = self.ohms(place) if lucky else 0.01
            noisy = ohm * float(np.exp(NOISE["ohm"] * self.rng.normal())) + 0.005 * abs(self.rng.normal())
            return Finding("ohms across", place, max(noisy, 1e-3))
        if kind == "bridge and sweep again":
            alone = one.kind == "relay not operated" and place == f"{one.place} contact"
            joint = one.kind.startswith(("joint", "contact", "earth point")) or one.kind == "coax open"
            word = "cured" if lucky and (alone or (joint and one.place == place)) else "no change"
            return Finding("bridge and sweep again", place, word=word)
        if kind == "swap jumper":
            word = "cured" if lucky and designator(one.place) == place else "no change"
            return Finding("swap jumper", place, word=word)
        return Finding("check the hook-up", place, word="no change")

    def ohms(self, place: str) -> float:
        """Ohms across a joint or contact."""
        one = self.truth
        open_ = one.kind in ("joint open", "contact open", "coax open") and one.place == place
        open_ |= one.kind == "relay not operated" and place.startswith(f"{one.place} contact")
        if one.kind == "wrong filter":
            ladder = self.drawing.ladder(one.ladder)
            open_ |= place in {self.drawing.contact(ladder.name, end) for end in ("in", "out")}
        if open_:
            return 1e7
        if one.place == place and one.kind in ("joint resistive", "contact resistive"):
            return one.size
        return 0.01 if "joint" in place else self.ill.ohm.get(place, 0.02)

    def lift(self, ref: str) -> Finding:
        """Lift a part and measure it."""
        one, lossy = self.truth, bool(self.rng.random() < 0.04)
        if one.place == ref and one.kind in ("open", "short"):
            return Finding("measure lifted part", ref, word=one.kind)
        if one.place == ref and one.kind in ("lossy", "shorted turn"):
            lossy = bool(self.rng.random() < 0.9)
        value = self.ill.parts[ref].value * float(np.exp(NOISE["value"] * self.rng.normal()))
        return Finding("measure lifted part", ref, value, lossy=lossy)

    def right(self, name: str) -> bool:
        """Whether a name is that of the part that failed."""
        return name == designator(self.truth.place)


Choose = Callable[[Unit, Posterior, Ranking, Rng, Sequence[Finding], set[str]], Advice | None]


def by_advice(
    unit: Unit, posterior: Posterior, ranking: Ranking, rng: Rng, findings: Sequence[Finding], made: set[str]
) -> Advice | None:
    """The first line of `next` that was not made yet."""
    found = next_tests(unit, posterior, ranking, rng, 6, findings=findings)
    return next((a for a in found if a.title not in made), None)


def by_lot(
    unit: Unit, posterior: Posterior, ranking: Ranking, rng: Rng, findings: Sequence[Finding], made: set[str]
) -> Advice | None:
    """Any test of the list: hands and sweeps alike; the confirming ones where one part is named."""
    del findings
    suspects, table = suspects_of(posterior, ranking), costs()
    hands = touches(posterior.search, suspects)
    lead, p = named(ranking)
    if p >= 0.9:
        listed = confirmations(hands, table, suspects, lead)
    else:
        listed = [o.advice for o in options(unit, posterior, suspects, hands, table, rng)]
    listed = [a for a in listed if a.title not in made]
    return listed[int(rng.integers(len(listed)))] if listed else None


def named(ranking: Ranking) -> tuple[str, float]:
    """The most probable part, if a part comes first."""
    name, p = ranking.parts[0]
    return ("", 0.0) if name == "sound" or name.startswith("something not listed") else (name, p)


def odds(posterior: Posterior, name: str) -> float:
    """Probability of a part over that of everything else."""
    p = dict(ranking_of(posterior).parts).get(name, 0.0)
    return p / max(1.0 - p, 1e-300)


def play(world: World, first: list[Observation], choose: Choose, rng: Rng) -> Score:
    """Follow one way of choosing tests, judged by the ranking, until a named part has been confirmed."""
    unit, observations = world.unit, list(first)
    findings: list[Finding] = []
    made: set[str] = set()
    trail: list[str] = []
    minutes, early, confirmed = 0.0, None, False
    bare = weigh(unit, observations)
    while True:
        posterior = heeding(bare, findings)
        ranking = ranking_of(posterior)
        name, p = named(ranking)
        if p >= 0.9 and early is None:
            early = (len(trail), minutes, name)
        step = (
            None
            if (confirmed and p >= 0.9) or len(trail) >= MOST
            else choose(unit, posterior, ranking, rng, findings, made)
        )
        if step is None:
            break
        made |= {step.title, step.title.removeprefix("Confirm: ")}
        trail.append(step.title)
        minutes += step.minutes
        if step.hookup is not None:
            what = What.S11 if step.title.startswith("Return loss") else What.S21
            observations += world.sweep(step.hookup, what)
            bare = weigh(unit, observations)
            confirmed = False
        else:
            findings.append(world.find(step.kind, step.subject))
            confirmed = p >= 0.9 and odds(heeding(bare, findings), name) >= odds(posterior, name)
    last = name if p >= 0.9 else ""
    tests, spent, early_name = early or (MOST, minutes, "")
    return Score(
        tests, spent, early_name, world.right(early_name), len(trail), minutes, last, world.right(last), tuple(trail)
    )


class Halver:
    """The craftsman who halves."""

    def __init__(self, world: World, first: list[Observation], rng: Rng) -> None:
        self.world, self.rng, self.table = world, rng, costs()
        self.trail: list[str] = []
        self.minutes = 0.0
        band = world.unit.band(world.band)
        self.filter = band.filter or ""
        order = list(world.unit.path.order)
        self.stops = [x for x in order if x in world.unit.path.points or x == "filter"]
        at = self.stops.index("filter")
        self.stops[at : at + 1] = [f"{self.filter} in", f"{self.filter} out"]
        self.weights = self.prior(first)

    def prior(self, first: list[Observation]) -> dict[str, float]:
        """Prior weight of every part of the unit, joints and all."""
        from halfsplit.fault import Weights
        from halfsplit.fault.search import Search

        out: dict[str, float] = {}
        for h in Search(self.world.unit, first, Weights()).hypotheses:
            for place in h.places if h.family == "fault" else ():
                out[designator(place.name)] = out.get(designator(place.name), 0.0) + place.weight
        return out

    def sections(self, name: str) -> tuple[int, ...]:
        """Numbers of the stretches between two test points in which something sits; none: not on this band."""
        unit, start = self.world.unit, self.stops.index(f"{self.filter} in")
        chosen, order = unit.filter(self.filter), unit.path.order
        if name in self.stops:
            return (max(0, min(self.stops.index(name), len(self.stops) - 2)),)
        if name in (chosen.input, chosen.output):
            return tuple(at for x, at in ((chosen.input, start - 1), (chosen.output, start + 1)) if x == name)
        if name in order:
            last = [x for x in order[: order.index(name)] if x in unit.path.points or x == "filter"][-1]
            return (self.stops.index(f"{self.filter} out" if last == "filter" else last),)
        inside = {p.ref for p in chosen.parts} | {r.ground for r in chosen.rungs if r.ground}
        mine = name in inside or name.startswith((f"{self.filter} ", f"selection of {self.filter}"))
        return (start,) if mine or name == self.filter else ()

    def away(self, name: str, low: int, high: int) -> int:
        """How many stretches lie between something and what is left."""
        return min((max(low - s, s - high + 1, 0) for s in self.sections(name)), default=99)

    def test(self, title: str, cost: Cost) -> None:
        """Book a test."""
        self.trail.append(title)
        self.minutes += cost.minutes

    def halve(self) -> tuple[int, int]:
        """Narrow down as far as halves can be measured without the iron. returns stops (from, to)."""
        low, high = 0, len(self.stops) - 1
        while True:
            middle = 0.5 * (low + high)
            inner = [(abs(m - middle), m, left) for m in range(low + 1, high) for left in (True, False)]
            usable = [x for x in inner if self.alone(x[1], left=x[2])]
            if not usable:
                return low, high
            _, m, left = min(usable, key=lambda x: (x[0], x[1], not x[2]))
            low, high = (low, m) if self.left_is_bad(low, m, high, left=left) else (m, high)

    def alone(self, m: int, *, left: bool) -> bool:
        """Whether one half can be measured without the filter of the other hanging on it."""
        side, unit = 1 if left else -1, self.world.unit
        return self.cut_off(self.stops[m], side) is not None or not hanging(unit, self.world.band, self.stops[m], side)

    def cut_off(self, stop: str, side: int) -> Hookup | None:
        """How the path on one side (1 behind, -1 before) of a stop is taken off without soldering; None: it is not."""
        off = taken_off(self.world.unit, self.world.band, stop, side)
        return None if off is None else tied(Hookup(self.world.band, "", ""), "", "", off)

    def left_is_bad(self, low: int, middle: int, high: int, *, left: bool) -> bool:
        """Measure one half of what is left. returns whether the fault is left of the middle."""
        name = self.stops[middle]
        h = self.cut_off(name, 1 if left else -1) or Hookup(self.world.band, "", "")
        drive, read = (self.stops[low], name) if left else (name, self.stops[high])
        self.test(f"Sweep from {drive} to {read}", self.table["through sweep"])
        seen = self.world.sweep(replace(h, drive=drive, read=read), What.S21)
        bad = any(v.word is Word.OUTSIDE for v in judge(self.world.unit, seen, self.rng))
        return bad == left

    def play(self) -> Score:
        """Halve, then go through the parts of the stage."""
        low, high = self.halve()
        order = sorted(self.weights, key=lambda n: (self.away(n, low, high), -self.weights[n]))
        found = next((name for name in order if self.bad(name)), "")
        right = self.world.right(found)
        done = (len(self.trail), self.minutes, found, right)
        return Score(*done, *done, tuple(self.trail))

    def bad(self, name: str) -> bool:
        """Test one part; a joint, jumper or contact that is bad is found as he goes."""
        unit, mine = self.world.unit, self.world.right(name)
        part = {p.ref: p for f in unit.filters for p in f.parts}.get(name)
        if part is not None:
            if name not in {p.ref for p in unit.filter(self.filter).parts}:
                return False  # of a filter that is not in use
            self.test(f"Lift {name}", self.table["measure lifted part"])
            return self.measured_bad(name, part.value or 0.0, mine)
        relay = name in {r.name for r in unit.relays} | {s.name for s in unit.switches}
        jumper = name in {c.ref for c in unit.cables}
        kind = "swap jumper" if jumper else "ohms across" if relay else "check the hook-up"
        self.test(f"Look at {name}", self.table[kind])
        return mine and bool(self.rng.random() < NOISE["sure"])

    def measured_bad(self, name: str, drawn: float, mine: bool) -> bool:
        """A lifted part out of its tolerance, of low Q, open or short; or a joint that was seen to be bad."""
        found = self.world.lift(name)
        if found.word or (found.lossy and mine):
            return True
        if mine and "joint" in self.world.truth.place:
            return True
        edge = 3.0 * (0.03 if name.startswith("C") else 0.09)
        return found.value is not None and abs(np.log(found.value / drawn)) > edge


def taken(playing: Callable[[], Score]) -> Score:
    """A player's score; where the tool refuses or crashes on the way, nobody is named and all tests are spent."""
    try:
        return playing()
    except (HalfsplitError, ArithmeticError, LookupError, TypeError, ValueError):  # a finding: the run shows it
        trail = (f"REFUSED: {traceback.format_exc()}",)
        return Score(MOST, 12.0 * MOST, "", False, MOST, 12.0 * MOST, "", False, trail)


def bout(job: tuple[int, str]) -> Bout:
    """One case from its seed."""
    seed, kind = job
    started = time.perf_counter()
    world = World(seed, kind)
    first = world.complaint()
    advice = taken(lambda: play(world, first, by_advice, np.random.default_rng([seed, 1])))
    chance = taken(lambda: play(world, first, by_lot, np.random.default_rng([seed, 2])))
    half = taken(lambda: Halver(world, first, np.random.default_rng([seed, 3])).play())
    return Bout(seed, kind, world.truth.words(), advice, half, chance, time.perf_counter() - started)


def interval(x: Sequence[float]) -> str:
    """Mean with the 95 % interval of a bootstrap over cases (seeded)."""
    a = np.asarray(x, float)
    draws = np.random.default_rng(0).choice(a, (2000, len(a))).mean(1)
    low, high = np.percentile(draws, [2.5, 97.5])
    return f"{a.mean():6.2f} ({low:.2f} to {high:.2f})"


def ratio(a: Sequence[float], b: Sequence[float]) -> str:
    """Ratio of two means over the same cases with the 95 % interval of a bootstrap (seeded)."""
    x, y = np.asarray(a, float), np.asarray(b, float)
    at = np.random.default_rng(0).integers(len(x), size=(2000, len(x)))
    low, high = np.percentile(x[at].mean(1) / np.maximum(y[at].mean(1), 1e-9), [2.5, 97.5])
    return f"{100 * x.mean() / max(y.mean(), 1e-9):.0f} % ({100 * low:.0f} to {100 * high:.0f} %)"


def is_refused(s: Score) -> bool:
    """Whether the tool refused or crashed in a score."""
    return bool(s.trail) and s.trail[0].startswith("REFUSED")


def print_table(bouts: Sequence[Bout]) -> None:
    """All figures."""
    rows = (
        ("advice, to 90 %", [b.advice for b in bouts], False),
        ("advice, confirmed", [b.advice for b in bouts], True),
        ("half-splitting", [b.half for b in bouts], True),
        ("chance, to 90 %", [b.chance for b in bouts], False),
        ("chance, confirmed", [b.chance for b in bouts], True),
    )
    for label, scores, last in rows:
        tests = [s.last if last else s.tests for s in scores]
        minutes = [s.last_minutes if last else s.minutes for s in scores]
        told = [s.last_named if last else s.named for s in scores]
        right = sum(s.last_right if last else s.right for s in scores)
        print(f"\n{label}\n  tests   {interval(tests)}\n  minutes {interval(minutes)}")
        print(f"  right part named {share(right, len(bouts))}")
        print(f"  wrong part named {share(sum(bool(t) for t in told) - right, len(bouts))}")
        print(f"  none named       {share(sum(not t for t in told), len(bouts))}")
    half = [b.half for b in bouts]
    print("\nmean of advice over mean of half-splitting, the same cases (target: at most 60 %)")
    for label, last in (("to 90 %", False), ("confirmed", True)):
        tests = [b.advice.last if last else b.advice.tests for b in bouts]
        minutes = [b.advice.last_minutes if last else b.advice.minutes for b in bouts]
        print(f"  {label:10s} tests {ratio(tests, [h.tests for h in half])}, "
              f"minutes {ratio(minutes, [h.minutes for h in half])}")  # fmt: skip
    both = [b for b in bouts if b.advice.last_right and b.half.right]
    if both:
        print(f"  where both named the right part ({len(both)} cases), confirmed: "
              f"tests {ratio([b.advice.last for b in both], [b.half.tests for b in both])}, "
              f"minutes {ratio([b.advice.last_minutes for b in both], [b.half.minutes for b in both])}")  # fmt: skip
    refused = [(b.seed, s.trail[0]) for b in bouts for s in (b.advice, b.half, b.chance) if is_refused(s)]
    print(f"\nrefused on the way (counted as {MOST} tests, no part named): {len(refused)}")
    for seed, text in refused:
        print(f"- seed {seed}: {text}")
    print(f"\nseconds per case: mean {np.mean([b.seconds for b in bouts]):.1f}")


def main() -> None:
    """Run the bouts."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--cases", type=int, default=38)
    words.add_argument("--seed", type=int, default=1000, help="first seed: 1000 to tune, 40000 to report")
    words.add_argument("--processes", type=int, default=2)
    words.add_argument("--trails", action="store_true", help="show what each player did (tuning seeds)")
    given = words.parse_args()
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    jobs = [(given.seed + i, KINDS[i % len(KINDS)]) for i in range(given.cases)]
    bouts = []
    with get_context("spawn").Pool(given.processes) as pool:
        for b in pool.imap_unordered(bout, jobs):
            bouts.append(b)
            if len(bouts) % 10 == 0:
                print(f"  {len(bouts)} of {len(jobs)}", flush=True)
    bouts.sort(key=lambda b: b.seed)
    print(f"{len(bouts)} cases, seeds from {given.seed}, every kind of fault in the unit in turn")
    print_table(bouts)
    if given.trails:
        for b in bouts:
            print(f"\n{b.seed} {b.truth}")
            for label, s in (("advice", b.advice), ("half", b.half)):
                print(f"  {label}: {s.tests}/{s.last} {s.minutes:.0f} min {s.named} {s.last_right} {s.trail}")
    OUT.mkdir(exist_ok=True)
    (OUT / f"bouts-{given.seed}-{given.cases}.json").write_text(
        json.dumps([asdict(b) for b in bouts], indent=1), "utf-8"
    )


if __name__ == "__main__":
    main()
