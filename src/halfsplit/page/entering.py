"""What is being entered, as the page shows it: hook-up, files and figures, each understood before it is kept."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

from halfsplit import jobs
from halfsplit.errors import HalfsplitError, Mistake, ReadingError
from halfsplit.hookup import Hookup, Known
from halfsplit.hookup.typed import FIELDS
from halfsplit.jobs import Job, Preview
from halfsplit.jobs.incoming import Incoming
from halfsplit.page.drafts import Draft, Drafts
from halfsplit.quantity import Dimension, format_value, parse
from halfsplit.reading import What
from halfsplit.unit import Unit

SEVERAL = ("lifted", "bridged", "terminated", "operated", "released")
"""Fields of a hook-up that take several texts; in the form they are parted by semicolons."""
OWN = ("band", "drive", "read")
"""Fields that a single file may say otherwise than the hook-up above it."""
ANSWERS = (
    "frequency_unit", "frequency_column", "value_column", "phase_column", "quantity", "scale", "sign", "decimal_mark",
)  # fmt: skip
ROWS, MORE_ROWS, MOST_ROWS = 6, 6, 200
KINDS = {
    "level": ("level through, dB", What.S21, ""),
    "return loss": ("return loss, dB", What.S11, "return loss "),
    "SWR": ("SWR", What.S11, "SWR "),
}
Fields = dict[str, object]
Incomings = Callable[[], Incoming]


@dataclass(frozen=True, slots=True)
class Card:
    """A file that waits: what was understood of it, and what may be corrected. number : in addresses"""

    number: int
    name: str
    form: Mapping[str, str]
    preview: Preview
    guessed: str


@dataclass(frozen=True, slots=True)
class Entry:
    """Everything that is being entered in one job.

    known : what a hook-up of this unit may name; hookup : its form
    said, mistakes : the hook-up in words, or what is wrong with it
    tying : what the next press on a point ties, "drive" or "read"
    typed, preview : the table of figures and what was understood of it
    problem : what went wrong in the act that is answered; kept : what was kept by it
    """

    known: Known
    hookup: Mapping[str, str]
    said: str
    mistakes: tuple[Mistake, ...]
    tying: str
    cards: tuple[Card, ...]
    typed: Mapping[str, str]
    rows: int
    preview: Preview | None
    found: str
    problem: object = None
    kept: str = ""

    @property
    def kinds(self) -> Mapping[str, tuple[str, What, str]]:
        """What typed figures may be."""
        return KINDS

    @property
    def more_said(self) -> bool:
        """Whether more is said of the hook-up than the usual."""
        return any(self.hookup.get(n) for n in FIELDS if n not in (*OWN, "instrument", "reference"))


def fields_of(form: Mapping[str, str]) -> Fields:
    """The fields of a hook-up from its form."""
    out: Fields = {}
    for name in FIELDS:
        text = form.get(name, "").strip()
        if text:
            out[name] = tuple(x.strip() for x in text.split(";") if x.strip()) if name in SEVERAL else text
    return out


def form_of(h: Hookup) -> dict[str, str]:
    """The form of a hook-up that a next test proposes; what is as usual stays empty."""
    ohm = partial(format_value, dimension=Dimension.RESISTANCE)
    metres = partial(format_value, dimension=Dimension.LENGTH)
    usual = Hookup(h.band, h.drive)
    out = {"band": h.band, "drive": h.drive, "read": h.read or "nothing", "instrument": h.instrument, "note": h.note}
    out |= {"reference": h.reference}
    out |= {n: ohm(getattr(h, n)) for n in ("source_ohm", "detector_ohm") if getattr(h, n) != getattr(usual, n)}
    out |= {n: metres(v) for n in ("source_lead", "detector_lead") if (v := getattr(h, n)) is not None}
    out |= {n: "; ".join(getattr(h, n)) for n in ("lifted", "operated", "released")}
    out["bridged"] = "; ".join(f"{a} = {b}" for a, b in h.bridged)
    out["terminated"] = "; ".join(f"{t.point} = {ohm(t.ohm)}" for t in h.terminated)
    return {k: v for k, v in out.items() if v}


def band_in(name: str, unit: Unit) -> str:
    """The band that a file name speaks of, "" where it speaks of none or of several."""
    words = re.findall(r"[a-z0-9]+", name.lower())
    said = {*words, *(a + b for a, b in pairwise(words))}
    found = [b.name for b in unit.bands if "".join(re.findall(r"[a-z0-9]+", b.name.lower())) in said]
    return found[0] if len(found) == 1 else ""


def card(job: Job, draft: Draft, hookup: Mapping[str, str]) -> Card:
    """A file that waits, understood as it stands."""
    guessed = "" if draft.form.get("band") else band_in(draft.name, job.unit)
    preview = jobs.previewed(job.unit, job.readings, maker(draft), fields_for(draft, hookup, job.unit))
    return Card(int(draft.key.split(":")[1]), draft.name, draft.form, preview, guessed)


def fields_for(draft: Draft, hookup: Mapping[str, str], unit: Unit) -> Fields:
    """The hook-up of one file: that of the form, but for what the file says otherwise."""
    own = {n: draft.form[n] for n in OWN if draft.form.get(n)}
    if "band" not in own and (guessed := band_in(draft.name, unit)):
        own["band"] = guessed
    return fields_of({**hookup, **own})


def maker(draft: Draft) -> partial[Incoming]:
    """What reads the bytes of a draft."""
    answers = {n: draft.form[n] for n in ANSWERS if draft.form.get(n)}
    return partial(jobs.from_bytes, draft.name, draft.data or b"", answers)


def lines_of(form: Mapping[str, str]) -> list[str]:
    """The table of figures as lines, as one would type them."""
    unit, (_, _, word) = form.get("unit", "MHz"), KINDS.get(form.get("kind", "level"), KINDS["level"])
    rows = [(form.get(f"f{n}", "").strip(), form.get(f"v{n}", "").strip()) for n in range(rows_in(form))]
    return [f"{f} {'' if f[-1:].isalpha() else unit} {word}{v}".strip() for f, v in rows if f or v]


def rows_in(form: Mapping[str, str]) -> int:
    """How many rows the table of figures has: room for all that was typed, and a few more."""
    used = [int(k[1:]) for k, v in form.items() if re.fullmatch(r"[fv]\d{1,3}", k) and v.strip()]
    asked = form.get("rows", "")
    wanted = int(asked) if asked.isascii() and asked.isdecimal() and len(asked) < 4 else ROWS
    return min(max(ROWS, wanted, max(used, default=-1) + 2), MOST_ROWS)


def typed_maker(form: Mapping[str, str]) -> partial[Incoming]:
    """What reads the table of figures."""
    what = KINDS.get(form.get("kind", "level"), KINDS["level"])[1]
    answers = {"sign": form["sign"]} if form.get("sign") else {}
    return partial(typed_incoming, lines_of(form), what, form.get("resolution", "").strip(), answers)


def typed_incoming(lines: list[str], what: What, resolution: str, answers: dict[str, str]) -> Incoming:
    """The figures of the table as a reading. raises ReadingError"""
    step = None
    if resolution:
        try:
            step = float(parse(resolution, Dimension.DECIBEL).value)
        except ValueError as error:
            raise ReadingError(Mistake("resolution", repr(resolution), str(error))) from error
    return jobs.from_typed(lines, what, step, answers)


def entry(drafts: Drafts, name: str, job: Job, *, problem: object = None, kept: str = "") -> Entry:
    """All that is being entered in a job, understood as it stands. name : of the job; raises JobFileError"""
    hookup = drafts.form(name, "hookup")
    said, mistakes = jobs.hookup_words(job.unit, fields_of(hookup))
    cards = tuple(card(job, d, hookup) for d in drafts.all(name, "file:"))
    typed = drafts.form(name, "typed")
    preview = None
    if lines_of(typed):
        preview = jobs.previewed(job.unit, job.readings, typed_maker(typed), fields_of(hookup))
    tying = drafts.form(name, "tying").get("next", "drive")
    found = drafts.form(name, "found").get("line", "")
    known, rows = jobs.known_of(job.unit), rows_in(typed)
    return Entry(known, hookup, said, mistakes, tying, cards, typed, rows, preview, found, problem, kept)


def tied(drafts: Drafts, name: str, unit: Unit, point: str) -> None:
    """One press on a point: the first ties the generator, the second the detector. raises HalfsplitError"""
    if point not in jobs.known_of(unit).points:
        raise HalfsplitError(f"no point {point!r} in this unit")
    form, step = drafts.form(name, "hookup"), drafts.form(name, "tying").get("next", "drive")
    form |= {step: point}
    if step == "drive":
        form.pop("read", None)
    drafts.save(name, "hookup", form)
    drafts.save(name, "tying", {"next": "read" if step == "drive" else "drive"})
