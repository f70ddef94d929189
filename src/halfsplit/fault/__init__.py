"""Hypotheses, joint likelihood of all readings, ranking."""

from halfsplit.fault.findings import Finding
from halfsplit.fault.rank import Posterior, heeding, rank, ranking_of, weigh
from halfsplit.fault.records import Blind, Cause, Group, Ranking
from halfsplit.fault.weights import Weights

__all__ = [
    "Blind",
    "Cause",
    "Finding",
    "Group",
    "Posterior",
    "Ranking",
    "Weights",
    "heeding",
    "rank",
    "ranking_of",
    "weigh",
]
