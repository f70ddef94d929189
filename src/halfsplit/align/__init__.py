"""Alignment: which adjustable parts to move, in which order and by how much, from the sweeps of a filter."""

from halfsplit.align.adjust import Learnt, Sweep, adjustable, alignment, mirror_pairs, stand
from halfsplit.align.belief import Belief, Mode
from halfsplit.align.plan import Aim, Plan, Question, plan
from halfsplit.align.records import Alignment, Fitted, Move, PartNow, Prediction, Requirement, Standing
from halfsplit.align.target import Limit, Plain
from halfsplit.align.words import way

__all__ = [
    "Aim",
    "Alignment",
    "Belief",
    "Fitted",
    "Learnt",
    "Limit",
    "Mode",
    "Move",
    "PartNow",
    "Plain",
    "Plan",
    "Prediction",
    "Question",
    "Requirement",
    "Standing",
    "Sweep",
    "adjustable",
    "alignment",
    "mirror_pairs",
    "plan",
    "stand",
    "way",
]
