"""Hypotheses, joint likelihood of all readings, ranking."""

from halfsplit.fault.rank import Posterior, rank, ranking_of, weigh
from halfsplit.fault.records import Blind, Cause, Group, Ranking
from halfsplit.fault.weights import Weights

__all__ = ["Blind", "Cause", "Group", "Posterior", "Ranking", "Weights", "rank", "ranking_of", "weigh"]
