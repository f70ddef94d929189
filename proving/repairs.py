"""Before and after a repair: does the ranking know what the work cured, and what is still wrong?

    python -m proving.repairs --cases 40 --seed 1000

Every case is a simulated unit of the independent world with readings before and after one piece of work on it, through
a job file: start, add, did, add, suspects. The stories take turns:

- true: one fault, and the work is at its place: nothing is wrong any more.
- wrong: one fault, and another part was replaced: it is still there.
- second: two faults, and the work is at the first: the second is still there.
- sound: nothing was ever wrong, and a part was replaced for nothing.

What was worked on is drawn anew (a new part strays by itself), leads and instruments are tied on again. A case counts
where an oracle can see each of its faults alone. Seeds from 1000 are for tuning, from 60000 for reporting.
"""

from __future__ import annotations

import argparse
import copy
import json
import os
import tempfile
import time
import traceback
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from proving.ailments import PICK, SOUND, Ailment, damaged
from proving.case import Plan, Taken, loudness, pick_faults, plan_readings, written
from proving.design import draw_unit
from proving.drawing import Drawing, Rng, unit_file
from proving.faults import version
from proving.instruments import Gear, draw_gear
from proving.score import share
from proving.strayed import Built, build_unit, factor
from proving.world import sees

OUT = Path(__file__).parent / "out"
STORIES = ("true", "wrong", "second", "sound")
SEEN = 3.0
REPORTING = 60_000
LEFT_OUT = ("wrong filter", "detector not terminated", "long ground lead", "wrong reference", "wrong band")
KINDS = [k for k in PICK if k not in LEFT_OUT]


@dataclass(frozen=True, slots=True)
class Story:
    """A unit before and after work on it. work : as typed; first : the fault at hand; second : another, or None."""

    seed: int
    name: str
    unit: str
    first: Ailment
    second: Ailment | None
    work: str
    before: tuple[Taken, ...]
    after: tuple[Taken, ...]

    @property
    def left(self) -> Ailment | None:
        """What is still wrong after the work."""
        return self.second if self.name == "second" else self.first if self.name == "wrong" else None


@dataclass(frozen=True, slots=True)
class Result:
    """One story as the tool saw it.

    now : the first group is what is wrong now (or the sound unit); in_set : the 90 % set holds it
    credited : the work is said to have cured the fault (or none) as it did, on balance
    said : probability of the first group; cured : that the work cured something
    """

    seed: int
    name: str
    truth: str
    now: bool
    in_set: bool
    credited: bool
    said: float
    cured: float
    told: tuple[str, ...]
    seconds: float
    error: str = ""


def tell(seed: int, name: str) -> Story:
    """A story from its seed."""
    rng = np.random.default_rng([seed, 91, STORIES.index(name)])
    for _ in range(400):
        drawing = draw_unit(rng, f"Repair {seed}")
        kind = str(rng.choice(KINDS))
        found = (SOUND,) if name == "sound" else pick_faults(rng, drawing, kind, 2 if name == "second" else 1)
        if not found or any(x.kind in LEFT_OUT for x in found):
            continue
        story = told(rng, seed, name, drawing, found)
        if story is not None:
            return story
    raise RuntimeError(f"no unit for {name} of seed {seed}")


def told(rng: Rng, seed: int, name: str, drawing: Drawing, found: Sequence[Ailment]) -> Story | None:
    """A story of these faults; None where an oracle could not see each of them alone on the readings made."""
    built = build_unit(rng, drawing)
    gear = draw_gear(rng, "analyser" if rng.random() < 0.5 else "sweeper")
    plans = plan_readings(rng, drawing, found[0], gear)
    if name != "sound" and any(not shows(plans, gear, built, x) for x in found):
        return None
    first, second = found[0], found[1] if len(found) > 1 else None
    if name in ("true", "second"):
        work, place = work_on(rng, first), first.place
    else:
        place = other_part(rng, drawing, first)
        work = f"replaced {place}"
    ill = built
    for one in found:
        ill = damaged(ill, one)
    well = anew(rng, built, place)
    left = second if name == "second" else first if name == "wrong" else None
    later = well if left is None else damaged(well, left)
    before = taken(rng, gear, plans, ill, 1)
    again = [replace(p, bench=tied_again(rng, p)) for p in plans]
    after = taken(rng, gear, again, later, len(plans) + 1)
    return Story(seed, name, unit_file(drawing), first, second, work, before, after)


