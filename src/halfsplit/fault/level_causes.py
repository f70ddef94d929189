"""Causes outside the path, as cases of a transmitter: stages, supply, control, load, adjustments, drive, meter."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.expect import level_noise as noise
from halfsplit.expect.level_cases import Cases
from halfsplit.expect.levels import LevelBench
from halfsplit.fault.hypotheses import Hypothesis, Place
from halfsplit.fault.level_table import CauseRow, level_table

Real = npt.NDArray[np.float64]

WIDE_DB, WIDE_K = 3.0, 25.0
METER_FACTOR = 5.0
UNLISTED = "level|unlisted"
NOTHING = "sound"
LOUD = 1e9


@dataclass(frozen=True, slots=True)
class LevelCause:
    """One cause.

    kind : of answers.toml, "" for a meter or what is not listed; weight : within its kind
    sizes, log_share : (n,) sizes to be tried and ln of the chance of each; unit : in words behind a size
    apply : writes the sizes into cases
    """

    hypothesis: Hypothesis
    kind: str
    weight: float
    sizes: Real
    log_share: Real
    unit: str
    apply: Callable[[LevelBench, Cases, Real], None]


def hypothesis(key: str, place: str, word: str, weight: float, family: str = "fault") -> Hypothesis:
    """A hypothesis without a change of the path."""
    return Hypothesis(
        f"level|{key}", family="mix-up" if family == "mix-up" else "unlisted" if family == "unlisted" else "fault",
        places=(Place(place, word, weight),),
    )  # fmt: skip


def causes(bench: LevelBench) -> tuple[LevelCause, ...]:
    """Every cause outside the path for these looks."""
    out = [c for row in level_table().rows for c in of_row(bench, row)]
    figure = level_table().figures
    meter = hypothesis(
        "meter", "wattmeter", "wrong scale, or wrong by more than it states", figure["wattmeter"], "mix-up"
    )
    out.append(LevelCause(meter, "", figure["wattmeter"], np.array([METER_FACTOR]), np.zeros(1), "", _meter))
    wide = hypothesis("unlisted", "something not listed", "not listed", figure["not listed"], "unlisted")
    out.append(LevelCause(wide, "", figure["not listed"], np.array([WIDE_DB]), np.zeros(1), "", _wide))
    return tuple(out)


def of_row(bench: LevelBench, row: CauseRow) -> Iterator[LevelCause]:
    """The causes that one row of the table makes."""
    places = places_of(bench, row)
    bands: tuple[str, ...] = bench.layout.bands if row.band else ("",)
    total = sum(w for _, _, w in places) * len(bands)
    for index, name, weight in places:
        for band in bands:
            word = row.mode if not band else f"{row.mode.removesuffix(' on one band')} on {band}"
            share = row.weight * weight / total
            if row.kind == "antenna side":
                share *= into_dummy(bench, band)
            made = hypothesis(f"{row.kind}|{name}|{word}", name, word, share)
            unit = UNITS.get(row.mode.removesuffix(" on one band"), "")
            yield LevelCause(made, row.kind, share, *row.sizes(), unit, effect(row, index, band))


UNITS = {
    "gain low": "dB", "limits early": "dB", "holds back": "dB", "drive low": "dB", "drive high": "dB",
    "power adjustment low": "dB", "sags under load": "share", "low": "share", "high": "share",
    "mounting compound": "times",
}  # fmt: skip
PLACES = {"supply": "supply", "control": "level control", "antenna side": "load", "other": "drive source"}


def places_of(bench: LevelBench, row: CauseRow) -> list[tuple[int, str, float]]:
    """(stage, name, weight) of the places that a row concerns: none where the unit has no such thing."""
    chain = bench.chain
    last = len(chain.stages) - 1
    if row.of == "stage":
        return [(k, s.name, 2.0 if k == last else 1.0) for k, s in enumerate(chain.stages)]
    if row.of == "final":
        pair = "push" in chain.final.kind.casefold() or chain.final.thermal.devices == 2
        if row.mode.startswith("one device") and not pair:
            return []
        if row.mode == "mounting compound" and chain.final.thermal.case_sink is None:
            return []
        name = f"bias of {chain.final.name}" if row.mode.startswith("bias") else chain.final.name
        return [(last, name, 1.0)]
    if row.kind == "control" and chain.hold_watts is None:
        return []
    if row.kind == "trimmer":
        noisy = row.mode == "comes and goes"
        return [(0, "a noisy trimmer or plug" if noisy else "power adjustment", 1.0)]
    return [(0, PLACES[row.kind], 1.0)]


def into_dummy(bench: LevelBench, band: str) -> float:
    """Factor on the weight of a bad load: a dummy load is seldom bad."""
    looks = [x for x in bench.looks if not band or x.band.name == band]
    return level_table().figures["dummy load"] if all(x.load == "dummy load" for x in looks) else 1.0


def effect(row: CauseRow, stage: int, band: str) -> Callable[[LevelBench, Cases, Real], None]:
    """What a row does to cases of given sizes."""

    def apply(bench: LevelBench, cases: Cases, size: Real) -> None:
        there = np.array([not band or x.band.name == band for x in bench.looks])
        _apply(row.mode.removesuffix(" on one band"), stage, bench, cases, size[:, None], there)

    return apply


def _apply(mode: str, stage: int, bench: LevelBench, cases: Cases, size: Real, there: npt.NDArray[np.bool_]) -> None:
    """Write one way of failing into cases. size : (K, 1); there : (B,) looks that it touches"""
    by_look = size * there
    if mode in ("gain low", "dead"):
        cases.gain[:, stage] -= by_look
    elif mode == "limits early":
        cases.most[:, stage] -= by_look
    elif mode == "one device of the pair dead":
        cases.gain[:, stage] -= by_look
        cases.most[:, stage] -= by_look
        cases.standing[:] *= 0.55
    elif mode == "mounting compound":
        cases.compound[:] *= size[:, 0]
    elif mode == "sags under load":
        amps = bench.chain.rated_watts / bench.chain.efficiency / bench.chain.volts
        cases.supply_ohm[:] += size * bench.chain.volts / amps
    elif mode in ("low", "high"):
        cases.volts[:] *= 1.0 - size if mode == "low" else 1.0 + size
    else:
        _apply_setting(mode, bench, cases, size, by_look, there)


def _apply_setting(
    mode: str, bench: LevelBench, cases: Cases, size: Real, by_look: Real, there: npt.NDArray[np.bool_]
) -> None:
    """The same for settings, loads and the drive."""
    if mode == "blind":
        cases.hold[:] = np.inf
    elif mode == "bias low":
        cases.standing[:] *= np.exp(-size)
        cases.gain[:, -1] -= 0.5 * size
    elif mode == "bias high":
        cases.standing[:] *= np.exp(size)
    elif mode == "load off":
        cases.load_scale[:, there] *= size / np.array(bench.layout.load_sigma)[there]
    elif mode == "comes and goes":
        cases.moment[:] *= size / noise.MOMENT_DB
    elif mode == "holds back" or (mode == "power adjustment low" and bench.chain.hold_watts is not None):
        cases.hold[:] *= 10.0 ** (-size / 10.0)
    elif mode == "power adjustment low":  # it sits inside the unit, behind the place where the drive comes in
        cases.gain[:, 0] -= by_look
    elif mode == "drive low":
        cases.drive[:] -= by_look
    elif mode == "drive high":
        cases.drive[:] += by_look
    else:
        raise ValueError(f"no way of failing {mode!r}")


def _meter(bench: LevelBench, cases: Cases, size: Real) -> None:
    """A wattmeter that is off by more than it states."""
    del bench
    cases.meter[:] *= size


def _wide(bench: LevelBench, cases: Cases, size: Real) -> None:
    """Every figure may be anything."""
    for n, f in enumerate(bench.figures):
        cases.wide[:, n] = WIDE_K if f.row.shows.value == "temperature" else size


def built(bench: LevelBench, cause: LevelCause) -> Cases:
    """The cases of one cause, one for each of its sizes."""
    cases = bench.cases(len(cause.sizes))
    cause.apply(bench, cases, cause.sizes)
    return cases
