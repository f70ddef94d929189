"""Stress: volts, amps, watts and VA of every part at power, into the worst load."""

from halfsplit.stress.assess import band_stress, ratings_of
from halfsplit.stress.circle import Form, power, reflection, squared, worst
from halfsplit.stress.forms import Path, Sort, Spot, Waves, path_of
from halfsplit.stress.records import Balance, BandStress, Case, Held, Margin, PlaceStress, Signal, Use, Worst

__all__ = [
    "Balance",
    "BandStress",
    "Case",
    "Form",
    "Held",
    "Margin",
    "Path",
    "PlaceStress",
    "Signal",
    "Sort",
    "Spot",
    "Use",
    "Waves",
    "Worst",
    "band_stress",
    "path_of",
    "power",
    "ratings_of",
    "reflection",
    "squared",
    "worst",
]
