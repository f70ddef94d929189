"""Hypotheses, joint likelihood of all readings, ranking."""

from halfsplit.fault.classes import ClassPosterior, ClassProblem, FaultClass, Levels
from halfsplit.fault.rank import Posterior, rank, ranking_of, weigh
from halfsplit.fault.records import Blind, Cause, Group, Ranking
from halfsplit.fault.spreads import Shape, Spread
from halfsplit.fault.weights import Weights

__all__ = [
    "Blind",
    "Cause",
    "ClassPosterior",
    "ClassProblem",
    "FaultClass",
    "Group",
    "Levels",
    "Posterior",
    "Ranking",
    "Shape",
    "Spread",
    "Weights",
    "rank",
    "ranking_of",
    "weigh",
]
