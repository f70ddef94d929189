"""The drawing: what the service manual says, as frozen records."""

from halfsplit.unit.records import (
    Band,
    Block,
    Branch,
    Coupling,
    Filter,
    Harmonic,
    Limits,
    Path,
    Relay,
    Rung,
    Stage,
    Switch,
    Unit,
)

__all__ = [
    "Band",
    "Block",
    "Branch",
    "Coupling",
    "Filter",
    "Harmonic",
    "Limits",
    "Path",
    "Relay",
    "Rung",
    "Stage",
    "Switch",
    "Unit",
]
