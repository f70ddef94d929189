"""Real filters, false drawings: a trial on the measured filters of ../shared/measured.

Each measured filter is given its own drawing (it must be called sound), and then drawings that are wrong in one
part by a factor of 1.5 or 0.6: the filter differs from that drawing as a faulty unit would from the right one.

With --baseline the reading is halved: every other point, held against the true drawing, is the earlier reading of
the sound unit; the other points are the reading of today, held against a drawing that is wrong by 1.2 or 0.83 only.

    python -m proving.measured [--filter 80m] [--part C12] [--kinds both,s21] [--jobs 2] [--baseline]
"""

from __future__ import annotations

import argparse
import csv
import json
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from io import StringIO
from multiprocessing import Pool
from pathlib import Path
from statistics import median

from proving.score import Mark, mark, share

MEASURED = Path(__file__).resolve().parents[2] / "shared" / "measured"
FACTORS = (1.5, 0.6)
SMALL = (1.2, 0.83)
SETS = ("filter_bank", "single_lpf")


@dataclass(frozen=True)
class Drawn:
    """A measured filter with its drawing.

    rungs : (place, ((designator, value), ...)) from the input; names : designator here -> name in filters.json
    range_hz : served band; csv_text : the curve as read from the plot
    """

    name: str
    rungs: tuple[tuple[str, tuple[tuple[str, float], ...]], ...]
    names: dict[str, str]
    range_hz: tuple[float, float]
    csv_text: str

    @property
    def parts(self) -> tuple[str, ...]:
        """Designators in ladder order."""
        return tuple(ref for _, members in self.rungs for ref, _ in members)


@dataclass(frozen=True)
class Trial:
    """One case: a filter, which readings, and the part whose drawn value is multiplied ("" for none).

    baseline : half of the points are the earlier reading of the sound unit
    """

    filter: str
    kind: str
    part: str = ""
    factor: float = 1.0
    baseline: bool = False


@dataclass(frozen=True)
class Result:
    """What came out of a trial. words : verdicts of the readings."""

    trial: Trial
    mark: Mark
    words: tuple[str, ...]
    groups: tuple[tuple[str, float], ...]
    seconds: float


def filters() -> dict[str, Drawn]:
    """All measured filters by name."""
    out = {}
    for folder in SETS:
        for row in json.loads((MEASURED / folder / "filters.json").read_text("utf-8")):
            drawn = drawn_from(row, (MEASURED / folder / row["data"]).read_text("utf-8"))
            out[drawn.name] = drawn
    return out


def drawn_from(row: dict[str, object], text: str) -> Drawn:
    """A row of filters.json with designators of our own: C1, L2, C3... counted along the ladder."""
    values, rungs, names, count = row["values_SI"], [], {}, 0
    assert isinstance(values, dict)
    elements = row["elements"]
    assert isinstance(elements, list)
    for kind, *members in elements:
        place = "shunt" if kind.startswith("s") else "series"
        found = []
        for member in members:
            count += 1
            letter = "L" if member.startswith("L") else "C"
            ref = f"{letter}{count}"
            names[ref] = member
            found.append((ref, float(values[member])))
        rungs.append((place, tuple(found)))
    low, high = row["passband_MHz"]  # type: ignore[misc]
    return Drawn(str(row["name"]), tuple(rungs), names, (low * 1e6, high * 1e6), text)


def unit_text(drawn: Drawn, part: str = "", factor: float = 1.0) -> str:
    """The unit file of a measured filter between two relays, one part's value multiplied by the factor."""
    low, high = (f"{hz / 1e6:g} MHz" for hz in drawn.range_hz)
    lines = [
        "[unit]", f'name = "{drawn.name}"', "", "[[band]]", f'name = "{drawn.name}"', f'range = ["{low}", "{high}"]',
        'filter = "F1"', "", "[path]", 'order = ["TP1", "filter", "J1"]', "", "[filter.F1]", 'input = "K1"',
        'output = "K2"', "ladder = [",
    ]  # fmt: skip
    for place, members in drawn.rungs:
        texts = [value_text(ref, value * (factor if ref == part else 1.0)) for ref, value in members]
        line = f'{place} = "{members[0][0]}", value = "{texts[0]}"'
        if len(members) == 2:
            line += f', across = {{ part = "{members[1][0]}", value = "{texts[1]}" }}'
        lines.append(f"  {{ {line} }},")
    return "\n".join([*lines, "]", ""])


def value_text(ref: str, value: float) -> str:
    """A value in pF or nH."""
    return f"{value * 1e12:.6g} pF" if ref.startswith("C") else f"{value * 1e9:.6g} nH"


def reading_text(drawn: Drawn, kind: str, first: int = 0, step: int = 1) -> str:
    """The curve as a file of an analyser: through and reflection ("both"), or through alone ("s21").

    first, step : which points of it
    """
    rows = list(csv.reader(StringIO(drawn.csv_text)))
    rows = [rows[0], *rows[1 + first :: step]]
    keep = 3 if kind == "both" else 2
    head = ["Frequency (MHz)", "S21 (dB)", "S11 (dB)"][:keep]
    return "\n".join(",".join(r[:keep]) for r in [head, *rows[1:]]) + "\n"


