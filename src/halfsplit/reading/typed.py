"""Figures read off a screen and typed by hand."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.errors import Mistake, ReadingError
from halfsplit.quantity import Dimension, QuantityError, db20, gamma_from_swr, number, parse
from halfsplit.reading.answers import FACTOR, Answers
from halfsplit.reading.curve import Real, checked_frequencies, merged, refuse_two_sweeps
from halfsplit.reading.records import Question, Reading, Trace, What
from halfsplit.reading.table_values import assumed_unit, unit_question
from halfsplit.reading.traces import finished, span

_NAME = "typed"
_MOST_ITEMS = 10_000
_MINUS = str.maketrans({"\u2212": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\t": " "})
_FREQUENCY = re.compile(r"([0-9][0-9.,]*|[.,][0-9]+)\s*([kMGmg]?hz\b|[kMG]\b)?", re.I)
_LOSS = re.compile(r"\b(?:down|return loss|insertion loss|loss|attenuation|rl)\b", re.I)
_SWR = re.compile(r"\bv?swr\b", re.I)
_MORE = re.compile(r">=|≥|>|\b(?:at least|better than|more than|greater than|over|min\.?(?=\s))", re.I)
_LESS = re.compile(r"<=|≤|<|\b(?:at most|less than|not above|below|under)\b", re.I)
_SPREAD = re.compile(r"(?:±|\+/-|\+-)\s*([0-9][0-9.,]*)\s*(?:dB)?", re.I)
_VALUE = re.compile(r"[+-]?\s?(?:[0-9][0-9.,]*|[.,][0-9]+)")
_WANTED = "a frequency and a value, such as '7.05 MHz -0.4 dB', '7.05 MHz SWR 1.3' or '14.2 MHz at least 60 dB down'"


@dataclass(frozen=True, slots=True)
class _Figure:
    """f : number as typed; unit : "" where none was typed; db : dB, dBm or ohm; sigma : NaN where not typed."""

    f: float
    unit: str
    db: float
    at_least: bool
    sigma: float
    sign_assumed: bool
    warnings: tuple[str, ...]


def read_typed(
    lines: Sequence[str], what: What, resolution_db: float | None = None, answers: Answers | None = None
) -> Reading:
    """The reading in figures typed by hand, one or several to a line (parted by ";").

    lines : texts; what : the quantity that they show; resolution_db : step of the read-out, dB
    raises ReadingError listing every figure that is not understood, with its line
    """
    answers = answers or Answers()
    figures: list[_Figure] = []
    mistakes: list[Mistake] = []
    items = _items(lines)
    for line, item in items[:_MOST_ITEMS]:
        try:
            figures.append(_figure(item, what, answers))
        except (QuantityError, ValueError) as error:
            mistakes.append(Mistake(_NAME, f"{item[:60]!r}: {error}", _WANTED, line))
    if len(items) > _MOST_ITEMS:
        mistakes.append(Mistake(_NAME, f"{len(items)} figures", f"at most {_MOST_ITEMS}; use a file"))
    if not items:
        mistakes.append(Mistake(_NAME, "nothing was typed", _WANTED))
    if resolution_db is not None and not 0 < resolution_db <= 20:
        mistakes.append(Mistake(_NAME, f"a read-out step of {resolution_db} dB", "a step above 0 and up to 20 dB"))
    known = [np.isfinite(figure.sigma) for figure in figures]
    if any(known) and not all(known):
        mistakes.append(Mistake(_NAME, "± on some figures only", "± on every figure or on none"))
    if mistakes:
        raise ReadingError(*mistakes)
    return _reading(lines, what, resolution_db, answers, figures)


def _items(lines: Sequence[str]) -> list[tuple[int, str]]:
    """Line number and text of each figure; a lone frequency is joined to the value behind its semicolon."""
    out: list[tuple[int, str]] = []
    for count, line in enumerate("\n".join(lines).translate(_MINUS).split("\n"), 1):
        held = ""
        for part in line.replace("\r", "").split(";"):
            text = f"{held} {part.strip()}".strip()
            lone = len(text) <= 200 and _FREQUENCY.fullmatch(text)
            held = text if lone else ""
            if text and not lone:
                out.append((count, text))
        if held:
            out.append((count, held))
    return out


def _figure(item: str, what: What, answers: Answers) -> _Figure:
    if len(item) > 200:
        raise ValueError("more than 200 characters")
    match = _FREQUENCY.match(item)
    if not match:
        raise ValueError("it does not start with a frequency")
    digits, unit = match[1].rstrip(".,"), match[2] or ""
    if unit:
        value = parse(digits + unit, Dimension.FREQUENCY)
        f, warnings, unit = value.value, value.warnings, "Hz"
    else:
        f, warnings = number(digits)
    rest = item[match.end() :].lstrip(" :=,")
    spread = _SPREAD.search(rest)
    sigma = number(spread[1].rstrip(".,"))[0] if spread else float("nan")
    if spread:
        rest = rest[: spread.start()] + rest[spread.end() :]
    if spread and (_SWR.search(rest) or what in (What.IMPEDANCE,)):
        raise ValueError("± is only taken in dB")
    db, at_least, assumed, more = _value(rest, what, answers)
    return _Figure(f, unit, db, at_least, sigma, assumed, warnings + more)


def _value(rest: str, what: What, answers: Answers) -> tuple[float, bool, bool, tuple[str, ...]]:
    """dB (dBm, ohm), whether it is a bound, whether its sign was assumed, warnings."""
    loss, swr = bool(_LOSS.search(rest)), bool(_SWR.search(rest))
    more, less = bool(_MORE.search(rest)), bool(_LESS.search(rest))
    bare = rest
    for pattern in (_LOSS, _SWR, _MORE, _LESS):
        bare = pattern.sub(" ", bare)
    bare = re.sub(r"\b(?:is|of|=)\b|[=:](?!\s*1\b)", " ", bare).strip(" ,")
    ratio = re.fullmatch(r"(?:1\s*:\s*([0-9][0-9.,]*)|([0-9][0-9.,]*)\s*:\s*1)", bare)
    if ratio:
        bare, swr = ratio[1] or ratio[2], True
    if more and less:
        raise ValueError("both 'more' and 'less'")
    match = _VALUE.match(bare)
    if not match:
        raise ValueError("no value behind the frequency")
    spaced = re.match(r"[+-]\s", bare)
    if spaced and what not in _S:
        raise ValueError("a dash with a blank behind it: separator or minus?")
    text = match.group().replace(" ", "").rstrip(".,") + bare[match.end() :]
    if swr:
        return _standing_wave(text, what, more, less)
    if what not in _S:
        return _plain(text, what, more or loss, less)
    return _ratio(text, loss, more, less, answers)


_S = (What.S21, What.S12, What.S11, What.S22)


def _standing_wave(text: str, what: What, more: bool, less: bool) -> tuple[float, bool, bool, tuple[str, ...]]:
    if what not in (What.S11, What.S22):
        raise ValueError(f"a standing wave ratio is no {what.value.upper()}")
    if more:
        raise ValueError("an SWR known only to be above something cannot be used")
    found = parse(text, Dimension.PLAIN)
    gamma = gamma_from_swr(found.value)
    if gamma == 0:
        raise ValueError("an SWR of exactly 1; give what the meter can resolve, such as 'SWR < 1.05'")
    return db20(gamma), less, False, found.warnings


def _plain(text: str, what: What, more: bool, less: bool) -> tuple[float, bool, bool, tuple[str, ...]]:
    """A level or an impedance."""
    if more or (less and what is What.IMPEDANCE):
        raise ValueError("only a level known to be at or below something can be used ('< -60 dBm')")
    found = parse(text, Dimension.LEVEL if what is What.LEVEL else Dimension.RESISTANCE)
    return found.value, less, False, found.warnings


def _ratio(
    text: str, loss: bool, more: bool, less: bool, answers: Answers
) -> tuple[float, bool, bool, tuple[str, ...]]:
    found = parse(text, Dimension.DECIBEL)
    value, warnings = found.value, tuple(w for w in found.warnings if "no unit" not in w)
    assumed = value > 0 and not loss and not more and answers.sign is None
    counts_down = loss or (value > 0 and answers.sign != "as given")
    if counts_down and less and value > 0:
        raise ValueError("a loss known only to be below something cannot be used; give the loss that is shown")
    if more and not counts_down:
        raise ValueError("'at least' with a negative figure; write 'at least 60 dB down' or '< -60 dB'")
    db = -abs(value) if counts_down else value
    return db, more or less, assumed, warnings


def _reading(
    lines: Sequence[str], what: What, resolution_db: float | None, answers: Answers, figures: list[_Figure]
) -> Reading:
    f, asks = _hertz(figures, answers)
    warnings = [w for figure in figures for w in figure.warnings] + checked_frequencies(_NAME, f)
    if any(figure.sign_assumed for figure in figures):
        text = "Figures above 0 dB: is the attenuation given as positive dB (50 is 50 dB down)?"
        asks.append(Question("sign", text, "loss positive"))
    db = np.array([figure.db for figure in figures])
    refuse_two_sweeps(_NAME, f, db)
    stack = np.array([(x.db, float(x.at_least), x.sigma) for x in figures])
    rising, table, notes = merged(f, stack)
    if not set(table[:, 1]) <= {0.0, 1.0}:
        raise ReadingError(Mistake(_NAME, "a figure and an 'at least' at the same frequency", "one of them"))
    bounds = tuple(bool(v) for v in table[:, 1])
    trace = Trace(
        what,
        _floats(rising),
        _floats(table[:, 0]),
        sigma_db=_floats(table[:, 2]) if np.isfinite(table[:, 2]).all() else (),
        at_least=bounds if any(bounds) else (),
        resolution_db=resolution_db,
    )
    trace, more = finished(trace, by_hand=True)
    unit = {What.LEVEL: "dBm", What.IMPEDANCE: "ohm"}.get(what, "dB")
    label = what.value.upper() if what in _S else what.value
    understood = f"{_NAME}: {span(trace.f)}, {label} in {unit}"
    original = "\n".join(lines).encode("utf-8", errors="surrogatepass")
    kept = tuple(w for w in [*warnings, *more, *notes] if "points sorted" not in w)
    return Reading(_NAME, original, (trace,), understood, kept, tuple(asks))


def _hertz(figures: list[_Figure], answers: Answers) -> tuple[Real, list[Question]]:
    bare = np.array([figure.f for figure in figures if not figure.unit])
    if not len(bare):
        return np.array([figure.f for figure in figures]), []
    unit, asks = answers.frequency_unit, list[Question]()
    if unit is None:
        found, sure = assumed_unit(bare)
        asks = [] if sure else [unit_question(found, bare)]
        factor = FACTOR[found]
    else:
        factor = FACTOR[unit]
    return np.array([figure.f * (1.0 if figure.unit else factor) for figure in figures]), asks


def _floats(values: Real) -> tuple[float, ...]:
    return tuple(float(v) for v in values)
