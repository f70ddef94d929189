"""What the readings cannot exclude: the smallest fault of each place that would have shown."""

from __future__ import annotations

import numpy as np

from halfsplit.circuit import How
from halfsplit.expect.fit import linear_start
from halfsplit.fault import words
from halfsplit.fault.curves import screened
from halfsplit.fault.hypotheses import Hypothesis
from halfsplit.fault.records import Blind
from halfsplit.fault.search import Search

DROP = 3.0
WANTED = (How.VALUE, How.OHM, How.HENRY)


def blind_spots(search: Search) -> tuple[Blind, ...]:
    """For every part and joint the smallest size that would have lowered the likelihood by e^3, nuisances refitted."""
    groups: dict[tuple[int, ...], list[Hypothesis]] = {}
    for h in search.hypotheses:
        if h.change is not None and h.family == "fault" and h.change.how in WANTED:
            groups.setdefault(search.touched(h), []).append(h)
    out = []
    for touched, members in groups.items():
        rest = search.rest(touched).about(search.theta0[search.rest(touched).keys])
        base = search.base_curves(touched, search.theta0)
        sound, j = search.slopes(touched, rest.keys, search.theta0)
        _, gain0 = linear_start(rest, sound[None], j)
        floor = float(gain0[0]) - 0.5 * float((sound**2).sum())
        for h in members:
            s = np.linspace(0.0, 4.0, 33) if h.change is not None and h.change.how is How.VALUE else grid(h)
            s = -s if np.isfinite(h.high) else s
            r = np.concatenate([screened(setup, w, h, s, search.theta0) for setup, w in base], axis=1)
            _, gain = linear_start(rest, r, j)
            drop = floor - (gain - 0.5 * (r**2).sum(1))
            seen = np.flatnonzero(drop > DROP)
            size = None if not len(seen) else float(np.exp(h.middle + h.width * s[seen[0]]))
            text = words.blind_text(h, size)
            out.append(Blind(h.places[0].name, h.places[0].word, text, size is not None, h.key, size))
    return tuple(out)


def grid(h: Hypothesis) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Sizes from far below to far above the prior's middle, in prior units."""
    return np.linspace((h.low - h.middle) / h.width - 2.0, 3.0, 33)
