"""What a sound unit would show in this hook-up, and how far it may stray."""

from halfsplit.expect.bench import Bench, Setup, View
from halfsplit.expect.envelope import Expectation, expectation
from halfsplit.expect.observe import Observation, observe

__all__ = ["Bench", "Expectation", "Observation", "Setup", "View", "expectation", "observe"]
