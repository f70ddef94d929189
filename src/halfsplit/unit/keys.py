"""Every key that the reader of the unit file knows, by the kind of table that it stands in.

docs/unit-file.md has one row for each of them; a test compares the two.
"""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from types import MappingProxyType

_LIMITS = (
    "loss",
    "return_loss",
    "attenuation",
    "second_harmonic",
    "third_harmonic",
    "fourth_harmonic",
    "fifth_harmonic",
)

_PART = (
    "value",
    "changed",
    "about",
    "range",
    "al",
    "kind",
    "tolerance",
    "q",
    "lead",
    "self_capacitance",
    "loss",
    "adjustable",
    "dielectric",
    "rating",
    "note",
)

KEYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "file": (
            "unit",
            "band",
            "path",
            "limits",
            "contacts",
            "cable",
            "relay",
            "switch",
            "filter",
            "stage",
            "drive",
            "supply",
            "level_control",
            "block",
            "plan",
        ),
        "unit": ("name", "rated_power", "supply", "impedance", "note"),
        "band": ("name", "range", "filter", "relays", "positions", "limits"),
        "path": ("order", "points"),
        "limits": _LIMITS,
        "contacts": ("contact_resistance", "open_capacitance"),
        "cable": ("type", "z0", "velocity_factor", "loss", "length", "rating", "note"),
        "relay": ("closed_when", "coil", "joins", "contact_resistance", "open_capacitance", "rating"),
        "switch": ("common", "throws", "contact_resistance", "open_capacitance", "rating"),
        "filter": ("input", "output", "impedance", "stray", "ladder", "note"),
        "rung": ("shunt", "series", "across", "with", "ground", *_PART),
        "part": ("part", *_PART),
        "stage": (
            "kind",
            "class",
            "output",
            "gain",
            "gain_tolerance",
            "input_impedance",
            "output_impedance",
            "branches",
            "optimum_load",
            "supply",
            "knee",
            "standing_current",
            "efficiency",
            "thermal",
        ),
        "thermal": ("junction_to_case", "case_to_sink", "sink_to_air", "devices", "most_junction"),
        "drive": ("order", "level", "tolerance", "impedance"),
        "supply": ("resistance", "tolerance", "rest_current"),
        "level_control": ("holds", "tolerance"),
        "block": ("input", "output", "branches", "couplings", "points", "measured"),
        "branch": ("part", "from", "to", *_PART),
        "coupling": ("first", "second", "k"),
        "plan": ("intermediate", "lo", "oscillators", "ripple", "mains"),
    }
)


def nearest(name: str, known: tuple[str, ...]) -> str | None:
    """The known name that looks most like `name`, or None where none comes near."""
    folded = {k.casefold(): k for k in known}
    found = get_close_matches(name.casefold(), tuple(folded), n=1, cutoff=0.6)
    return folded[found[0]] if found else None


def one_of(name: str, known: tuple[str, ...], of: str) -> str:
    """What was expected instead of `name`: the nearest name first, then all that are known."""
    listed = ", ".join(known) if known else "none is declared"
    guess = nearest(name, known)
    return f"one of the {of}: {listed}" if guess is None else f"{guess}? (one of the {of}: {listed})"
