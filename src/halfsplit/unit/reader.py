"""The door of the room: a unit file in, a Unit or every mistake out."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from pathlib import Path as FilePath

from halfsplit.errors import Mistake, UnitError
from halfsplit.quantity import Dimension
from halfsplit.unit.blocks import Measured, read_block
from halfsplit.unit.checks import check_fit
from halfsplit.unit.keys import one_of
from halfsplit.unit.ladder import read_filter
from halfsplit.unit.lines import key_lines
from halfsplit.unit.plan import read_plan
from halfsplit.unit.records import Band, Filter, Relay, Unit
from halfsplit.unit.stages import read_drive, read_level_control, read_stage, read_supply
from halfsplit.unit.switching import with_switching
from halfsplit.unit.table import Findings, Table
from halfsplit.unit.wiring import (
    read_band,
    read_cable,
    read_contact,
    read_limits,
    read_path,
    read_relay,
    read_switch,
)

MAX_BYTES = 1 << 20
"""A unit file larger than this is refused (1 MiB; a drawing of twenty bands takes 20 kB)."""

_RELAY_BY_NAME = re.compile(r"K\d+[A-Za-z]?")
_SYNTAX_PLACE = re.compile(r"(.*?)\s*\(at (?:line (\d+), column (\d+)|end of document)\)", re.DOTALL)
_SYNTAX = (
    ("Cannot overwrite a value", "this key stands twice", "every key once in its table"),
    ("Cannot declare", "this table stands twice", "every [table] once; [[band]] for each band"),
    ("Cannot mutate", "this table is closed already", "all keys of a { } table inside its braces"),
    ("Expected '=' after a key", "a key without =", 'key = "value"'),
    ("Unclosed array", "a [ list that is not closed", "] at its end, and a comma between the elements"),
    ("Unclosed inline table", "a { table that is not closed", "} at its end, all on one line, commas between the keys"),
    ("Unterminated string", "text whose quote is not closed", 'a " at its end'),
    ("Invalid value", "a value without quotes", 'text in quotes, like "560 pF"'),
    ("Illegal character", "a character that may not stand here", 'text closed by " on the same line'),
    (
        "Invalid initial character for a key part",
        "no key here",
        'key = "value", or # for a remark; a { } table stands on one line, without a comma at its end',
    ),
    ("Invalid statement", "a line that begins with no key", 'key = "value", or # for a remark'),
    (
        "Expected newline or end of document",
        "something behind the value",
        'one value per line; text in quotes, like "1"',
    ),
    ("Unescaped '\\'", "a \\ in the text", "single quotes around text with a \\"),
)


def read_unit(text: str, source: str, measured: Measured | None = None) -> Unit:
    """The unit that a unit file describes.

    text : the file; source : its name, kept in the record
    measured : file name to (f (n,) Hz, S flat (4 n,), z0 ohm), for blocks with a Touchstone file; may raise ValueError
    raises UnitError with every mistake
    """
    unit, mistakes, _ = check_text(text, source, measured)
    if unit is None:
        raise UnitError(*mistakes)
    return unit


def read_unit_file(path: FilePath, measured: Measured | None = None) -> Unit:
    """As `read_unit`, from disk. measured : gets the file name as the unit file has it.

    raises UnitError where the file cannot be read, is over 1 MiB or is not UTF-8, too
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        found = error.strerror or "cannot be read"
        raise UnitError(Mistake(str(path), found, "a unit file that can be read")) from error
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        found = f"byte 0x{raw[error.start]:02x} is not UTF-8"
        raise UnitError(Mistake(str(path), found, "a text file saved as UTF-8", line)) from error
    return read_unit(text, path.name, measured)


def check_text(
    text: str, source: str, measured: Measured | None = None
) -> tuple[Unit | None, tuple[Mistake, ...], tuple[str, ...]]:
    """(unit, mistakes, warnings) of a unit file; the unit is None where there is any mistake."""
    size = len(text.encode("utf-8", errors="replace"))
    if size > MAX_BYTES:
        found = f"{size / MAX_BYTES:.1f} MiB of text"
        return None, (Mistake(source, found, "a unit file of at most 1 MiB"),), ()
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return None, (_syntax_mistake(str(error), text, source),), ()
    except RecursionError:
        return None, (Mistake(source, "lists inside lists, too deep to read", "a unit file"),), ()
    findings = Findings(key_lines(text))
    unit = _read(Table(data, (), findings), measured)
    mistakes = findings.mistakes()
    whole = None if mistakes else replace(unit, text=text, source=source)
    return whole, mistakes, findings.warnings()


