"""Filters: prototypes of the classic families, and what a filter of the drawing is and should do."""

from halfsplit.filters.describe import describe
from halfsplit.filters.prototypes import (
    butterworth_db,
    butterworth_g,
    capacitor_value,
    chebyshev_db,
    chebyshev_g,
    chebyshev_load,
    coil_value,
    constant_k_g,
    dissipation_db,
    elliptic_stop_db,
    elliptic_zeros,
    half_wave_g,
    half_wave_image_db,
)
from halfsplit.filters.records import (
    Family,
    FamilyFit,
    FilterFacts,
    Harmonic,
    Hump,
    Notch,
    PartFit,
    Pass,
    Served,
    Suspicion,
)
from halfsplit.filters.synthesis import Ladder, elliptic_ladder, equal_ripple_zeros, ladder_from_zeros
from halfsplit.filters.words import facts_lines

__all__ = [
    "Family",
    "FamilyFit",
    "FilterFacts",
    "Harmonic",
    "Hump",
    "Ladder",
    "Notch",
    "PartFit",
    "Pass",
    "Served",
    "Suspicion",
    "butterworth_db",
    "butterworth_g",
    "capacitor_value",
    "chebyshev_db",
    "chebyshev_g",
    "chebyshev_load",
    "coil_value",
    "constant_k_g",
    "describe",
    "dissipation_db",
    "elliptic_ladder",
    "elliptic_stop_db",
    "elliptic_zeros",
    "equal_ripple_zeros",
    "facts_lines",
    "half_wave_g",
    "half_wave_image_db",
    "ladder_from_zeros",
]
