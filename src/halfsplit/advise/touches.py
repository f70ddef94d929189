"""Candidates of the other kinds: a meter on a place, a lifted part, a bridge, another jumper, a look at the hook-up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.advise.causes import Suspect
from halfsplit.circuit import How
from halfsplit.fault.search import Search
from halfsplit.fault.words import designator, element_of

Real = npt.NDArray[np.float64]

METER = 0.02
FAR = 6.0
MILLIOHM_STEP = 0.1
SEEN = 5.0


@dataclass(frozen=True, slots=True, eq=False)
class Touch:
    """A test with one figure as its outcome.

    subject : the place that it is about
    outcome : (n_suspect,) whitened outcome of each suspect; shows : (n_suspect,) in words
    nothing : whitened outcome where the place is sound
    """

    kind: str
    subject: str
    title: str
    connect: str
    outcome: Real
    shows: tuple[str, ...]
    nothing: float = 0.0


def touches(search: Search, suspects: tuple[Suspect, ...]) -> list[Touch]:
    """All tests of these kinds that concern a suspect."""
    out: list[Touch] = []
    names = list(dict.fromkeys(s.place.name for s in suspects))
    for name in dict.fromkeys(designator(n) for n in names):
        if element_of(search, name) is not None:
            out.append(lifted(search, suspects, name))
    for name in names:
        if "joint" in name or "contact" in name:
            out.append(ohms(suspects, name))
            out.append(bridged(search, suspects, name))
    for name in dict.fromkeys(p.name for s in search.setups for p in s.scene.pieces if p.cable is not None):
        if any(designator(n) == name for n in names):
            out.append(swapped(search, suspects, name))
    for name in names:
        if name.startswith("hook-up"):
            out.append(looked(search, suspects, name))
    return out


def lifted(search: Search, suspects: tuple[Suspect, ...], name: str) -> Touch:
    """Lift one end of a part and measure it."""
    element = element_of(search, name)
    assert element is not None
    sigma = 0.0
    for setup in search.setups:
        sigma = max([sigma] + [p.sigma for p in setup.scene.params if p.key == f"{name} value"])
    step = float(np.hypot(METER, sigma))
    outcome, shows = [], []
    for s in suspects:
        change = s.fit.hypothesis.change
        size, text = 0.0, "its drawn value"
        if change is not None and s.place.name == name:
            factor = float(np.exp(s.fit.ln_size))
            if change.how is How.VALUE:
                size, text = np.log(factor) / step, f"{factor:.2f} times its drawn value"
            elif change.how is How.TURN:
                size, text = np.log(1.0 - min(factor, 0.9)) / step, f"{1.0 - min(factor, 0.9):.2f} times, low Q"
            elif change.how in (How.OPEN, How.SHORT):
                size, text = FAR * (1.0 if change.how is How.OPEN else -1.0), change.how.value
            else:
                size, text = 2.5, "right value, low Q"
        outcome.append(size)
        shows.append(text)
    connect = f"lift one end of {name}, measure value and Q with the LCR meter near the band"
    return Touch("measure lifted part", name, f"Measure {name} lifted", connect, np.array(outcome), tuple(shows))


def ohms(suspects: tuple[Suspect, ...], name: str) -> Touch:
    """Ohms across a joint or contact, with the meter's leads nulled."""
    outcome, shows = [], []
    for s in suspects:
        change, value, text = s.fit.hypothesis.change, 0.02, "some 10 mohm"
        if change is not None and s.place.name == name:
            if change.how is How.OHM:
                value = float(np.exp(s.fit.ln_size))
                text = f"about {value:.1f} ohm"
            elif change.how is How.OPEN:
                value, text = 1e6, "open"
        outcome.append(np.arcsinh(value / MILLIOHM_STEP) / 0.6)
        shows.append(text)
    connect = f"ohmmeter across {name}, leads nulled; work it by hand, warm and cool it while reading"
    nothing = float(np.arcsinh(0.02 / MILLIOHM_STEP) / 0.6)
    return Touch("ohms across", name, f"Ohms across {name}", connect, np.array(outcome), tuple(shows), nothing)


def cured(search: Search, suspects: tuple[Suspect, ...], own: list[bool]) -> tuple[Real, tuple[str, ...]]:
    """Outcome of a test that cures the fault if it sits there: seen only if the fault showed in the first place."""
    outcome, shows = [], []
    for s, mine in zip(suspects, own, strict=True):
        visible = s.fit.log_evidence - search.sound.log_evidence > SEEN
        cure = mine and visible
        outcome.append(4.0 if cure else 0.0)
        shows.append("the reading comes right" if cure else "no change")
    return np.array(outcome), tuple(shows)


def bridged(search: Search, suspects: tuple[Suspect, ...], name: str) -> Touch:
    """A short lead across a joint or contact while sweeping again."""
    bad = (How.OHM, How.HENRY, How.OPEN)
    own = [
        s.place.name == name and s.fit.hypothesis.change is not None and s.fit.hypothesis.change.how in bad
        for s in suspects
    ]
    outcome, shows = cured(search, suspects, own)
    connect = f"press a lead of a few millimetres across {name} and repeat the sweep that shows the fault"
    return Touch("bridge and sweep again", name, f"Bridge {name}", connect, outcome, shows)


def swapped(search: Search, suspects: tuple[Suspect, ...], name: str) -> Touch:
    """Another jumper in the place of a suspect one."""
    outcome, shows = cured(search, suspects, [designator(s.place.name) == name for s in suspects])
    connect = f"replace {name} by a jumper known to be good and repeat the sweep that shows the fault"
    return Touch("swap jumper", name, f"Swap {name}", connect, outcome, shows)


def looked(search: Search, suspects: tuple[Suspect, ...], name: str) -> Touch:
    """Check a hook-up and repeat its reading."""
    outcome, shows = cured(search, suspects, [s.place.name == name for s in suspects])
    connect = f"check {name}: band, points, termination, ground lead; take the reference again and repeat the reading"
    return Touch("check the hook-up", name, f"Check {name} and repeat it", connect, outcome, shows)
