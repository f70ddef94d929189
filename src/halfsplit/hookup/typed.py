"""A hook-up as it is typed: field names and texts in, a Hookup or every mistake out."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Literal, cast

from halfsplit.errors import HookupError, Mistake
from halfsplit.hookup.records import Hookup, Pad, Termination
from halfsplit.quantity import Dimension, QuantityError, parse

FIELDS = tuple(f.name for f in fields(Hookup))
REFERENCES = ("through", "calibrated", "none")
INSTRUMENTS = ("analyser", "sweeper", "meter")
HIGH_OHM = 1e3
"""A detector of more than this counts as a probe that does not terminate the path."""

_PAD = re.compile(r"(?P<loss>.*?dB)\s*(?:in\s+)?(?P<ohm>\S.*)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Known:
    """What a hook-up of this unit may name.

    points : where an instrument can be tied; bands : names of the bands
    elements : parts, cables, relays, switches, stages that can be lifted; relays : what can be worked by hand
    """

    points: tuple[str, ...]
    bands: tuple[str, ...]
    elements: tuple[str, ...]
    relays: tuple[str, ...]


def parse_hookup(given: Mapping[str, object], known: Known) -> Hookup:
    """A hook-up from words as typed on a command line or in TOML.

    given : field name to text, or to a list of texts for lifted, bridged, terminated, operated and released;
            None and "" are fields that were not given
    known : what the unit has
    raises HookupError with every mistake; an unknown name lists the known ones and the nearest
    """
    typed = _Typed(given, known)
    for field in given:
        if field not in FIELDS:
            typed.mistakes.append(_unknown(str(field), "field of a hook-up", str(field), FIELDS))
    hookup = Hookup(
        band=typed.needed("band", "band", known.bands),
        drive=typed.needed("drive", "point", known.points),
        read=typed.name("read", "point", known.points),
        source_ohm=typed.number("source_ohm", Dimension.RESISTANCE) or 50.0,
        detector_ohm=typed.number("detector_ohm", Dimension.RESISTANCE) or 50.0,
        source_tolerance=typed.fraction("source_tolerance"),
        detector_tolerance=typed.fraction("detector_tolerance"),
        source_lead=typed.number("source_lead", Dimension.LENGTH, zero=True),
        detector_lead=typed.number("detector_lead", Dimension.LENGTH, zero=True),
        detector_capacitance=typed.number("detector_capacitance", Dimension.CAPACITANCE, zero=True) or 0.0,
        source_pad=typed.pad("source_pad"),
        detector_pad=typed.pad("detector_pad"),
        reference=cast(
            Literal["through", "calibrated", "none"], typed.name("reference", "reference", REFERENCES) or "through"
        ),
        lifted=typed.lifted(),
        bridged=typed.bridged(),
        terminated=typed.terminated(),
        operated=typed.names("operated", "relay", known.relays),
        released=typed.names("released", "relay", known.relays),
        instrument=cast(
            Literal["analyser", "sweeper", "meter"], typed.name("instrument", "instrument", INSTRUMENTS) or "sweeper"
        ),
        note=typed.text("note") or "",
    )
    mistakes = (*typed.mistakes, *_contradictions(hookup))
    if mistakes:
        raise HookupError(*mistakes)
    return hookup


def _unknown(field: str, what: str, found: str, known: tuple[str, ...]) -> Mistake:
    """A name that is not known: the nearest known one, and all of them."""
    folded = {k.casefold(): k for k in known}
    near = difflib.get_close_matches(found.casefold(), tuple(folded), n=1, cutoff=0.6)
    hint = f"{folded[near[0]]}? (" if near else ""
    listed = f"one of: {', '.join(known)}" if known else "none: this unit has no such thing"
    return Mistake(field, f"no {what} {found!r}", f"{hint}{listed}{')' if near else ''}")


class _Typed:
    """The typed fields under the reader's finger; keeps every mistake."""

    def __init__(self, given: Mapping[str, object], known: Known) -> None:
        self.given = given
        self.known = known
        self.mistakes: list[Mistake] = []

    def wrong(self, field: str, found: str, expected: str) -> None:
        """Note a mistake."""
        self.mistakes.append(Mistake(field, found, expected))

    def text(self, field: str) -> str | None:
        """The text of a field; a bare number is taken as it would be typed."""
        value = self.given.get(field)
        if value is None or isinstance(value, bool) or not isinstance(value, (str, int, float)):
            if value is not None:
                self.wrong(field, f"{value!r}", "one text")
            return None
        return str(value).strip() or None

    def texts(self, field: str) -> tuple[str, ...]:
        """The texts of a field that may have several."""
        value = self.given.get(field)
        items = (value,) if isinstance(value, str) else value
        if items is None:
            return ()
        if not isinstance(items, (list, tuple)) or not all(isinstance(item, str) for item in items):
            self.wrong(field, f"{value!r}", "a text or a list of texts")
            return ()
        found = tuple(item.strip() for item in items if item.strip())
        for item in dict.fromkeys(f for f in found if found.count(f) > 1):
            self.wrong(field, f"{item!r} is given {found.count(item)} times", "each once")
        return found

    def known_name(self, field: str, what: str, found: str, known: tuple[str, ...]) -> str:
        """The known name that is meant: exact, or with other capitals where only one fits."""
        fitting = [k for k in known if k.casefold() == found.casefold()]
        if found in known:
            return found
        if len(fitting) == 1:
            return fitting[0]
        self.mistakes.append(_unknown(field, what, found, known))
        return found

    def name(self, field: str, what: str, known: tuple[str, ...]) -> str | None:
        """One known name, or None where none is given."""
        found = self.text(field)
        return None if found is None else self.known_name(field, what, found, known)

    def needed(self, field: str, what: str, known: tuple[str, ...]) -> str:
        """One known name that must be given."""
        if self.given.get(field) in (None, ""):
            self.wrong(field, f"no {what} is given", f"one of: {', '.join(known)}")
        return self.name(field, what, known) or ""

    def names(self, field: str, what: str, known: tuple[str, ...]) -> tuple[str, ...]:
        """Several known names."""
        return tuple(self.known_name(field, what, found, known) for found in self.texts(field))

    def number(self, field: str, dimension: Dimension, text: str | None = None, *, zero: bool = False) -> float | None:
        """A quantity in SI units, above zero (or zero where that has a meaning)."""
        text = self.text(field) if text is None else text
        if text is None:
            return None
        try:
            value = parse(text, dimension).value
        except QuantityError as error:
            self.wrong(field, error.found.removeprefix("found "), f'{error.expected}, like "{error.example}"')
            return None
        if value < 0 or (value == 0 and not zero):
            self.wrong(field, f"{text!r}", "zero or more" if zero else "more than zero")
            return None
        return value

    def fraction(self, field: str) -> float | None:
        """A tolerance, below 100 %."""
        value = self.number(field, Dimension.FRACTION)
        if value is not None and value >= 1:
            self.wrong(field, f"{self.text(field)!r}", "less than 100 %")
            return None
        return value

    def pad(self, field: str) -> Pad | None:
        """A pad: "10 dB", or "10 dB 75 ohm" where its impedance is not 50 ohm."""
        text = self.text(field)
        if text is None:
            return None
        found = _PAD.fullmatch(text)
        if found is None:
            self.wrong(field, f"{text!r}", 'the loss of a pad, like "10 dB" or "10 dB 75 ohm"')
            return None
        loss = self.number(field, Dimension.DECIBEL, found["loss"])
        ohm = self.number(field, Dimension.RESISTANCE, found["ohm"]) if found["ohm"] else 50.0
        return None if loss is None or ohm is None else Pad(loss, ohm)

    def lifted(self) -> tuple[str, ...]:
        """What is lifted: "C22", or "W1 at BUS IN" for one end of it."""
        done = []
        for text in self.texts("lifted"):
            ref, at, point = (x.strip() for x in text.partition(" at "))
            name = self.known_name("lifted", "part", ref, self.known.elements)
            done.append(f"{name} at {self.known_name('lifted', 'point', point, self.known.points)}" if at else name)
        return tuple(done)

    def bridged(self) -> tuple[tuple[str, str], ...]:
        """Pairs of points joined by a short lead: "TP1 = TP2"."""
        done = []
        for text in self.texts("bridged"):
            a, sign, b = (x.strip() for x in text.partition("="))
            if not sign or not a or not b:
                self.wrong("bridged", f"{text!r}", 'two points, like "TP1 = TP2"')
                continue
            pair = tuple(self.known_name("bridged", "point", x, self.known.points) for x in (a, b))
            if pair[0] == pair[1]:
                self.wrong("bridged", f"{text!r}: a point bridged to itself", 'two points, like "TP1 = TP2"')
            done.append((pair[0], pair[1]))
        return tuple(done)

    def terminated(self) -> tuple[Termination, ...]:
        """Resistors tied from a point to ground: "J2 = 50 ohm"."""
        done: list[Termination] = []
        for text in self.texts("terminated"):
            point, sign, ohm = (x.strip() for x in text.partition("="))
            if not sign or not point or not ohm:
                self.wrong("terminated", f"{text!r}", 'a point and a resistance, like "J2 = 50 ohm"')
                continue
            name = self.known_name("terminated", "point", point, self.known.points)
            value = self.number("terminated", Dimension.RESISTANCE, ohm)
            if name in (t.point for t in done):
                self.wrong("terminated", f"{name} has two terminations", "one resistor for a point")
            elif value is not None:
                done.append(Termination(name, value))
        return tuple(done)


