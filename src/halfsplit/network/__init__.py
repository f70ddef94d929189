"""AC numerics on arrays: elimination, transfer impedances, exact changes. Imports nothing of ours."""

from halfsplit.network.change import changed, changed_pair, inserted
from halfsplit.network.lines import coax_along, coax_gamma, coax_y, coupled_y, pad_y, s_to_y, y_to_s
from halfsplit.network.nullor import ActiveFactored, ActivePlan, across, factor_active, plan_active
from halfsplit.network.plan import GROUND, Plan, plan
from halfsplit.network.poles import UnstableNetwork, natural_frequencies, require_stable
from halfsplit.network.solve import Factored, SingularNetwork, factor

__all__ = [
    "GROUND",
    "ActiveFactored",
    "ActivePlan",
    "Factored",
    "Plan",
    "SingularNetwork",
    "UnstableNetwork",
    "across",
    "changed",
    "changed_pair",
    "coax_along",
    "coax_gamma",
    "coax_y",
    "coupled_y",
    "factor",
    "factor_active",
    "inserted",
    "natural_frequencies",
    "pad_y",
    "plan",
    "plan_active",
    "require_stable",
    "s_to_y",
    "y_to_s",
]
