"""A hook-up in one line, and to and from the plain values of the job file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from halfsplit.errors import HookupError, Mistake
from halfsplit.hookup.records import Hookup, Pad, Termination
from halfsplit.hookup.typed import FIELDS, INSTRUMENTS, REFERENCES
from halfsplit.quantity import Dimension, format_value

_REFERENCE = {"through": "through reference", "calibrated": "calibrated", "none": "no reference"}
_GENERATOR = {"analyser": "analyser", "sweeper": "generator", "meter": "generator"}
_DETECTOR = {"analyser": "analyser", "sweeper": "detector", "meter": "meter"}
_TEXTS = ("lifted", "operated", "released")


def describe(hookup: Hookup) -> str:
    """A hook-up in one line.

    "31 m: generator 50 ohm at TP1, detector 50 ohm at J2, through reference, clip leads 60 mm"
    """
    words = [f"{_GENERATOR[hookup.instrument]} {_ohm(hookup.source_ohm)} at {hookup.drive}"]
    if hookup.read is not None and hookup.read != hookup.drive:
        words.append(f"{_DETECTOR[hookup.instrument]} {_ohm(hookup.detector_ohm)} at {hookup.read}")
    words += [_REFERENCE[hookup.reference], *_leads(hookup)]
    if hookup.detector_capacitance:
        words.append(f"probe {format_value(hookup.detector_capacitance, Dimension.CAPACITANCE)}")
    for side, pad in (("generator", hookup.source_pad), ("detector", hookup.detector_pad)):
        if pad is not None:
            ohm = "" if pad.ohm == 50.0 else f" {_ohm(pad.ohm)}"
            words.append(f"{side} pad {pad.loss_db:g} dB{ohm}")
    for side, part in (("generator", hookup.source_tolerance), ("detector", hookup.detector_tolerance)):
        if part is not None:
            words.append(f"{side} ohm +-{100 * part:.3g} %")
    words += [f"{ref} lifted" for ref in hookup.lifted]
    words += [f"{a} bridged to {b}" for a, b in hookup.bridged]
    words += [f"{_ohm(t.ohm)} from {t.point} to ground" for t in hookup.terminated]
    words += [f"{name} operated by hand" for name in hookup.operated]
    words += [f"{name} released by hand" for name in hookup.released]
    return f"{hookup.band}: " + ", ".join(words) + (f" ({hookup.note})" if hookup.note else "")


def _ohm(value: float) -> str:
    return format_value(value, Dimension.RESISTANCE)


def _leads(hookup: Hookup) -> list[str]:
    """What is known about the leads."""
    source, detector = hookup.source_lead, hookup.detector_lead
    if source is not None and source == detector:
        return [f"clip leads {format_value(source, Dimension.LENGTH)}" if source else "coax up to the points"]
    return [
        f"{side} lead {format_value(metres, Dimension.LENGTH)}" if metres else f"coax up to the {side} point"
        for side, metres in (("generator", source), ("detector", detector))
        if metres is not None
    ]


def to_dict(hookup: Hookup) -> dict[str, Any]:
    """A hook-up as JSON values in SI units, every field; `from_dict` brings it back."""
    out: dict[str, Any] = {f.name: getattr(hookup, f.name) for f in fields(hookup)}
    for side in ("source_pad", "detector_pad"):
        pad = out[side]
        out[side] = None if pad is None else {"loss_db": pad.loss_db, "ohm": pad.ohm}
    out["terminated"] = [{"point": t.point, "ohm": t.ohm} for t in hookup.terminated]
    out["bridged"] = [list(pair) for pair in hookup.bridged]
    for name in _TEXTS:
        out[name] = list(out[name])
    return out


def from_dict(data: Mapping[str, Any]) -> Hookup:
    """The hook-up of `to_dict`; fields that an older version did not have take their usual value.

    raises HookupError for a field that this version does not know, or a value that `to_dict` never writes
    """
    strange = [k for k in data if k not in FIELDS]
    if strange:
        raise HookupError(Mistake("hook-up in the job file", ", ".join(strange), "fields that this version knows"))
    out = dict(data)
    try:
        for side in ("source_pad", "detector_pad"):
            out[side] = None if out.get(side) is None else Pad(**out[side])
        out["terminated"] = tuple(Termination(**t) for t in out.get("terminated", ()))
        out["bridged"] = tuple((a, b) for a, b in out.get("bridged", ()))
        for name in _TEXTS:
            out[name] = tuple(out.get(name, ()))
        hookup = Hookup(**out)
    except (TypeError, ValueError) as error:
        raise HookupError(
            Mistake("hook-up in the job file", str(error), "what halfsplit itself has written")
        ) from error
    if hookup.reference not in REFERENCES or hookup.instrument not in INSTRUMENTS:
        found = f"reference {hookup.reference!r}, instrument {hookup.instrument!r}"
        expected = f"{', '.join(REFERENCES)}; {', '.join(INSTRUMENTS)}"
        raise HookupError(Mistake("hook-up in the job file", found, expected))
    return hookup
