"""A case: a unit file, readings as files with their hook-ups, and the truth."""

from __future__ import annotations

import copy
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np

from proving import instruments
from proving.ailments import PICK, SOUND, Ailment, damaged, mistaken
from proving.design import draw_unit
from proving.drawing import Drawing, Rng, Served, unit_file
from proving.instruments import Gear, draw_gear
from proving.nodal import Complex, Real
from proving.strayed import Built, build_unit, uniform_log
from proving.world import Bench, sees

TRIES = 400


@dataclass(frozen=True, slots=True)
class Taken:
    """One reading as handed over. hookup : fields as typed; file : its name; data : its bytes."""

    hookup: dict[str, str | list[str]]
    file: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Case:
    """A unit, its readings and the truth.

    oracle_db : how loud the fault is beside the same unit without it; of several, the least loud beside the others
    """

    seed: int
    unit: str
    taken: tuple[Taken, ...]
    truth: tuple[Ailment, ...]
    oracle_db: float
    gear: str


@dataclass(frozen=True, slots=True)
class Plan:
    """One reading to be taken. shows : "through", "reflection" or "both"."""

    shows: str
    hookup: dict[str, str | list[str]]
    bench: Bench
    f: Real


def make_case(seed: int, kind: str | None = None, *, faults: int = 1) -> Case:
    """A case from a seed. kind : of the fault, None any, "sound" none; faults : how many at once."""
    rng = np.random.default_rng([seed, 77])
    drawing = draw_unit(rng, f"Trial {seed}")
    truth = pick_faults(rng, drawing, kind, faults)
    for _ in range(TRIES):
        if truth:
            break
        drawing = draw_unit(rng, f"Trial {seed}")
        truth = pick_faults(rng, drawing, kind, faults)
    else:
        raise RuntimeError(f"no unit that can have {kind} in {TRIES} drawings")
    built = build_unit(rng, drawing)
    gear = draw_gear(rng, "analyser" if rng.random() < 0.5 else "sweeper")
    plans = plan_readings(rng, drawing, truth[0], gear)
    truth = tuple(placed(rng, t, plans, drawing) for t in truth)
    return take(rng, seed, built, plans, truth, gear)


def pick_faults(rng: Rng, drawing: Drawing, kind: str | None, faults: int) -> tuple[Ailment, ...]:
    """Faults that this drawing can have; none where it cannot have them."""
    if kind == "sound":
        return (SOUND,)
    ladder = drawing.ladders[int(rng.integers(len(drawing.ladders)))]
    found: list[Ailment] = []
    for _ in range(50):
        word = kind if kind and not found else str(rng.choice(list(PICK)))
        one = PICK[word](rng, drawing, ladder)
        if one is not None and all(one.place != x.place for x in found):
            found.append(one)
        if len(found) == faults:
            return tuple(found)
    return ()


def placed(rng: Rng, one: Ailment, plans: list[Plan], drawing: Drawing) -> Ailment:
    """A mistake of the hook-up, put to one of the readings of its band."""
    if one.family != "mix-up":
        return one
    through = one.kind in ("detector not terminated", "wrong reference") or one.detail == "detector"
    fitting = [
        i
        for i, p in enumerate(plans, 1)
        if drawing.band(p.bench.band).ladder == one.ladder and (p.shows != "reflection" or not through)
    ]
    number = int(rng.choice(fitting))
    return replace(one, place=f"hook-up {number}", reading=number)


def plan_readings(rng: Rng, drawing: Drawing, one: Ailment, gear: Gear) -> list[Plan]:
    """Through, reflection and board sweeps on the band of the fault and on another one."""
    own = [b for b in drawing.bands if not one.ladder or b.ladder == one.ladder]
    band = own[int(rng.integers(len(own)))]
    others = [b for b in drawing.bands if b.ladder != band.ladder]
    bands = [band, *([others[int(rng.integers(len(others)))]] if others else [])]
    first, last = drawing.points[0], drawing.points[-1]
    at = drawing.order.index("filter")
    left, right = drawing.order[at - 1], drawing.order[at + 1]
    hand = gear.kind == "sweeper" and rng.random() < 0.15
    together = gear.kind == "analyser" and rng.random() < 0.5
    plans = []
    for b in bands:
        f = frequencies(rng, b, hand)
        plans.append(plan(rng, gear, b, first, last, "both" if together else "through", f))
        if not together:
            plans.append(plan(rng, gear, b, first, last, "reflection", f))
        if (left, right) != (first, last):
            plans.append(plan(rng, gear, b, left, right, "through", frequencies(rng, b, hand)))
    return plans


def frequencies(rng: Rng, band: Served, hand: bool) -> Real:
    """Points of a sweep, or a handful read by hand."""
    low, high = 0.3 * band.low, float(rng.uniform(4.0, 6.0)) * band.high
    n = int(rng.integers(8, 16)) if hand else int(rng.choice([101, 151, 201]))
    if hand or rng.random() < 0.3:
        return np.round(np.geomspace(low, high, n), -3)
    return np.round(np.linspace(low, high, n), -1)


