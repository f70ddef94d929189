"""A ranking with what was told beside it: causes outside a sound path, reasons, and the question that helps most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from halfsplit.fault.answers import ANY, Elsewhere
from halfsplit.fault.ask import best_question
from halfsplit.fault.hypotheses import Hypothesis
from halfsplit.fault.records import Cause, Outside, Ranking
from halfsplit.fault.told import Account

Real = npt.NDArray[np.float64]

Held = Sequence[tuple[Hypothesis, float]]


def heard(ranking: Ranking, told: Account, held: Held) -> Ranking:
    """The ranking with everything that the answers add to it.

    told : with an empty history where nothing was told; held : (hypothesis, probability) of everything that was weighed
    """
    if told.history:
        ranking = with_answers(ranking, told)
    groups = {(c.place, c.mode): g.name for g in ranking.groups for c in g.causes}
    names = [label_of(e.elsewhere) if e.elsewhere else groups.get((e.place.name, e.place.word), "")
             for e in told.causes.entries]  # fmt: skip
    return replace(ranking, ask=best_question(told.causes, told.history, spread_over(told, held), names))


def label_of(x: Elsewhere) -> str:
    """What to call a cause outside the path in a line."""
    return f"path on {x.name}, not measured" if x.kind == ANY else f"elsewhere: {x.name}"


def spread_over(told: Account, held: Held) -> Real:
    """(n,) probability of every cause, from that of the hypotheses."""
    by_key = {h.key: p for h, p in held}
    weight = np.array([e.prior for e in told.causes.entries]) * told.ratio
    whole: dict[str, float] = {}
    for e, w in zip(told.causes.entries, weight, strict=True):
        whole[e.key] = whole.get(e.key, 0.0) + float(w)
    return np.array(
        [by_key.get(e.key, 0.0) * w / whole[e.key] for e, w in zip(told.causes.entries, weight, strict=True)]
    )


def with_answers(ranking: Ranking, told: Account) -> Ranking:
    """What was told put beside the causes, and the sound share split over the causes outside the path."""
    groups = ranking.groups
    if ranking.readings:  # beside what the readings say for each cause; alone, it stands once for all of them
        groups = tuple(replace(g, causes=tuple(with_reasons(c, told) for c in g.causes)) for g in groups)
    outside = tuple(Outside(*row) for row in told.outside(ranking.sound))
    belief, warnings = ranking.belief, ranking.warnings
    if ranking.groups[0].family == "sound":
        belief += f" Elsewhere, most likely {outside[0].text} ({100 * outside[0].probability:.0f} %)."
    bad = [b for b in told.causes.names if b in told.history.bad]
    if bad and all(b in told.causes.unmeasured for b in bad):
        warnings = (*warnings, f"No reading was made where it is said to be wrong ({', '.join(bad)}): measure there.")
    for band, why in told.causes.refused.items():
        if band in (*told.history.bad, *told.history.good):
            warnings = (*warnings, f"What was told of {band} does not weigh: {why}.")
    said = tuple(words for words, _ in told.items)
    return replace(ranking, groups=groups, outside=outside, told=said, belief=belief, warnings=warnings)


def with_reasons(c: Cause, told: Account) -> Cause:
    """A cause with what was told for and against it."""
    speaks_for, against = told.reasons(c.place, c.mode)
    return replace(c, speaks_for=(*c.speaks_for, *speaks_for), speaks_against=(*c.speaks_against, *against))
