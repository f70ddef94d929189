"""AC numerics on arrays: elimination, transfer impedances, exact changes. Imports nothing of ours."""

from halfsplit.network.change import changed, changed_pair, inserted
from halfsplit.network.lines import coax_y, coupled_y, pad_y, s_to_y, y_to_s
from halfsplit.network.plan import GROUND, Plan, plan
from halfsplit.network.solve import Factored, SingularNetwork, factor

__all__ = [
    "GROUND",
    "Factored",
    "Plan",
    "SingularNetwork",
    "changed",
    "changed_pair",
    "coax_y",
    "coupled_y",
    "factor",
    "inserted",
    "pad_y",
    "plan",
    "s_to_y",
    "y_to_s",
]
