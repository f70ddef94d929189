"""From text to a quantity, knowing what the field measures. What is not understood is refused."""

from __future__ import annotations

import math
import re
from decimal import Decimal

from halfsplit.quantity.numerals import NUMERAL, number, tidy
from halfsplit.quantity.records import Dimension, QuantityError, Value
from halfsplit.quantity.units import WORDS, Words

_ABSOLUTE_ZERO = -273.15
_TOLERANCE_LETTERS = {"F": "1 %", "G": "2 %", "J": "5 %", "K": "10 %", "M": "20 %"}  # IEC 60062:2016 clause 6
_RANGE = re.compile(
    r"[+-]?[0-9][0-9.,]*?\s*(?:(?![eE][+-]?[0-9])[A-Za-zΩ%]*?)\s*(?:-|\u2013|\.\.\.?|\u2026|\bto\b|\bbis\b)\s*[0-9]"
)
_MAX_TEXT = 200


def parse(text: str, dimension: Dimension, *, bare: str = "") -> Value:
    """The value that `text` writes in a field of the given dimension.

    bare : unit word for a number without a unit, where the caller knows it (a column headed "MHz")
    returns Value, its float in the unit that `Dimension` states
    raises QuantityError for anything that is not exactly one such quantity
    """
    value, rest = parse_front(text, dimension, bare=bare)
    if rest:
        raise refusal(text, dimension, f"nothing is known about {rest!r} behind the value")
    return value


def parse_front(text: str, dimension: Dimension, *, bare: str = "") -> tuple[Value, str]:
    """The value at the front of `text`, and what stands behind it ("" where nothing does).

    raises QuantityError where no value stands at the front
    """
    words = WORDS[dimension]
    clean = _checked(text, dimension)
    coded = _rkm(clean, words)
    if coded is not None:
        amount, rest, remark = coded
        return _value(amount, dimension, text, (), remark), rest
    match = NUMERAL.match(clean)
    if not match:
        raise refusal(text, dimension, "it does not start with a number")
    digits, rest = match.group(), clean[match.end() :]
    if digits[-1] in ".," and rest:
        raise refusal(text, dimension, f"{digits!r} is no number")
    try:
        amount, warnings = number(digits)
    except ValueError as error:
        raise refusal(text, dimension, str(error)) from None
    _refuse_split_code(digits, rest, text, dimension)
    return _with_unit(amount, warnings, rest, text, dimension, bare)


def refusal(text: str, dimension: Dimension, why: str) -> QuantityError:
    """The error for a text that a field of this dimension does not take."""
    words = WORDS[dimension]
    shown = text if len(text) <= 60 else text[:57] + "..."
    return QuantityError(f"found {shown!r}: {why}", words.expected, words.example)


def _checked(text: str, dimension: Dimension) -> str:
    clean = tidy(text).replace("\u00d7", "x")
    if not clean:
        raise refusal(text, dimension, "nothing is written")
    if len(clean) > _MAX_TEXT or "\n" in clean:
        raise refusal(text, dimension, f"more than one line or over {_MAX_TEXT} characters")
    if _RANGE.match(clean):
        raise refusal(text, dimension, "a range, where one value is needed")
    return clean


def _rkm(clean: str, words: Words) -> tuple[float, str, str] | None:
    """Letter-and-digit code (4n7, R47, 2k2J) -> value, rest, remark; None where it is no such code."""
    if not words.letters:
        return None
    match = re.match(r"([0-9]{0,4})([A-Za-z])([0-9]{1,4})([A-Za-zΩ]*)(?=$|[\s,;])", clean)
    if not match or match[2] not in words.letters:
        return None
    tail, remark = match[4], ""
    if tail and tail not in _base_words(words):
        if tail not in _TOLERANCE_LETTERS:
            return None
        remark = f"tolerance letter {tail}: {_TOLERANCE_LETTERS[tail]}"
    amount = _scaled(float(f"{match[1] or 0}.{match[3]}"), words.letters[match[2]])
    return amount, clean[match.end() :].strip(" ,;"), remark


def _base_words(words: Words) -> tuple[str, ...]:
    return (words.out, "Ω", "ohms") if words.out == "ohm" else (words.out,)


def _refuse_split_code(digits: str, rest: str, text: str, dimension: Dimension) -> None:
    """Digits, a letter, digits: a code that this field does not know, or an old one with two meanings."""
    if dimension is Dimension.RESISTANCE and re.fullmatch(r"[0-9]+E[0-9]+", digits) and not rest:
        raise refusal(text, dimension, "'E' may be the decimal mark of an old code or a power of ten")
    if re.match(r"[A-Za-z][0-9]", rest):
        raise refusal(text, dimension, f"{rest[0]!r} between digits is no decimal mark of this quantity")


