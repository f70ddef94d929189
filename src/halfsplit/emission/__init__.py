"""Emission: the lines of a spectrum, what they are, what a filter leaves of them, and the limits to be kept."""

from halfsplit.emission.foreseen import SAME_UNIT_DB, Foreseen, Raw, foreseen, usual_raw
from halfsplit.emission.foreseen import SIGMA_DB as FILTER_SIGMA_DB
from halfsplit.emission.leveltest import level_tested
from halfsplit.emission.naming import name_lines
from halfsplit.emission.profiles import (
    DECIDES,
    Asked,
    Profile,
    Rule,
    Term,
    asked,
    covered,
    profile,
    profiles,
    reference_bandwidth,
)
from halfsplit.emission.records import Kind, Line, Name, Named, NamedSpectrum, Signal, Spectrum
from halfsplit.emission.tap import AXIS, SIGMA_DB, Tap, spectrum_of
from halfsplit.emission.words import MEANS

__all__ = [
    "AXIS",
    "DECIDES",
    "FILTER_SIGMA_DB",
    "MEANS",
    "SAME_UNIT_DB",
    "SIGMA_DB",
    "Asked",
    "Foreseen",
    "Kind",
    "Line",
    "Name",
    "Named",
    "NamedSpectrum",
    "Profile",
    "Raw",
    "Rule",
    "Signal",
    "Spectrum",
    "Tap",
    "Term",
    "asked",
    "covered",
    "foreseen",
    "level_tested",
    "name_lines",
    "profile",
    "profiles",
    "reference_bandwidth",
    "spectrum_of",
    "usual_raw",
]
