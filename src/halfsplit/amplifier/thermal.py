"""Heat on its way from the junction to the air. source: T_j = T + R_th P, as every data sheet defines R_th."""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.unit import Thermal


@dataclass(frozen=True, slots=True)
class Warmth:
    """Temperatures, K; None where a thermal resistance on the way is not stated."""

    sink: float | None
    case: float | None
    junction: float | None


def heat(dc_watts: float, rf_watts: float, drive_watts: float = 0.0) -> float:
    """Heat of a stage, W. raises ValueError where more goes out than comes in."""
    lost = dc_watts + drive_watts - rf_watts
    if lost < 0.0:
        raise ValueError(f"{rf_watts:g} W out of {dc_watts + drive_watts:g} W in: more goes out than comes in")
    return lost


def warmth(thermal: Thermal, watts: float, air: float, sink: float | None = None) -> Warmth:
    """Temperatures of a stage that makes heat.

    watts : W of heat, all devices together; air : K; sink : K where the heat sink was measured
    """
    if sink is None and thermal.sink_air is not None:
        sink = air + thermal.sink_air * watts
    each = watts / thermal.devices
    case = None if sink is None or thermal.case_sink is None else sink + thermal.case_sink * each
    junction = None if case is None or thermal.junction_case is None else case + thermal.junction_case * each
    return Warmth(sink, case, junction)


def junction_over_case(junction_case: float, watts: float, case: float) -> float:
    """Junction temperature, K, of one device. junction_case : K/W; watts : W of heat; case : K"""
    return case + junction_case * watts


def most_heat(junction_case: float, most_junction: float, case: float) -> float:
    """Most heat of one device, W, that keeps its junction within its limit; zero where the case is hotter than that."""
    return max(most_junction - case, 0.0) / junction_case