def _contradictions(hookup: Hookup) -> list[Mistake]:
    """Wishes that cannot both be meant."""
    found: list[Mistake] = []

    def note(field: str, what: str, expected: str) -> None:
        found.append(Mistake(field, what, expected))

    same = hookup.read is not None and hookup.read == hookup.drive and hookup.drive != ""
    if same and hookup.instrument != "analyser":
        note("read", f"driven and read at {hookup.read}", 'two points, or instrument "analyser" for a return loss')
    if hookup.reference == "calibrated" and hookup.instrument != "analyser":
        expected = 'instrument "analyser", or reference "through"'
        note("reference", f"calibrated, with a {hookup.instrument}", expected)
    for relay in (r for r in hookup.operated if r in hookup.released):
        note("released", f"{relay} is operated and released", "one of the two")
    for text in hookup.lifted:
        ref, _, point = text.partition(" at ")
        if point and ref in hookup.lifted:
            note("lifted", f"{ref} is lifted whole and at {point}", "one of the two")
    for termination in hookup.terminated:
        if termination.point == hookup.drive:
            note("terminated", f"{termination.point} is driven", "a termination where no generator is tied")
        if termination.point == hookup.read and hookup.detector_ohm <= HIGH_OHM:
            what = f"{termination.point} is terminated and has a detector of {hookup.detector_ohm:g} ohm"
            note("terminated", what, 'one of the two; a probe has detector_ohm = "1 Mohm"')
    for a, b in hookup.bridged:
        if {a, b} == {hookup.drive, hookup.read}:
            note("bridged", f"{a} and {b} are the driven and the read point", "a bridge past something in between")
    return found
