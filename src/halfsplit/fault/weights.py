"""Prior weights of the ways to fail, looked up by kind of place and way of failing."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts import Kind, Part, failure_weights

FAMILIES = ("sound", "fault", "mix-up", "unlisted")


class Weights:
    """The table of the parts room. rows : (kind, mode) to weight; None takes the package's table."""

    def __init__(self, rows: Mapping[tuple[str, str], float] | None = None) -> None:
        self.rows = {(r.kind, r.mode): r.weight for r in failure_weights()} if rows is None else dict(rows)

    def __call__(self, kind: str, word: str) -> float:
        """Weight of one item of a kind failing in a way; 0 where the table has no such row."""
        return self.rows.get((kind, word), 0.0)

    def shares(self) -> dict[str, float]:
        """Prior probability of each family of hypotheses."""
        return {family: self("family", family) for family in FAMILIES}

    def kind_of(self, part: Part) -> str:
        """Row of a part: by dielectric or adjustment where the table knows it, else the plain kind."""
        if part.kind is Kind.CAPACITOR:
            named = "trimmer capacitor" if part.adjustable else f"{part.dielectric} capacitor"
        elif part.kind is Kind.COIL:
            named = "adjustable coil" if part.adjustable else "coil"
        else:
            named = "resistor"
        return named if (named, "open") in self.rows else part.kind.value

    def value(self, part: Part, word: str) -> float:
        """Weight of a value that is off: the part itself, or the drawing wrong there, or built differently."""
        drawing = self("drawing", "built differently") + self("drawing", "misprint")
        return self(self.kind_of(part), word) + 0.5 * drawing
