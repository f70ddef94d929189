"""Answers as they are typed: rows and options in, single answers or every mistake out."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from halfsplit.errors import InputError, Mistake
from halfsplit.history.questions import BANDS, NONE, NOT_KNOWN, QUESTIONS, Question
from halfsplit.history.records import History

ALL, OTHERS = "all", "the others"
BY_KEY: Mapping[str, Question] = {q.key: q for q in QUESTIONS}


@dataclass(frozen=True, slots=True)
class Named:
    """What an answer may name. bands : of the unit; places : its designators."""

    bands: tuple[str, ...]
    places: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Told:
    """One answer on its way in. where : row or option, for mistakes; text : as typed."""

    where: str
    key: str
    text: str


def rows_of(lines: Iterable[str], source: str) -> list[Told]:
    """Answers from rows "question = answer"; empty answers, empty rows and what follows "#" do not count.

    source : name of the file; empty for rows that stand in the command
    raises InputError with every row that has no "="
    """
    found, mistakes = [], []
    for number, line in enumerate(lines, 1):
        row = line.partition("#")[0].strip()
        if not row:
            continue
        key, mark, text = row.partition("=")
        where = f"{source} row {number}".strip()
        if not mark:
            mistakes.append(Mistake(where, repr(row), "question = answer, such as: knock = yes"))
        elif text.strip():
            found.append(Told(where, folded(key), text.strip()))
    if mistakes:
        raise InputError(*mistakes)
    return found


def folded(text: str) -> str:
    """Words as they are compared: small letters, single spaces, hyphens and underlines as spaces."""
    return " ".join(re.sub(r"[-_]", " ", text).casefold().split())


def taken_in(told: Sequence[Told], named: Named, before: History) -> tuple[tuple[str, str], ...]:
    """Single answers (question, answer) in the words of the tables.

    before : what is known already, for "the others"
    raises InputError with every mistake
    """
    mistakes: list[Mistake] = []
    found: list[tuple[str, str]] = []
    for one in sorted(told, key=lambda t: t.key == "good"):  # "the others" needs the bad bands first
        asked = BY_KEY.get(one.key)
        if asked is None:
            mistakes.append(Mistake(one.where, f"no question {one.key!r}", near(one.key, tuple(BY_KEY))))
        elif not asked.lists:
            answer = word(one, asked.answers, mistakes)
            found += [(one.key, answer)] if answer else []
        elif folded(one.text) == NOT_KNOWN:
            found.append((one.key, NOT_KNOWN))
        elif asked.key in BANDS:
            found += [(one.key, band) for band in bands(one, named, before, found, mistakes)]
        else:
            known = named.places if asked.key == "repaired" else (*named.places, *named.bands)
            found += [(one.key, name) for name in names(one, (NONE, *known), mistakes)]
    found = list(dict.fromkeys(found))
    mistakes += contradictions(found)
    if not (found or mistakes):
        mistakes.append(Mistake("tell", "no answer", 'a row such as "knock = yes", or an option such as --knock yes'))
    if mistakes:
        raise InputError(*mistakes)
    return tuple(found)


def word(one: Told, answers: tuple[str, ...], mistakes: list[Mistake]) -> str:
    """The answer of a question with a choice; empty, with a mistake noted, where it is none of them."""
    fitting = [a for a in (*answers, NOT_KNOWN) if folded(a) == folded(one.text)]
    if not fitting:
        mistakes.append(Mistake(one.where, f"{one.key} = {one.text!r}", near(one.text, (*answers, NOT_KNOWN))))
    return fitting[0] if fitting else ""


def names(one: Told, known: tuple[str, ...], mistakes: list[Mistake]) -> list[str]:
    """Names from a list with commas; those that are not known are noted as mistakes."""
    found = []
    for text in (t.strip() for t in re.split(r"[,;]", one.text)):
        fitting = [k for k in known if folded(k) == folded(text)]
        if fitting:
            found.append(fitting[0])
        elif text:
            mistakes.append(Mistake(one.where, f"{one.key} = {text!r}", near(text, known)))
    return found


def bands(
    one: Told, named: Named, before: History, found: Sequence[tuple[str, str]], mistakes: list[Mistake]
) -> list[str]:
    """The bands of one answer, "all" and "the others" spelled out."""
    if folded(one.text) == ALL:
        return list(named.bands)
    if one.key == "good" and folded(one.text) == OTHERS:
        bad = {*before.bad, *(answer for key, answer in found if key == "bad")}
        if not bad:
            mistakes.append(Mistake(one.where, "no band is told to be bad yet", "bad = BAND first, or the good bands"))
        return [b for b in named.bands if b not in bad] if bad else []
    return names(one, named.bands, mistakes)


def contradictions(found: Sequence[tuple[str, str]]) -> list[Mistake]:
    """Two answers at once to one question, and bands that are bad and good."""
    out = []
    for asked in QUESTIONS:
        given = [answer for key, answer in found if key == asked.key]
        alone = not asked.lists or NONE in given or NOT_KNOWN in given
        if alone and len(given) > 1:
            out.append(Mistake(asked.key, " and ".join(given), "one answer"))
    both = {a for k, a in found if k == "bad"} & {a for k, a in found if k == "good"} - {NOT_KNOWN}
    out += [Mistake("bad, good", f"{band} is told to be both", "one of them") for band in sorted(both)]
    return out


def near(text: str, known: tuple[str, ...]) -> str:
    """What is known, the nearest first."""
    close = difflib.get_close_matches(folded(text), [folded(k) for k in known], 1)
    nearest = [k for k in known if close and folded(k) == close[0]]
    rest = [k for k in known if k not in nearest]
    shown = [*nearest, *rest][:14]
    return "one of: " + ", ".join(shown) + (", ..." if len(rest) + len(nearest) > len(shown) else "")
