"""How often the tool names the right fault in units that it did not write.

    python -m proving.faults --cases 60 --sound 30 --seed 1000

Seeds from 1000 are for tuning, seeds from 20000 for reporting: nobody looks at a reporting case while changing the
tool, so their misses are not shown unless asked for. (9000 to 9059 were the reporting seeds until some of their
misses had been seen.) The result goes to proving/out/ and to the screen: a table by kind, how honest the
probabilities are, and for tuning every miss.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import time
import traceback
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from multiprocessing import get_context
from pathlib import Path

from proving.ailments import PICK, Ailment
from proving.case import Case, make_case
from proving.score import share

OUT = Path(__file__).parent / "out"
SEEN = 3.0
SOUND_FROM = 500_000
REPORTING = 20_000
BINS = (0.0, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 1.0001)


@dataclass(frozen=True, slots=True)
class Result:
    """One case as the tool saw it.

    first : the first part is the truth's; group : the first group but the sound one holds it; strict : the first of
    all groups does; in_set : a group of the 90 % set does; all_in_set : the same for each of several faults
    in_three : each of them is in one of the first three groups, the sound one aside
    said : probability of the first group; sound : of the sound unit; called_sound : the sound group is first
    false_alarm : a sound unit called faulty; error : what the tool refused with, "" else
    """

    seed: int
    kind: str
    truth: str
    family: str
    gear: str
    readings: int
    oracle: float
    first: bool
    group: bool
    strict: bool
    in_set: bool
    all_in_set: bool
    in_three: bool
    said: float
    sound: float
    unlisted: float
    called_sound: bool
    false_alarm: bool
    groups: tuple[str, ...]
    seconds: float
    error: str = ""


def seen_by_tool(case: Case) -> Result:
    """Hand a case to the tool and mark its ranking."""
    from halfsplit.errors import HalfsplitError

    started = time.perf_counter()
    try:
        return marked(case, started)
    except HalfsplitError as error:
        return failed(case, started, str(error))
    except (
        ArithmeticError,
        LookupError,
        TypeError,
        ValueError,
    ):  # a crash is a finding: the run goes on and shows it
        return failed(case, started, traceback.format_exc())


def failed(case: Case, started: float, error: str) -> Result:
    """A case that the tool refused: a miss in every count."""
    one = case.truth[0]
    return Result(
        case.seed, one.kind, words_of(case), one.family, case.gear, len(case.taken), case.oracle_db,
        False, False, False, False, False, False, 0.0, 0.0, 0.0, False, one.family == "sound", (),
        time.perf_counter() - started, error,
    )  # fmt: skip


def words_of(case: Case) -> str:
    return " + ".join(t.words() for t in case.truth)


def marked(case: Case, started: float) -> Result:
    """Read everything as the tool does, rank, compare."""
    from halfsplit.expect import observe
    from halfsplit.fault import rank
    from halfsplit.fault.hypotheses import designator
    from halfsplit.hookup import parse_hookup
    from halfsplit.jobs import known_of
    from halfsplit.reading import read_bytes
    from halfsplit.unit import read_unit

    unit = read_unit(case.unit, f"trial {case.seed}")
    known = known_of(unit)
    observations = []
    for number, taken in enumerate(case.taken, 1):
        reading = read_bytes(taken.file, taken.data)
        observations += observe(unit, parse_hookup(taken.hookup, known), reading, f"{number}")
    ranking = rank(unit, observations)
    seconds = time.perf_counter() - started

    def holds(places: Iterable[str], one: Ailment) -> bool:
        return designator(one.place) in {designator(p) for p in places}

    groups = ranking.groups
    faulty = [g for g in groups if g.family != "sound"]
    parts = [p for p, _ in ranking.parts if p != "sound"]
    inside = [c.place for g in groups if g.name in ranking.set90 for c in g.causes]
    truth = case.truth
    told = tuple(f"{100 * g.probability:.0f} % {g.name} [{g.causes[0].text}]" for g in groups[:3])
    one = truth[0]
    sound_first = groups[0].family == "sound"
    return Result(
        case.seed, one.kind, words_of(case), one.family, case.gear, len(case.taken), case.oracle_db,
        bool(parts) and any(holds(parts[:1], t) for t in truth),
        bool(faulty) and any(holds([c.place for c in faulty[0].causes], t) for t in truth),
        any(holds([c.place for c in groups[0].causes], t) for t in truth),
        any(holds(inside, t) for t in truth), all(holds(inside, t) for t in truth),
        all(holds([c.place for g in faulty[:3] for c in g.causes], t) for t in truth),
        groups[0].probability, ranking.sound, ranking.not_listed, sound_first,
        one.family == "sound" and not sound_first and groups[0].probability > 0.5, told, seconds,
    )  # fmt: skip


def work(job: tuple[int, str | None, int]) -> Result:
    """One case from its seed."""
    seed, kind, faults = job
    return seen_by_tool(make_case(seed, kind, faults=faults))


def count(results: Sequence[Result], field: str) -> str:
    """A share of results with its 95 % interval."""
    return share(sum(bool(getattr(r, field)) for r in results), len(results))


def print_kinds(results: Sequence[Result]) -> None:
    """One row for each kind of fault."""
    print(f"\n{'kind':26s} {'n':>3s} {'first':>6s} {'group':>6s} {'strict':>6s} {'set90':>6s} {'visible':>8s}")
    for kind in dict.fromkeys(r.kind for r in results):
        rows = [r for r in results if r.kind == kind]
        sums = [sum(getattr(r, x) for r in rows) for x in ("first", "group", "strict", "in_set")]
        clear = sum(r.oracle > SEEN for r in rows)
        print(f"{kind:26s} {len(rows):3d} {sums[0]:6d} {sums[1]:6d} {sums[2]:6d} {sums[3]:6d} {clear:8d}")


def print_totals(results: Sequence[Result]) -> None:
    """The figures that count."""
    ill = [r for r in results if r.family != "sound"]
    well = [r for r in results if r.family == "sound"]
    for name, rows in (
        ("all faults", ill),
        (f"faults an oracle can see (over {SEEN:g})", [r for r in ill if r.oracle > SEEN]),
        ("of these, in the unit", [r for r in ill if r.oracle > SEEN and r.family == "fault"]),
        ("of these, in the test", [r for r in ill if r.oracle > SEEN and r.family == "mix-up"]),
        ("faults no oracle can see", [r for r in ill if r.oracle <= SEEN]),
    ):
        if rows:
            print(f"\n{name}: {len(rows)}")
            for label, field in (
                ("right part first", "first"),
                ("right group first (sound aside)", "group"),
                ("right group first of all", "strict"),
                ("inside the 90 % set", "in_set"),
                ("every fault inside the 90 % set", "all_in_set"),
                ("every fault in the first 3 groups", "in_three"),
                ("called sound", "called_sound"),
            ):
                print(f"  {label:34s} {count(rows, field)}")
    if well:
        print(f"\nsound units: {len(well)}\n  {'called faulty':34s} {count(well, 'false_alarm')}")
        print(f"  {'sound group first':34s} {count(well, 'called_sound')}")
    spent = [r.seconds for r in results]
    print(f"\nseconds per case: mean {sum(spent) / len(spent):.1f}, worst {max(spent):.1f}")
    refused = sum(bool(r.error) for r in results)
    if refused:
        print(f"refused by the tool (counted as missed): {refused}")


def print_reliability(results: Sequence[Result]) -> None:
    """What the first of all groups was given against how often it was right."""
    print("\nfirst group said    cases  mean said  was right")
    for low, high in pairwise(BINS):
        rows = [r for r in results if low <= r.said < high and not r.error]
        if rows:
            right = sum(right_of(r) for r in rows)
            mean = sum(r.said for r in rows) / len(rows)
            print(f"{low:6.2f} to {min(high, 1.0):4.2f}  {len(rows):9d}  {mean:9.3f}  {share(right, len(rows))}")


def right_of(r: Result) -> bool:
    """Whether the first of all groups was the truth."""
    return r.called_sound if r.family == "sound" else r.strict


def print_misses(results: Sequence[Result]) -> None:
    """Every case whose first group was wrong although an oracle could see the fault, and every false alarm."""
    print("\nmisses")
    for r in results:
        if r.error:
            print(f"- seed {r.seed} REFUSED: {r.truth}: {r.error}")
        elif not right_of(r) and (r.oracle > SEEN or r.family == "sound"):
            mark = "in the set" if r.in_set else "NOT in the set"
            print(f"- seed {r.seed} {r.gear}, {r.readings} readings: {r.truth}; oracle {r.oracle:.1f}; {mark}")
            print("".join(f"      {g}\n" for g in r.groups), end="")


def jobs_of(given: argparse.Namespace) -> list[tuple[int, str | None, int]]:
    """Seeds and kinds: the kinds take turns."""
    kinds = [given.kind] if given.kind else list(PICK)
    jobs: list[tuple[int, str | None, int]] = []
    if given.case is not None:
        if given.case >= given.seed + SOUND_FROM:
            return [(given.case, "sound", 1)]
        return [(given.case, kinds[(given.case - given.seed) % len(kinds)], given.faults)]
    for i in range(given.cases):
        jobs.append((given.seed + i, kinds[i % len(kinds)], given.faults))
    jobs += [(given.seed + SOUND_FROM + i, "sound", 1) for i in range(given.sound)]
    return jobs


def version() -> str:
    """Commit of the package that is tried, with "+" where its source is not as committed: two tables are only
    comparable where this is known."""

    def git(*words: str) -> str:
        root = Path(__file__).parent.parent
        return subprocess.run(["git", *words], cwd=root, capture_output=True, text=True, check=True).stdout.strip()

    return git("rev-parse", "--short", "HEAD") + ("+" if git("status", "--porcelain", "--", "src") else "")


def main() -> None:
    """Run the trial."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--cases", type=int, default=60, help="units with a fault")
    words.add_argument("--sound", type=int, default=30, help="sound units")
    words.add_argument("--seed", type=int, default=1000, help="first seed: 1000 to tune, 20000 to report")
    words.add_argument(
        "--misses", action="store_true", help="show the misses of reporting seeds too: they are spent then"
    )
    words.add_argument("--faults", type=int, default=1, choices=(1, 2), help="faults at once")
    words.add_argument("--kind", choices=list(PICK), help="one kind of fault only")
    words.add_argument("--case", type=int, help="one seed only (with the same --seed as in the run)")
    words.add_argument("--processes", type=int, default=2)
    given = words.parse_args()
    os.environ["OPENBLAS_NUM_THREADS"] = "1"  # the workers are spawned: they import numpy after this
    use = "reporting" if given.seed >= REPORTING else "tuning"
    before = version()
    print(f"package at {before}")
    print(
        f"seeds from {given.seed} ({use}): {given.cases} faulty, {given.sound} sound, {given.faults} fault(s) at once"
    )
    jobs, results = jobs_of(given), []
    started = time.perf_counter()
    with get_context("spawn").Pool(given.processes) as pool:
        for r in pool.imap_unordered(work, jobs):
            results.append(r)
            if len(results) % 10 == 0:
                print(f"  {len(results)} of {len(jobs)} after {time.perf_counter() - started:.0f} s", flush=True)
    results.sort(key=lambda r: r.seed)
    print_kinds(results)
    print_totals(results)
    print_reliability(results)
    if use == "tuning" or given.misses:
        print_misses(results)
    after = version()
    if before != after or before.endswith("+"):
        print(f"\nNOT REPRODUCIBLE: the source was {before} at the start and {after} at the end of this run")
    OUT.mkdir(exist_ok=True)
    name = OUT / f"faults-{given.seed}-{given.cases}-{given.sound}-{given.faults}-{before}.json"
    name.write_text(json.dumps([asdict(r) for r in results], indent=1), encoding="utf-8")
    print(f"\nwritten to {name.relative_to(Path.cwd()) if name.is_relative_to(Path.cwd()) else name.name}")


if __name__ == "__main__":
    main()
