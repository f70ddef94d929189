"""Published fault-diagnosis circuits: how often the package names the right class, with every part in tolerance.

    python -m proving.published [--cases 1000] [--seed 20000] [--only SK9] [--draws 256]

Cases are drawn and simulated here (proving/circuits.py: dense equations that share no code with the package); the
package gets the drawing, the tolerances, the classes and the readings. All classes are equally frequent and weigh the
same. Seeds from 1000 are for tuning, seeds from 20000 for reporting.

SK9    Sallen-Key band-pass, nine classes; |H| at 21 frequencies, 5 to 100 kHz
SVF19  state-variable filter, 18 soft faults of 6 sigma and none; |H| of one output or of three
LPF7   ladder of seven, one element off by three ranges of sizes; |S21|, |S11|, |S22| at 40 frequencies
The Bayes limits beside them are those of ../shared/circuits (C): an independent computation of the project's, not a
print. Papers report near 100 % on other measurements (impulse response, no stated noise): not comparable.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from halfsplit.circuit import Core, Lumped, LumpedModel, LumpedPart, Observed, OpAmp
from halfsplit.fault.classes import ClassProblem, FaultClass, Levels
from halfsplit.fault.spreads import Shape, Spread
from proving import circuits
from proving.circuits import Circuit
from proving.nodal import Complex, Real
from proving.score import wilson

CORE = {"R": Core.RESISTOR, "L": Core.COIL, "C": Core.CAPACITOR}


@dataclass(frozen=True, slots=True)
class Fault:
    """A class to draw from. place : part at fault, "" for none; spread : where its value lies; weight : how frequent"""

    name: str
    place: str = ""
    spread: Spread | None = None
    weight: float = 1.0


@dataclass(frozen=True)
class Trial:
    """One line of the table.

    sees : admittances (k, n_part, n_f) to responses (k, n_response, n_f); floor : dB, added as power
    groups : places that cannot be told apart; limit : what an independent computation reached, by figure
    """

    name: str
    circuit: Circuit
    f: Real
    sees: Callable[[Complex], Complex]
    observed: tuple[Observed, ...]
    sound: tuple[Spread, ...]
    faults: tuple[Fault, ...]
    noise: float
    floor: tuple[float, ...]
    groups: tuple[tuple[str, ...], ...] = ()
    limit: dict[str, float] = field(default_factory=dict)

    def problem(self) -> ClassProblem:
        """The same as the package takes it."""
        parts = tuple(LumpedPart(p.ref, CORE[p.kind], p.value, p.a, p.b, p.q) for p in self.circuit.parts)
        amplifiers = tuple(OpAmp(*a) for a in self.circuit.amplifiers)
        held = (self.circuit.driven,) if self.circuit.driven else ()
        model = LumpedModel(Lumped(parts, amplifiers, held), self.observed, self.f)
        classes = [FaultClass(x.name, x.place, x.place or None, x.spread, x.weight) for x in self.faults]
        return ClassProblem(model, self.sound, classes, Levels(self.noise, self.floor))

    def all_groups(self) -> list[tuple[str, ...]]:
        """The groups, and every place that is in none by itself."""
        places = list(dict.fromkeys(x.place for x in self.faults))
        return [*self.groups, *((p,) for p in places if not any(p in g for g in self.groups))]

    def cases(self, count: int, rng: np.random.Generator) -> tuple[Real, Real]:
        """Readings (count, n_response, n_f) dB and the true classes (count,), every class as often as it weighs."""
        weights = np.array([x.weight for x in self.faults])
        truth = rng.choice(len(self.faults), count, p=weights / weights.sum())
        values = np.stack([drawn(s, count, rng) for s in self.sound], axis=1)
        for h, fault in enumerate(self.faults):
            if fault.spread is not None:
                here = truth == h
                values[here, self.circuit.at(fault.place)] = drawn(fault.spread, int(here.sum()), rng)
        h = self.sees(circuits.admittances(self.circuit, values, self.f))
        floor = 10.0 ** (np.array(self.floor)[:, None] / 10.0)
        level = 10.0 * np.log10(np.abs(h) ** 2 + floor)
        return level + rng.normal(0.0, self.noise, level.shape), truth


def drawn(spread: Spread, count: int, rng: np.random.Generator) -> Real:
    """Values at random."""
    if spread.shape is Shape.NORMAL:
        return rng.normal(spread.a, spread.b, count)
    if spread.shape is Shape.LOG_UNIFORM:
        return np.exp(rng.uniform(np.log(spread.a), np.log(spread.b), count))
    return rng.uniform(spread.a, spread.b, count)


@dataclass(frozen=True, slots=True)
class Score:
    """Hits out of `cases`, and how often the package itself expected to hit.

    by_class, place, group : most probable class, place, group is the true one; three : the true place is among the
    first three; sound : of `sound_cases` without fault, called so
    said : mean probability of the most probable class: an honest ranking hits as often as that
    effective : effective number of draws behind the evidence of the true class, 1st percentile of the cases
    """

    cases: int
    by_class: int
    place: int
    three: int
    group: int
    sound: int
    sound_cases: int
    said: float
    effective: float


def run(trial: Trial, count: int, seed: int, draws: int = 256) -> Score:
    """One line of the table: seeded cases, weighed by the package, marked."""
    rng = np.random.default_rng(seed)
    readings, truth = trial.cases(count, rng)
    post = trial.problem().weigh(readings, rng, draws)
    places = list(dict.fromkeys(x.place for x in trial.faults))
    of_place = np.array([places.index(x.place) for x in trial.faults])[truth]
    groups = trial.all_groups()
    of_group = np.array([next(g for g, group in enumerate(groups) if x.place in group) for x in trial.faults])[truth]
    by_place, rows = post.of([(p,) for p in places]), np.arange(count)
    order = np.argsort(-by_place, axis=1, kind="stable")
    sound = of_place == places.index("") if "" in places else np.zeros(count, bool)
    effective = post.effective[rows, truth]
    return Score(
        count,
        int((post.probability.argmax(1) == truth).sum()),
        int((order[:, 0] == of_place).sum()),
        int((order[:, :3] == of_place[:, None]).any(1).sum()),
        int((post.of(groups).argmax(1) == of_group).sum()),
        int((order[sound, 0] == of_place[sound]).sum()),
        int(sound.sum()),
        float(post.probability.max(1).mean()),
        float(np.percentile(effective, 1)),
    )


def tolerance(value: float, share: float, shape: str) -> Spread:
    """A tolerance of +-share: uniform between the limits, or normal with the limits at three standard deviations."""
    if shape == "uniform":
        return Spread(Shape.UNIFORM, value * (1 - share), value * (1 + share))
    return Spread(Shape.NORMAL, value, value * share / 3.0)


SIZES = {
    "x1.5..2, x0.2..0.5": ((1.5, 2.0), (0.2, 0.5)),
    "x1.5, x0.5": ((1.5, 1.5), (0.5, 0.5)),
    "x2, x0.5": ((2.0, 2.0), (0.5, 0.5)),
}
SK9_LIMIT = {
    ("x1.5, x0.5", "uniform", 0.1): 0.999,
    ("x1.5, x0.5", "uniform", 0.5): 0.9628,
    ("x1.5, x0.5", "normal", 0.1): 1.0,
    ("x1.5, x0.5", "normal", 0.5): 0.9789,
    ("x2, x0.5", "uniform", 0.1): 1.0,
    ("x2, x0.5", "uniform", 0.5): 0.9916,
    ("x1.5..2, x0.2..0.5", "uniform", 0.1): 0.9999,
    ("x1.5..2, x0.2..0.5", "uniform", 0.5): 0.98,
    ("x1.5..2, x0.2..0.5", "normal", 0.1): 1.0,
    ("x1.5..2, x0.2..0.5", "normal", 0.5): 0.989,
}


def sk9(sizes: str, shape: str, noise: float) -> Trial:
    """Sallen-Key band-pass: C1, C2, R2, R3 too large or too small, or none. source: see circuits.SALLEN_KEY

    Tolerances 5 % (resistors) and 10 % (capacitors): usual in this literature (M).
    """
    circuit = circuits.SALLEN_KEY
    sound = tuple(tolerance(p.value, 0.05 if p.kind == "R" else 0.1, shape) for p in circuit.parts)
    faults = [Fault("F0")]
    for place in ("C1", "C2", "R2", "R3"):
        value = circuit.parts[circuit.at(place)].value
        for low, high in SIZES[sizes]:
            spread = Spread(Shape.UNIFORM if high > low else Shape.FIXED, low * value, high * value)
            faults.append(Fault(f"F{len(faults)}", place, spread))
    limit = SK9_LIMIT.get((sizes, shape, noise))
    return Trial(
        f"SK9, {sizes}, {shape}, {noise:g} dB", circuit, np.geomspace(5e3, 1e5, 21),
        lambda y: circuits.voltages(circuit, y)["out"][:, None], (Observed("gain", "out", "in"),),
        sound, tuple(faults), noise, (-np.inf,), (), {} if limit is None else {"class": limit},
    )  # fmt: skip


SVF_LIMIT = {
    (("bp",), 0.05): (0.6154, 0.7933, 0.9532),
    (("bp",), 0.1): (0.6216, 0.8015, 0.9606),
    (("bp",), 0.3): (0.5797, 0.7599, 0.9435),
    (("lp",), 0.1): (0.5914, 0.7686, 0.9316),
    (("hp", "bp", "lp"), 0.05): (0.7802, 0.9661, 0.9939),
    (("hp", "bp", "lp"), 0.1): (0.7886, 0.9749, 0.9974),
    (("hp", "bp", "lp"), 0.3): (0.7777, 0.9697, 0.9969),
}


def svf19(outputs: tuple[str, ...], noise: float) -> Trial:
    """State-variable filter: each part at -6 or +6 sigma, the others normal about their nominal, or all normal.

    source of sigmas and fault values: see circuits.STATE_VARIABLE (R). Frequencies are not stated there: 21, a decade
    to either side of the centre.
    """
    circuit, sigma = circuits.STATE_VARIABLE, circuits.STATE_VARIABLE_SIGMA
    faults = [Fault("none")]
    for part in circuit.parts:
        for sign, word in ((-1.0, "low"), (1.0, "high")):
            value = part.value + 6.0 * sign * sigma[part.ref]
            faults.append(Fault(f"{part.ref} {word}", part.ref, Spread(Shape.FIXED, value, value)))
    sound = tuple(Spread(Shape.NORMAL, p.value, sigma[p.ref]) for p in circuit.parts)

    def sees(y: Complex) -> Complex:
        v = circuits.voltages(circuit, y)
        return np.stack([v[name] for name in outputs], axis=1)

    limit = SVF_LIMIT.get((outputs, noise))
    return Trial(
        f"SVF19, {'+'.join(outputs)}, {noise:g} dB", circuit, np.geomspace(79.6, 7960.0, 21), sees,
        tuple(Observed(name, name, "in") for name in outputs), sound, tuple(faults), noise, (-np.inf,) * len(outputs),
        (("R4", "C1"), ("R5", "C2"), ("R6", "R7")),
        {} if limit is None else dict(zip(("class", "group", "first three"), limit, strict=True)),
    )  # fmt: skip


RANGES = {
    "x0.75..0.85, x1.15..1.25": ((0.75, 0.85), (1.15, 1.25)),
    "x0.3..0.6, x1.5..2.5": ((0.3, 0.6), (1.5, 2.5)),
    "x0.001..0.01, x50..200": ((0.001, 0.01), (50.0, 200.0)),
}
LPF_LIMIT = {  # place, mirror pair
    ("x0.75..0.85, x1.15..1.25", 1, 0.1): (0.6161, 0.9939),
    ("x0.75..0.85, x1.15..1.25", 2, 0.1): (0.8739, 0.9886),
    ("x0.75..0.85, x1.15..1.25", 3, 0.1): (0.9322, 0.9387),
    ("x0.75..0.85, x1.15..1.25", 1, 0.3): (0.5791, 0.9258),
    ("x0.75..0.85, x1.15..1.25", 2, 0.3): (0.8694, 0.9930),
    ("x0.75..0.85, x1.15..1.25", 3, 0.3): (0.9403, 0.9472),
    ("x0.3..0.6, x1.5..2.5", 1, 0.1): (0.63, 1.0),
    ("x0.3..0.6, x1.5..2.5", 2, 0.1): (0.9609, 1.0),
    ("x0.3..0.6, x1.5..2.5", 3, 0.1): (0.9995, 1.0),
    ("x0.3..0.6, x1.5..2.5", 1, 0.3): (0.6159, 1.0),
    ("x0.3..0.6, x1.5..2.5", 2, 0.3): (0.9311, 1.0),
    ("x0.3..0.6, x1.5..2.5", 3, 0.3): (0.9962, 1.0),
    ("x0.001..0.01, x50..200", 1, 0.1): (0.6225, 1.0),
    ("x0.001..0.01, x50..200", 2, 0.1): (0.998, 1.0),
    ("x0.001..0.01, x50..200", 3, 0.1): (1.0, 1.0),
    ("x0.001..0.01, x50..200", 1, 0.3): (0.6225, 1.0),
    ("x0.001..0.01, x50..200", 2, 0.3): (0.957, 1.0),
    ("x0.001..0.01, x50..200", 3, 0.3): (0.9922, 1.0),
}
SEEN = (Observed("S21", "4", "1", 2.0 / 50.0), Observed("S11", "1", "1", 2.0 / 50.0, -1.0),
        Observed("S22", "4", "4", 2.0 / 50.0, -1.0))  # fmt: skip


def lpf7(sizes: str, responses: int, noise: float) -> Trial:
    """Ladder of seven: one element in a range of sizes (either way), or none; ends known.

    responses : 1 for |S21|, 2 with |S11|, 3 with |S22|. Floors of -70 and -30 dB are added as power. How values are
    spread within a tolerance or a range is not stated with the fault table: uniform, decades log-uniform.
    """
    circuit = circuits.low_pass()
    sound, faults = [], [Fault("none")]
    for p in circuit.parts:
        if p.kind == "R":
            sound.append(Spread(Shape.FIXED, p.value, p.value))
            continue
        sound.append(tolerance(p.value, 0.02 if p.kind == "C" else 0.05, "uniform"))
        for low, high in RANGES[sizes]:
            shape = Shape.LOG_UNIFORM if high / low > 3.0 else Shape.UNIFORM
            faults.append(Fault(f"{p.ref} x{low:g}", p.ref, Spread(shape, low * p.value, high * p.value), 0.5))

    def sees(y: Complex) -> Complex:
        one, four = circuits.voltages(circuit, y, "1"), circuits.voltages(circuit, y, "4")
        return np.stack([one["4"] / 25.0, one["1"] / 25.0 - 1.0, four["4"] / 25.0 - 1.0][:responses], axis=1)

    limit = LPF_LIMIT.get((sizes, responses, noise))
    return Trial(
        f"LPF7, {sizes}, {'+'.join(o.name for o in SEEN[:responses])}, {noise:g} dB", circuit,
        np.geomspace(0.5e6, 12e6, 40), sees, SEEN[:responses], tuple(sound), tuple(faults), noise,
        (-70.0, -30.0, -30.0)[:responses], (("C1", "C7"), ("L2", "L6"), ("C3", "C5")),
        {} if limit is None else dict(zip(("place", "group"), limit, strict=True)),
    )  # fmt: skip


def trials() -> list[Trial]:
    """All lines of the table."""
    three = ("hp", "bp", "lp")
    return [
        *(sk9(sizes, shape, noise) for sizes in SIZES for shape in ("uniform", "normal") for noise in (0.1, 0.5)),
        *(svf19(outputs, noise) for outputs in (("bp",), ("lp",), three) for noise in (0.05, 0.1, 0.3)),
        *(lpf7(sizes, n, noise) for sizes in RANGES for n in (1, 2, 3) for noise in (0.1, 0.3)),
    ]


def line(trial: Trial, score: Score) -> str:
    """One line of the table, with the 95 % interval of each share."""
    cells = []
    for name, hits in (
        ("class", score.by_class), ("place", score.place), ("group", score.group), ("first three", score.three),
    ):  # fmt: skip
        low, high = wilson(hits, score.cases)
        limit = f" limit {100 * trial.limit[name]:.1f}" if name in trial.limit else ""
        cells.append(f"{name} {100 * hits / score.cases:.1f} ({100 * low:.1f} to {100 * high:.1f}){limit}")
    low, high = wilson(score.sound, score.sound_cases)
    cells.append(f"sound called so {score.sound}/{score.sound_cases} ({100 * low:.0f} to {100 * high:.0f})")
    cells.append(f"class expected {100 * score.said:.1f}; draws that count {score.effective:.0f}")
    return f"{trial.name}: " + "; ".join(cells)


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=20000)
    parser.add_argument("--draws", type=int, default=256)
    parser.add_argument("--only", default="", help="only lines whose name starts so")
    given = parser.parse_args(arguments)
    print(f"{given.cases} cases for each line, seed {given.seed}; shares in per cent with their 95 % interval")
    for k, trial in enumerate(trials()):
        if trial.name.startswith(given.only):
            start = time.monotonic()
            print(line(trial, run(trial, given.cases, given.seed + k, given.draws)), end="")
            print(f" [{time.monotonic() - start:.1f} s]", flush=True)


if __name__ == "__main__":
    main()
