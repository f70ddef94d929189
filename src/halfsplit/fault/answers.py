"""The table of answers: how likely each kind of cause makes each answer about complaint and history."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from halfsplit.fault.hypotheses import Place
from halfsplit.parts import Part

ANY = "any"
AWAY = "away"
"""Kind of what was good while it was measured: only readings can have missed it."""


@dataclass(frozen=True, slots=True)
class Chances:
    """One row: the chance of every answer to a question, given a kind of cause and its way of failing."""

    question: str
    kind: str
    mode: str
    chances: Mapping[str, float]
    source: str


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """A cause outside the path that is measured. weight : relative to the others of its table"""

    kind: str
    name: str
    text: str
    weight: float
    source: str


@dataclass(frozen=True, slots=True)
class Answers:
    """The whole table.

    rows : by (question, kind, mode); figures : single figures by name; elsewhere : causes outside the path
    """

    rows: Mapping[tuple[str, str, str], Chances]
    figures: Mapping[str, float]
    elsewhere: tuple[Elsewhere, ...]
    sources: tuple[str, ...]

    def chances(self, question: str, kind: str, mode: str = ANY) -> Mapping[str, float]:
        """Chance of each answer: of the way of failing, else of the kind, else of any cause.

        raises KeyError for a question without rows
        """
        for key in ((question, kind, mode), (question, kind, ANY)):
            if key in self.rows:
                return self.rows[key].chances
        return self.rows[question, ANY, ANY].chances


@cache
def table() -> Answers:
    """The table of the package, each row with its source."""
    text = files("halfsplit.fault").joinpath("answers.toml").read_text(encoding="utf-8")
    found = tomllib.loads(text)
    rows = [Chances(**row) for row in found["row"]]
    sources = tuple(str(x["source"]) for key in ("row", "figure", "outside") for x in found[key])
    return Answers(
        {(r.question, r.kind, r.mode): r for r in rows},
        {f["name"]: float(f["value"]) for f in found["figure"]},
        tuple(Elsewhere(**row) for row in found["outside"]),
        sources,
    )


def kind_of(place: Place, parts: Mapping[str, Part], cables: frozenset[str]) -> str:
    """Row of the table for a place of a hypothesis."""
    name, word = place.name, place.word
    if " contact" in name or word in ("not operated", "stuck closed"):
        return "contact"
    if "-end joint" in name or name in cables:
        return "connector"
    if "joint" in name:
        return "joint"
    if word.endswith("in the path instead"):
        return "control"
    if name in parts:
        return "trimmer" if parts[name].adjustable else "part"
    return "other" if word != "not listed" else ANY
