"""The joint ranking on simulated transmitters: stage, path, load, supply, drive, trimmer, with and without the watts.

    python -m proving.power                     tuning seeds, from 3000
    python -m proving.power --seed 70000        reporting seeds: run once, misses not shown

Each case is an invented unit with its stages, one fault that shows (at least 2.5 dB of power or 30 % of the current on
some band: half of the owners notice 2 dB), a through sweep of 25 points on the worst band and on another one, watts,
amps and volts on every band, and drive levels at the inputs of the stages on two bands. Told is only that somebody
complains. Right is a ranking whose first group is of the true kind. The same ranking without watts and amps is marked
beside it.
"""

from __future__ import annotations

import argparse
import json
import os
import time
import traceback
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from halfsplit.expect import Observation
from halfsplit.fault import Posterior
from halfsplit.unit import Unit
from proving.ailments import PICK, SOUND, damaged
from proving.case import Taken, plan_readings, written
from proving.design import draw_unit
from proving.drawing import Drawing, Rng, unit_file
from proving.instruments import draw_gear
from proving.power_world import Meters, Shown, Station, draw_meters, draw_station, key_down, shipped, unit_text
from proving.score import share
from proving.strayed import Built, build_unit
from proving.world import sees

OUT = Path(__file__).parent.parent / "build" / "proving"
REPORTING = 70000
GROUPS = ("stage", "path", "load", "supply", "drive", "trimmer")
LEAST_DB, LEAST_AMPS = 2.5, 0.3
TRIES = 600
POINTS = 25
ACCEPTED = {
    "stage": ("stage",), "path": ("path",), "load": ("antenna side",), "supply": ("supply",), "drive": ("other",),
    "trimmer": ("trimmer", "control"),
}  # fmt: skip
OUTSIDE_NAMES = {
    "stage": ("stage",), "path": ("path not measured",), "load": ("antenna side",), "supply": ("supply",),
    "drive": ("something else",), "trimmer": ("adjustment", "control"),
}  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """One fault. words : what it is; station, built : the transmitter with it"""

    words: str
    station: Station
    built: Built


@dataclass(frozen=True)
class PowerCase:
    """One case: unit file, sweeps as files, rows of figures as typed, the truth."""

    seed: int
    group: str
    words: str
    unit: str
    sweeps: tuple[Taken, ...]
    rows: tuple[str, ...]
    into: str
    controlled: bool


@dataclass(frozen=True, slots=True)
class Result:
    """One case as the tool saw it.

    joint : the first group, with watts and amps, holds a cause of the true kind; strict : its likeliest cause is one
    bare : the first group without them; said : probability of the first group
    """

    seed: int
    group: str
    words: str
    joint: bool
    strict: bool
    bare: bool
    in_set: bool
    said: float
    first: tuple[str, ...]
    bare_first: str
    seconds: float
    error: str = ""


def stage_fault(rng: Rng, one: Station, built: Built) -> Fault:
    """A stage with less gain on all bands or one, or with less output."""
    name = one.stages[int(rng.integers(len(one.stages)))]
    bands = [b.name for b in built.drawing.bands]
    kind = rng.choice(["gain", "band", "limit", "pair"])
    size = float(rng.uniform(2.5, 9.0))
    if kind == "gain":
        gain = {(n, b): g - (size if n == name else 0.0) for (n, b), g in one.gain.items()}
        return Fault(f"{name} gain {size:.1f} dB low", replace(one, gain=gain), built)
    if kind == "band":
        band = bands[int(rng.integers(len(bands)))]
        gain = {(n, b): g - (size if (n, b) == (name, band) else 0.0) for (n, b), g in one.gain.items()}
        return Fault(f"{name} gain {size:.1f} dB low on {band}", replace(one, gain=gain), built)
    if kind == "limit":
        limit = {n: w * 10 ** (-(size if n == name else 0.0) / 10) for n, w in one.limit.items()}
        return Fault(f"{name} limits {size:.1f} dB early", replace(one, limit=limit), built)
    return Fault("one device of the final pair dead", replace(one, one_device=True, standing=0.5 * one.standing), built)


