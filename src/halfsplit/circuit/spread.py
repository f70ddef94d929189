"""How far a sound unit and an honest hook-up stray: the priors of the nuisance parameters.

Every row is the logarithm of a quantity (mean and 1 sigma of the factor) or, for `offset`, dB.
"""

from __future__ import annotations

from dataclasses import dataclass

BANK = "measured: seven filters of HF transmitters with published drawings, fitted part by part"
PRACTICE = "common practice on the bench"


@dataclass(frozen=True, slots=True)
class Spread:
    """One nuisance: typical value in SI units and 1 sigma of its natural logarithm."""

    name: str
    typical: float
    sigma: float
    source: str


CAPACITOR_VALUE = Spread("capacitor value", 1.0, 0.03, f"{BANK}: 2.4 %")
COIL_VALUE = Spread("coil value", 1.0, 0.09, f"{BANK}: sd 9 %, worst 19 %: coils are adjusted by hand")
RESISTOR_VALUE = Spread("resistor value", 1.0, 0.03, PRACTICE)
FILTER_SCALE = Spread("common frequency scale of a filter", 1.0, 0.03, f"{BANK}: cut-off sd 3.6 %")
COIL_Q = Spread("coil Q", 130.0, 0.45, f"{BANK}: 79-218")
CAPACITOR_Q = Spread(
    "capacitor Q", 1000.0, 0.0, "EIA C0G limit Q >= 1000 from 30 pF up; mica above 1000 (common practice)"
)
CAPACITOR_LEAD = Spread("capacitor lead inductance", 6e-9, 0.5, f"{PRACTICE}: about 1 nH per mm of lead")
COIL_COUPLING = Spread(
    "coupling of neighbouring coils, k", 0.0, 0.01, f"{PRACTICE}: some 0.1 % toroids, 1-3 % air coils"
)
COIL_ACROSS = Spread("coil self-capacitance", 1.3e-12, 0.6, PRACTICE)
FILTER_END_STRAY = Spread("stray at each end of a filter, inside its contact", 10e-12, 0.9, f"{BANK}: 30-50 pF in all")
BUS_STRAY = Spread("stray at each end of a filter, outside its contact", 12e-12, 0.9, f"{BANK}: 30-50 pF in all")
BARE_STRAY = Spread("stray at each end of a filter that is wired straight", 5e-12, 0.8, PRACTICE)
BARE_LEAD = Spread("lead inductance at the end of a filter that is wired straight", 8e-9, 0.7, PRACTICE)
PATH_LEAD = Spread("lead and relay inductance at a filter's end", 15e-9, 0.8, f"{BANK}: 40-70 nH at one end")
SHARED_GROUND_LEAD = Spread("inductance of a shared earth point", 2e-9, 0.6, f"{PRACTICE}: a screw and 2 mm of lug")
JOINT_OHM = Spread("joint or contact resistance", 0.01, 0.7, f"{PRACTICE}: new contacts 10-50 mohm")
OPEN_CONTACT = Spread("capacitance of an open contact", 1.5e-12, 0.6, PRACTICE)
CRACK = Spread("capacitance of a cracked joint or broken part", 0.4e-12, 0.8, PRACTICE)
LEAD_PER_METRE = Spread("inductance of a clip lead, per metre", 1e-6, 0.3, "straight round wire: about 1 nH per mm")
HOOKUP_LEAD = Spread("inductance of a hook-up by coax", 10e-9, 0.5, PRACTICE)
CALIBRATED_LEAD = Spread("inductance beyond the calibration plane", 3e-9, 0.7, PRACTICE)
HOOKUP_STRAY = Spread("stray of a hook-up", 4e-12, 0.6, PRACTICE)
SCALAR_RESISTANCE = Spread("source or detector resistance of scalar gear", 1.0, 0.10, PRACTICE)
ANALYSER_RESISTANCE = Spread("port resistance after calibration", 1.0, 0.01, PRACTICE)
LEAK = Spread("direct leak past the unit at 100 MHz, amplitude", 10 ** (-75 / 20), 0.92, f"{BANK}: -70 to -90 dB")
NO_LEAK = Spread("the same, where there is less of it than usual", LEAK.typical, 3.0, f"{PRACTICE}: a screened box")
OFFSET_DB = {"through": 0.10, "calibrated": 0.03, "none": 0.5}

BRIDGE_LEAD = 20e-9


def part_sigma(printed: float | None, default: Spread, *, adjustable: bool) -> float:
    """1 sigma of ln value: a third of the printed tolerance and some ageing, or the measured spread.

    printed : fraction, None where the drawing is silent; an adjustable part is as its last owner left it
    """
    if printed is None or adjustable:
        return default.sigma
    return float(((printed / 3.0) ** 2 + (0.5 * default.sigma) ** 2) ** 0.5)
