"""The unit editor: the text of a unit file, held as a draft, with what it says, what is wrong with it and its form."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from errno import ENOENT
from pathlib import Path

from markupsafe import Markup

from halfsplit import jobs
from halfsplit.errors import InputError, Mistake, UnitError
from halfsplit.page.desk import UNIT, Desk, plain
from halfsplit.page.drafts import Drafts
from halfsplit.page.ladder import both_ways
from halfsplit.page.unit_form import Form, form_of
from halfsplit.unit import Filter, Unit

STARTER = """# One low-pass filter between two test points; replace it by what the schematic says.

[unit]
name = "my unit"
rated_power = "10 W"
supply = "13.8 V"
impedance = "50 ohm"

[[band]]
name = "40 m"
range = ["7.0 MHz", "7.3 MHz"]
filter = "F1"

[path]
order = ["TP1", "filter", "J1"]

[filter.F1]
ladder = [
  { shunt = "C1", value = "470 pF", tolerance = "5 %" },
  { series = "L1", value = "1.2 uH" },
  { shunt = "C2", value = "820 pF", tolerance = "5 %" },
  { series = "L2", value = "1.2 uH" },
  { shunt = "C3", value = "470 pF", tolerance = "5 %" },
]
"""


@dataclass(frozen=True, slots=True)
class Edit:
    """A unit file that is being edited.

    text : as it stands in the window; saved : the file on the disk says the same; exists : there is such a file
    changed : the file was changed by something else since this editing began
    unit : None where there are mistakes; form : None where the text cannot be read at all
    chosen : the filter whose ladder is open, None where it cannot be drawn
    """

    name: str
    text: str
    saved: bool
    exists: bool
    changed: bool
    mistakes: tuple[Mistake, ...]
    warnings: tuple[str, ...]
    unit: Unit | None
    form: Form | None
    chosen: Filter | None
    problem: object = None
    said: str = ""

    @property
    def drawing(self) -> Markup:
        """The open ladder."""
        return Markup("") if self.chosen is None else both_ways(self.chosen)

    @property
    def wrong(self) -> frozenset[int]:
        """Lines with a mistake, counted from 1."""
        return frozenset(m.line for m in self.mistakes if m.line is not None)

    @property
    def lines(self) -> int:
        """How many lines the text has."""
        return self.text.count("\n") + 1

    @property
    def stamp(self) -> str:
        """Changes whenever the text does."""
        return digest(self.text)[:12]


def digest(text: str) -> str:
    """What a text is known by."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def owner(name: str) -> str:
    """Whose drafts those of a unit file are."""
    return f"unit/{name}"


def on_disk(desk: Desk, name: str) -> str | None:
    """The text of a unit file of this desk, or None where there is none. raises InputError, UnitError"""
    if not plain(name):
        raise InputError(Mistake("unit file", repr(name), "a plain name, without folders"))
    path = desk.folder / (name + UNIT)
    return jobs.unit_text(path).replace("\r\n", "\n") if path.is_file() else None


def loader(desk: Desk) -> jobs.Load:
    """Gives the measured files that a unit file names: those of the desk's own folder only."""

    def load(name: str) -> bytes:
        if not plain(name):
            raise FileNotFoundError(ENOENT, "not a file of this folder", name)
        path = desk.folder / name
        if path.is_symlink() or not path.is_file():
            raise FileNotFoundError(ENOENT, "no such file in this folder", name)
        return path.read_bytes()

    return load


def edit(
    desk: Desk, drafts: Drafts, name: str, wanted: str = "", *, problem: object = None, said: str = ""
) -> Edit:  # fmt: skip
    """A unit file as it is being edited. wanted : the filter to be open; raises UnitError where there is none"""
    disk, draft = on_disk(desk, name), drafts.get(owner(name), "text")
    if disk is None and draft is None:
        raise UnitError(Mistake(name + UNIT, "no such unit file on this desk", "one that is listed under /jobs"))
    text = draft.form["text"] if draft is not None else disk or ""
    base = draft.form.get("base", "") if draft is not None else digest(text)
    unit, mistakes, warnings = jobs.checked_unit(text, name + UNIT, loader(desk))
    form = form_of(text, wanted)
    chosen = None
    if unit is not None and form is not None:
        chosen = next((f for f in unit.filters if f.name == form.name), None)
    changed = draft is not None and disk is not None and digest(disk) not in (base, digest(text))
    return Edit(
        name, text, text == disk, disk is not None, changed, mistakes, warnings, unit, form, chosen, problem, said
    )


def hold(desk: Desk, drafts: Drafts, name: str, text: str) -> None:
    """Hold a text as the draft of a unit file. raises InputError, JobFileError"""
    disk, draft = on_disk(desk, name), drafts.get(owner(name), "text")
    base = draft.form.get("base", "") if draft is not None else ("" if disk is None else digest(disk))
    drafts.save(owner(name), "text", {"text": text.replace("\r\n", "\n"), "base": base})


def save(desk: Desk, drafts: Drafts, name: str, *, over: bool) -> None:
    """Write the draft to its file, all of it or nothing.

    over : even where the file was changed by something else meanwhile
    raises InputError where it was and that was not said
    """
    now = edit(desk, drafts, name)
    if now.changed and not over:
        found = "changed by something else since you began"
        raise InputError(Mistake(name + UNIT, found, "a look at both; then save over it, or let your changes go"))
    target = desk.folder / (name + UNIT)
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        part.write_text(now.text, "utf-8", newline="\n")
        os.replace(part, target)
    except OSError as error:
        raise InputError(
            Mistake(target.name, error.strerror or str(error), "a folder that can be written to")
        ) from error
    finally:
        part.unlink(missing_ok=True)
    drafts.drop(owner(name), "text")


def unit_file(desk: Desk, name: str) -> Path:
    """The file of a unit that a job may be started with. raises UnitError with every mistake, InputError"""
    text = on_disk(desk, name)
    if text is None:
        raise UnitError(Mistake(name + UNIT, "no such unit file on this desk", "one that is listed"))
    unit, mistakes, _ = jobs.checked_unit(text, name + UNIT, loader(desk))
    if unit is None:
        raise UnitError(*mistakes)
    return desk.folder / (name + UNIT)
