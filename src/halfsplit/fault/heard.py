"""A ranking with what was told beside it: causes outside a sound path, reasons, and the question that helps most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from halfsplit.fault.ask import best_question
from halfsplit.fault.hypotheses import Hypothesis
from halfsplit.fault.records import Cause, Outside, Ranking
from halfsplit.fault.told import Account

Real = npt.NDArray[np.float64]

Held = Sequence[tuple[Hypothesis, float]]


def heard(ranking: Ranking, told: Account, held: Held, complaint: str) -> Ranking:
    """The ranking with everything that the answers add to it.

    told : with an empty history where nothing was told; held : (hypothesis, probability) of everything that was weighed
    complaint : where there is none and the path looks sound, nothing is asked
    """
    if told.history:
        ranking = with_answers(ranking, told)
    if not (told.history or complaint or ranking.groups[0].family != "sound"):
        return ranking
    groups = {(c.place, c.mode): g.name for g in ranking.groups for c in g.causes}
    names = [f"outside: {e.place.name}" if e.elsewhere else groups.get((e.place.name, e.place.word), "")
             for e in told.causes.entries]  # fmt: skip
    return replace(ranking, ask=best_question(told.causes, told.history, spread_over(told, held), names))


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
    groups = tuple(replace(g, causes=tuple(with_reasons(c, told) for c in g.causes)) for g in ranking.groups)
    outside = tuple(Outside(*row) for row in told.outside(ranking.sound))
    belief, warnings = ranking.belief, ranking.warnings
    if ranking.groups[0].family == "sound":
        belief += f" Outside it, most likely {outside[0].text} ({100 * outside[0].probability:.0f} %)."
    missing = [b for b in told.history.bad if b in told.causes.unmeasured]
    if missing:
        are = "is" if len(missing) == 1 else "are"
        warnings = (
            *warnings,
            f"{', '.join(missing)} {are} said to be bad and no reading was made there: measure there.",
        )
    said = tuple(words for words, _ in told.items)
    return replace(ranking, groups=groups, outside=outside, told=said, belief=belief, warnings=warnings)


def with_reasons(c: Cause, told: Account) -> Cause:
    """A cause with what was told for and against it."""
    speaks_for, against = told.reasons(c.place, c.mode)
    return replace(c, speaks_for=(*c.speaks_for, *speaks_for), speaks_against=(*c.speaks_against, *against))
