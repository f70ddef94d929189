"""Reading against expectation and limits."""

from halfsplit.verdict.emission import (
    FAR,
    EmissionVerdict,
    HarmonicVerdict,
    LineVerdict,
    against,
    against_filter,
    by_manual,
    with_spectra,
)
from halfsplit.verdict.judge import by_band, judge
from halfsplit.verdict.levels import LevelVerdict, judge_levels, with_levels
from halfsplit.verdict.records import BandVerdict, Check, Verdict, Word

__all__ = [
    "FAR",
    "BandVerdict",
    "Check",
    "EmissionVerdict",
    "HarmonicVerdict",
    "LevelVerdict",
    "LineVerdict",
    "Verdict",
    "Word",
    "against",
    "against_filter",
    "by_band",
    "by_manual",
    "judge",
    "judge_levels",
    "with_levels",
    "with_spectra",
]
