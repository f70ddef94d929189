"""Where each place of the signal path stands: cleared, suspect, untested. Read off the ranking."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from halfsplit.fault import Ranking
from halfsplit.unit import Filter, Unit

LEAST = 0.05
"""A place with less than this probability is not called a suspect, unless it belongs to those that hold 90 %."""


class Standing(StrEnum):
    """What the readings leave of a place."""

    CLEARED = "cleared"
    PARTLY = "partly cleared"
    SUSPECT = "suspect"
    UNTESTED = "untested"


SHAPES = {
    Standing.CLEARED: "\u2713",
    Standing.PARTLY: "\u25d0",
    Standing.SUSPECT: "\u25c6",
    Standing.UNTESTED: "\u25cb",
}
CLASSES = {
    Standing.CLEARED: "cleared", Standing.PARTLY: "partly", Standing.SUSPECT: "suspect", Standing.UNTESTED: "untested",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Stand:
    """Standing of a place, and the probability that the cause sits there (0 without a ranking)."""

    standing: Standing
    probability: float = 0.0


def sits_at(place: str, name: str) -> bool:
    """True where a place of the ranking ("K14 contact", "F4 2") belongs to the name of a piece ("K14", "F4")."""
    return place == name or place.startswith(f"{name} ")


def names_of(unit: Unit, name: str) -> tuple[str, ...]:
    """Every name under which the ranking may speak of one piece of the path: itself, its parts and earth points."""
    for found in unit.filters:
        if found.name == name:
            return filter_names(found)
    for block in unit.blocks:
        if block.name == name:
            return (name, *(b.part.ref for b in block.branches))
    return (name,)


def filter_names(chosen: Filter) -> tuple[str, ...]:
    """A filter, its parts, its earth points and its selection."""
    grounds = tuple(dict.fromkeys(r.ground for r in chosen.rungs if r.ground))
    return (chosen.name, *(p.ref for p in chosen.parts), *grounds, f"selection of {chosen.name}")


def stand(names: Iterable[str], ranking: Ranking | None) -> Stand:
    """Standing of one piece, known under these names.

    ranking : None where no reading counts; all is untested then
    """
    if ranking is None:
        return Stand(Standing.UNTESTED)
    own = tuple(names)
    mine = [(place, p) for place, p in ranking.places if any(sits_at(place, n) for n in own)]
    total = sum(p for _, p in mine)
    if total >= LEAST:
        return Stand(Standing.SUSPECT, total)
    cleared = [n for n in own if any(sits_at(c, n) for c in ranking.cleared)]
    parts = [n for n in own if not n.startswith("selection of ")]
    if cleared and all(n in cleared for n in parts):
        return Stand(Standing.CLEARED, total)
    return Stand(Standing.PARTLY if cleared else Standing.UNTESTED, total)
