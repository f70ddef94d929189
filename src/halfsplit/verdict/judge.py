"""Reading against expectation: per reading, per band, per figure of merit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.expect import Bench, Expectation, Observation, drawn, fit_sound
from halfsplit.reading import What
from halfsplit.unit import Band, Limits, Unit
from halfsplit.verdict import marks, text
from halfsplit.verdict.records import SEVERITY, BandVerdict, Check, Verdict, Word

Real = npt.NDArray[np.float64]
Progress = Callable[[float, str], None]

DOUBT, OUT = 2.0, 3.0
WORST_DOUBT, WORST_OUT = 3.0, 4.5
JOINT_DOUBT, JOINT_OUT = 0.05, 0.001
VAGUE_DB = 8.0
FIRST = 1000.0
NEAR_BAND = 0.04
HARMONICS = (2, 3, 4, 5)


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """One observation with all that its checks need."""

    unit: Unit
    band: Band
    o: Observation
    expected: Expectation
    draws: Real
    deviation: Real
    sigma: Real

    @property
    def served(self) -> npt.NDArray[np.bool_]:
        """Points in the served band; where a coarse sweep has none there, its neighbours within 4 % of the band."""
        f, band = self.o.f, self.band
        inside = (f >= band.low) & (f <= band.high)
        if inside.any():
            return np.asarray(inside)
        near = (f >= band.low * (1.0 - NEAR_BAND)) & (f <= band.high * (1.0 + NEAR_BAND))
        return np.asarray(near)


def word_of(z: float, doubt: float = DOUBT, out: float = OUT) -> Word:
    """Verdict of a distance in sigma."""
    if not np.isfinite(z):
        return Word.CANNOT_TELL
    return Word.OUTSIDE if abs(z) >= out else Word.DOUBTFUL if abs(z) >= doubt else Word.WITHIN


def judge(
    unit: Unit, observations: Sequence[Observation], rng: np.random.Generator, progress: Progress | None = None
) -> tuple[Verdict, ...]:
    """Judge every observation against what a sound unit would show.

    rng : for the tolerance draws
    returns one Verdict for each observation, in the order given; checks within a verdict are loudest first
    raises HookupError, ModelError
    """
    out = []
    for n, o in enumerate(observations):
        out.append(verdict_of(case_of(unit, o, rng)))
        if progress is not None:
            progress((n + 1) / len(observations), f"judging {o.label}")
    return tuple(out)


def case_of(unit: Unit, o: Observation, rng: np.random.Generator) -> Case:
    """The expectation of an observation and its deviation from it, in units of the tolerance on that side."""
    expected, draws = drawn(unit, o, rng)
    deviation = o.value - expected.median
    side = np.where(deviation > 0, expected.above, expected.below)
    sigma = deviation / np.maximum(side, 1e-6)
    free = o.at_least & (deviation > 0)
    return Case(
        unit, unit.band(o.hookup.band), o, expected, draws, np.where(free, 0.0, deviation), np.where(free, 0.0, sigma)
    )


def verdict_of(case: Case) -> Verdict:
    """All checks of one observation."""
    o, expected = case.o, case.expected
    if o.what is What.S21:
        checks = [served_loss(case), passivity(case), *cut_off(case), *harmonics(case), *notches(case)]
    else:
        checks = [served_match(case)]
    checks += [worst_point(case), joint_misfit(case), *limits(case)]
    checks.sort(key=lambda c: (-SEVERITY[c.word], -c.loudness))
    loudest = checks[0]
    if loudest.word is Word.CANNOT_TELL and any(c.word is Word.WITHIN for c in checks):
        loudest = next(c for c in checks if c.word is Word.WITHIN)
    return Verdict(
        o.key, o.label, o.hookup.band, o.what, loudest.word, loudest.text, tuple(checks), o.f, o.value,
        expected.median, expected.low, expected.high, case.deviation, case.sigma,
    )  # fmt: skip


def loud(z: float) -> float:
    """Loudness of a figure of the served band: what is off there comes before everything else."""
    return z + FIRST if z >= DOUBT else z


def served_loss(case: Case) -> Check:
    """The point of the served band that is farthest from its expectation, loss before gain."""
    name = "loss in the served band"
    inside = np.flatnonzero(case.served)
    if not len(inside):
        return Check(name, Word.CANNOT_TELL, f"{name}: no point of the reading lies in {case.band.name}")
    i = int(inside[np.argmin(np.where(case.sigma[inside] < 0, case.sigma[inside], -1e-3 * case.sigma[inside]))])
    z, o, e = float(case.sigma[i]), case.o, case.expected
    word = word_of(min(z, 0.0))
    line = text.loss_line(o.f[i], o.value[i], e.median[i], e.low[i], e.high[i], z)
    return Check(
        name, word, line, float(o.value[i]), float(e.median[i]), float(e.low[i]), float(e.high[i]), "dB",
        float(o.value[i] - e.low[i]), z, float(o.f[i]), loud(max(-z, 0.0)),
    )  # fmt: skip


def served_match(case: Case) -> Check:
    """Worst return loss in the served band against its expectation, judged as |Gamma|."""
    name = "return loss in the served band"
    inside = np.flatnonzero(case.served)
    if not len(inside):
        return Check(name, Word.CANNOT_TELL, f"{name}: no point of the reading lies in {case.band.name}")
    i = int(inside[np.argmax(case.sigma[inside])])
    z, o, e = float(case.sigma[i]), case.o, case.expected
    rl = [text.return_loss(x) for x in (o.value[i], e.median[i], e.high[i], e.low[i])]
    line = text.match_line(o.f[i], rl[0], rl[1], rl[2], z)
    return Check(
        name, word_of(max(z, 0.0)), line, rl[0], rl[1], rl[2], rl[3], "dB", rl[0] - rl[2], -z, float(o.f[i]),
        loud(max(z, 0.0)),
    )  # fmt: skip


def passivity(case: Case) -> Check:
    """A passive path has no gain: a reading above 0 dB needs a mismatch, an offset or a wrong reference."""
    name, o = "passivity", case.o
    i = int(np.argmax(o.value))
    above = float(o.value[i])
    sigma = float(np.hypot(o.sigma[i], {"through": 0.12, "calibrated": 0.05, "none": 0.5}[o.hookup.reference]))
    if above <= 0.0:
        return Check(name, Word.WITHIN, f"{name}: nowhere above 0 dB", above, 0.0, at_hz=float(o.f[i]))
    z = above / sigma
    return Check(
        name, word_of(z), text.gain_line(o.f[i], above), above, 0.0, None, 0.0, "dB", -above, -z, float(o.f[i]), z
    )


def figure(name: str, unit: str, read: float, drawn_figures: Real, floor: float, weight: float) -> Check:
    """A figure of merit against the same figure of the drawn sound units.

    floor : 1 sigma of the read-out of the figure
    """
    known = drawn_figures[np.isfinite(drawn_figures)]
    if not np.isfinite(read) or len(known) < 0.5 * len(drawn_figures):
        return Check(name, Word.CANNOT_TELL, f"{name}: not shown by this sweep", unit=unit)
    least, low, median, high, most = (float(x) for x in np.percentile(known, [1.0, 5.0, 50.0, 95.0, 99.0]))
    above, below = max((high - median) / 1.645, (most - median) / 2.326), (median - low) / 1.645
    side = above if read > median else max(below, (median - least) / 2.326)
    z = (read - median) / float(np.hypot(side, floor))
    word = word_of(z)
    if unit == "dB" and high - low > 2 * VAGUE_DB:
        word = Word.CANNOT_TELL if word is Word.DOUBTFUL else word
    line = text.figure_line(name, unit, read, median, low, high, z)
    margin = None if unit != "dB" else (high - read if read > median else read - low)
    return Check(name, word, line, read, median, low, high, unit, margin, -abs(z), None, weight * abs(z))


def cut_off(case: Case) -> list[Check]:
    """The -3 dB point above the served band."""
    o = case.o
    if o.f[-1] < case.band.high * 1.05 or (not case.served.any() and o.f[0] > case.band.low):
        return []
    read = marks.cut_off(o.f, o.value, case.band.low)
    sound = np.array([marks.cut_off(o.f, d, case.band.low) for d in case.draws])
    if not np.isfinite(sound).any():
        return []
    step = float(np.median(np.diff(o.f))) if len(o.f) > 1 else 0.0
    return [figure("-3 dB point", "Hz", read, sound, step / 4, 1.0)]


def harmonics(case: Case) -> list[Check]:
    """Attenuation at the harmonics that the sweep covers; only too little is a fault."""
    out = []
    for order in HARMONICS:
        read = marks.at_harmonic(case.o.f, case.o.value, case.band.low, case.band.high, order)
        if not np.isfinite(read):
            continue
        sound = np.array([marks.at_harmonic(case.o.f, d, case.band.low, case.band.high, order) for d in case.draws])
        name = f"attenuation at harmonic {order}"
        noise = 0.3 + 0.02 * abs(read)
        check = figure(name, "dB", read, sound, noise, 1.5)
        if check.word in (Word.OUTSIDE, Word.DOUBTFUL) and check.expected is not None and read < check.expected:
            check = Check(
                name, Word.WITHIN, f"{check.text} (more than expected)", read, check.expected, check.low, check.high,
                "dB", check.margin_db, check.margin_sigma,
            )  # fmt: skip
        out.append(check)
    return out


def notches(case: Case) -> list[Check]:
    """The notch of a trap, where a sound unit has one within the sweep."""
    o = case.o
    sound = np.array([marks.notch(o.f, d, case.band.high)[0] for d in case.draws])
    if np.isfinite(sound).mean() < 0.6:
        return []
    read = marks.notch(o.f, o.value, case.band.high)[0]
    step = float(np.median(np.diff(o.f)))
    return [figure("notch", "Hz", read, sound, step / 2, 0.5)]


def worst_point(case: Case) -> Check:
    """The single point farthest from its expectation, wherever it lies."""
    i = int(np.argmax(np.abs(case.sigma)))
    z, o, e = float(case.sigma[i]), case.o, case.expected
    vague = o.what is What.S21 and e.high[i] - e.low[i] > 2 * VAGUE_DB
    word = word_of(z, WORST_DOUBT, WORST_OUT)
    if vague and word is Word.DOUBTFUL:
        word = Word.CANNOT_TELL
    line = text.point_line(o, i, e, z)
    edge = e.low[i] if z < 0 else e.high[i]
    margin = float(o.value[i] - edge if z < 0 else edge - o.value[i]) if o.what is What.S21 else None
    return Check(
        "worst point", word, line, float(o.value[i]), float(e.median[i]), float(e.low[i]), float(e.high[i]),
        "dB" if o.what is What.S21 else "|Gamma|", margin, -abs(z), float(o.f[i]), abs(z),
    )  # fmt: skip


def joint_misfit(case: Case) -> Check:
    """All points together: can any sound unit, its parts within their spread, show this reading?"""
    from scipy.special import chdtrc  # a quarter of a second that only this verb spends

    bench = Bench(case.unit, [case.o])
    fit = fit_sound(bench)
    total, n = fit.misfit + fit.strain, bench.setups[0].size
    p = float(chdtrc(n, total))
    word = Word.OUTSIDE if p < JOINT_OUT else Word.DOUBTFUL if p < JOINT_DOUBT else Word.WITHIN
    strained = float(np.abs(fit.theta).max())
    if word is Word.WITHIN and strained > WORST_DOUBT:
        word = Word.DOUBTFUL
    key = bench.keys[int(fit.keys[int(np.argmax(np.abs(fit.theta)))])].partition(" [")[0]
    z = (total - n) / (2 * n) ** 0.5
    line = text.joint_line(total, n, p, strained, key)
    return Check(
        "joint misfit",
        word,
        line,
        total,
        float(n),
        None,
        None,
        "",
        None,
        -z,
        None,
        max(z, strained if strained > WORST_DOUBT else 0.0),
    )


def limits(case: Case) -> list[Check]:
    """The limits that the manual states, band before unit."""
    own, whole = case.band.limits, case.unit.limits
    loss = own.loss_db if own.loss_db is not None else whole.loss_db
    match = own.return_loss_db if own.return_loss_db is not None else whole.return_loss_db
    inside = np.flatnonzero(case.served)
    out = []
    if case.o.what is What.S21:
        if loss is not None and len(inside):
            worst = int(inside[np.argmin(case.o.value[inside])])
            out.append(limit(case, "limit: loss", -case.o.value[worst], loss, worst, most=True))
        out += attenuation_limits(case, own if own.attenuation else whole)
    elif match is not None and len(inside):
        worst = int(inside[np.argmax(case.o.value[inside])])
        out.append(limit(case, "limit: return loss", text.return_loss(case.o.value[worst]), match, worst, most=False))
    return out


def attenuation_limits(case: Case, stated: Limits) -> list[Check]:
    """Stated attenuation at multiples of the served frequencies."""
    out = []
    for times, least in stated.attenuation:
        first, last = case.band.low * times, case.band.high * times
        if case.o.f[0] <= first and case.o.f[-1] >= last:
            inside = np.flatnonzero((case.o.f >= first) & (case.o.f <= last))
            if len(inside):
                worst = int(inside[np.argmax(case.o.value[inside])])
                name = f"limit: attenuation at {times:g} times"
                out.append(limit(case, name, -case.o.value[worst], least, worst, most=False))
    return out


def limit(case: Case, name: str, read: float, stated: float, i: int, *, most: bool) -> Check:
    """A figure against a stated limit. most : the limit is the largest value allowed, else the smallest."""
    margin = float(stated - read if most else read - stated)
    sigma = float(np.hypot(case.o.sigma[i], 0.1)) if case.o.what is What.S21 else 0.5
    z = margin / sigma
    word = Word.OUTSIDE if z < -DOUBT else Word.DOUBTFUL if z < 0 else Word.WITHIN
    line = text.limit_line(name, read, stated, margin, float(case.o.f[i]), most=most)
    return Check(
        name, word, line, float(read), float(stated), None, None, "dB", margin, z, float(case.o.f[i]), max(-z, 0.0)
    )


def by_band(verdicts: Sequence[Verdict]) -> tuple[BandVerdict, ...]:
    """The worst verdict of each band, in the order in which the bands appear."""
    out = []
    for band in dict.fromkeys(v.band for v in verdicts):
        mine = [v for v in verdicts if v.band == band]
        worst = max(
            mine, key=lambda v: (SEVERITY[v.word] if v.word is not Word.CANNOT_TELL else 0.5, v.checks[0].loudness)
        )
        out.append(BandVerdict(band, worst.word, f"{worst.label}: {worst.headline}", tuple(v.label for v in mine)))
    return tuple(out)
