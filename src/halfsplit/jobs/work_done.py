"""What was done to the unit, as it is typed: one line for each piece of work."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path

from halfsplit.errors import InputError, Mistake
from halfsplit.fault.hypotheses import parts_of
from halfsplit.jobs.drawing import known_of
from halfsplit.jobs.found import UNITS, joints
from halfsplit.jobs.incoming import readable
from halfsplit.jobs.work import unit_of
from halfsplit.journal import Clock, NewWork, StoredWork, keep_work, open_job, utc_now, work_of
from halfsplit.parts import Kind, Part
from halfsplit.quantity import QuantityError, parse
from halfsplit.unit import Unit

WORDS = {
    "replaced": ("replaced", "renewed"),
    "resoldered": ("resoldered", "re-soldered", "soldered", "reflowed", "tightened"),
    "adjusted": ("adjusted", "squeezed", "stretched", "turned", "trimmed", "bent"),
    "swapped": ("swapped", "exchanged"),
    "cleaned": ("cleaned", "burnished", "reseated"),
    "other": ("worked on",),
}
KIND_OF = {word: kind for kind, words in WORDS.items() for word in words}
FORM = re.compile(
    rf"(?P<word>{'|'.join(sorted(KIND_OF, key=len, reverse=True))})\s+(?P<places>.+?)"
    r"(?:\s+(?:with|by|to|=)\s+(?P<value>[^:]+?))?(?:\s*:\s*(?P<note>.+))?",
    re.I,
)
EXAMPLES = (
    '"replaced C22 with 560 pF", "resoldered E41", "squeezed L4", "swapped W1", "cleaned K12", "worked on K12: bent it"'
)
FEW = 8


def did(
    job: Path, lines: Sequence[str], value: str = "", note: str = "", after: str | None = None, clock: Clock = utc_now
) -> tuple[StoredWork, ...]:
    """Keep what was done to the unit, all of it or nothing.

    lines : such as "replaced C22 with 560 pF"; value : of what is there now, where the line does not say it
    after : key of the last reading that was taken before the work, where it is told late
    returns the work as it was kept
    raises InputError with every mistake; JobFileError
    """
    with open_job(job, clock) as file:
        unit = unit_of(file)
        works, mistakes = understood(unit, lines, value, note)
        if mistakes:
            raise InputError(*mistakes)
        late = None if after is None else after.strip().upper()
        keys = keep_work(file, [replace(w, after=late) for w in works])
        return tuple(w for w in work_of(file) if w.key in keys)


def work_in(job: Path) -> tuple[StoredWork, ...]:
    """All work on the unit, in order, the withdrawn among it. raises JobFileError"""
    with open_job(job) as file:
        return work_of(file)


def understood(unit: Unit, lines: Sequence[str], value: str, note: str) -> tuple[list[NewWork], list[Mistake]]:
    """Work as it was typed, and every mistake in it."""
    works: list[NewWork] = []
    mistakes: list[Mistake] = []
    known = places_of(unit)
    for line in lines:
        match = FORM.fullmatch(" ".join(readable(line).split()))
        if match is None:
            mistakes.append(Mistake("did", repr(line), f"one of these forms: {EXAMPLES}"))
            continue
        word = match["word"].lower()
        now = " ".join(readable(value or match["value"] or "").split())
        more = " ".join(readable(note or match["note"] or "").split())
        for text in re.split(r"\s*,\s*|\s+and\s+", match["places"]):
            place = place_in(known, text)
            if place is None:
                mistakes.append(Mistake("did", repr(text), near(known, text)))
                continue
            wrong = refused(unit, KIND_OF[word], word, place, now)
            if wrong is None:
                works.append(NewWork(KIND_OF[word], word, place, now, more))
            else:
                mistakes.append(wrong)
    if not lines:
        mistakes.append(Mistake("did", "nothing", f"what was done, such as {EXAMPLES}"))
    return works, mistakes


def places_of(unit: Unit) -> tuple[str, ...]:
    """Every place of a unit that can be worked on: parts, jumpers, relays, switches, stages, joints, points."""
    known = known_of(unit)
    filters = [f.name for f in unit.filters]
    return tuple(dict.fromkeys([*known.elements, *joints(unit), *filters, *known.points]))


def place_in(known: Sequence[str], text: str) -> str | None:
    """The place that is meant: its name, or the beginning of one name only; None where there is none."""
    exact = [n for n in known if n.lower() == text.lower()]
    begun = [n for n in known if n.lower().startswith(f"{text.lower()} ")]
    return (exact or begun)[0] if exact or len(begun) == 1 else None


def near(known: Sequence[str], text: str) -> str:
    """Names that may have been meant."""
    begun = [n for n in known if n.lower().startswith(text.lower())]
    lower = {n.lower(): n for n in known}
    alike = [lower[n] for n in get_close_matches(text.lower(), lower, FEW, 0.5)]
    listed = (list(dict.fromkeys([*begun, *alike])) or list(known))[:FEW]
    return f"a place of this unit, such as {', '.join(listed)}"


def refused(unit: Unit, kind: str, word: str, place: str, value: str) -> Mistake | None:
    """Why work cannot have been done so; None where it can."""
    part = parts_of(unit).get(place)
    if kind == "adjusted" and not (part and (part.adjustable or part.kind is Kind.COIL)):
        return Mistake("did", f"{word} {place}", "a coil or an adjustable part; or: replaced, worked on")
    if value and part is None:
        return Mistake("did", f"{place} has no value ({value})", "a value for a capacitor, coil or resistor only")
    if part is not None and value:
        return wrong_value(part, value)
    return None


def wrong_value(part: Part, value: str) -> Mistake | None:
    """Why a value is none for a part; None where it is one."""
    try:
        number = float(parse(value, UNITS[part.kind]).value)
    except QuantityError as error:
        return Mistake(f"value of {part.ref}", repr(value), str(error))
    return None if number > 0 else Mistake(f"value of {part.ref}", repr(value), "a figure above zero")
