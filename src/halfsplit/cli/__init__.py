"""The command line: words in, one job, a record shown. Heavy rooms are imported only when a verb runs."""

import os

# Our matrices are small: on a busy machine the threads of a linear-algebra library only wait for each other.
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

from halfsplit.cli import (  # noqa: E402  (the setting must come before numpy is imported)
    acts,
    coax,
    coil,
    levels,
    papers,
    proof,
    redesign,
    replace,
    spectrum,
    steady,
    stress,
    tuning,
)
from halfsplit.cli.door import main  # noqa: E402

__all__ = [
    "acts",
    "coax",
    "coil",
    "levels",
    "main",
    "papers",
    "proof",
    "redesign",
    "replace",
    "spectrum",
    "steady",
    "stress",
    "tuning",
]
