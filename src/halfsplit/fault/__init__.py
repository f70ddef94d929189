"""Hypotheses, joint likelihood of all readings, ranking."""

from halfsplit.fault.rank import Posterior, rank, ranking_of, weigh
from halfsplit.fault.records import Ask, Blind, Cause, Group, Outside, Ranking, Reply
from halfsplit.fault.untested import rank_untested
from halfsplit.fault.weights import Weights

__all__ = [
    "Ask",
    "Blind",
    "Cause",
    "Group",
    "Outside",
    "Posterior",
    "Ranking",
    "Reply",
    "Weights",
    "rank",
    "rank_untested",
    "ranking_of",
    "weigh",
]