def _syntax_mistake(message: str, text: str, source: str) -> Mistake:
    """What tomllib refused, in our words, with line and column."""
    placed = _SYNTAX_PLACE.fullmatch(message)
    reason = placed[1] if placed else message
    if placed and placed[2]:
        line, column = int(placed[2]), int(placed[3])
    else:
        line, column = text.count("\n") + 1, len(text) - text.rfind("\n")
    for start, found, expected in _SYNTAX:
        if reason.startswith(start):
            return Mistake(f"{source}, column {column}", found, expected, line)
    return Mistake(f"{source}, column {column}", f"not TOML: {reason}", "a TOML file (toml.io)", line)


def _read(root: Table, measured: Measured | None) -> Unit:
    """Every table, then how they fit together."""
    root.only("file")
    head = root.table("unit")
    if head is None and "unit" not in root.data:
        root.missing("[unit]", 'a table [unit] with name = "..."')
    head = head or Table({"name": "?"}, ("unit",), root.findings)
    head.only("unit")
    contacts = root.table("contacts")
    if contacts is not None:
        contacts.only("contacts")
    typical = (None, None) if contacts is None else read_contact(contacts)
    filters = tuple(read_filter(n, t) for n, t in root.named("filter", "filter.F1"))
    relays = tuple(read_relay(n, t, typical) for n, t in root.named("relay", "relay.K1"))
    switches = tuple(read_switch(n, t, typical) for n, t in root.named("switch", "switch.S1"))
    bands = _bands(root)
    unit = Unit(
        name=head.text("name") or "",
        bands=tuple(band for band, _ in bands),
        path=read_path(_needed(root, "path")),
        impedance=head.quantity("impedance", Dimension.RESISTANCE, "50 ohm") or 50.0,
        rated_watts=head.quantity("rated_power", Dimension.POWER, "40 W"),
        supply_volts=head.quantity("supply", Dimension.VOLTAGE, "13.8 V"),
        stages=tuple(read_stage(n, t) for n, t in root.named("stage", "stage.FINAL")),
        cables=tuple(c for n, t in root.named("cable", "cable.W1") if (c := read_cable(n, t)) is not None),
        relays=(*relays, *_implied(filters, {*(r.name for r in relays), *(s.name for s in switches)}, typical)),
        switches=switches,
        filters=filters,
        blocks=tuple(read_block(n, t, measured) for n, t in root.named("block", "block.B1")),
        limits=read_limits(root.table("limits")),
        plan=read_plan(root.table("plan"), tuple(band.name for band, _ in bands)),
        drive=read_drive(root.table("drive")),
        supply=read_supply(root.table("supply")),
        level_control=read_level_control(root.table("level_control")),
        note=head.text("note") or "",
    )
    if "name" not in head.data:
        head.missing("name", 'name = "..."')
    tables = {band.name: table for band, table in bands}
    unit = with_switching(unit, tables)
    check_fit(unit, root, tables)
    return unit


def _needed(root: Table, key: str) -> Table | None:
    """A table that every unit file has."""
    if key not in root.data:
        root.missing(f"[{key}]", f"a table [{key}]")
    return root.table(key)


def _bands(root: Table) -> tuple[tuple[Band, Table], ...]:
    """The bands with their tables; a second band of one name is noted and left out."""
    read: dict[str, tuple[Band, Table]] = {}
    if not root.data.get("band"):
        root.missing("[[band]]", "one [[band]] or more")
    for table in root.tables("band", "[[band]] tables, in double brackets"):
        band = read_band(table)
        if band is None:
            continue
        if band.name in read:
            table.mistake("name", f'"{band.name}" is the name of an earlier band', "a name of its own for each band")
        elif band.name == "all":
            table.mistake("name", '"all"', one_of("all", (), "another name"))
        else:
            read[band.name] = (band, table)
    return tuple(read.values())


def _implied(
    filters: tuple[Filter, ...], known: set[str], typical: tuple[float | None, float | None]
) -> tuple[Relay, ...]:
    """Relays that only a filter names: K and a number needs no table of its own."""
    named = dict.fromkeys(c for f in filters for c in (f.input, f.output) if c is not None)
    return tuple(
        Relay(n, contact_ohm=typical[0], open_capacitance=typical[1])
        for n in named
        if n not in known and _RELAY_BY_NAME.fullmatch(n)
    )
