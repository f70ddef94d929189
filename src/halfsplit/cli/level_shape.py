"""Levels and power as JSON objects (docs/json.md)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING

from halfsplit.cli.shape import Object, plain_object

if TYPE_CHECKING:
    from halfsplit.jobs.level_intake import LevelAdded
    from halfsplit.jobs.level_plans import BandPower, LevelPlan, PowerPlan


def added(items: Sequence[LevelAdded]) -> Object:
    """halfsplit add, of watts, amps and volts."""
    return plain_object(
        found=[],
        readings=[],
        levels=[
            {
                "key": a.key, "name": a.reading.name, "understood": a.reading.understood, "hookup": a.hookup_text,
                "figures": [
                    {
                        "band": r.band, "shows": r.shows.value, "point": r.point, "value": r.value, "ohm": r.ohm,
                        "probe": r.probe, "load": r.load, "look": r.look, "text": r.text,
                    }
                    for r in a.reading.rows
                ],
            }
            for a in items
        ],
    )  # fmt: skip


def plan(p: LevelPlan) -> Object:
    """halfsplit levels."""
    return plain_object(
        unit=p.unit,
        points=[
            {"band": r.band, "point": r.point, "ohm": r.ohm, "dbm": r.dbm, "volts": r.volts,
             "read": [{"key": k, "dbm": x} for k, x in r.read]}
            for r in p.rows
        ],
        assumed=list(p.assumed),
    )  # fmt: skip


def band_power(b: BandPower) -> Object:
    """One band."""
    out = asdict(b)
    z = out.pop("z")
    return {**out, "presented_ohm": z.real, "presented_reactance": z.imag}


def power(p: PowerPlan) -> Object:
    """halfsplit power."""
    return plain_object(
        unit=p.unit,
        bands=[band_power(b) for b in p.bands],
        best_ohm=p.best_ohm,
        contours=[{"db": c[0], "low_ohm": c[1], "high_ohm": c[2], "reactance": c[3]} for c in p.contour_ohm],
        looks=[asdict(r) for r in p.read],
        with_and_without=list(p.with_and_without),
        most_junction=p.most_junction,
        assumed=list(p.assumed),
    )
