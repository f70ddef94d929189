"""The ranking in the trade's words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfsplit.circuit import How
from halfsplit.circuit.elements import Core, Element
from halfsplit.expect.residual import tempered
from halfsplit.fault.hypotheses import Hypothesis, Place, designator
from halfsplit.fault.records import Cause, Group
from halfsplit.fault.search import Search, predicted
from halfsplit.fault.standing import Fit
from halfsplit.quantity import Dimension, format_value

UNITS = {Core.CAPACITOR: Dimension.CAPACITANCE, Core.COIL: Dimension.INDUCTANCE, Core.RESISTOR: Dimension.RESISTANCE}
TWO_AT_ONCE = "both faults at once explain these readings; neither does alone"
BY_HOW = {
    How.OHM: Dimension.RESISTANCE,
    How.LEAK: Dimension.RESISTANCE,
    How.PAST: Dimension.RESISTANCE,
    How.HENRY: Dimension.INDUCTANCE,
    How.STRAY: Dimension.CAPACITANCE,
}


def element_of(search: Search, place: str) -> Element | None:
    """The element of that name in any scene of the job."""
    for setup in search.setups:
        for element in setup.scene.elements:
            if element.place == place and element.is_part:
                return element
    return None


def size_of(search: Search, fit: Fit) -> tuple[float | None, str]:
    """Size of a fault and its text with the central 68 %."""
    h = fit.hypothesis
    if not h.sized or h.change is None or h.change.how is How.OPEN:
        return None, ""
    half = h.width * min(fit.spread_s, 3.0)
    size = float(np.exp(fit.ln_size))
    low, high = size * float(np.exp(-half)), size * float(np.exp(half))
    how = h.change.how
    if how in BY_HOW:
        unit = BY_HOW[how]
        return size, f"{format_value(size, unit)} ({format_value(low, unit)} to {format_value(high, unit)})"
    element = element_of(search, h.change.place)
    if how is How.VALUE and element is not None:
        unit = UNITS[element.core]
        now, a, b = (format_value(element.value * x, unit) for x in (size, low, high))
        return size, f"{now} ({a} to {b}) instead of {format_value(element.value, unit)}"
    if how is How.TURN:
        return size, f"{100 * min(size, 0.9):.0f} % of the inductance lost"
    if how is How.LINE_LOSS:
        return size, f"{size:.1f} dB more at 10 MHz"
    return size, f"{size:.2f} times the stated one"


def sentence(search: Search, fit: Fit, place: Place) -> str:
    """One cause in one line."""
    text = f"{place.name}: {place.word}"
    _, size = size_of(search, fit)
    if size:
        text += f", {size}"
    if place.word in ("value high", "value low"):
        text += " (or the drawing is wrong there, or a former owner changed it)"
    return text


def group_name(causes: Sequence[Cause]) -> str:
    """Short name of a group: its designators, the most probable first."""
    if causes[0].family == "sound":
        return "sound as far as measured"
    names: list[str] = []
    for c in causes:
        label = f"{designator(c.place)} {c.mode}" if len(causes) == 1 else designator(c.place)
        if label not in names:
            names.append(label)
    if len(names) == 1:
        return names[0]
    shown = names[:3]
    more = len(names) - len(shown)
    return " or ".join(shown) + (f" or {more} more" if more else "")


def why_together(causes: Sequence[Cause]) -> str:
    """Why a group is one."""
    names = {designator(c.place) for c in causes}
    if len(causes) == 1:
        return ""
    if len(names) == 1:
        return "same place, and these readings look the same for every way of failing listed"
    return "these readings look the same, within their uncertainty, for each of them"


def view_gains(search: Search, fit: Fit) -> list[tuple[str, float, float]]:
    """(label, misfit per point of the sound unit, misfit per point of this explanation) of every view touched."""
    out = []
    for i, setup in enumerate(search.setups):
        first = 0
        mine, sound = predicted(search, fit, i), search.sound.predicted[i]
        for view in setup.views:
            part = slice(first, first + view.size)
            first += view.size
            pair = []
            for values in (sound[part], mine[part]):
                gap = view.value - values
                gap = np.where(view.at_least & (gap > 0), 0.0, gap)
                pair.append(float((tempered(view.white @ gap)[0] ** 2).sum()))
            out.append((view.observation.label, pair[0], pair[1]))
    return out


def reasons(search: Search, fit: Fit) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What speaks for an explanation, and what against it, against a sound unit.

    Nothing for the unlisted cause: it is what remains, and it predicts no curve of its own
    """
    if fit.hypothesis.family == "unlisted":
        return (), ()
    speaks_for, against = [], []
    for label, sound, mine in view_gains(search, fit):
        if sound - mine > 4.0:
            speaks_for.append(f"{label}: misfit falls from {sound:.0f} to {mine:.0f}")
        elif mine - sound > 4.0:
            against.append(f"{label}: misfit rises from {sound:.0f} to {mine:.0f}")
    drop = search.sound.strain - fit.strain
    if drop > 4.0:
        speaks_for.append(
            f"no other part has to be far from its drawn value (strain {search.sound.strain:.0f} to {fit.strain:.0f})"
        )
    for k in np.argsort(-np.abs(fit.theta))[:2]:
        key = search.bench.keys[fit.keys[k]].partition(" [")[0]
        if abs(fit.theta[k]) > 2.5 and not key.startswith("model error"):
            against.append(f"it also needs {key} {abs(fit.theta[k]):.1f} sigma off")
    h = fit.hypothesis
    at_edge = (np.isfinite(h.low) and fit.ln_size < h.low + 0.02) or (
        np.isfinite(h.high) and fit.ln_size > h.high - 0.02
    )
    if h.sized and at_edge:
        against.append("only just large enough to count as a fault")
    return tuple(speaks_for), tuple(against)


