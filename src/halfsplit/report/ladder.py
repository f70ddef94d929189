"""A filter as a schematic ladder, lying for a wide page or upright for a narrow one, with designators and values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from halfsplit.parts import Kind, Part
from halfsplit.quantity import Dimension, format_value
from halfsplit.report.markup import safe
from halfsplit.report.standing import CLASSES, Stand, Standing
from halfsplit.report.symbols import ADJUSTABLE, EARTH, PART_LONG, PART_STROKES, svg
from halfsplit.unit import Filter, Rung

DIMENSIONS = {
    Kind.CAPACITOR: Dimension.CAPACITANCE, Kind.COIL: Dimension.INDUCTANCE, Kind.RESISTOR: Dimension.RESISTANCE,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Paper:
    """How the ladder lies. along : from input to output; across : from the line to earth, in paper units.

    step_series, step_shunt : room along the line for a rung; line : where the line runs; earth : where earth is drawn
    """

    upright: bool
    step_series: float
    step_shunt: float
    line: float
    earth: float

    def at(self, along: float, across: float) -> tuple[float, float]:
        """(x, y) on the paper."""
        return (across, along) if self.upright else (along, across)

    def wire(self, a: tuple[float, float], b: tuple[float, float]) -> str:
        """A straight wire between two places given as (along, across)."""
        (x1, y1), (x2, y2) = self.at(*a), self.at(*b)
        return f'<path class="wire" d="M{x1:g} {y1:g}L{x2:g} {y2:g}"/>'

    def dot(self, along: float, across: float) -> str:
        """A junction."""
        x, y = self.at(along, across)
        return f'<circle class="dot" cx="{x:g}" cy="{y:g}" r="3"/>'

    def put(self, strokes: str, along: float, across: float, *, onward: bool, kind: str = "part") -> str:
        """Strokes set down at a place. onward : they run along the line; else from the line to earth"""
        x, y = self.at(along, across)
        turn = " rotate(90)" if onward == self.upright else ""
        return f'<g class="{kind}" transform="translate({x:g} {y:g}){turn}">{strokes}</g>'

    def words(self, along: float, across: float, text: str, kind: str = "", anchor: str = "start") -> str:
        """Text at a place."""
        x, y = self.at(along, across)
        return f'<text class="{kind}" x="{x:g}" y="{y:g}" text-anchor="{anchor}">{safe(text)}</text>'


LYING = Paper(upright=False, step_series=104.0, step_shunt=78.0, line=92.0, earth=212.0)
UPRIGHT = Paper(upright=True, step_series=84.0, step_shunt=56.0, line=124.0, earth=206.0)
ENDS = 34.0
LONGEST, NARROW = 15, 9
"""Characters of a stated value that fit beside a part, in the line and to earth; a longer one becomes its value."""


def value_of(part: Part, room: int = LONGEST) -> str:
    """What is written beside a part: as drawn where that is short, else its value; or that it is selected on test.

    room : characters that fit; a trimmer is written with the value it is set to, not with its range
    """
    if part.value is None:
        return part.stated if 0 < len(part.stated) <= room else "on test"
    if part.stated and len(part.stated) <= room and not part.adjustable:
        return part.stated
    return format_value(part.value, DIMENSIONS[part.kind], 3)


def strokes_of(part: Part) -> str:
    """Symbol of a part, with an arrow where it can be turned."""
    return PART_STROKES[part.kind] + (ADJUSTABLE if part.adjustable else "")


def kind_of(part: Part, stands: Mapping[str, Stand]) -> str:
    """Class of a part by its standing."""
    found = stands.get(part.ref)
    return "part" if found is None else f"part {CLASSES[found.standing]}"


def labels(
    p: Paper, part: Part, along: float, across: float, stands: Mapping[str, Stand], anchor: str, room: int = LONGEST
) -> str:
    """Designator over value, one under the other; a suspect is marked by a shape too. room : characters of the value"""
    found = stands.get(part.ref)
    mark = "\u25c6 " if found is not None and found.standing is Standing.SUSPECT else ""
    x, y = p.at(along, across)
    return (
        f'<text class="ref" x="{x:g}" y="{y:g}" text-anchor="{anchor}">{mark}{safe(part.ref)}</text>'
        f'<text class="value" x="{x:g}" y="{y + 15:g}" text-anchor="{anchor}">{safe(value_of(part, room))}</text>'
    )


def series(p: Paper, rung: Rung, at: float, stands: Mapping[str, Stand]) -> str:
    """One arm in the line: a part, or two side by side (a trap)."""
    start = at + 0.5 * (p.step_series - PART_LONG)
    out = [p.wire((at, p.line), (start, p.line)), p.wire((start + PART_LONG, p.line), (at + p.step_series, p.line))]
    first, *rest = rung.parts
    out.append(p.put(strokes_of(first), start, p.line, onward=True, kind=kind_of(first, stands)))
    for n, part in enumerate(rest, 1):
        side = p.line - (44.0 if not p.upright else 40.0) * n
        a, b = start - 8, start + PART_LONG + 8
        out += [p.wire((a, p.line), (a, side)), p.wire((a, side), (start, side)), p.dot(a, p.line)]
        out += [p.wire((b, p.line), (b, side)), p.wire((b, side), (start + PART_LONG, side)), p.dot(b, p.line)]
        out.append(p.put(strokes_of(part), start, side, onward=True, kind=kind_of(part, stands)))
    return "".join(out) + series_labels(p, rung, start + 0.5 * PART_LONG, stands)


def series_labels(p: Paper, rung: Rung, middle: float, stands: Mapping[str, Stand]) -> str:
    """Words of an arm in the line: beneath and above on a lying ladder, to both sides on an upright one."""
    first, *rest = rung.parts
    if p.upright:
        out = [labels(p, first, middle - 2, p.line + 18, stands, "start")]
        out += [labels(p, x, middle - 2, p.line - 40.0 * n - 16, stands, "end") for n, x in enumerate(rest, 1)]
        return "".join(out)
    out = [labels(p, first, middle, p.line + 22, stands, "middle")]
    out += [labels(p, x, middle, p.line - 44.0 * n - 32, stands, "middle") for n, x in enumerate(rest, 1)]
    return "".join(out)


def shunt(p: Paper, rung: Rung, at: float, stands: Mapping[str, Stand]) -> str:
    """One arm to earth: a part, or two in series (a shunt trap), or two side by side."""
    out = [p.dot(at, p.line)]
    long = PART_LONG * len(rung.parts)
    start = p.line + (0.5 if p.upright else 0.8) * (p.earth - p.line - long)
    out += [p.wire((at, p.line), (at, start)), p.wire((at, start + long), (at, p.earth))]
    for n, part in enumerate(rung.parts):
        here = start + n * PART_LONG
        out.append(p.put(strokes_of(part), at, here, onward=False, kind=kind_of(part, stands)))
        if p.upright:
            out.append(labels(p, part, at - 2, p.earth + 26 + 92 * n, stands, "start"))
        else:
            out.append(labels(p, part, at + 16, here + 20, stands, "start", NARROW))
    out.append(p.put(EARTH, at, p.earth, onward=False, kind="earth"))
    return "".join(out)


def shared_earths(p: Paper, chosen: Filter, places: Mapping[int, float], stands: Mapping[str, Stand]) -> str:
    """The earth point that several shunts share, as a bar under them with its name; a suspect is marked."""
    out = []
    for ground in dict.fromkeys(r.ground for r in chosen.rungs if r.ground):
        at = [places[i] for i, r in enumerate(chosen.rungs) if r.ground == ground]
        beyond = p.earth + 22
        found = stands.get(ground)
        state = "" if found is None else f" {CLASSES[found.standing]}"
        name = f"\u25c6 {ground}" if found is not None and found.standing is Standing.SUSPECT else ground
        out.append(
            p.wire((at[0], beyond), (at[-1] if len(at) > 1 else at[0] + 12, beyond)).replace("wire", f"shared{state}")
        )
        if p.upright:
            out.append(p.words(0.5 * (at[0] + at[-1]) + 4, beyond + 6, name, "ref"))
        else:
            out.append(p.words(0.5 * (at[0] + at[-1]), beyond + 18, name, "ref", "middle"))
    return "".join(out)


def ladder(chosen: Filter, stands: Mapping[str, Stand] | None = None, *, upright: bool = False) -> str:
    """The ladder as one inline SVG.

    stands : standing of parts and earth points by name, where readings speak of them; upright : for a narrow page
    returns markup; the drawing is named after the filter
    """
    p, known = UPRIGHT if upright else LYING, stands or {}
    at, body, places = ENDS, [], {}
    for i, rung in enumerate(chosen.rungs):
        if rung.place == "series":
            body.append(series(p, rung, at, known))
            at += p.step_series
        else:
            following = i + 1 < len(chosen.rungs) and chosen.rungs[i + 1].place == "shunt"
            body.append(shunt(p, rung, at, known))
            places[i] = at
            if following or len(rung.parts) > 1:
                body.append(p.wire((at, p.line), (at + p.step_shunt, p.line)))
                at += p.step_shunt
    ends = [p.wire((8.0, p.line), (ENDS, p.line)), p.wire((at, p.line), (at + ENDS - 8, p.line))]
    ends += [end(p, 8.0), end(p, at + ENDS - 8)]
    whole = at + ENDS + (30.0 if not p.upright else 0.0)
    size = (p.earth + 100.0, whole) if p.upright else (whole, p.earth + 48.0)
    title = safe(f"Schematic of {chosen.name}: " + "; ".join(rung_words(r) for r in chosen.rungs))
    drawn = "".join(ends) + "".join(body) + shared_earths(p, chosen, places, known)
    return svg(drawn, *size, kind="ladder upright" if upright else "ladder lying", title=title)


def end(p: Paper, at: float) -> str:
    """Where the ladder is tied to the path."""
    x, y = p.at(at, p.line)
    return f'<circle class="ring" cx="{x:g}" cy="{y:g}" r="4"/>'


def rung_words(rung: Rung) -> str:
    """One rung in words, for those who do not see the drawing."""
    parts = f" {rung.combined} ".join(f"{x.ref} {value_of(x)}" for x in rung.parts)
    earth = f", earth point {rung.ground}" if rung.ground else ""
    return f"{rung.place} {parts}{earth}"
