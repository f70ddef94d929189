"""Stages, drive, supply and level control of the unit file: all that makes power and is not the path."""

from __future__ import annotations

from halfsplit.quantity import Dimension
from halfsplit.unit.blocks import read_stage_branches
from halfsplit.unit.keys import one_of
from halfsplit.unit.records import Drive, LevelControl, Stage, Supply, Thermal, Unit
from halfsplit.unit.table import Table, kind_of

CLASSES = ("A", "AB", "B", "C")


def read_stage(name: str, table: Table) -> Stage:
    """One active stage; gain is one figure for all bands or a table by band."""
    table.only("stage")
    operation = table.text("class", '"A", "AB", "B" or "C"') or ""
    if operation and operation not in CLASSES:
        table.mistake("class", f'"{operation}"', '"A", "AB", "B" or "C"')
    return Stage(
        name=name,
        kind=table.text("kind") or "",
        output_watts=table.quantity("output", Dimension.POWER, "40 W"),
        gain=_gain(table),
        input_ohm=table.quantity("input_impedance", Dimension.RESISTANCE, "50 ohm"),
        output_ohm=table.quantity("output_impedance", Dimension.RESISTANCE, "50 ohm"),
        branches=read_stage_branches(table),
        operation=operation,
        supply_volts=table.quantity("supply", Dimension.VOLTAGE, "48 V"),
        knee_volts=table.quantity("knee", Dimension.VOLTAGE, "1.5 V", sign="not negative"),
        standing_amps=table.quantity("standing_current", Dimension.CURRENT, "0.5 A", sign="not negative"),
        efficiency=_fraction(table, "efficiency", "55 %"),
        optimum_ohm=table.quantity("optimum_load", Dimension.RESISTANCE, "50 ohm"),
        thermal=_thermal(table.table("thermal")),
    )


def _gain(table: Table) -> tuple[tuple[str, float, float | None], ...]:
    """(band or "all", dB, tolerance dB) of a stage."""
    tolerance = table.quantity("gain_tolerance", Dimension.DECIBEL, "2 dB")
    if isinstance(table.data.get("gain"), dict):
        by_band = table.table("gain")
        assert by_band is not None
        read = [(b, by_band.quantity(b, Dimension.DECIBEL, "17 dB", sign="any")) for b in by_band.data]
        return tuple((band, db, tolerance) for band, db in read if db is not None)
    db = table.quantity("gain", Dimension.DECIBEL, "17 dB", sign="any")
    return () if db is None else (("all", db, tolerance),)


def _fraction(table: Table, key: str, example: str) -> float | None:
    """A percentage above zero and below 100 %."""
    value = table.quantity(key, Dimension.FRACTION, example)
    if value is not None and value >= 1.0:
        table.mistake(key, f'"{table.data[key]}"', "less than 100 %")
        return None
    return value


def _thermal(table: Table | None) -> Thermal:
    """Thermal resistances of a stage."""
    if table is None:
        return Thermal()
    table.only("thermal")
    devices = table.data.get("devices", 1)
    if isinstance(devices, bool) or not isinstance(devices, int) or not 1 <= devices <= 64:
        table.mistake("devices", kind_of(devices), "how many devices share the heat, a whole number from 1 to 64")
        devices = 1
    return Thermal(
        junction_case=table.quantity("junction_to_case", Dimension.THERMAL, "0.6 K/W"),
        case_sink=table.quantity("case_to_sink", Dimension.THERMAL, "0.2 K/W"),
        sink_air=table.quantity("sink_to_air", Dimension.THERMAL, "0.8 K/W"),
        devices=devices,
        most_junction=table.quantity("most_junction", Dimension.TEMPERATURE, "200 \u00b0C"),
    )


def read_drive(table: Table | None) -> Drive:
    """What comes before the path, from the exciter to the final stage."""
    if table is None:
        return Drive()
    table.only("drive")
    order = table.texts("order")
    if not order and "order" not in table.data:
        table.missing("order", 'order = ["TP10", "DRIVER", "TP11", "FINAL"]')
    tolerance = table.quantity("tolerance", Dimension.DECIBEL, "1.5 dB")
    if tolerance is not None and "level" not in table.data:
        table.mistake("tolerance", "a tolerance without a level", 'level = "0 dBm" as well')
    return Drive(
        order=order,
        dbm=table.quantity("level", Dimension.LEVEL, "0 dBm", sign="any"),
        tolerance_db=tolerance,
        ohm=table.quantity("impedance", Dimension.RESISTANCE, "50 ohm") or 50.0,
    )


def read_supply(table: Table | None) -> Supply:
    """The supply beyond its voltage, which stands in [unit]."""
    if table is None:
        return Supply()
    table.only("supply")
    return Supply(
        ohm=table.quantity("resistance", Dimension.RESISTANCE, "30 mohm"),
        tolerance=_fraction(table, "tolerance", "5 %"),
        rest_amps=table.quantity("rest_current", Dimension.CURRENT, "1.2 A", sign="not negative"),
    )


def read_level_control(table: Table | None) -> LevelControl | None:
    """The control that holds the output."""
    if table is None:
        return None
    table.only("level_control")
    watts = table.quantity("holds", Dimension.POWER, "40 W")
    if "holds" not in table.data:
        table.missing("holds", 'holds = "40 W"')
    return None if watts is None else LevelControl(watts, _fraction(table, "tolerance", "5 %"))


def check_drive(unit: Unit, table: Table | None) -> None:
    """Names in the order are stages, or points with a name of their own."""
    if table is None:
        return
    drive = unit.drive
    taken = (*unit.path.order, *(r.name for r in unit.relays), *(f.name for f in unit.filters))
    names = tuple(s.name for s in unit.stages)
    for index, name in enumerate(drive.order):
        at = (*table.at, "order", index)
        if name in drive.order[:index]:
            table.findings.mistake(at, f'"{name}" stands twice', "every name once")
        elif name not in names and name in taken:
            table.findings.mistake(at, f'"{name}" has another place', "a stage, or a point with a name of its own")
    if drive.order and not set(names) & set(drive.order):
        expected = one_of(drive.order[-1], names, "stages")
        table.findings.mistake((*table.at, "order"), "no stage in the order", expected)
