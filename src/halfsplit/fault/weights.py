"""Prior weights of the ways to fail, looked up by kind of place and way of failing."""

from __future__ import annotations

SHARES = {"sound": 0.35, "fault": 0.55, "mix-up": 0.07, "unlisted": 0.03}

# stand-in until the table of the parts room is in place
TABLE = {
    ("sound", "any"): 20.0, ("unlisted", "any"): 2.0,
    ("capacitor", "value high"): 1.0, ("capacitor", "value low"): 1.0, ("capacitor", "short"): 0.4,
    ("capacitor", "lossy"): 0.4, ("capacitor", "open"): 0.5,
    ("coil", "value high"): 1.0, ("coil", "value low"): 1.0, ("coil", "shorted turn"): 0.5, ("coil", "short"): 0.2,
    ("coil", "lossy"): 0.3, ("coil", "open"): 0.4,
    ("resistor", "value high"): 0.5, ("resistor", "value low"): 0.3, ("resistor", "short"): 0.1,
    ("resistor", "lossy"): 0.0, ("resistor", "open"): 0.4,
    ("joint", "resistive"): 0.3, ("joint", "inductive"): 0.15, ("joint", "open"): 0.3,
    ("ground joint", "resistive"): 0.3, ("ground joint", "inductive"): 0.3, ("ground joint", "open"): 0.4,
    ("contact", "resistive"): 1.5, ("contact", "inductive"): 0.05, ("contact", "open"): 1.5,
    ("node", "leak"): 0.15, ("node", "stray"): 0.1, ("filter", "bridged past"): 0.1,
    ("cable", "wrong impedance"): 0.1, ("cable", "wrong length"): 0.1, ("cable", "lossy"): 0.3,
    ("selection", "wrong filter"): 1.0,
    ("hook-up", "long ground lead"): 0.3, ("hook-up", "wrong reference"): 0.5,
    ("hook-up", "detector not terminated"): 0.5, ("hook-up", "wrong band"): 0.5, ("hook-up", "wrong point"): 0.3,
}  # fmt: skip


class Weights:
    """Prior weight of a kind of place failing in a way; 0 where the table has no such row."""

    def __call__(self, kind: str, word: str) -> float:
        return TABLE.get((kind, word), 0.0)
