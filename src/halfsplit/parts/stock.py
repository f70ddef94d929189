"""What lies in the drawers."""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.parts.records import Kind


@dataclass(frozen=True, slots=True)
class StockPart:
    """One value that is there.

    value : F, H or ohm; tolerance : fraction, None where not known; rating : as printed
    q : quality factor at the frequency of use; count : how many are there, None: as many as wanted
    """

    kind: Kind
    value: float
    tolerance: float | None = None
    rating: str | None = None
    dielectric: str | None = None
    q: float | None = None
    count: int | None = None
    note: str = ""
