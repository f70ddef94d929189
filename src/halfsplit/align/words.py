"""The alignment in sentences."""

from __future__ import annotations

from halfsplit.align.records import Alignment, Move


def way(m: Move) -> str:
    """What to do with the hands."""
    if m.coil:
        return "press its turns together" if m.change > 0 else "pull its turns apart"
    return "turn it in (more capacitance)" if m.change > 0 else "turn it out (less capacitance)"


def why_of(a: Alignment, only_through: bool) -> str:
    """One sentence on the standing."""
    short = [r for r in a.requirements if (r.now < r.limit if r.what != "loss" else r.now > r.limit)]
    missed = ", ".join(r.what + ("" if r.times == 1.0 else f" at {r.times:g} times") for r in short)
    if a.standing == "met":
        return f"all limits are met as it stands ({100 * a.met_now:.0f} % sure): leave it alone"
    if a.standing == "out of reach":
        return (
            f"no setting of {', '.join(p.ref for p in a.parts)} meets {missed or 'all limits'}: the nearest is shown; "
            "look for a fault or a wrong part first"
        )
    if a.standing == "cannot decide":
        first = a.plan[0]
        range_words = f"from {100 * first.low:+.0f} to {100 * first.high:+.0f} %"
        if a.rivals:
            return (
                f"{missed or 'a limit'} is missed, but these sweeps fit {len(a.rivals) + 1} different sets of values: "
                + ("sweep the return loss too, from both ends" if only_through else "sweep it from the other end too")
                + f"; or move {first.ref} a little, tell it with `did`, and sweep again"
            )
        return (
            f"{missed or 'a limit'} may be missed, but the sweep does not say by which part ({first.ref} would be "
            f"moved {range_words}): sweep the return loss as well, closer in the band, or with a calibrated analyser"
        )
    return f"missed: {missed or 'a limit, by little'}; {len(a.plan)} part{'s' if len(a.plan) > 1 else ''} to move"