def _with_unit(
    amount: float, warnings: tuple[str, ...], rest: str, text: str, dimension: Dimension, bare: str
) -> tuple[Value, str]:
    words = WORDS[dimension]
    word, behind = _unit_word(rest, words)
    if word == "":
        return _without_unit(amount, warnings, behind, text, dimension, bare)
    if word in words.exact:
        factor = words.exact[word]
    elif word in words.slips:
        factor = words.slips[word]
        warnings = (*warnings, f"{text.strip()!r}: {word!r} read as {_spelled(factor, words)!r}")
    else:
        cross = _level_and_power(amount, word, dimension)
        if cross is None:
            raise refusal(text, dimension, f"{word!r} is no unit of {dimension.value}")
        return _value(cross, dimension, text, warnings), behind
    if dimension is Dimension.TEMPERATURE:
        return _value(_kelvin(amount, word), dimension, text, warnings), behind
    return _value(_scaled(amount, factor), dimension, text, warnings), behind


def _scaled(amount: float, factor: float) -> float:
    """amount * factor, rounded once where the factor is a power of ten: 4.7 n is 4.7e-9 to the last bit."""
    power = round(math.log10(factor))
    if float(f"1e{power}") == factor:
        return float(Decimal(repr(amount)).scaleb(power))
    return amount * factor


def _unit_word(rest: str, words: Words) -> tuple[str, str]:
    """The unit word at the front of `rest`, the longest that is known, and what stands behind it."""
    rest = rest.strip()
    known = sorted({*words.exact, *words.slips}, key=len, reverse=True)
    for word in known:
        after = rest[len(word) :]
        if word and rest.startswith(word) and not (after[:1].isalnum() or after[:1] in "%°/\u2032"):
            return word, after.strip(" ,;")
    match = re.match(r"[^\s0-9,;+()-][^\s,;]*", rest)
    return (match.group(), rest[match.end() :].strip(" ,;")) if match else ("", rest.strip(" ,;"))


def _without_unit(
    amount: float, warnings: tuple[str, ...], behind: str, text: str, dimension: Dimension, bare: str
) -> tuple[Value, str]:
    words = WORDS[dimension]
    if bare:
        factor = words.exact[bare]
        return _value(_scaled(amount, factor), dimension, text, warnings), behind
    if dimension is Dimension.PLAIN:
        return _value(amount, dimension, text, warnings), behind
    if dimension is Dimension.FRACTION and 0 <= amount <= 1:
        note = f"{text.strip()!r}: no % sign, read as the fraction {amount:g} ({100 * amount:g} %)"
        return _value(amount, dimension, text, (*warnings, note)), behind
    if not words.bare:
        shown = f"{amount:.6g} {words.suggest}"
        raise refusal(text, dimension, f"the unit is missing (write {shown!r} if that is meant)")
    if not words.bare_quiet:
        warnings = (*warnings, f"{text.strip()!r}: no unit, read as {words.bare}")
    return _value(_scaled(amount, words.exact[words.bare]), dimension, text, warnings), behind


def _spelled(factor: float, words: Words) -> str:
    """The exact unit word for a factor, the longest."""
    return max((w for w, f in words.exact.items() if f == factor), key=len)


def _level_and_power(amount: float, word: str, dimension: Dimension) -> float | None:
    """A level in a field of watts, or watts in a field of levels: both say the same thing."""
    watts = WORDS[Dimension.POWER].exact
    if dimension is Dimension.POWER and word == "dBm" and abs(amount) < 300:
        return float(10 ** (amount / 10) * 1e-3)
    if dimension is Dimension.LEVEL and word in watts and amount > 0:
        return 10 * math.log10(amount * watts[word] * 1e3)
    return None


def _kelvin(amount: float, word: str) -> float:
    if word == "K":
        return amount
    celsius = (amount - 32) / 1.8 if word in ("°F", "degF") else amount
    return celsius - _ABSOLUTE_ZERO


def _value(amount: float, dimension: Dimension, text: str, warnings: tuple[str, ...], remark: str = "") -> Value:
    if amount < 0 and (dimension is Dimension.TEMPERATURE or not WORDS[dimension].negative):
        raise refusal(text, dimension, f"a {dimension.value} cannot be below zero")
    if not math.isfinite(amount):
        raise refusal(text, dimension, "the number is too large")
    return Value(amount, dimension, text, warnings, remark)
