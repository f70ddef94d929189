"""How far honest meters and sound stages stray: 1 sigma of every nuisance of watts, amps and volts.

source: common practice on a small bench, estimates of the authors, where a row names nothing else
"""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.reading import Shows


@dataclass(frozen=True, slots=True)
class Meter:
    """One kind of figure.

    scale : 1 sigma that all its figures share; own : of each one; dB (20 log10, watts 10 log10)
    """

    shows: Shows
    scale: float
    own: float
    source: str


METERS = {
    m.shows: m
    for m in (
        Meter(Shows.POWER, 0.22, 0.15, "wattmeters state 5 to 10 % of full scale as their limit: 5 % as 1 sigma"),
        Meter(Shows.REFLECTED, 0.22, 1.0, "directivity of a bench bridge, common practice"),
        Meter(Shows.RF_VOLTS, 0.5, 0.4, "diode and oscilloscope probes, common practice: 6 % and loading"),
        Meter(Shows.SUPPLY_VOLTS, 0.04, 0.04, "hand-held multimeters state 0.5 %"),
        Meter(Shows.SUPPLY_AMPS, 0.17, 0.15, "panel ammeters and shunts, common practice: 2 %"),
        Meter(Shows.STANDING_AMPS, 0.17, 0.3, "as supply amps; it drifts as the stage warms"),
        Meter(Shows.TEMPERATURE, 0.0, 3.0, "K; thermocouple pressed on a flange, common practice"),
    )
}
MODEL_DB = {Shows.POWER: 0.2, Shows.RF_VOLTS: 0.5, Shows.SUPPLY_AMPS: 0.25, Shows.STANDING_AMPS: 0.5}
"""What the model of the stages itself leaves open, dB."""
DIRECTIVITY = 1e-3
"""Reflected over forward power that a bridge shows with a perfect load (30 dB). source: common practice"""
MOMENT_DB = 0.12
"""What the drive differs by from one look to the next, dB."""
SHARED_GAIN, BAND_GAIN = 0.75, 0.66
"""Shares of a gain's spread that all bands have in common, and that each band has alone (in squares they make 1)."""
MOST_DB, FINAL_MOST_DB, BAND_MOST_DB = 0.5, 0.35, 0.2
SUPPLY_OHM_LN, REST_LN, REST_LN_STATED = 0.4, 0.6, 0.2
STANDING_LN, STANDING_LN_STATED = 0.5, 0.12
EFFICIENCY_LN, EFFICIENCY_LN_STATED, EFFICIENCY_BAND_LN = 0.12, 0.06, 0.05
BEST_LN, SOURCE_LN, SOURCE_X = 0.12, 0.5, 0.4
DUMMY_GAMMA, ANTENNA_GAMMA = 0.02, 0.12
"""|Gamma| of a dummy load (SWR 1.05) and of an antenna that is in order (SWR 1.3), each quadrature."""
COMPOUND_LN = 0.25
SINK_K = 12.0
"""What a heat sink's temperature differs by from the drawn one: it is seldom settled, K."""
AIR = 295.0
