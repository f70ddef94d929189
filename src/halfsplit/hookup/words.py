"""A hook-up in words: from what is typed, to one line, to and from JSON."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from typing import Any, get_args, get_type_hints

from halfsplit.errors import HookupError, Mistake
from halfsplit.hookup.records import Hookup, Pad, Termination
from halfsplit.quantity import Dimension, QuantityError, Value, format_value, parse

REFERENCES = get_args(get_type_hints(Hookup)["reference"])
INSTRUMENTS = get_args(get_type_hints(Hookup)["instrument"])


@dataclass(frozen=True, slots=True)
class Known:
    """What a hook-up of this unit may name.

    points : where an instrument can be tied; bands; elements : parts, cables, relays, stages that can be lifted;
    relays : relays that can be worked by hand
    """

    points: tuple[str, ...]
    bands: tuple[str, ...]
    elements: tuple[str, ...]
    relays: tuple[str, ...]


class Reader:
    """Reads the fields one by one and keeps every mistake."""

    def __init__(self, given: Mapping[str, object], known: Known) -> None:
        self.given = given
        self.known = known
        self.mistakes: list[Mistake] = []

    def text(self, field: str) -> str | None:
        value = self.given.get(field)
        return None if value is None or value == "" else str(value).strip()

    def texts(self, field: str) -> tuple[str, ...]:
        value = self.given.get(field) or ()
        items = (value,) if isinstance(value, str) else value
        assert isinstance(items, Iterable)
        return tuple(str(x).strip() for x in items)

    def name(self, field: str, what: str, found: str, known: tuple[str, ...]) -> str:
        """A name out of a list; exact, or with other capitals."""
        if found in known:
            return found
        folded = {k.casefold(): k for k in known}
        if found.casefold() in folded:
            return folded[found.casefold()]
        near = difflib.get_close_matches(found, known, 1)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        self.mistakes.append(Mistake(field, f"no {what} {found!r}", f"one of: {', '.join(known)}{hint}"))
        return found

    def number(self, field: str, dimension: Dimension, found: str | None = None, *, zero: bool = False) -> float | None:
        """A quantity in SI units."""
        text = self.text(field) if found is None else found
        if text is None:
            return None
        try:
            value = parse(text, dimension)
        except QuantityError as error:
            self.mistakes.append(Mistake(field, repr(text), str(error)))
            return None
        if not isinstance(value, Value) or value.value < 0 or (value.value == 0 and not zero):
            self.mistakes.append(Mistake(field, repr(text), "a value above zero"))
            return None
        return value.value

    def pad(self, field: str) -> Pad | None:
        """A pad: "10 dB" or "10 dB 75 ohm"."""
        text = self.text(field)
        if text is None:
            return None
        loss_text, _, ohm_text = text.partition("dB")
        loss = self.number(field, Dimension.DECIBEL, f"{loss_text.strip()} dB")
        ohm = self.number(field, Dimension.RESISTANCE, ohm_text.strip()) if ohm_text.strip() else 50.0
        return None if loss is None or ohm is None else Pad(loss, ohm)

    def choice(self, field: str, known: tuple[str, ...], usual: str) -> str:
        text = self.text(field)
        return usual if text is None else self.name(field, field, text, known)


def parse_hookup(given: Mapping[str, object], known: Known) -> Hookup:
    """A hook-up from words as typed on a command line.

    given : field name to text ("drive": "TP1", "source_ohm": "50 ohm", "lifted": ["W1 at BUS IN"], ...)
    raises HookupError with every mistake: unknown names list the known ones
    """
    r = Reader(given, known)
    allowed = {f.name for f in fields(Hookup)}
    for field in given:
        if field not in allowed:
            r.mistakes.append(Mistake(field, "no such field of a hook-up", f"one of: {', '.join(sorted(allowed))}"))
    band, drive, read = r.text("band"), r.text("drive"), r.text("read")
    if band is None:
        r.mistakes.append(Mistake("band", "no band named", f"one of: {', '.join(known.bands)}"))
    if drive is None:
        r.mistakes.append(Mistake("drive", "no point named", f"one of: {', '.join(known.points)}"))
    hookup = Hookup(
        band=r.name("band", "band", band, known.bands) if band else "",
        drive=r.name("drive", "point", drive, known.points) if drive else "",
        read=r.name("read", "point", read, known.points) if read else None,
        source_ohm=r.number("source_ohm", Dimension.RESISTANCE) or 50.0,
        detector_ohm=r.number("detector_ohm", Dimension.RESISTANCE) or 50.0,
        source_tolerance=r.number("source_tolerance", Dimension.FRACTION),
        detector_tolerance=r.number("detector_tolerance", Dimension.FRACTION),
        source_lead=r.number("source_lead", Dimension.LENGTH, zero=True),
        detector_lead=r.number("detector_lead", Dimension.LENGTH, zero=True),
        detector_capacitance=r.number("detector_capacitance", Dimension.CAPACITANCE, zero=True) or 0.0,
        source_pad=r.pad("source_pad"),
        detector_pad=r.pad("detector_pad"),
        reference=r.choice("reference", REFERENCES, "through"),  # type: ignore[arg-type]
        lifted=tuple(lifted(r, text) for text in r.texts("lifted")),
        bridged=tuple(bridged(r, text) for text in r.texts("bridged")),
        terminated=tuple(t for text in r.texts("terminated") if (t := terminated(r, text)) is not None),
        operated=tuple(r.name("operated", "relay", x, known.relays) for x in r.texts("operated")),
        released=tuple(r.name("released", "relay", x, known.relays) for x in r.texts("released")),
        instrument=r.choice("instrument", INSTRUMENTS, "sweeper"),  # type: ignore[arg-type]
        note=r.text("note") or "",
    )
    contradictions(r, hookup)
    if r.mistakes:
        raise HookupError(*r.mistakes)
    return hookup


def contradictions(r: Reader, hookup: Hookup) -> None:
    """Wishes that cannot both be."""
    if hookup.read is not None and hookup.read == hookup.drive and hookup.instrument == "sweeper":
        r.mistakes.append(Mistake("read", f"driven and read at {hookup.read}", "two points, or an analyser at one"))
    for relay in set(hookup.operated) & set(hookup.released):
        r.mistakes.append(Mistake("released", f"{relay} both operated and released", "one of the two"))


def lifted(r: Reader, text: str) -> str:
    """ "C22" or "W1 at BUS IN"."""
    ref, at, point = text.partition(" at ")
    name = r.name("lifted", "part", ref.strip(), r.known.elements)
    return f"{name} at {r.name('lifted', 'point', point.strip(), r.known.points)}" if at else name


def bridged(r: Reader, text: str) -> tuple[str, str]:
    """ "TP1 = TP2"."""
    a, sign, b = text.partition("=")
    if not sign:
        r.mistakes.append(Mistake("bridged", repr(text), 'two points, like "TP1 = TP2"'))
        return (text, text)
    return (
        r.name("bridged", "point", a.strip(), r.known.points),
        r.name("bridged", "point", b.strip(), r.known.points),
    )


def terminated(r: Reader, text: str) -> Termination | None:
    """ "J2 = 50 ohm"."""
    point, sign, ohm = text.partition("=")
    if not sign:
        r.mistakes.append(Mistake("terminated", repr(text), 'a point and a resistance, like "J2 = 50 ohm"'))
        return None
    value = r.number("terminated", Dimension.RESISTANCE, ohm.strip())
    name = r.name("terminated", "point", point.strip(), r.known.points)
    return None if value is None else Termination(name, value)


def describe(hookup: Hookup) -> str:
    """A hook-up in one line: "31 m: generator 50 ohm at TP1, detector 50 ohm at J2, through reference"."""
    ohm = format_value(hookup.source_ohm, Dimension.RESISTANCE)
    parts = [f"generator {ohm} at {hookup.drive}"]
    if hookup.instrument == "analyser":
        parts = [f"analyser {ohm} at {hookup.drive}"]
    if hookup.read is not None:
        parts.append(f"detector {format_value(hookup.detector_ohm, Dimension.RESISTANCE)} at {hookup.read}")
    parts.append({"through": "through reference", "calibrated": "calibrated", "none": "no reference"}[hookup.reference])
    for side, metres in (("source", hookup.source_lead), ("detector", hookup.detector_lead)):
        if metres:
            parts.append(f"{side} lead {format_value(metres, Dimension.LENGTH)}")
    for side, pad in (("source", hookup.source_pad), ("detector", hookup.detector_pad)):
        if pad is not None:
            parts.append(f"{side} pad {pad.loss_db:g} dB")
    parts += [f"{x} lifted" for x in hookup.lifted]
    parts += [f"{a} bridged to {b}" for a, b in hookup.bridged]
    parts += [f"{format_value(t.ohm, Dimension.RESISTANCE)} at {t.point}" for t in hookup.terminated]
    parts += [f"{x} operated by hand" for x in hookup.operated] + [f"{x} released by hand" for x in hookup.released]
    return f"{hookup.band}: " + ", ".join(parts) + (f" ({hookup.note})" if hookup.note else "")


def to_dict(hookup: Hookup) -> dict[str, Any]:
    """A hook-up as JSON values, SI units; `from_dict` brings it back."""
    out: dict[str, Any] = {f.name: getattr(hookup, f.name) for f in fields(hookup)}
    for side in ("source_pad", "detector_pad"):
        pad = out[side]
        out[side] = None if pad is None else {"loss_db": pad.loss_db, "ohm": pad.ohm}
    out["terminated"] = [{"point": t.point, "ohm": t.ohm} for t in hookup.terminated]
    out["bridged"] = [list(pair) for pair in hookup.bridged]
    for name in ("lifted", "operated", "released"):
        out[name] = list(out[name])
    return out


def from_dict(data: Mapping[str, Any]) -> Hookup:
    """The hook-up of `to_dict`. raises HookupError for a field that this version does not know."""
    known = {f.name for f in fields(Hookup)}
    strange = [k for k in data if k not in known]
    if strange:
        raise HookupError(Mistake("hook-up in the job file", ", ".join(strange), "fields that this version knows"))
    out = dict(data)
    for side in ("source_pad", "detector_pad"):
        out[side] = Pad(**out[side]) if out.get(side) else None
    out["terminated"] = tuple(Termination(**t) for t in out.get("terminated", ()))
    out["bridged"] = tuple((a, b) for a, b in out.get("bridged", ()))
    for name in ("lifted", "operated", "released"):
        out[name] = tuple(out.get(name, ()))
    return Hookup(**out)