def path_fault(rng: Rng, one: Station, built: Built) -> Fault | None:
    """A fault of the path, of any kind but mistakes of the test."""
    kinds = [
        k for k in PICK if k not in ("detector not terminated", "long ground lead", "wrong reference", "wrong band")
    ]
    drawing = built.drawing
    ladder = drawing.ladders[int(rng.integers(len(drawing.ladders)))]
    ill = PICK[str(rng.choice(kinds))](rng, drawing, ladder)
    return None if ill is None else Fault(ill.words(), one, damaged(built, ill))


def load_fault(rng: Rng, one: Station, built: Built) -> Fault:
    """A load that is off on one band or on all."""
    bands = [b.name for b in built.drawing.bands]
    hit = bands if rng.random() < 0.6 else [bands[int(rng.integers(len(bands)))]]
    size = float(rng.uniform(0.3, 0.65))
    load = {b: size * np.exp(2j * np.pi * rng.random()) if b in hit else g for b, g in one.load.items()}
    return Fault(f"load |Gamma| {size:.2f} on {', '.join(hit)}", replace(one, load=load), built)


def supply_fault(rng: Rng, one: Station, built: Built) -> Fault:
    """A supply that sags, or is low."""
    if rng.random() < 0.6:
        amps = one.rated / 0.5 / 13.8
        ohm = float(rng.uniform(0.15, 0.45)) * 13.8 / amps
        return Fault(f"{ohm:.2f} ohm in the supply lead", replace(one, lead_ohm=one.lead_ohm + ohm), built)
    low = float(rng.uniform(0.12, 0.32))
    return Fault(f"supply {100 * low:.0f} % low", replace(one, volts=one.volts * (1.0 - low)), built)


def drive_fault(rng: Rng, one: Station, built: Built) -> Fault:
    """An exciter that gives less."""
    size = float(rng.uniform(3.0, 10.0))
    return Fault(f"drive {size:.1f} dB low", replace(one, drive={b: d - size for b, d in one.drive.items()}), built)


def trimmer_fault(rng: Rng, one: Station, built: Built) -> Fault:
    """A power adjustment set low, or a contact that comes and goes."""
    if one.hold is not None and rng.random() < 0.6:
        size = float(rng.uniform(2.0, 6.0))
        return Fault(f"power set {size:.1f} dB low", replace(one, hold=one.hold * 10 ** (-size / 10)), built)
    size = float(rng.uniform(2.0, 4.5))
    return Fault(f"a contact that wanders by {size:.1f} dB", replace(one, noisy=size), built)


PICKED: dict[str, Callable[[Rng, Station, Built], Fault | None]] = {
    "stage": stage_fault, "path": path_fault, "load": load_fault, "supply": supply_fault, "drive": drive_fault,
    "trimmer": trimmer_fault,
}  # fmt: skip


def make_case(seed: int, group: str) -> PowerCase:
    """A case from a seed. raises RuntimeError where no unit can have such a fault that shows"""
    rng = np.random.default_rng([seed, 991])
    for _ in range(TRIES):
        drawing = draw_unit(rng, f"Trial {seed}")
        if not 2 <= len(drawing.bands) <= 6:
            continue
        antenna = group == "load" or bool(rng.random() < 0.2)
        built = build_unit(rng, drawing)
        station = shipped(draw_station(rng, drawing, antenna), built, rng)
        if station is None:
            continue
        one = station
        fault = PICKED[group](rng, one, built)
        if fault is None:
            continue
        bands = [b.name for b in drawing.bands]
        looks = int(rng.integers(1, 3)) if not fault.station.noisy else 2
        ill = {b: [key_down(fault.station, fault.built, b, rng) for _ in range(looks)] for b in bands}
        well = {b: key_down(one, built, b, rng) for b in bands}
        loud = {b: loudness(ill[b], well[b]) for b in bands}
        worst = max(bands, key=lambda b: loud[b])
        if loud[worst] < 1.0:
            continue
        sweeps = swept(rng, fault.built, worst)
        others = [b for b in bands if b != worst]
        probed = [worst, others[int(rng.integers(len(others)))]]
        rows = tuple(figures(rng, draw_meters(rng), fault.station, ill, probed))
        into = "antenna" if antenna else "dummy load"
        text = unit_text(unit_file(drawing), one)
        return PowerCase(seed, group, fault.words, text, sweeps, rows, into, one.hold is not None)
    raise RuntimeError(f"no unit in {TRIES} that has such a fault: {group}")


