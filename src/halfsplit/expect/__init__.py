"""What a sound unit would show in this hook-up, and how far it may stray."""

from halfsplit.expect.bench import Bench, Setup, View
from halfsplit.expect.envelope import Expectation, drawn, expectation
from halfsplit.expect.fit import Departure, Fit, fit_sound
from halfsplit.expect.level_rows import LevelSet
from halfsplit.expect.observe import AS_IT_CAME, Observation, Renewal, State, observe

__all__ = [
    "AS_IT_CAME",
    "Bench",
    "Departure",
    "Expectation",
    "Fit",
    "LevelSet",
    "Observation",
    "Renewal",
    "Setup",
    "State",
    "View",
    "drawn",
    "expectation",
    "fit_sound",
    "observe",
]