def run(trial: Trial) -> Result:
    """Read the drawing and the curve, judge, rank, mark."""
    import numpy as np

    from halfsplit import fault, verdict
    from halfsplit.expect import observe
    from halfsplit.hookup import Hookup
    from halfsplit.reading import read_bytes
    from halfsplit.unit import read_unit

    started = time.perf_counter()
    drawn = filters()[trial.filter]
    unit = read_unit(unit_text(drawn, trial.part, trial.factor), f"{drawn.name}.toml")
    step = 2 if trial.baseline else 1
    reading = read_bytes(f"{drawn.name}.csv", reading_text(drawn, trial.kind, 0, step).encode())
    hookup = Hookup(drawn.name, "TP1", "J1", instrument="analyser", reference="calibrated")
    observations = observe(unit, hookup, reading, "R1")
    before = []
    if trial.baseline:
        true = read_unit(unit_text(drawn), f"{drawn.name}.toml")
        earlier = read_bytes(f"{drawn.name}.csv", reading_text(drawn, trial.kind, 1, step).encode())
        found = observe(true, hookup, earlier, "R0")
        before = [replace(o, baseline="unit", drawing=true) for o in found]
    ranking = fault.rank(unit, [*observations, *before], "")
    words = verdict.judge(unit, observations, np.random.default_rng(1))
    truths = (trial.part,) if trial.part else ("sound",)
    top = tuple((g.name, g.probability) for g in ranking.groups[:4])
    seconds = time.perf_counter() - started
    return Result(trial, mark(ranking, truths), tuple(v.word.value for v in words), top, seconds)


def trials(chosen: Sequence[str], kinds: Sequence[str], part: str = "", *, baseline: bool = False) -> list[Trial]:
    """All cases of the chosen filters and kinds: the drawing as it is, then false in each part."""
    out = []
    for name, drawn in filters().items():
        if chosen and name not in chosen:
            continue
        for kind in kinds:
            if not part:
                out.append(Trial(name, kind, baseline=baseline))
            factors = SMALL if baseline else FACTORS
            out += [Trial(name, kind, p, x, baseline) for p in drawn.parts if part in ("", p) for x in factors]
    return out


def line(result: Result) -> str:
    """One row of the table."""
    t, m = result.trial, result.mark
    case = f"{t.part} x{t.factor:g}" if t.part else "as drawn"
    grade = "first" if m.first else "group" if m.in_group else "set90" if m.in_set else "MISSED"
    top = "; ".join(f"{name} {100 * p:.0f} %" for name, p in result.groups[:3])
    words = "/".join(result.words)
    head = f"{t.filter:12s} {t.kind:5s} {case:10s} {grade:7s} {100 * m.given:4.0f} % {m.wide:3d}"
    return f"{head}  {words:20s} {top}  [{result.seconds:.1f} s]"


def totals(results: Sequence[Result]) -> list[str]:
    """Totals for each kind of reading."""
    out = []
    for kind in dict.fromkeys(r.trial.kind for r in results):
        false = [r.mark for r in results if r.trial.kind == kind and r.trial.part]
        drawn = [r for r in results if r.trial.kind == kind and not r.trial.part]
        n = len(false)
        sound = [r.mark.in_group for r in drawn]
        within = [all(w == "within" for w in r.words) for r in drawn]
        out.append(f"{kind}: right part first {share(sum(m.first for m in false), n)}")
        out.append(f"{kind}: in the first group {share(sum(m.in_group for m in false), n)}")
        out.append(f"{kind}: in the 90 % set {share(sum(m.in_set for m in false), n)}")
        if n:
            out.append(f"{kind}: places in the 90 % set, median {median(m.wide for m in false):g}")
        out.append(f"{kind}: as drawn called sound {sum(sound)}/{len(drawn)}, all readings within {sum(within)}")
    return out


def main(argv: Sequence[str] | None = None) -> int:
    """Run the trial and print its table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--filter", action="append", default=[], help="only this filter (may be repeated)")
    parser.add_argument("--part", default="", help="only this designator")
    parser.add_argument("--kinds", default="both,s21", help="both, s21, or both of them with a comma")
    parser.add_argument("--baseline", action="store_true", help="half of the points as a baseline, small errors")
    parser.add_argument("--as-drawn", action="store_true", help="only the drawings as they are")
    parser.add_argument("--names", action="store_true", help="print designators against the names in filters.json")
    parser.add_argument("--jobs", type=int, default=2)
    args = parser.parse_args(argv)
    if args.names:
        for name, drawn in filters().items():
            print(name, ", ".join(f"{a}={b}" for a, b in drawn.names.items()))
        return 0
    work = trials(args.filter, args.kinds.split(","), args.part, baseline=args.baseline)
    if args.as_drawn:
        work = [t for t in work if not t.part]
    results = []
    with Pool(args.jobs) as pool:
        for result in pool.imap(run, work):
            results.append(result)
            print(line(result), flush=True)
    print("\n".join(totals(results)))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
