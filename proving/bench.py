"""Figures of speed and memory, each a ratio or a median taken in one run. Run: python -m proving.bench

1. Response of a 12-node path at 401 points against batched dense LU (numpy) and scikit-rf's cascade; cost against
   the number of parts; what-if curves of all parts and 40 sizes against solving again.
2. Exhaustive search for a replacement: up to three parts of a stock of 200 values.
3. `suspects` on a six-filter unit with three hook-ups per band, 201 points each: seconds and peak memory of the
   command; `--help`.
The machine is shared and noisy: read the ratios.
"""

from __future__ import annotations

import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from halfsplit.circuit import Change, How, Model, WhatIf, build
from halfsplit.hookup import Hookup
from halfsplit.network import GROUND, factor, plan
from halfsplit.network.solve import assembled
from halfsplit.unit import read_unit

REPEATS = 15
SIX = [(1.8, 2.0), (3.5, 4.0), (7.0, 7.3), (10.1, 10.15), (14.0, 14.35), (21.0, 21.45)]
G7 = [0.7970, 1.3924, 1.7481, 1.6331, 1.7481, 1.3924, 0.7970]  # Chebyshev, 0.01 dB, order 7


def median_ms(work, repeats=REPEATS):
    """Median time of a call in ms, after one call that does not count."""
    work()
    times = []
    for _ in range(repeats):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return 1e3 * statistics.median(times)


def ladder(sections, f):
    """Branches and admittances of a low-pass path of that many sections between 50 ohm."""
    w = 2 * np.pi * f
    branches, rows = [(0, GROUND)], [np.full(len(f), 0.02, complex)]
    for k in range(sections):
        branches += [(k, GROUND), (k, k + 1)]
        rows += [1j * w * 200e-12, 1 / (1j * w * 0.5e-6 + 0.2)]
    branches += [(sections, GROUND)]
    rows += [np.full(len(f), 0.02, complex)]
    return branches, np.array(rows)


def cascade(sections, f):
    """The same path by scikit-rf: a cascade of two-ports that are made beforehand."""
    import skrf as rf

    frequency = rf.Frequency.from_f(f, unit="hz")
    media = rf.media.DefinedGammaZ0(frequency, z0=50.0, gamma=1j)
    elements = [media.shunt_capacitor(200e-12), media.resistor(0.2) ** media.inductor(0.5e-6)] * sections

    def work():
        return rf.network.cascade_list(elements).s

    return work


