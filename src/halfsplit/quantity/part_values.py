"""What stands beside a part on a drawing: a value, several in parallel, turns on a core, or nothing."""

from __future__ import annotations

import re

from halfsplit.quantity.numerals import number, tidy
from halfsplit.quantity.parsing import parse_front, refusal
from halfsplit.quantity.records import Ask, Dimension, NotFitted, QuantityError, Turns, Value
from halfsplit.quantity.units import WORDS

_ON_TEST = {
    "adj",
    "adj.",
    "adjust",
    "adjusted",
    "adjust on test",
    "sot",
    "s.o.t.",
    "aot",
    "a.o.t.",
    "fot",
} | {
    "selected on test",
    "select on test",
    "fit on test",
    "see text",
    "*",
}
_EMPTY = {"dnp", "dnf", "n.f.", "not fitted", "not mounted", "do not fit", "omitted"}
_TURNS = r"(?P<turns>[0-9]+(?:[.,][0-9]+)?)\s*(?:T|t|turns?|Turns?|TURNS?|[Ww]dg\.?|trns\.?)(?![A-Za-z])"
_CORE = r"(?P<core>[A-Za-z]{1,4}[0-9][A-Za-z0-9]*(?:-[A-Za-z0-9]+)*)"
_PARALLEL = re.compile(
    r"\s*(?:\|\||//|\u2225|\bin parallel with\b|\bparallel to\b|\bparallel\b|\bpar\.?(?=\s))\s*", re.I
)
_TIMES = re.compile(r"([0-9]{1,2})\s*[xX*]\s*(?=[0-9.,])(.+)", re.S)
_ARRANGED = re.compile(r",?\s*in\s+(parallel|series)\s*\Z", re.I)
_KNOWN_REMARK = re.compile(
    r"(?:[0-9.,]+\s*(?:kV|V|W|A|mA|%|ppm)|[\u00b1+/-]+\s*[0-9.,]+\s*%|NP0|NPO|C0G|COG|X7R|X5R|Y5V|U2J|mica|silver|"
    r"silvered|film|ceramic|cer\.?|disc|styroflex|polystyrene|PP|PTFE|porcelain|air|SMD|0402|0603|0805|1206|1210|1812|"
    r"trimmer|DC|AC|carbon|metal|wirewound|non-inductive)"
)

PartValue = Value | Turns | NotFitted | Ask


def parse_part_value(text: str, dimension: Dimension) -> PartValue:
    """What a drawing writes beside a capacitor, coil or resistor.

    dimension : CAPACITANCE, INDUCTANCE or RESISTANCE
    returns Value (parallel parts added up, rating and dielectric in `remark`), Turns ("12 T T50-6"),
    NotFitted ("Adj") or Ask where the text has two sensible meanings
    raises QuantityError where the text is no such thing: a part number, another quantity, a slip of the pen
    """
    clean = tidy(text).replace("\u00d7", "x")
    if len(clean) > 200:
        raise refusal(text, dimension, "more than 200 characters")
    word = clean.lower()
    if word in _ON_TEST:
        return NotFitted(text, "selected on test")
    if word in _EMPTY:
        return NotFitted(text, "not fitted")
    if dimension is Dimension.INDUCTANCE:
        turns = _turns(clean, text)
        if turns:
            return turns
    if re.fullmatch(r"[0-9.,]+", clean) and dimension is not Dimension.RESISTANCE:
        return _bare(clean, text, dimension)
    if not re.match(r"[0-9.,+-]|[A-Za-z][0-9]{1,4}(?![0-9A-Za-z])", clean):
        why = "it reads like a part number" if re.search(r"[0-9]", clean) else "it holds no number"
        raise refusal(text, dimension, why)
    return _sum(clean, text, dimension)


def _turns(clean: str, text: str) -> Turns | None:
    match = re.match(_TURNS + r"(?:\s*(?:on|of|auf|,)?\s*" + _CORE + r")?(?P<rest>.*)", clean)
    if not match:
        match = re.match(_CORE + r"\s*,?\s+" + _TURNS + r"(?P<rest>.*)", clean)
    if not match:
        return None
    count, warnings = number(match["turns"])
    core = match["core"] or ""
    if not core:
        warnings = (*warnings, f"{text.strip()!r}: turns without the name of a core")
    return Turns(count, core, text, warnings, match["rest"].strip(" ,;"))


