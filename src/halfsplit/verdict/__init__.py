"""Reading against expectation and limits."""

from halfsplit.verdict.judge import by_band, judge
from halfsplit.verdict.levels import LevelVerdict, judge_levels, with_levels
from halfsplit.verdict.records import BandVerdict, Check, Verdict, Word

__all__ = [
    "BandVerdict",
    "Check",
    "LevelVerdict",
    "Verdict",
    "Word",
    "by_band",
    "judge",
    "judge_levels",
    "with_levels",
]
