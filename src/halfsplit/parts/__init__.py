"""Part, loss, ways to fail, preferred values, sourced tables."""

from halfsplit.parts.preferred import TOLERANCES, nearest, series
from halfsplit.parts.ratings import Rating, read_rating
from halfsplit.parts.records import Cable, Kind, Part
from halfsplit.parts.stock import StockPart
from halfsplit.parts.tables import (
    CableType,
    Core,
    Dielectric,
    FailureRow,
    cable_names,
    cable_type,
    core,
    core_names,
    dielectrics,
    failure_weights,
)

__all__ = [
    "TOLERANCES",
    "Cable",
    "CableType",
    "Core",
    "Dielectric",
    "FailureRow",
    "Kind",
    "Part",
    "Rating",
    "StockPart",
    "cable_names",
    "cable_type",
    "core",
    "core_names",
    "dielectrics",
    "failure_weights",
    "nearest",
    "read_rating",
    "series",
]
