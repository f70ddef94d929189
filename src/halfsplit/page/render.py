"""Records into the page: templates with everything escaped, and the few words that they share."""

from __future__ import annotations

from functools import partial
from typing import Any

import jinja2
from markupsafe import Markup, escape

from halfsplit.page.strip import band_rows, on_paper, open_station, path_strip, tie_strip, tied_to
from halfsplit.quantity import hertz, percent
from halfsplit.report.markup import LOST, allowed
from halfsplit.verdict import Word

SECTIONS = ("head", "path", "trace", "bands", "suspects", "next", "enter", "journal", "report")
"""The sheet from top to bottom: one template `_NAME.html` with one <section id="NAME"> each."""

MARKS = {Word.WITHIN: "ok", Word.DOUBTFUL: "doubt", Word.OUTSIDE: "off", Word.CANNOT_TELL: "mute"}
"""Class of a verdict: its shape is drawn by the stylesheet, its word stands beside it."""


AROUND = (
    ("path", "Path", False), ("trace", "Traces", True), ("bands", "Bands", True), ("suspects", "Suspects", False),
    ("next", "Next", False), ("enter", "Enter", False), ("journal", "Journal", True), ("report", "Report", True),
)  # fmt: skip
"""The way around the sheet: section, word, whether a phone leaves it out."""

PAPERS = (
    ("owner", "For the owner", "In plain words: what was wrong, what was done, the proof band by band."),
    (
        "technician",
        "For the next technician",
        "Everything: readings, verdicts, hook-ups, schematics, the unit file, what made it.",
    ),
    ("bench", "Bench sheet", "What stands on this page, on paper."),
)
"""The papers that a job can be written to: reader, title, what it holds."""


def clock_time(at: str) -> str:
    """A time of the journal, UTC, to the minute."""
    return at.replace("T", " ")[:16]


def shown(value: Any) -> Any:
    """A text without characters that steer the display, such as those that turn its direction; markup as it is."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return "".join(c if allowed(c) else LOST for c in value)
    return value


def as_typed(value: str) -> Markup:
    """A text exactly as it was typed, for the field that it goes back into."""
    return escape(value)


def environment() -> jinja2.Environment:
    """The templates of the package: every value is text, never markup; a name that is missing is an error."""
    found = jinja2.Environment(
        loader=jinja2.PackageLoader("halfsplit.page"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=shown,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.filters |= {
        "percent": partial(percent, spoken=True),
        "hertz": hertz,
        "clock_time": clock_time,
        "as_typed": as_typed,
    }
    found.globals |= {"MARKS": MARKS, "SECTIONS": SECTIONS, "PAPERS": PAPERS, "AROUND": AROUND}
    found.globals |= {f.__name__: f for f in (path_strip, tie_strip, open_station, on_paper, tied_to, band_rows)}
    return found


ENVIRONMENT = environment()


def rendered(template: str, **values: Any) -> str:
    """A template as text."""
    return ENVIRONMENT.get_template(template).render(**values)
