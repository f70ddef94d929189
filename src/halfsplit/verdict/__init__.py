"""Reading against expectation and limits."""

from halfsplit.verdict.judge import by_band, judge
from halfsplit.verdict.records import BandVerdict, Check, Verdict, Word

__all__ = ["BandVerdict", "Check", "Verdict", "Word", "by_band", "judge"]
