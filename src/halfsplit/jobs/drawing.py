"""The drawing: read it, check it, say what it is."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from halfsplit.circuit import points_of
from halfsplit.errors import Mistake, UnitError
from halfsplit.history import Named
from halfsplit.hookup import Known
from halfsplit.jobs.records import Checked
from halfsplit.reading import complex_two_port
from halfsplit.unit import Unit, check_text

Load = Callable[[str], bytes]


def from_folder(folder: Path) -> Load:
    """Files that the unit refers to, beside the unit file."""

    def load(name: str) -> bytes:
        return (folder / name).read_bytes()

    return load


def checked_unit(text: str, source: str, load: Load) -> tuple[Unit | None, tuple[Mistake, ...], tuple[str, ...]]:
    """(unit, mistakes, warnings) of a unit file. load : gives the bytes of a measured file that it names."""

    def measured(name: str) -> tuple[tuple[float, ...], tuple[complex, ...], float]:
        try:
            return complex_two_port(load(name), name)
        except OSError as error:
            raise ValueError(f"{name}: {error.strerror or error}") from error

    return check_text(text, source, measured)


def unit_text(path: Path) -> str:
    """The text of a unit file. raises UnitError where it cannot be read or is not UTF-8."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise UnitError(Mistake(str(path), error.strerror or "cannot be read", "a unit file")) from error
    except UnicodeDecodeError as error:
        raise UnitError(Mistake(str(path), "not UTF-8 text", "a unit file saved as UTF-8")) from error


def load_unit(path: Path) -> tuple[Unit, tuple[str, ...]]:
    """The unit of a file and the warnings. raises UnitError with every mistake."""
    unit, mistakes, warnings = checked_unit(unit_text(path), path.name, from_folder(path.parent))
    if unit is None:
        raise UnitError(*mistakes)
    return unit, warnings


def check(path: Path) -> Checked:
    """Read a unit file and say what each filter is. raises UnitError where the file cannot be read at all."""
    unit, mistakes, warnings = checked_unit(unit_text(path), path.name, from_folder(path.parent))
    if unit is None:
        return Checked(path.name, None, mistakes, warnings, ())
    from halfsplit.filters import describe  # slow to import, and only this verb needs it

    facts = []
    for one in unit.filters:
        served = [b for b in unit.bands if b.filter == one.name]
        facts.append(describe(one, served, one.impedance or unit.impedance))
    return Checked(path.name, unit, (), warnings, tuple(facts))


def known_of(unit: Unit) -> Known:
    """What a hook-up of this unit may name."""
    parts = [p.ref for f in unit.filters for p in f.parts] + [b.part.ref for x in unit.blocks for b in x.branches]
    cables, relays = [c.ref for c in unit.cables], [r.name for r in unit.relays]
    stages, switches = [s.name for s in unit.stages], [s.name for s in unit.switches]
    bands = tuple(b.name for b in unit.bands)
    return Known(points_of(unit), bands, (*parts, *cables, *relays, *switches, *stages), (*relays, *switches))


def named_of(unit: Unit) -> Named:
    """What an answer about complaint and history may name."""
    known = known_of(unit)
    return Named(known.bands, tuple(dict.fromkeys(known.elements)))