def shows(plans: Sequence[Plan], gear: Gear, built: Built, one: Ailment) -> bool:
    """True where an oracle would see this fault alone."""
    ill = damaged(built, one)
    return max(loudness(p, gear, sees(ill, p.bench, p.f), sees(built, p.bench, p.f), 0.0) for p in plans) > SEEN


def work_on(rng: Rng, one: Ailment) -> str:
    """The work that mends a fault, as one would say it."""
    if one.place.endswith("joint"):
        return f"resoldered {one.place}"
    if " contact" in one.place or one.kind == "relay not operated":
        relay = one.place.partition(" contact")[0]
        return f"replaced {relay}" if one.kind != "contact resistive" or rng.random() < 0.5 else f"cleaned {one.place}"
    if one.kind in ("leak", "stray", "bridged past"):
        return f"worked on {one.place}"
    if one.kind.startswith("coax"):
        return f"swapped {one.place}"
    return f"replaced {one.place}"


def other_part(rng: Rng, drawing: Drawing, one: Ailment) -> str:
    """A part that is not at fault, of the same filter where the fault sits in one."""
    ladder = drawing.ladder(one.ladder) if one.ladder else drawing.ladders[int(rng.integers(len(drawing.ladders)))]
    return str(rng.choice([p.ref for p in ladder.pieces() if p.ref != one.place.split(" ")[0]]))


def anew(rng: Rng, built: Built, place: str) -> Built:
    """The unit with a new part at a place: it strays by itself. Anything but a part is as it was when sound."""
    out = copy.deepcopy(built)
    drawn = {p.ref: p for x in built.drawing.ladders for p in x.pieces()}
    if place in drawn:
        out.parts[place].value = drawn[place].value * factor(rng, 0.06 if drawn[place].is_coil else 0.02)
        out.parts[place].q *= factor(rng, 0.2)
        out.parts[place].lead *= factor(rng, 0.2)
    return out


def tied_again(rng: Rng, p: Plan):
    """The same hook-up after a while: leads do not lie as they did."""
    b = p.bench
    leads = {k: v * factor(rng, 0.1) for k, v in vars_of(b).items()}
    return replace(b, **leads)


def vars_of(bench) -> dict[str, float]:
    """The leads and strays of a hook-up."""
    names = [n for n in bench.__dataclass_fields__ if "lead" in n or "stray" in n]
    return {n: getattr(bench, n) for n in names if isinstance(getattr(bench, n), float)}


def taken(rng: Rng, gear: Gear, plans: Sequence[Plan], unit: Built, number: int) -> tuple[Taken, ...]:
    """All readings of a unit."""
    return tuple(written(rng, gear, p, number + k, *sees(unit, p.bench, p.f), 0.0) for k, p in enumerate(plans))


def ranked_by_tool(story: Story, folder: Path):
    """The story through a job file: the ranking at its end."""
    from halfsplit import jobs
    from halfsplit.jobs.opinions import opened, ranked

    unit, job = folder / "unit.toml", folder / "x.job"
    unit.write_text(story.unit, encoding="utf-8")
    jobs.start(job, unit, "x", "")
    for part, rows in (("before", story.before), ("after", story.after)):
        for t in rows:
            (folder / t.file).write_bytes(t.data)
            jobs.add_file(job, folder / t.file, {"read": "nothing", **t.hookup})
        if part == "before":
            jobs.did(job, [story.work])
    return ranked(opened(job), None)[1]