def loudness(ill: list[Shown], well: Shown) -> float:
    """How much a fault shows on a band, against what is asked."""
    out = 0.0
    for x in ill:
        db = abs(10 * np.log10(max(x.forward, 1e-6) / well.forward))
        out = max(out, db / LEAST_DB, abs(x.amps / well.amps - 1.0) / LEAST_AMPS)
    return float(out)


def swept(rng: Rng, built: Built, worst: str) -> tuple[Taken, ...]:
    """Through sweeps of the whole path on the worst band and on another one."""
    drawing: Drawing = built.drawing
    gear = draw_gear(rng, "analyser" if rng.random() < 0.5 else "sweeper")
    aimed = replace(SOUND, ladder=drawing.band(worst).ladder)
    plans = plan_readings(rng, drawing, aimed, gear)
    first, last = drawing.points[0], drawing.points[-1]
    whole = [p for p in plans if p.bench.drive == first and p.bench.read == last and p.shows != "reflection"]
    out, seen = [], set()
    for number, p in enumerate(whole, 1):
        if p.bench.band in seen:
            continue
        seen.add(p.bench.band)
        h, gamma = sees(built, p.bench, p.f)
        out.append(written(rng, gear, p, number, h, gamma, 0.0))
    return tuple(out)


def figures(rng: Rng, meters: Meters, one: Station, ill: dict[str, list[Shown]], probed: list[str]) -> list[str]:
    """Rows as a technician types them."""
    rows = []
    back = rng.random() < 0.5
    for band, looks in ill.items():
        for x in looks:
            watts = max(x.forward, 0.0) * meters.watts * (1.0 + rng.normal(0.0, 0.02))
            said = [f"{rounded(watts)} W on 50 ohm"]
            if back:
                shown = (x.reflected + 0.001 * x.forward) * meters.watts * (1.0 + rng.normal(0.0, 0.15))
                said.append(f"{rounded(min(max(shown, 0.0), 0.95 * watts))} W reflected on 50 ohm")
            amps = x.amps * meters.amps * (1.0 + rng.normal(0.0, 0.015))
            volts = x.volts * meters.volts
            if amps * volts <= watts:
                continue
            said += [f"{amps:.2f} A", f"{volts:.1f} V"]
            if band in probed and x is looks[0]:
                for k, name in enumerate(one.stages):
                    v = x.inputs[name] * meters.probe * (1.0 + rng.normal(0.0, 0.04))
                    said.append(f"{v:.3g} V rms at TP{50 + k}")
            rows.append(f"{band}: {', '.join(said)}")
    return rows


def rounded(x: float) -> str:
    """A figure in three digits, as a meter shows it."""
    return f"{x:.1f}" if x < 100 else f"{x:.0f}"


def judged(job: tuple[int, str]) -> Result:
    """One case through the tool."""
    seed, group = job
    started = time.perf_counter()
    case = make_case(seed, group)
    try:
        return ranked(case, started)
    except Exception:  # noqa: BLE001  a crash is a finding: the run goes on and shows it
        return Result(
            seed,
            group,
            case.words,
            False,
            False,
            False,
            False,
            0.0,
            (),
            "",
            time.perf_counter() - started,
            traceback.format_exc(),
        )