def blind_text(h: Hypothesis, size: float | None) -> str:
    """One line on what would not have shown."""
    place, word = h.places[0].name, h.places[0].word
    if size is None:
        return f"{place}: no {word} of any size would have shown"
    assert h.change is not None
    if h.change.how is How.VALUE:
        percent = 100.0 * (size - 1.0)
        return (
            f"{place}: a value {abs(percent):.0f} % {'high' if percent > 0 else 'low'} would have shown, less would not"
        )
    return f"{place}: {word} from {format_value(size, BY_HOW[h.change.how])} would have shown, less would not"


def warnings_of(search: Search, sound: float, not_listed: float) -> tuple[str, ...]:
    """Sentences about the ranking as a whole."""
    out = []
    if not_listed > 0.3:
        out.append("No listed fault explains these readings well: look for something that is not on the list.")
    if sound > 0.5:
        out.append(
            "These readings are what a sound unit shows: the cause of the complaint, if there is one, "
            "is not in the path that was measured, or too small to show."
        )
    n = sum(s.size for s in search.setups if not s.baseline)
    if n < 6:
        out.append("Only a handful of points: the ranking leans on what usually fails.")
    return tuple(out)


def belief(groups: Sequence[Group], complaint: str) -> str:
    """What the tool now believes, in one sentence."""
    first = groups[0]
    percent = ">99 %" if first.probability > 0.99 else f"{100 * first.probability:.0f} %"
    tail = f" (complaint: {complaint})" if complaint else ""
    if first.probability < 0.5 and len(groups) > 1:
        said = [f"{100 * g.probability:.0f} % for {g.name}" for g in groups[:2]]
        return f"Not settled yet: {said[0]}, {said[1]}{tail}."
    if first.family == "sound":
        return f"The measured path is sound as far as these readings can tell, {percent}{tail}."
    if first.family == "unlisted":
        return f"Nothing on the list explains these readings, {percent}{tail}."
    return f"Most likely {first.name}, {percent}{tail}."
