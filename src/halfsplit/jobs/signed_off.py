"""The verb signoff: what was measured after the last work against what the manual and the usual proof ask."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from halfsplit.expect import Observation
from halfsplit.jobs.compared import Comparison, compared
from halfsplit.jobs.opinions import judged, opened
from halfsplit.jobs.records import Job, Judged
from halfsplit.jobs.states import stages_run
from halfsplit.journal import open_job, work_of
from halfsplit.reading import What
from halfsplit.unit import Band, Limits, Unit
from halfsplit.verdict import Check, Verdict, Word

Standing = Literal["passed", "failed", "doubtful", "missing"]
STANDING: dict[Word, Standing] = {Word.WITHIN: "passed", Word.OUTSIDE: "failed", Word.DOUBTFUL: "doubtful"}
ORDER = ("failed", "missing", "doubtful", "passed")
MANUAL, USUAL = "manual", "usual proof"
ROUNDED = 1e-4
"""Of a frequency: a file may round the ends of a sweep of the band to a few hundred hertz."""


@dataclass(frozen=True, slots=True)
class Asked:
    """One thing that is asked for a clean bill.

    what : in words; by : "manual" (a stated limit) or "usual proof" (what a sound unit shows)
    standing : "passed", "failed", "doubtful", or "missing": not measured after the last work
    key : of the reading that answers it, "" none; read, limit, margin, sigma : in `unit`, None where there is none
    text : what was found; do : what to measure where it is missing or in doubt; live : on live power
    """

    band: str
    what: str
    by: str
    standing: Standing
    key: str
    read: float | None
    limit: float | None
    margin: float | None
    sigma: float | None
    unit: str
    text: str
    do: str
    live: bool


@dataclass(frozen=True, slots=True)
class SignOff:
    """The proof of a repair. clean : everything asked for was measured after the last work and passed

    last_work : in words, "" where none was told; changed : before and after, None where there is nothing to compare
    live : whether something that is still to be measured is on live power
    """

    name: str
    clean: bool
    last_work: str
    asked: tuple[Asked, ...]
    changed: Comparison | None
    live: bool

    @property
    def count(self) -> dict[str, int]:
        """How many stand how."""
        return {s: sum(a.standing == s for a in self.asked) for s in ORDER}


def signoff(job: Path) -> SignOff:
    """What is proved, and what is missing for a clean bill. raises JobFileError without a reading"""
    loaded = opened(job)
    with open_job(job) as file:
        told = [w for w in work_of(file) if w.withdrawn is None]
    found = judged(loaded, None)
    asked = [a for band in loaded.unit.bands for a in of_band(loaded, found, band)]
    open_ones = [a for a in asked if a.standing != "passed"]
    live = any(a.live for a in open_ones)
    last = f"{told[-1].key} ({told[-1].text})" if told else ""
    return SignOff(loaded.name, not open_ones, last, tuple(asked), before_after(loaded), live)


def before_after(loaded: Job) -> Comparison | None:
    """Start against now, where there are both."""
    states = {o.state.number for o in loaded.observations}
    return compared(loaded, "start", "now") if len(states) > 1 else None


def of_band(loaded: Job, found: Judged, band: Band) -> list[Asked]:
    """Everything that is asked on one band."""
    fresh = fresh_ones(loaded, found, band)
    out = [*passed_path(loaded, fresh, band), *stated(loaded, fresh, band), *spectra(loaded, found, band)]
    return [*out, *power(loaded, found, band)] if stages_run(loaded.unit) else out


def fresh_ones(loaded: Job, found: Judged, band: Band) -> list[tuple[Observation, Verdict]]:
    """Sweeps of the whole path on a band, as it is used, after the last work; the latest last."""
    whole = loaded.unit.path.points[-1]
    pairs = zip(loaded.observations, found.verdicts, strict=True)
    return [
        (o, v)
        for o, v in pairs
        if o.hookup.band == band.name and o.state.number == len(loaded.works) and as_used(o, loaded.unit, whole)
    ]


def as_used(o: Observation, unit: Unit, whole: str) -> bool:
    """True for a sweep of the whole path with nothing lifted, bridged or worked by hand."""
    h = o.hookup
    plain = not (h.lifted or h.bridged or h.released or h.operated)
    ended = h.read == whole or (h.read is None and any(t.point == whole for t in h.terminated))
    return plain and ended and h.drive == unit.path.points[0]


def passed_path(loaded: Job, fresh: Sequence[tuple[Observation, Verdict]], band: Band) -> list[Asked]:
    """The whole path through, and its return loss, as a sound unit shows them."""
    first, last = loaded.unit.path.points[0], loaded.unit.path.points[-1]
    out = []
    for what, name in ((What.S21, f"through {first} to {last}"), (What.S11, f"return loss at {first}")):
        swept = [(o, v) for o, v in fresh if o.what is what and v.word is not Word.CANNOT_TELL]
        mine = [(o, v, c) for o, v in swept if (c := shown_by(o, v, band)) is not None]
        if mine:
            o, v, c = mine[-1]
            text = c.text if v.word is Word.WITHIN else f"{v.word.value}: {v.headline}"
            out.append(answered(band, name, USUAL, o.key, c, text))
        else:
            said = not_covered(swept[-1][0], band) if swept else stale(loaded, band, what)
            out.append(missing(band, name, USUAL, said, sweep_again(loaded, band, what)))
    return out


def shown_by(o: Observation, v: Verdict, band: Band) -> Check | None:
    """The check that answers for a sweep; None where it proves nothing of the served band.

    What is outside anywhere fails; what is within proves only what was swept
    """
    if v.word is not Word.OUTSIDE and not covers(o, band):
        return None
    if v.word is Word.WITHIN:
        return next((c for c in v.checks if "served band" in c.name and c.word is Word.WITHIN), None)
    return next((c for c in v.checks if c.word is v.word), v.checks[0])


def covers(o: Observation, band: Band) -> bool:
    """Whether a sweep reaches from one end of the served band to the other; ends as they are rounded in a file."""
    return bool(o.f.min() <= band.low * (1.0 + ROUNDED) and o.f.max() >= band.high * (1.0 - ROUNDED))


def not_covered(o: Observation, band: Band) -> str:
    """What is said of a sweep that leaves a part of the served band out."""
    if covers(o, band):
        return f"no point of {o.key} lies in {band.low / 1e6:g} to {band.high / 1e6:g} MHz"
    swept = f"{o.f.min() / 1e6:g} to {o.f.max() / 1e6:g} MHz" if len(o.f) > 1 else f"one point, {o.f[0] / 1e6:g} MHz"
    asked = f"{band.low / 1e6:g} to {band.high / 1e6:g} MHz"
    return f"the sweep does not reach there: {o.key} is {swept}; all of {asked} is asked"


def sweep_again(loaded: Job, band: Band, what: What) -> str:
    """What to sweep on a band, and how it is added."""
    first, last = loaded.unit.path.points[0], loaded.unit.path.points[-1]
    times = max((t for t, _ in band.limits.attenuation or loaded.unit.limits.attenuation), default=2.0)
    if what is What.S21:
        up = f"{0.5 * band.low / 1e6:.3g} to {max(times, 2.0) * band.high / 1e6:.3g} MHz"
        return f'{band.name}: sweep through {first} to {last}, {up}: halfsplit add JOB --band "{band.name}" FILE'
    return f'{band.name}: return loss at {first}, over the band: halfsplit add JOB --band "{band.name}" FILE'


def stale(loaded: Job, band: Band, what: What) -> str:
    """What is said of a sweep that was made before the last work only, or never."""
    keys = [o.key for o in loaded.observations if o.hookup.band == band.name and o.what is what]
    if not keys:
        return "not measured"
    if not loaded.works:
        return f"not measured over the whole path as it is used ({keys[-1]} is another hook-up)"
    return f"not measured over the whole path since {loaded.works[-1].key} (last: {keys[-1]})"


def stated(loaded: Job, fresh: Sequence[tuple[Observation, Verdict]], band: Band) -> list[Asked]:
    """Every limit of the manual that a sweep can answer."""
    out = []
    for name, what, words in limits_of(loaded.unit.limits, band.limits):
        swept = [o for o, _ in fresh if o.what is what]
        named = [(o, c) for o, v in fresh if o.what is what for c in v.checks if c.name == name]
        mine = [(o, c) for o, c in named if "attenuation" in name or c.word is Word.OUTSIDE or covers(o, band)]
        if mine:
            o, c = mine[-1]
            out.append(answered(band, words, MANUAL, o.key, c, c.text))
        else:
            beyond = "the sweep does not reach there" if "attenuation" in name else ""
            said = (beyond or not_covered(swept[-1], band)) if swept else stale(loaded, band, what)
            out.append(missing(band, words, MANUAL, said, sweep_again(loaded, band, what)))
    return out


def limits_of(whole: Limits, own: Limits) -> list[tuple[str, What, str]]:
    """(name of the check, kind of sweep, in words) of every stated limit, band before unit."""
    loss = own.loss_db if own.loss_db is not None else whole.loss_db
    match = own.return_loss_db if own.return_loss_db is not None else whole.return_loss_db
    rows = [] if loss is None else [("limit: loss", What.S21, f"loss at most {loss:g} dB")]
    rows += [] if match is None else [("limit: return loss", What.S11, f"return loss at least {match:g} dB")]
    for times, least in own.attenuation or whole.attenuation:
        name = f"limit: attenuation at {times:g} times"
        rows.append((name, What.S21, f"attenuation at {times:g} times at least {least:g} dB"))
    return rows


def spectra(loaded: Job, found: Judged, band: Band) -> list[Asked]:
    """Harmonics of the output against the manual, or, where it states none, against what the filter should leave."""
    states, now = dict(loaded.read_in), len(loaded.works)
    named = () if found.spectra is None else found.spectra.limits
    fresh = [v for v in named if v.band == band.name and states.get(v.key) == now]
    told = {h.order: h.dbc for h in (*loaded.unit.limits.harmonics, *band.limits.harmonics)}
    add = f'halfsplit add JOB --spectrum --band "{band.name}" FILE'
    do = f"{band.name}: spectrum at full power into a dummy load: {add}"
    if told and fresh:
        rows = [(v.key, x) for v in fresh[-1:] for x in v.lines]
        return [
            Asked(
                band.name, f"{x.name} against the manual", MANUAL, STANDING.get(x.word, "missing"), key,
                x.attenuation, x.asked, x.margin_db, x.sigma_db, "dB", x.text,
                "" if x.word is Word.WITHIN else do, live=True,
            )
            for key, x in rows
        ]  # fmt: skip
    if told:
        words = ", ".join(f"harmonic {n} at most {dbc:g} dBc" for n, dbc in sorted(told.items()))
        return [missing(band, words, MANUAL, "no spectrum since the last work", do, live=True)]
    left = () if found.spectra is None else found.spectra.harmonics
    mine = [h for h in left if h.band == band.name and states.get(h.key) == now]
    if not mine:
        return [missing(band, "harmonics of the output", USUAL, "no spectrum since the last work", do, live=True)]
    worst = max(mine, key=lambda h: h.far)
    return [
        Asked(band.name, "harmonics of the output", USUAL, STANDING.get(worst.word, "missing"), worst.key, worst.read,
              None, None, None, "dBc", worst.text, "" if worst.word is Word.WITHIN else do, True)
    ]  # fmt: skip


def power(loaded: Job, found: Judged, band: Band) -> list[Asked]:
    """Watts out and amps in, on every band of a unit whose stages are drawn."""
    states, now = dict(loaded.read_in), len(loaded.works)
    last = loaded.unit.path.points[-1]
    add = f'halfsplit add JOB --level "{band.name}: ... W at {last}, ... A, ... V"'
    do = f"{band.name}: watts, amps and volts into a dummy load: {add}"
    mine = [v for v in found.levels if v.band == band.name and states.get(v.key) == now]
    if not mine:
        return [missing(band, "power and supply current", USUAL, "not measured since the last work", do, live=True)]
    out = []
    for v in {v.name: v for v in mine}.values():
        margin = min(v.read - v.low, v.high - v.read)
        standing = STANDING.get(v.word, "missing")
        out.append(
            Asked(band.name, v.name, USUAL, standing, v.key, v.read, v.expected, margin, None, v.unit, v.text,
                  "" if standing == "passed" else do, True)
        )  # fmt: skip
    return out


def answered(band: Band, what: str, by: str, key: str, c: Check, text: str) -> Asked:
    """Something that was measured."""
    standing = STANDING.get(c.word, "missing")
    sigma = abs(c.margin_db / c.margin_sigma) if c.margin_db and c.margin_sigma else None
    do = "" if standing == "passed" else f"halfsplit judge and suspects say what stands against {key}"
    return Asked(
        band.name, what, by, standing, key, c.read, c.expected, c.margin_db, sigma, c.unit, text, do, live=False
    )  # fmt: skip


def missing(band: Band, what: str, by: str, said: str, do: str, *, live: bool = False) -> Asked:
    """Something that was not measured after the last work."""
    return Asked(band.name, what, by, "missing", "", None, None, None, None, "", said, do, live)
