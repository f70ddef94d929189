"""Units for tests, built as records: no reader involved. All values invented."""

from __future__ import annotations

from halfsplit.hookup import Hookup
from halfsplit.parts import Cable, Kind, Part
from halfsplit.unit import Band, Filter, Path, Relay, Rung, Stage, Unit

KINDS = {"C": Kind.CAPACITOR, "L": Kind.COIL, "R": Kind.RESISTOR}


def part(ref: str, value: float, **more: object) -> Part:
    """A part whose kind is the letter of its designator."""
    return Part(ref, KINDS[ref[0]], value, **more)  # type: ignore[arg-type]


def shunt(ref: str, value: float, ground: str | None = None) -> Rung:
    return Rung("shunt", (part(ref, value),), ground=ground)


def series(ref: str, value: float) -> Rung:
    return Rung("series", (part(ref, value),))


def trap(coil: str, henry: float, capacitor: str, farad: float) -> Rung:
    return Rung("series", (part(coil, henry), part(capacitor, farad)), "across")


F1 = Filter(
    "F1",
    (
        shunt("C11", 560e-12, "E1"),
        trap("L11", 1.33e-6, "C14", 30e-12),
        shunt("C12", 1000e-12, "E1"),
        series("L12", 1.10e-6),
        shunt("C13", 560e-12),
    ),
    "K1",
    "K2",
)
F2 = Filter(
    "F2",
    (
        shunt("C21", 260e-12),
        series("L21", 0.63e-6),
        shunt("C22", 500e-12),
        series("L22", 0.5e-6),
        shunt("C23", 260e-12),
    ),
    "K3",
    "K4",
)

TWO_BANDS = Unit(
    name="test unit",
    bands=(Band("60 m", 5.2e6, 5.5e6, "F1", ("K1", "K2")), Band("30 m", 10.1e6, 10.15e6, "F2", ("K3", "K4"))),
    path=Path(
        ("FINAL", "TP1", "W1", "BUS IN", "filter", "BUS OUT", "TP2", "K9", "W2", "J2"),
        ("TP1", "BUS IN", "BUS OUT", "TP2", "J2"),
    ),
    cables=(Cable("W1", 50.0, 0.66, 1.3, 0.03, 0.18), Cable("W2", 50.0, 0.66, 1.3, 0.03, 0.4)),
    relays=tuple(Relay(f"K{i}") for i in (1, 2, 3, 4, 9)),
    filters=(F1, F2),
    stages=(Stage("FINAL"),),
)

THROUGH = Hookup("60 m", "TP1", "J2", reference="calibrated", instrument="analyser")
