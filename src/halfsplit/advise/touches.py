"""Candidates of the other kinds: a meter on a place, a lifted part, a bridge, another jumper, a look at the hook-up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.advise.causes import Suspect
from halfsplit.circuit import How
from halfsplit.fault.findings import Kind, Meter
from halfsplit.fault.hypotheses import Place, designator
from halfsplit.fault.search import Search
from halfsplit.fault.words import element_of

Real = npt.NDArray[np.float64]

OHM_EDGES = np.log([0.1, 0.5, 2.0, 10.0, 100.0, 1e4])
VALUE_EDGES = np.log([0.3, 0.5, 0.7, 0.8, 0.88, 0.94, 1.06, 1.14, 1.25, 1.5, 2.0, 4.0])


@dataclass(frozen=True, slots=True, eq=False)
class Touch:
    """A test with one figure, or yes and no, as its outcome.

    subject : the place that it is about
    table : (n_suspect, n_outcome) probability of each outcome; shows : (n_suspect,) the usual outcome in words
    nothing : (n_outcome,) where the place is sound
    """

    kind: Kind
    subject: str
    title: str
    connect: str
    table: Real
    shows: tuple[str, ...]
    nothing: Real

    def confirms(self, k: int) -> bool:
        """True where it would mostly show whether suspect k is the truth."""
        return 0.5 * float(np.abs(self.table[k] - self.nothing).sum()) > 0.5


def touches(search: Search, suspects: tuple[Suspect, ...]) -> list[Touch]:
    """All tests of these kinds that concern a suspect."""
    meter, out = Meter(search), list[Touch]()
    names = list(dict.fromkeys(s.place.name for s in suspects))
    for name in dict.fromkeys(designator(n) for n in names):
        if element_of(search, name) is not None:
            out.append(lifted(meter, suspects, name))
    for name in names:
        if name.endswith("joint") or "contact" in name:
            out.append(ohms(meter, suspects, name))
            out.append(cure(meter, suspects, "bridge and sweep again", name))
    for name in dict.fromkeys(contact for s in suspects for contact in contacts_of(s)):
        if name not in names:
            out.append(ohms(meter, suspects, name))
    for name in dict.fromkeys(p.name for s in search.setups for p in s.scene.pieces if p.cable is not None):
        if any(designator(n) == name for n in names):
            out.append(cure(meter, suspects, "swap jumper", name))
    for name in names:
        if name.startswith("hook-up"):
            out.append(cure(meter, suspects, "check the hook-up", name))
    return out


def contacts_of(s: Suspect) -> list[str]:
    """Contacts that are open where a relay does not operate."""
    change = s.fit.hypothesis.change
    return change.place.split("+") if change is not None and s.place.word == "not operated" else []


def sound_place(meter: Meter) -> tuple[Suspect, Place]:
    """A sound unit, as a suspect."""
    place = Place("sound", "sound", 1.0)
    return Suspect(meter.search.sound, place, 1.0, "sound"), place


def lifted(meter: Meter, suspects: tuple[Suspect, ...], name: str) -> Touch:
    """Lift one end of a part and measure it."""
    rows, shows = [], []
    sound = sound_place(meter)[0]
    for s in (*suspects, sound):
        opened, shorted = meter.words(s.fit, s.place, name)
        low = meter.lossy(s.fit, s.place, name)
        ratio = meter.untouched(name) if s is sound else meter.ratio(s.fit, s.place, name)
        figure = (1.0 - opened - shorted) * ratio.between(VALUE_EDGES)
        rows.append(np.concatenate([[opened, shorted], figure * (1.0 - low), figure * low]))
        shows.append(lifted_text(s, name))
    connect = f"lift one end of {name}, measure value and Q with the LCR meter near the band"
    title = f"Measure {name} lifted"
    return Touch("measure lifted part", name, title, connect, np.array(rows[:-1]), tuple(shows[:-1]), rows[-1])


def lifted_text(s: Suspect, name: str) -> str:
    """What a lifted part would show, in words."""
    change = s.fit.hypothesis.change
    if change is None or s.place.name != name:
        return "its drawn value"
    factor = float(np.exp(s.fit.ln_size))
    if change.how is How.VALUE:
        return f"{factor:.2f} times its drawn value"
    if change.how is How.TURN:
        return f"{1.0 - min(factor, 0.9):.2f} times its drawn value, low Q"
    return change.how.value if change.how in (How.OPEN, How.SHORT) else "its drawn value, low Q"


def ohms(meter: Meter, suspects: tuple[Suspect, ...], name: str) -> Touch:
    """Ohms across a joint or contact, with the meter's leads nulled."""
    rows, shows = [], []
    for s in (*suspects, sound_place(meter)[0]):
        seen = meter.ohms(s.fit, s.place, name)
        rows.append(seen.between(OHM_EDGES))
        middle = float(np.exp(seen.means[0]))
        shows.append("some 10 mohm" if middle < 0.1 else "open" if middle > 1e4 else f"about {middle:.2g} ohm")
    connect = f"ohmmeter across {name}, leads nulled; work it by hand, warm and cool it while reading"
    return Touch("ohms across", name, f"Ohms across {name}", connect, np.array(rows[:-1]), tuple(shows[:-1]), rows[-1])


CURES = {
    "bridge and sweep again": (
        "Bridge {}",
        "press a lead of a few millimetres across {} and repeat the sweep that shows the fault",
    ),
    "swap jumper": ("Swap {}", "replace {} by a jumper known to be good and repeat the sweep that shows the fault"),
    "check the hook-up": (
        "Check {} and repeat it",
        "check {}: band, points, termination, ground lead; take the reference again and repeat the reading",
    ),
}


def cure(meter: Meter, suspects: tuple[Suspect, ...], kind: Kind, name: str) -> Touch:
    """A test that sets the fault right if it sits there: a lead across, another jumper, the hook-up made anew."""
    rows, shows = [], []
    for s in suspects:
        p = meter.cured(s.fit, meter.cures(s.fit, s.place, kind, name))
        rows.append([p, 1.0 - p])
        shows.append("the reading comes right" if p > 0.5 else "no change")
    sound, place = sound_place(meter)
    p = meter.cured(sound.fit, meter.cures(sound.fit, place, kind, name))
    title, connect = (text.format(name) for text in CURES[kind])
    return Touch(kind, name, title, connect, np.array(rows), tuple(shows), np.array([p, 1.0 - p]))