def _bare(clean: str, text: str, dimension: Dimension) -> Ask:
    unit = WORDS[dimension].suggest
    try:
        amount, _ = number(clean)
    except ValueError as error:
        raise refusal(text, dimension, str(error)) from None
    suggestions = [f"{clean} {unit}"]
    if dimension is Dimension.CAPACITANCE and re.fullmatch(r"[1-9][0-9][0-6]", clean):
        suggestions.append(f"{int(clean[:2]) * 10 ** int(clean[2])} pF")  # three-figure code, IEC 60062
    return Ask(
        text,
        f"The unit is missing beside {amount:g}: {' or '.join(dict.fromkeys(suggestions))}?",
        tuple(dict.fromkeys(suggestions)),
    )


def _sum(clean: str, text: str, dimension: Dimension) -> Value | Ask:
    members = _PARALLEL.split(clean)
    if _ARRANGED.search(clean):
        members = [clean]
    elif dimension is Dimension.CAPACITANCE and re.search(r"[A-Za-z]\s*\+\s*[0-9]", clean):
        members = re.split(r"\s*\+\s*", clean)
    values: list[Value] = []
    for member in members:
        value = _times(member, text, dimension)
        if isinstance(value, Ask):
            return value
        values.append(value)
    if len(values) == 1:
        return values[0]
    total = _in_parallel([v.value for v in values], dimension, text)
    warnings = tuple(w for v in values for w in v.warnings)
    remark = "; ".join(v.remark for v in values if v.remark)
    return Value(total, dimension, text, warnings, remark)


def _in_parallel(values: list[float], dimension: Dimension, text: str) -> float:
    if dimension is Dimension.CAPACITANCE:
        return sum(values)
    if min(values) <= 0:
        raise refusal(text, dimension, "zero in parallel with something")
    return 1 / sum(1 / v for v in values)


def _times(member: str, text: str, dimension: Dimension) -> Value | Ask:
    """One member: "130p", "2x130p", "3 x 100 pF in parallel"."""
    arranged = _ARRANGED.search(member)
    match = _TIMES.fullmatch(member[: arranged.start()] if arranged else member)
    if not match:
        return _single(member, text, dimension)
    count = int(match[1])
    one = _single(match[2], text, dimension)
    if not arranged and dimension is not Dimension.CAPACITANCE:
        forms = (f"{member} in parallel", f"{member} in series")
        return Ask(text, f"{member!r}: in parallel or in series?", forms)
    if count == 0:
        raise refusal(text, dimension, "zero times a value")
    parallel = arranged is None or arranged[1].lower() == "parallel"
    adds = parallel is (dimension is Dimension.CAPACITANCE)
    note = () if arranged else (f"{text.strip()!r}: read as {count} in parallel",)
    amount = one.value * count if adds else one.value / count
    return Value(amount, dimension, text, (*one.warnings, *note), one.remark)


def _single(member: str, text: str, dimension: Dimension) -> Value:
    try:
        value, rest = parse_front(member, dimension)
    except QuantityError as error:
        if member.strip() == text.strip():
            raise
        raise QuantityError(f"in {text.strip()!r}: {error.found}", error.expected, error.example) from None
    warnings = value.warnings
    if re.match(r"[1-9][0-9]{0,2}\.[0-9]{3}(?![0-9])", member):
        warnings = (
            *warnings,
            f"{text.strip()!r}: the dot is read as the decimal mark, not as a thousands mark",
        )
    if rest:
        unknown = re.sub(r"[\s,;()/]+", " ", _KNOWN_REMARK.sub(" ", rest)).strip(" -")
        if re.search(r"[0-9]\s*(?:[pnum]?[FH]|[pnu])\b|[0-9]\s*(?:ohm|Ω)|^\s*[0-9.,]+\s*$", rest):
            raise refusal(text, dimension, f"a second value {rest!r} with nothing that says how the two are joined")
        if unknown:
            warnings = (*warnings, f"{text.strip()!r}: {unknown!r} kept as a remark, not read")
    remark = "; ".join(r for r in (value.remark, rest) if r)
    return Value(value.value, dimension, text, warnings, remark)
