"""Watts, amps and volts of a stored reading: how they were tied on, and read again."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.errors import Mistake, ReadingError
from halfsplit.expect import LevelSet
from halfsplit.expect.level_rows import tied
from halfsplit.hookup import Hookup, describe, from_dict, parse_hookup
from halfsplit.jobs.drawing import known_of
from halfsplit.jobs.spectra_kept import is_spectrum, tied_to
from halfsplit.journal import StoredReading
from halfsplit.quantity import Dimension, QuantityError, parse
from halfsplit.reading import Usual, table_levels, typed_levels
from halfsplit.unit import Unit

ALLOWED = ("lifted", "released", "operated", "detector_ohm", "note", "band")


def usual_of(unit: Unit, fields: Mapping[str, object], load: str) -> Usual:
    """What holds for every figure. raises ReadingError"""
    ohm = fields.get("detector_ohm")
    if ohm is None:
        return Usual(None, load, unit.path.points[-1])
    try:
        return Usual(float(parse(str(ohm), Dimension.RESISTANCE).value), load, unit.path.points[-1])
    except QuantityError as error:
        raise ReadingError(Mistake("detector_ohm", repr(ohm), str(error))) from error


def hookup_of(unit: Unit, fields: Mapping[str, object], band: str) -> Hookup:
    """The hook-up of level readings: what is taken off, what is worked by hand. raises HookupError, ReadingError"""
    wrong = [f for f in fields if f not in ALLOWED]
    if wrong:
        expected = f"of {', '.join(ALLOWED)}; points and impedances stand behind each figure"
        raise ReadingError(*(Mistake(f, "given with watts, amps and volts", expected) for f in wrong))
    full = {k: v for k, v in fields.items() if k not in ("detector_ohm", "band")}
    points = unit.path.points
    known = band if any(b.name == band for b in unit.bands) else unit.bands[0].name
    full |= {"band": known, "drive": points[0], "read": points[-1], "reference": "none", "instrument": "meter"}
    return parse_hookup(full, known_of(unit))


def words_of(hookup: Hookup) -> str:
    """What was taken off or worked by hand, in one line."""
    said = [*(f"{x} lifted" for x in hookup.lifted), *(f"{x} released" for x in hookup.released)]
    said += [*(f"{x} operated" for x in hookup.operated), *([hookup.note] if hookup.note else [])]
    return ", ".join(said) or "as it stands, key down"


def hookup_words(stored: StoredReading) -> str:
    """The hook-up of a stored reading in words."""
    if stored.how.get("found"):
        return ""
    if is_spectrum(stored):
        return tied_to(stored)
    hookup = from_dict(stored.hookup)
    return words_of(hookup) if stored.how.get("levels") else describe(hookup)


def level_set(unit: Unit, stored: StoredReading) -> LevelSet:
    """A stored level reading, read as it was read when it came in. raises HalfsplitError where it cannot be used"""
    usual = Usual(stored.how.get("ohm"), str(stored.how.get("load", "dummy load")), unit.path.points[-1])
    if stored.how.get("table"):
        reading = table_levels(stored.original, stored.name, usual)
    else:
        reading = typed_levels(stored.original.decode("utf-8").split("\n"), usual)
    one = LevelSet(stored.key, reading, from_dict(stored.hookup))
    tied(unit, [one])
    return one
