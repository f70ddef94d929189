"""Numbers as people and instruments write them: both decimal marks, thousands marks, minus signs."""

from __future__ import annotations

import re
from typing import Literal

_MINUS = str.maketrans({"\u2212": "-", "\ufe63": "-", "\uff0d": "-"})
_BLANKS = str.maketrans({"\u00a0": " ", "\u2007": " ", "\u2009": " ", "\u202f": " ", "\t": " "})
_MICRO = str.maketrans({"\u00b5": "u", "\u03bc": "u", "\u2126": "\u03a9", "\u2217": "*"})

# a numeral: digits with marks inside, perhaps an exponent; a blank only as a thousands mark
NUMERAL = re.compile(
    r"[+-]?(?:[0-9]{1,3}(?:[ '\u2019][0-9]{3})+(?![0-9])(?:[.,][0-9]+)?|(?:[0-9][0-9.,]*|[.,][0-9]+))"
    r"(?:[eE][+-]?[0-9]{1,3}(?![0-9A-Za-z]))?"
)
_PLAIN = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?\Z")


def tidy(text: str) -> str:
    """The text with one kind of minus, blank, micro and ohm sign, and no blanks around it."""
    clean = text.translate(_MINUS).translate(_BLANKS).translate(_MICRO).strip()
    if clean[:1] in "\u2013\u2014" and clean[1:2].strip().isdigit():
        clean = "-" + clean[1:]
    return clean


def number(text: str, mark: Literal[".", ","] | None = None) -> tuple[float, tuple[str, ...]]:
    """The float that `text` writes, and warnings.

    mark : the decimal mark where it is known (a table); None applies these rules in turn:
    both marks occur: the last one is the decimal mark and the other parts groups of three;
    one mark occurs several times: it parts groups of three; one mark occurs once: it is the decimal mark,
    with a warning where a comma is followed by exactly three digits ("1,234").
    raises ValueError, with the reason, for anything else.
    """
    clean = tidy(text)
    if len(clean) > 100:
        raise ValueError("more than 100 characters are no number")
    if _PLAIN.match(clean) and mark != ",":
        return _finite(clean, text), ()
    mantissa, exponent = _split_exponent(clean)
    sign = "-" if mantissa.startswith("-") else ""
    mantissa = mantissa.lstrip("+-")
    if len(clean) - len(exponent) - len(mantissa) > 1:
        raise ValueError(f"{text!r} has more than one sign")
    warnings: list[str] = []
    groups = re.fullmatch(r"[0-9]{1,3}(?:[ '\u2019][0-9]{3})+([.,][0-9]+)?", mantissa)
    if groups:
        warnings.append(f"{text.strip()!r}: blanks or apostrophes read as thousands marks")
        mantissa = re.sub(r"[ '\u2019]", "", mantissa)
    if not re.fullmatch(r"[0-9.,]+", mantissa) or not re.search(r"[0-9]", mantissa):
        raise ValueError(f"{text.strip()!r} is not a number")
    decimal = mark or _decimal_mark(mantissa, text, warnings)
    return _finite(sign + _unmarked(mantissa, decimal, text) + exponent, text), tuple(warnings)


def _split_exponent(clean: str) -> tuple[str, str]:
    match = re.search(r"[eE][+-]?[0-9]+\Z", clean)
    return (clean[: match.start()], match.group()) if match else (clean, "")


def _decimal_mark(mantissa: str, text: str, warnings: list[str]) -> Literal[".", ","]:
    dots, commas = mantissa.count("."), mantissa.count(",")
    if dots and commas:
        return "." if mantissa.rfind(".") > mantissa.rfind(",") else ","
    if dots > 1 or commas > 1:
        return "," if dots > 1 else "."
    if commas and re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", mantissa):
        warnings.append(
            f"{text.strip()!r}: the comma is read as the decimal mark ({mantissa.replace(',', '.')}); "
            f"if thousands are meant write {mantissa.replace(',', '')}"
        )
    return "," if commas else "."


def _unmarked(mantissa: str, decimal: str, text: str) -> str:
    """Digits with "." as the only mark; groups of thousands must be whole."""
    other = "," if decimal == "." else "."
    whole, *rest = mantissa.split(decimal)
    if len(rest) > 1 or (rest and other in rest[0]):
        raise ValueError(f"{text.strip()!r}: the decimal and thousands marks do not fit together")
    if other in whole:
        if not re.fullmatch(r"[0-9]{1,3}(?:" + re.escape(other) + r"[0-9]{3})+", whole):
            raise ValueError(f"{text.strip()!r}: the marks do not part groups of three digits")
        whole = whole.replace(other, "")
    return whole + ("." + rest[0] if rest else "")


def _finite(digits: str, text: str) -> float:
    value = float(digits)
    if value in (float("inf"), float("-inf")):
        raise ValueError(f"{text.strip()!r} is too large")
    return value