def plan(rng: Rng, gear: Gear, band: Served, drive: str, last: str, shows: str, f: Real) -> Plan:
    """One reading: what is said of it, and how it really is."""
    analyser = gear.kind == "analyser"
    read = None if shows == "reflection" else last
    hookup: dict[str, str | list[str]] = {
        "band": band.name,
        "drive": drive,
        "instrument": gear.kind,
        "reference": "calibrated" if analyser else "through",
    }
    if read is None:
        hookup["terminated"] = [f"{last} = 50 ohm"]
    else:
        hookup["read"] = read
    off = 0.01 if analyser else 0.10
    leads = [uniform_log(rng, 1e-9, 5e-9) if analyser else uniform_log(rng, 5e-9, 30e-9) for _ in range(2)]
    if not analyser and rng.random() < 0.4:
        for i, name in enumerate(("source_lead", "detector_lead")):
            if name == "source_lead" or read is not None:
                mm = round(float(rng.uniform(20, 120)))
                hookup[name], leads[i] = f"{mm} mm", mm * 1e-9 * float(rng.uniform(0.7, 1.2))
    detector = 50.0 * (1.0 + rng.uniform(-off, off))
    bench = Bench(
        band.name, drive, read, 50.0 * (1.0 + float(rng.uniform(-off, off))), float(detector), leads[0], leads[1],
        uniform_log(rng, 1e-12, 8e-12), uniform_log(rng, 1e-12, 8e-12), float(detector), analyser,
        terminated=(last, 50.0 * (1.0 + float(rng.uniform(-0.01, 0.01)))) if read is None else None,
    )  # fmt: skip
    return Plan(shows, hookup, bench, f)


def take(rng: Rng, seed: int, built: Built, plans: list[Plan], truth: tuple[Ailment, ...], gear: Gear) -> Case:
    """Take all readings of a damaged unit."""
    ill = built
    for one in truth:
        ill = damaged(ill, one)
    taken, loudest = [], [0.0] * len(truth)
    for number, p in enumerate(plans, 1):
        bench, offset = p.bench, 0.0
        before = copy.deepcopy(rng)  # what the oracle compares with draws the same chances
        for one in truth:
            if one.reading == number:
                bench = mistaken(rng, bench, one)
                offset += one.size if one.kind == "wrong reference" else 0.0
        h, gamma = sees(ill, bench, p.f)
        for i in range(len(truth)):
            others = [one for k, one in enumerate(truth) if k != i]
            well, level = beside(copy.deepcopy(before), built, p, number, others)
            loudest[i] = max(loudest[i], loudness(p, gear, (h, gamma), well, offset - level))
        taken.append(written(rng, gear, p, number, h, gamma, offset))
    return Case(seed, unit_file(built.drawing), tuple(taken), truth, min(loudest), gear.kind)


def beside(
    rng: Rng, built: Built, p: Plan, number: int, others: Sequence[Ailment]
) -> tuple[tuple[Complex | None, Complex], float]:
    """What a reading would be with only some of the faults, and the level that is wrong in it."""
    unit, bench, offset = built, p.bench, 0.0
    for one in others:
        unit = damaged(unit, one)
        if one.reading == number:
            bench = mistaken(rng, bench, one)
            offset += one.size if one.kind == "wrong reference" else 0.0
    return sees(unit, bench, p.f), offset


def loudness(
    p: Plan,
    gear: Gear,
    ill: tuple[Complex | None, Complex],
    well: tuple[Complex | None, Complex],
    offset: float,
) -> float:
    """The largest change that the fault makes in a noise-free reading, over a rough sigma of 0.15 dB + 3 %."""
    out = 0.0
    if p.shows != "reflection":
        assert ill[0] is not None and well[0] is not None
        floor = 10 ** (gear.floor / 20.0)
        a, b = (instruments.decibels(np.hypot(np.abs(x[0]), floor)) for x in (ill, well) if x[0] is not None)
        out = float((np.abs(a + offset - b) / (0.15 + 0.03 * np.maximum(-b, 0.0))).max())
    if p.shows != "through":
        out = max(out, float(30.0 * np.abs(np.abs(ill[1]) - np.abs(well[1])).max() / 0.45))
    return out


def written(rng: Rng, gear: Gear, p: Plan, number: int, h: Complex | None, gamma: Complex, offset: float) -> Taken:
    """The file of a reading."""
    s21 = None if h is None else instruments.shown_through(rng, gear, p.f, h, offset)
    s11 = instruments.shown_reflection(rng, gear, p.f, gamma)
    if p.shows == "both":
        ending, data = "s2p", instruments.touchstone(rng, p.f, s11, s21)
    elif p.shows == "reflection" and gear.kind == "analyser" and rng.random() < 0.5:
        ending, data = "s1p", instruments.touchstone(rng, p.f, s11, None)
    else:
        shown = s11 if p.shows == "reflection" or s21 is None else s21
        write = instruments.by_hand if len(p.f) < 20 else None
        db, reflection = instruments.decibels(shown), p.shows == "reflection"
        if write is not None:
            ending, data = write(p.f, db, reflection=reflection, step=gear.step)
        else:
            ending, data = instruments.table(rng, p.f, db, reflection=reflection, step=gear.step)
    return Taken(p.hookup, f"reading-{number}.{ending}", data)


def save(case: Case, folder: Path) -> None:
    """Write a case into a new folder."""
    folder.mkdir(parents=True)
    (folder / "unit.toml").write_text(case.unit, encoding="utf-8")
    for t in case.taken:
        (folder / t.file).write_bytes(t.data)
    index = {
        "seed": case.seed,
        "gear": case.gear,
        "oracle_db": case.oracle_db,
        "readings": [{"file": t.file, "hookup": t.hookup} for t in case.taken],
        "truth": [asdict(t) for t in case.truth],
    }
    (folder / "case.json").write_text(json.dumps(index, indent=1), encoding="utf-8")


def load(folder: Path) -> Case:
    """Read a case back."""
    index = json.loads((folder / "case.json").read_text(encoding="utf-8"))
    taken = tuple(Taken(r["hookup"], r["file"], (folder / r["file"]).read_bytes()) for r in index["readings"])
    truth = tuple(Ailment(**t) for t in index["truth"])
    unit = (folder / "unit.toml").read_text(encoding="utf-8")
    return Case(index["seed"], unit, taken, truth, index["oracle_db"], index["gear"])