def marked(story: Story) -> Result:
    """The ranking against the truth."""
    from halfsplit.fault.hypotheses import designator

    started = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        r = ranked_by_tool(story, Path(folder))
    left, truth = story.left, f"{story.first.words()}{f' + {story.second.words()}' if story.second else ''}"

    def holds(group) -> bool:
        if left is None:
            return group.family == "sound"
        return any(designator(c.place) == designator(left.place) for c in group.causes) and group.family != "sound"

    inside = [g for g in r.groups if g.name in r.set90]
    mended = r.mended[0]
    cured = mended.probability
    credited = cured > 0.5 if story.name in ("true", "second") else cured < 0.5
    told = (r.belief, *(f"{100 * g.probability:.0f} % {g.name} [{g.causes[0].text}]" for g in r.groups[:3]))
    return Result(
        story.seed, story.name, f"{truth}; {story.work}", holds(r.groups[0]), any(holds(g) for g in inside), credited,
        r.groups[0].probability, cured, told, time.perf_counter() - started,
    )  # fmt: skip


def work(job: tuple[int, str]) -> Result:
    """One story from its seed."""
    seed, name = job
    story = tell(seed, name)
    try:
        return marked(story)
    except (ArithmeticError, LookupError, TypeError, ValueError, Exception):  # noqa: BLE001
        return Result(seed, name, story.work, False, False, False, 0.0, 0.0, (), 0.0, traceback.format_exc())


def print_table(results: Sequence[Result]) -> None:
    """The figures that count."""
    print(f"\n{'story':8s} {'n':>3s}  {'right now, first':32s} {'in the 90 % set':32s} {'the work judged right':32s}")
    for name in (*STORIES, "all"):
        rows = [r for r in results if name in (r.name, "all")]
        if rows:
            cells = [share(sum(bool(getattr(r, f)) for r in rows), len(rows)) for f in ("now", "in_set", "credited")]
            print(f"{name:8s} {len(rows):3d}  " + " ".join(f"{c:32s}" for c in cells))
    spent = [r.seconds for r in results if not r.error]
    print(f"\nseconds per story: mean {sum(spent) / max(len(spent), 1):.1f}, worst {max(spent, default=0.0):.1f}")
    refused = sum(bool(r.error) for r in results)
    if refused:
        print(f"refused by the tool or crashed (counted as missed): {refused}")


def print_misses(results: Sequence[Result]) -> None:
    """Every story that was not understood."""
    for r in results:
        if not (r.now and r.credited):
            print(f"- seed {r.seed} {r.name}: {r.truth}; cured {r.cured:.2f}; {'in the set' if r.in_set else 'NOT in'}")
            print("".join(f"      {t}\n" for t in (r.told or (r.error,))), end="")


def main() -> None:
    """Run the trial."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--cases", type=int, default=40)
    words.add_argument("--seed", type=int, default=1000, help="first seed: 1000 to tune, 60000 to report")
    words.add_argument("--story", choices=STORIES)
    words.add_argument("--misses", action="store_true", help="show the misses of reporting seeds too: spent then")
    words.add_argument("--processes", type=int, default=2)
    given = words.parse_args()
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    use = "reporting" if given.seed >= REPORTING else "tuning"
    names = [given.story] if given.story else list(STORIES)
    jobs = [(given.seed + i, names[i % len(names)]) for i in range(given.cases)]
    print(f"package at {version()}; seeds from {given.seed} ({use}): {given.cases} stories")
    with get_context("spawn").Pool(given.processes) as pool:
        results = sorted(pool.imap_unordered(work, jobs), key=lambda r: r.seed)
    print_table(results)
    if use == "tuning" or given.misses:
        print_misses(results)
    OUT.mkdir(exist_ok=True)
    name = OUT / f"repairs-{given.seed}-{given.cases}.json"
    name.write_text(json.dumps([asdict(r) for r in results], indent=1), encoding="utf-8")
    print(f"\nwritten to {name.name}")


if __name__ == "__main__":
    main()