def figure_response():
    """12 nodes, 401 points: ours against dense LU and scikit-rf, the answers held against each other."""
    f = np.linspace(1e6, 60e6, 401)
    branches, y = ladder(11, f)
    layout = plan(12, branches, last=(0, 11))
    right = np.zeros((12, 2), complex)
    right[0, 0] = right[11, 1] = 1.0

    def ours():
        return factor(layout, y).between((0, 11))

    def dense():
        m = np.zeros((401, 12, 12), complex)
        for (a, b), yk in zip(branches, y, strict=True):
            for i in (a, b):
                if i != GROUND:
                    m[:, i, i] += yk
            if a != GROUND and b != GROUND:
                m[:, a, b] -= yk
                m[:, b, a] -= yk
        return np.linalg.solve(m, right[None].repeat(401, 0))

    theirs = cascade(11, f)
    np.testing.assert_allclose(ours().transpose(2, 0, 1), dense()[:, [0, 11]], rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(ours()[1, 0] * 2 / 50, theirs()[:, 1, 0], rtol=1e-9, atol=1e-12)
    a, b, c = median_ms(ours), median_ms(dense), median_ms(theirs, 5)
    print(f"response, 12 nodes x 401 points, both ports: ours {a:.2f} ms, dense LU {b:.2f} ms ({b / a:.1f} times), "
          f"scikit-rf cascade {c:.1f} ms ({c / a:.0f} times)")  # fmt: skip


def figure_growth():
    """Cost against parts."""
    f, rows = np.linspace(1e6, 60e6, 401), []
    for sections in (6, 12, 25, 50, 100):
        branches, y = ladder(sections, f)
        layout = plan(sections + 1, branches)
        rows.append((2 * sections, median_ms(lambda y=y, p=layout: factor(p, y).columns([(0, GROUND)]))))
    slope = np.polyfit(np.log([r[0] for r in rows[1:]]), np.log([r[1] for r in rows[1:]]), 1)[0]
    text = ", ".join(f"{n} parts {ms:.2f} ms" for n, ms in rows)
    print(f"cost against parts, 401 points: {text}; exponent {slope:.2f} (1 is linear)")


def figure_whatif():
    """Curves of all parts x 40 sizes from one solve, against solving each again."""
    unit = read_unit(six_filters(), "six.toml")
    f = np.linspace(0.5e6, 30e6, 401)
    model = Model(build(unit, Hookup("10 MHz", "TP1", "J1")), f)
    theta = np.zeros((1, len(model.keys)))
    parts = [p.ref for p in unit.filter("F4").parts]
    sizes = np.geomspace(0.2, 5.0, 40)
    at = [model.resolve(Change(How.VALUE, ref)) for ref in parts]

    def exact():
        w = WhatIf(model.solve(theta))
        return [w.through(a, sizes) for a in at]

    def again():
        return [model.solve(theta, [(a, float(s))]).transmission() for a in at for s in sizes]

    def dense():
        s = model.solve(theta)
        y, e = s.table.y[:, 0], np.broadcast_to(s.table.entries[:, 0], (len(model.plan.entries), len(f)))
        matrix = assembled(model.plan, y, e)
        right = np.zeros((model.scene.n, 1), complex)
        right[model.scene.source] = 1.0
        return np.linalg.solve(matrix, right[None].repeat(len(f), 0))

    one = np.concatenate(list(exact()))
    two = np.concatenate(again())
    np.testing.assert_allclose(one, two, atol=1e-9)
    a, b, c = median_ms(exact, 5), median_ms(again, 2), median_ms(dense, 5) * len(parts) * len(sizes)
    print(f"what-if curves, {len(parts)} parts x 40 sizes x 401 points: {a:.1f} ms; solving again with our own solver "
          f"{b:.0f} ms ({b / a:.0f} times), with dense LU {c:.0f} ms ({c / a:.0f} times)")  # fmt: skip


def six_filters():
    """A unit with six low-pass filters of order 7, relays at both ends, two coax jumpers."""
    lines = ['[unit]\nname = "bench unit"\n']
    for n, (low, high) in enumerate(SIX, 1):
        lines.append(f'[[band]]\nname = "{low:g} MHz"\nrange = ["{low} MHz", "{high} MHz"]\nfilter = "F{n}"\n'
                     .replace("10.1 MHz\"\nrange", "10 MHz\"\nrange"))  # fmt: skip
    order = '["TP1", "W1", "BUS", "filter", "TP2", "K1", "W2", "J1"]'
    lines.append(f'[path]\norder = {order}\npoints = ["BUS"]\n')
    lines.append(
        '[relay.K1]\n[cable.W1]\ntype = "RG-316"\nlength = "200 mm"\n[cable.W2]\ntype = "RG-316"\nlength = "150 mm"\n'
    )
    for n, (_, high) in enumerate(SIX, 1):
        w, rungs = 2 * np.pi * 1.15 * high * 1e6, []
        for k, g in enumerate(G7):
            if k % 2 == 0:
                rungs.append(f'{{ shunt = "C{n}{k}", value = "{g / w / 50 * 1e12:.0f} pF" }}')
            else:
                rungs.append(f'{{ series = "L{n}{k}", value = "{g * 50 / w * 1e6:.3f} uH" }}')
        ladder_text = ",\n ".join(rungs)
        lines.append(f'[filter.F{n}]\ninput = "K{n}1"\noutput = "K{n}2"\nladder = [\n {ladder_text},\n]\n')
    return "\n".join(lines)


def six_job(folder):
    """Eighteen readings of 201 points: three hook-ups on each of six bands, C32 low by a third, noise added."""
    from halfsplit import jobs

    (folder / "six.toml").write_text(six_filters(), "utf-8")
    job = folder / "six.job"
    unit, _ = jobs.start(job, folder / "six.toml", "six", "bench")
    rng = np.random.default_rng(7)
    hidden = {}
    for band in unit.bands:
        f = np.linspace(0.4 * band.low, 5 * band.high, 201)
        for n, (drive, read) in enumerate((("TP1", "J1"), ("BUS", "TP2"), ("TP1", "TP2"))):
            model = Model(build(unit, Hookup(band.name, drive, read)), f)
            for key in model.keys:
                hidden.setdefault(key, 0.5 * rng.standard_normal())
            theta = np.array([[hidden[k] for k in model.keys]])
            at = model.resolve(Change(How.VALUE, "C32"))
            s = model.solve(theta, [None if at is None else (at, 0.66)])
            floor = 10 ** (-78 / 20) * np.abs(rng.standard_normal(201) + 1j * rng.standard_normal(201))
            db = 20 * np.log10(np.hypot(np.abs(s.transmission()[0]), floor)) + 0.05 * rng.standard_normal(201)
            path = folder / f"r{n}_{band.name.split()[0]}.csv"
            path.write_text(
                "MHz,dB\n" + "\n".join(f"{a / 1e6:.4f},{b:.2f}" for a, b in zip(f, db, strict=True)), "utf-8"
            )
            jobs.add_file(job, path, {"band": band.name, "drive": drive, "read": read})
    return job


def command(words):
    """Seconds, processor seconds and peak memory (MB) of a command line, with its output."""
    line = [sys.executable, "-c", "from halfsplit.cli import main; main()", *words]
    begun = time.perf_counter()
    child = subprocess.Popen(line, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert child.stdout is not None and child.stderr is not None
    out, err = child.stdout.read(), child.stderr.read()
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise SystemExit(err)
    return time.perf_counter() - begun, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, out


def figure_replacement():
    """Up to three of 200 rated stock values, all seven shapes, for 147 pF; asked: under 0.2 s."""
    from halfsplit.parts import Kind, StockPart
    from halfsplit.parts.combine import Needs, search

    rng = np.random.default_rng(5)
    values = sorted({float(f"{v:.3g}") for v in np.exp(rng.uniform(np.log(4.7e-12), np.log(4.7e-9), 260))})[:200]
    stock = [StockPart(Kind.CAPACITOR, v, 0.05, "500 V, 3 A", "mica", 1000.0) for v in values]
    needs = Needs(200.0, 140.0, 4.0, 0.5, 500.0)
    for tolerance in (0.01, 0.05):
        found = search(stock, Kind.CAPACITOR, 147e-12, tolerance, needs)
        ms = median_ms(lambda t=tolerance: search(stock, Kind.CAPACITOR, 147e-12, t, needs), 9)
        print(f"replacement, {len(values)} values, up to three parts, +-{100 * tolerance:g} %: {ms:.0f} ms "
              f"({found.counted} combinations, {found.standing} of them stand it)")  # fmt: skip


def figure_lot():
    """A lot of 10,000 filters of order 7 at 401 points, against scikit-rf one by one (a hundredth of them)."""
    import skrf as rf

    from halfsplit.filters import arms_of, draw_values, in_blocks
    from halfsplit.parts import Kind, Part
    from halfsplit.unit import Filter, Rung

    w, f = 2 * np.pi * 8e6, np.linspace(1e6, 30e6, 401)
    rungs = []
    for k, g in enumerate(G7):
        coil = bool(k % 2)
        part = Part(
            f"{'L' if coil else 'C'}{k}", Kind.COIL if coil else Kind.CAPACITOR, g * 50 / w if coil else g / 50 / w
        )
        rungs.append(Rung("series" if coil else "shunt", (part,)))
    made = Filter("F", tuple(rungs))
    values, arms = draw_values(made, np.random.default_rng(1), 10_000), arms_of(made)
    ours = median_ms(lambda: in_blocks(arms, values, f, 50.0), 5)
    frequency = rf.Frequency.from_f(f, unit="hz")
    media = rf.media.DefinedGammaZ0(frequency, z0=50.0, gamma=1j)

    def one(row):
        chain = []
        for k, value in enumerate(row):
            x = 2 * np.pi * f * value * (1j + 1.0 / arms.q[k])
            one_port = media.load((1 - 50 * x) / (1 + 50 * x)) if not arms.coil[k] else None
            chain.append(media.shunt(one_port) if one_port is not None else media.resistor(x))
        return rf.network.cascade_list(chain).s

    theirs = 100.0 * median_ms(lambda: [one(row) for row in values[:100]], 3)
    through, _ = in_blocks(arms, values[:3], f, 50.0)
    np.testing.assert_allclose(through[0], np.abs(one(values[0])[:, 1, 0]) ** 2, rtol=1e-6)
    print(f"lot of 10,000 filters of order 7 x 401 points: {ours / 1e3:.2f} s; scikit-rf {theirs / 1e3:.0f} s "
          f"(from 100 of them), ratio {theirs / ours:.0f}")  # fmt: skip


def figure_commands():
    """The six-filter job and the help."""
    with tempfile.TemporaryDirectory() as name:
        job = six_job(Path(name))
        runs = [command(["suspects", str(job)]) for _ in range(5)]
        seconds, busy = (statistics.median(r[k] for r in runs) for k in (0, 1))
        first = re.search(r"Most likely[^\n]*", runs[0][3])
        said = first.group(0) if first else runs[0][3][:80]
        print(f"suspects, six filters, 18 readings of 201 points, medians of 5: {seconds:.2f} s, {busy:.2f} s busy")
        print(f"  {os.cpu_count()} cores, peak {max(r[2] for r in runs):.0f} MB; says: {said!r}")
        runs = [command(["--help"]) for _ in range(7)]
        print(f"halfsplit --help: {statistics.median(r[0] for r in runs):.2f} s (median of 7)")


def main():
    """Print all figures."""
    figure_response()
    figure_growth()
    figure_whatif()
    figure_replacement()
    figure_lot()
    figure_commands()


if __name__ == "__main__":
    main()
