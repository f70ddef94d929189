"""The next test: what to tie where, what each outcome would mean, what it costs and risks."""

from halfsplit.advise.changes import what_changed
from halfsplit.advise.choose import next_tests
from halfsplit.advise.costs import Cost, costs
from halfsplit.advise.exclude import with_tests
from halfsplit.advise.first import first_readings
from halfsplit.advise.information import entropy_bits
from halfsplit.advise.level_first import next_by_levels
from halfsplit.advise.records import Advice, Outcome
from halfsplit.advise.wording import in_a_sentence

__all__ = [
    "Advice",
    "Cost",
    "Outcome",
    "costs",
    "entropy_bits",
    "first_readings",
    "in_a_sentence",
    "next_by_levels",
    "next_tests",
    "what_changed",
    "with_tests",
]
