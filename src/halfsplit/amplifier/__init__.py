"""Power amplifiers: stages by themselves, the chain of them, heat, and the load that the path presents."""

from halfsplit.amplifier.branched import TERMINALS, with_branches
from halfsplit.amplifier.chain import limited
from halfsplit.amplifier.loadline import Contour, contour, permitted
from halfsplit.amplifier.path import Presented, presented
from halfsplit.amplifier.plan import Chain, Spot, chain_of
from halfsplit.amplifier.stability import (
    Circle,
    delta,
    gamma_in,
    gamma_out,
    k_factor,
    load_circle,
    load_margin,
    maximum_gain_db,
    mu_load,
    mu_source,
    source_circle,
    source_margin,
    turned_margin,
)
from halfsplit.amplifier.transmitter import Look, State, drawn_state, run

__all__ = [
    "TERMINALS",
    "Chain",
    "Circle",
    "Contour",
    "Look",
    "Presented",
    "Spot",
    "State",
    "chain_of",
    "contour",
    "delta",
    "drawn_state",
    "gamma_in",
    "gamma_out",
    "k_factor",
    "limited",
    "load_circle",
    "load_margin",
    "maximum_gain_db",
    "mu_load",
    "mu_source",
    "permitted",
    "presented",
    "run",
    "source_circle",
    "source_margin",
    "turned_margin",
    "with_branches",
]
