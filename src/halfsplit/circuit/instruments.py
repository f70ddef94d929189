"""Generator, detector, leads and pads, tied to the points that the hook-up names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from halfsplit.circuit import spread
from halfsplit.circuit.elements import Core, Element, Field
from halfsplit.errors import HookupError, Mistake
from halfsplit.hookup import Hookup, Pad
from halfsplit.network import GROUND, pad_y

if TYPE_CHECKING:
    from halfsplit.circuit.builder import Builder


def behind_pad(ohm: float, pad: Pad | None) -> float:
    """The resistance that the unit sees of an instrument behind a pad."""
    if pad is None:
        return ohm
    y = pad_y(pad.loss_db, pad.ohm)
    return float(1.0 / (y[1, 1] - y[0, 1] ** 2 / (y[0, 0] + 1.0 / ohm)))


def softened(sigma: float, pad: Pad | None) -> float:
    """A pad of loss A leaves 10^(-A/10) of the instrument's mismatch."""
    return sigma if pad is None else float(sigma * 10.0 ** (-pad.loss_db / 10.0) + 0.01)


def tie_on(builder: Builder) -> tuple[int, int | None, int, int | None]:
    """Tie the instruments on. returns (source node, detector node, source arm, detector arm).

    raises HookupError for an unknown point
    """
    hookup = builder.hookup
    source, source_arm = instrument(builder, hookup.drive, "source")
    if hookup.read is None or (hookup.read == hookup.drive and hookup.instrument == "analyser"):
        return source, None, source_arm, None
    detector, detector_arm = instrument(builder, hookup.read, "detector")
    return source, detector, source_arm, detector_arm


def instrument(builder: Builder, point: str, side: str) -> tuple[int, int]:
    """One instrument: its resistance to ground, its lead to the point. returns (node, arm of the resistance)."""
    hookup = builder.hookup
    if point not in builder.names:
        known = ", ".join(builder.names)
        field = "drive" if side == "source" else "read"
        raise HookupError(Mistake(field, f"no point {point!r} on this band", f"one of: {known}"))
    node, at = builder.node(), builder.names[point]
    is_source = side == "source"
    pad = hookup.source_pad if is_source else hookup.detector_pad
    ohm = behind_pad(hookup.source_ohm if is_source else hookup.detector_ohm, pad)
    own = builder.element(Element(f"{side} resistance", Core.RESISTOR, ohm))
    key = f"{side} at {point} [{signature(hookup)}]"
    stated = hookup.source_tolerance if is_source else hookup.detector_tolerance
    usual = spread.ANALYSER_RESISTANCE if hookup.reference == "calibrated" else spread.SCALAR_RESISTANCE
    sigma = usual.sigma if stated is None else stated
    builder.vary(f"{key} resistance", softened(sigma, pad), own, Field.VALUE)
    arm = builder.arm(f"{side} resistance", node, GROUND, (own,))
    lay_lead(builder, node, at, side, key)
    lay_probe(builder, node, side, key)
    return node, arm


def lay_lead(builder: Builder, node: int, at: int, side: str, key: str) -> None:
    """The lead from instrument to point, as an inductance."""
    hookup = builder.hookup
    metres = hookup.source_lead if side == "source" else hookup.detector_lead
    row = spread.CALIBRATED_LEAD if hookup.reference == "calibrated" else spread.HOOKUP_LEAD
    typical, sigma = row.typical, row.sigma
    if metres:
        typical, sigma = metres * spread.LEAD_PER_METRE.typical + row.typical, spread.LEAD_PER_METRE.sigma
    lead = builder.element(Element(f"{side} lead", Core.RESISTOR, spread.JOINT_OHM.typical, lead=typical))
    builder.vary(f"{key} lead", sigma, lead, Field.LEAD)
    builder.arm(f"{side} lead", node, at, (lead,))


def lay_probe(builder: Builder, node: int, side: str, key: str) -> None:
    """Stray of the hook-up and capacitance of the probe."""
    extra = builder.hookup.detector_capacitance if side == "detector" else 0.0
    stray = builder.element(Element(f"{side} stray", Core.CAPACITOR, spread.HOOKUP_STRAY.typical + extra))
    builder.vary(f"{key} stray", 0.1 if extra else spread.HOOKUP_STRAY.sigma, stray, Field.VALUE)
    builder.arm(f"{side} stray", node, GROUND, (stray,))


def signature(hookup: Hookup) -> str:
    """What makes two hook-ups the same fixture: same instrument, reference, pads and leads."""
    pads = tuple(p.loss_db if p else 0.0 for p in (hookup.source_pad, hookup.detector_pad))
    return (
        f"{hookup.band}|{hookup.drive}|{hookup.read}|{hookup.instrument}|{hookup.reference}|{pads}|"
        f"{hookup.source_lead}|{hookup.detector_lead}"
    )
