"""The amplifier: what a stage does by itself and with what it is loaded."""

from halfsplit.amplifier.branched import TERMINALS, with_branches
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

__all__ = [
    "TERMINALS",
    "Circle",
    "delta",
    "gamma_in",
    "gamma_out",
    "k_factor",
    "load_circle",
    "load_margin",
    "maximum_gain_db",
    "mu_load",
    "mu_source",
    "source_circle",
    "source_margin",
    "turned_margin",
    "with_branches",
]
