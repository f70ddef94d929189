"""Are generated ladders recognised? Families, orders 3 to 9, values astray within their tolerance.

A ladder counts as right when the family named first is the one that it was made from, or one that has the very same
ideal values (constant-k of order 3 is Butterworth; a half-wave filter of order 3 is a Chebyshev of 0.16 dB).

Tuning seed 20261101; reporting seed 20261125.

    python -m proving.recognition [--count 500] [--tolerance 0.05] [--seed 20261125] [--misses]
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from collections.abc import Sequence

import numpy as np

from halfsplit.filters import Family, describe
from proving.ladders import Prototype, drawn, of_family, of_none, orders_of, strayed

TUNING, REPORTING = 20261101, 20261125
DRAWN = (
    Family.BUTTERWORTH, Family.CHEBYSHEV, Family.ELLIPTIC, Family.TRAPS, Family.HALF_WAVE, Family.ZOLOTAREV, None,
)  # fmt: skip
SAME = {
    (Family.HALF_WAVE, 3): {Family.HALF_WAVE, Family.CHEBYSHEV},
    (Family.BUTTERWORTH, 3): {Family.BUTTERWORTH, Family.CONSTANT_K},
}


def one(rng: np.random.Generator) -> Prototype:
    """A prototype of a family and an order drawn at random; where a draw cannot be built, the next of that family."""
    family = DRAWN[int(rng.integers(len(DRAWN)))]
    while True:
        order = int(rng.choice(orders_of(family)))
        made = of_none(order, rng) if family is None else of_family(family, order, rng)
        if made is not None:
            return made


def right(said: Family | None, made: Prototype) -> bool:
    """Whether the family named is the true one or its twin."""
    if made.family is None:
        return said is None
    return said in SAME.get((made.family, made.order), {made.family})


def main(argv: Sequence[str] | None = None) -> int:
    """Run the trial and print its table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--tolerance", type=float, default=0.05)
    parser.add_argument("--seed", type=int, default=REPORTING)
    parser.add_argument("--misses", action="store_true", help="print every miss")
    args = parser.parse_args(argv)
    rng = np.random.default_rng(args.seed)
    hits, total, begun = Counter(), Counter(), time.perf_counter()
    spent = 0.0
    for _ in range(args.count):
        made = one(rng)
        hertz, first = float(np.exp(rng.uniform(14.5, 17.2))), str(rng.choice(["shunt", "series"]))
        chosen = strayed(drawn(made, hertz, 50.0, first, bool(rng.random() < 0.1)), args.tolerance, rng)
        start = time.perf_counter()
        facts = describe(chosen)
        spent += time.perf_counter() - start
        said = None if facts.nearest is None else facts.nearest.family
        name = "none" if made.family is None else made.family.value
        total[name] += 1
        hits[name] += right(said, made)
        if args.misses and not right(said, made):
            text = "-" if facts.nearest is None else facts.nearest.text
            rival = "; ".join(o.text for o in facts.others[:1])
            print(f"{name} {made.order} {made.text}: said {text} | {rival}", flush=True)
    for name in total:
        print(f"{name:26s} {hits[name]:4d} of {total[name]:4d}")
    n, h = sum(total.values()), sum(hits.values())
    print(f"all {h} of {n} = {100.0 * h / n:.1f} %; tolerance {100 * args.tolerance:g} %, seed {args.seed}; "
          f"{1e3 * spent / n:.0f} ms for each description, {time.perf_counter() - begun:.0f} s")  # fmt: skip
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
