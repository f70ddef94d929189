"""The drawing: what the service manual says, as frozen records, and the reader of the unit file."""

from halfsplit.unit.blocks import Measured
from halfsplit.unit.keys import KEYS
from halfsplit.unit.plan import Plan, Side
from halfsplit.unit.reader import check_text, read_unit, read_unit_file
from halfsplit.unit.records import (
    Band,
    Block,
    Branch,
    Coupling,
    Drive,
    Filter,
    Harmonic,
    LevelControl,
    Limits,
    Path,
    Relay,
    Rung,
    Stage,
    Supply,
    Switch,
    Thermal,
    Unit,
)

__all__ = [
    "KEYS",
    "Band",
    "Block",
    "Branch",
    "Coupling",
    "Drive",
    "Filter",
    "Harmonic",
    "LevelControl",
    "Limits",
    "Measured",
    "Path",
    "Plan",
    "Relay",
    "Rung",
    "Side",
    "Stage",
    "Supply",
    "Switch",
    "Thermal",
    "Unit",
    "check_text",
    "read_unit",
    "read_unit_file",
]