def ranked(case: PowerCase, started: float) -> Result:
    """Read everything as the tool does, rank with and without watts and amps, compare."""
    from halfsplit import fault
    from halfsplit.expect import LevelSet, observe
    from halfsplit.fault.rank import ranking_of, with_levels
    from halfsplit.hookup import Hookup, parse_hookup
    from halfsplit.jobs import known_of
    from halfsplit.reading import Usual, read_bytes, typed_levels
    from halfsplit.unit import read_unit

    unit = read_unit(case.unit, f"trial {case.seed}")
    known, observations = known_of(unit), []
    for number, taken in enumerate(case.sweeps, 1):
        reading = read_bytes(taken.file, taken.data)
        found = observe(unit, parse_hookup(taken.hookup, known), reading, f"R{number}")
        observations += [thinned(o) for o in found if o.what.value == "s21"]
    first, last = unit.path.points[0], unit.path.points[-1]
    usual = Usual(50.0, case.into, last)
    levels = LevelSet("R9", typed_levels(case.rows, usual), Hookup(unit.bands[0].name, first, last))
    bare = weighed_alone(unit, observations)
    joint = with_levels(bare, [levels], "low power")
    seen = ranking_of(joint, "low power")
    assert joint.levels is not None
    kinds = {c.hypothesis.places[0]: c.kind for c in joint.levels.outside.values()}
    by_word = {(p.name, p.word): k for p, k in kinds.items()}

    def kinds_of(g: fault.Group) -> list[str]:
        return [by_word.get((c.place, c.mode), "path" if g.family == "fault" else g.family) for c in g.causes]

    order = [kinds_of(g) for g in seen.groups]
    accepted = ACCEPTED[case.group]
    inside = [k for ks, g in zip(order, seen.groups, strict=True) if g.name in seen.set90 for k in ks]
    without = ranking_of(bare, "low power")
    if without.groups[0].family == "sound":
        ranked_outside = sorted(without.outside, key=lambda o: -o.probability)
        names = elsewhere_of(bare) if not ranked_outside else [o.name for o in ranked_outside]
        alone, name = names[0] in OUTSIDE_NAMES[case.group], f"outside: {names[0]}"
    else:
        alone, name = case.group == "path" and without.groups[0].family == "fault", without.groups[0].name
    return Result(
        case.seed, case.group, case.words, any(k in accepted for k in order[0]), order[0][0] in accepted, alone,
        any(k in accepted for k in inside), seen.groups[0].probability,
        tuple(f"{100 * g.probability:.0f} % {g.name} [{g.causes[0].text}]" for g in seen.groups[:3]), name,
        time.perf_counter() - started,
    )  # fmt: skip


def weighed_alone(unit: Unit, observations: list[Observation]) -> Posterior:
    """As `fault.weigh`, without trying two faults at once: each case has one, and a hundred of them take an hour."""
    from halfsplit.fault.posterior import posterior_of
    from halfsplit.fault.rank import prior
    from halfsplit.fault.search import Search
    from halfsplit.fault.weights import Weights

    search = Search(unit, observations, Weights())
    fits = [f for f in search.run(None) if f.hypothesis.family != "sound"] + [search.sound]
    before = prior(search.hypotheses, search.weights)
    log_p = np.array([f.log_evidence + np.log(before[f.hypothesis.key]) for f in fits])
    return posterior_of(search, fits, log_p, (), np.zeros(0), None)


def thinned(o: Observation) -> Observation:
    """As many points as one types by hand: the trial is about watts and amps, and a hundred cases take an hour."""
    i = np.unique(np.round(np.linspace(0, len(o.f) - 1, POINTS)).astype(int))
    return replace(o, f=o.f[i], value=o.value[i], sigma=o.sigma[i], at_least=o.at_least[i])


