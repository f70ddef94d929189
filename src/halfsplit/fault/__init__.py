"""Hypotheses, joint likelihood of all readings, ranking.

Fault classes of circuits that are no signal path stand apart, in `fault.classes` and `fault.spreads`.
"""

from halfsplit.fault.findings import Finding
from halfsplit.fault.level_alone import LevelsAlone, rank_levels
from halfsplit.fault.lives import Work
from halfsplit.fault.mended import as_it_is
from halfsplit.fault.posterior import Posterior
from halfsplit.fault.rank import heeding, rank, ranking_of, weigh, with_levels
from halfsplit.fault.records import Ask, Blind, Cause, Group, Mended, Outside, Ranking, Reply
from halfsplit.fault.untested import rank_untested
from halfsplit.fault.weights import Weights

__all__ = [
    "Ask",
    "Blind",
    "Cause",
    "Finding",
    "Group",
    "LevelsAlone",
    "Mended",
    "Outside",
    "Posterior",
    "Ranking",
    "Reply",
    "Weights",
    "Work",
    "as_it_is",
    "heeding",
    "rank",
    "rank_levels",
    "rank_untested",
    "ranking_of",
    "weigh",
    "with_levels",
]
