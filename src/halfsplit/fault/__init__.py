"""Hypotheses, joint likelihood of all readings, ranking."""

from halfsplit.fault.classes import ClassPosterior, ClassProblem, FaultClass, Levels
from halfsplit.fault.findings import Finding
from halfsplit.fault.rank import Posterior, heeding, rank, ranking_of, weigh
from halfsplit.fault.records import Ask, Blind, Cause, Group, Outside, Ranking, Reply
from halfsplit.fault.spreads import Shape, Spread
from halfsplit.fault.untested import rank_untested
from halfsplit.fault.weights import Weights

__all__ = [
    "Ask",
    "Blind",
    "Cause",
    "ClassPosterior",
    "ClassProblem",
    "FaultClass",
    "Finding",
    "Group",
    "Levels",
    "Outside",
    "Posterior",
    "Ranking",
    "Reply",
    "Shape",
    "Spread",
    "Weights",
    "heeding",
    "rank",
    "rank_untested",
    "ranking_of",
    "weigh",
]