def elsewhere_of(posterior: Posterior) -> list[str]:
    """Causes outside a sound path by their weights, where nothing was told."""
    from halfsplit.fault.rank import causes_in
    from halfsplit.fault.told import account
    from halfsplit.history import History

    told = account(causes_in(posterior.search), History())
    return [name for name, _, _ in told.outside(1.0)]


def arguments() -> argparse.Namespace:
    """What was asked for."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--cases", type=int, default=24)
    words.add_argument("--seed", type=int, default=3000, help=f"first seed: 3000 to tune, {REPORTING} to report")
    words.add_argument("--group", choices=GROUPS)
    words.add_argument("--case", type=int, help="one seed only: its unit and figures as well")
    words.add_argument("--processes", type=int, default=2)
    return words.parse_args()


def print_totals(results: list[Result]) -> None:
    """The figures that count."""
    print(f"{'group':10s} {'n':>3s} {'joint':>6s} {'strict':>7s} {'in 90 % set':>12s} {'without':>8s}")
    for g in GROUPS:
        rows = [r for r in results if r.group == g]
        if rows:
            sums = [sum(getattr(r, x) for r in rows) for x in ("joint", "strict", "in_set", "bare")]
            print(f"{g:10s} {len(rows):3d} {sums[0]:6d} {sums[1]:7d} {sums[2]:12d} {sums[3]:8d}")
    n = len(results)
    print(f"right group first, with watts and amps     {share(sum(r.joint for r in results), n)}")
    print(f"its likeliest cause right                  {share(sum(r.strict for r in results), n)}")
    print(f"right group inside the 90 % set            {share(sum(r.in_set for r in results), n)}")
    print(f"right group first, the same without them   {share(sum(r.bare for r in results), n)}")
    print(f"mean probability of the first group        {sum(r.said for r in results) / n:.3f}")
    print(f"seconds per case {sum(r.seconds for r in results) / n:.1f}; refused {sum(bool(r.error) for r in results)}")


def print_misses(results: list[Result]) -> None:
    """Every case that came out wrong."""
    for r in results:
        if r.error:
            print(f"- {r.seed} {r.group} {r.words}: {r.error}")
        elif not r.joint:
            where = "in the set" if r.in_set else "NOT in the set"
            print(f"- {r.seed} {r.group}: {r.words}; {where}; without: {r.bare_first}")
            print("".join(f"      {x}\n" for x in r.first), end="")


def main() -> None:
    """Run the trial."""
    given = arguments()
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    groups = [given.group] if given.group else list(GROUPS)
    jobs = [(given.seed + i, groups[i % len(groups)]) for i in range(given.cases)]
    if given.case is not None:
        jobs = [(given.case, groups[(given.case - given.seed) % len(groups)])]
        case = make_case(*jobs[0])
        print(case.words, case.into, "controlled" if case.controlled else "free", *case.rows, sep="\n")
    results: list[Result] = []
    OUT.mkdir(parents=True, exist_ok=True)
    name = OUT / f"power-{given.seed}-{len(jobs)}.json"
    with get_context("spawn").Pool(given.processes) as pool:
        for r in pool.imap_unordered(judged, jobs):
            results.append(r)
            word = "right" if r.joint else "WRONG"
            shown = f"{r.seed} {r.group} {word}" if given.seed < REPORTING else ""
            print(f"  {len(results)} of {len(jobs)}: {shown} {r.seconds:.0f} s", flush=True)
            name.write_text(json.dumps([asdict(x) for x in results], indent=1), encoding="utf-8")
    results.sort(key=lambda r: r.seed)
    use = "reporting" if given.seed >= REPORTING else "tuning"
    print(f"\nseeds from {given.seed} ({use}), {len(results)} transmitters")
    print_totals(results)
    if use == "tuning":
        print_misses(results)


if __name__ == "__main__":
    main()
