"""Trade symbols of the signal path and of the ladder, as strokes on paper; styled by class.

source: the forms of IEC 60617 as common practice draws them (filter, amplifier, coaxial conductor, make and break
contact, capacitor, inductor, resistor, earth); from memory, drawn anew, no drawing of the standard was copied.
"""

from __future__ import annotations

from halfsplit.filters import Pass
from halfsplit.parts import Kind

WIDE, HIGH, LINE = 72, 56, 28  # of a symbol in the signal path; the line runs at this height

BLANK = f'<path class="blank" d="M14 {LINE}H58"/>'
"""What hides the line of the path behind a symbol that interrupts it."""

WAVE = "c3 -5 6 -5 9 0s6 5 9 0"
STROKES = {
    "amplifier": '<path class="body" d="M20 8V48L56 28Z"/>',
    "cable": '<circle class="thin" cx="36" cy="28" r="10"/><path class="thin" d="M20 38H52"/>',
    "make contact": f'{BLANK}<path class="wire" d="M12 28H24M48 28H60M24 28L47 14"/>',
    "break contact": f'{BLANK}<path class="wire" d="M12 28H24M48 28H60M24 28L50 19M48 28V16"/>',
    "switch": (
        f'{BLANK}<path class="wire" d="M12 28H22M22 28L49 28"/><circle class="dot" cx="22" cy="28" r="3"/>'
        '<circle class="dot" cx="50" cy="28" r="3"/><circle class="ring" cx="48" cy="14" r="3"/>'
        '<circle class="ring" cx="48" cy="42" r="3"/>'
    ),
    "block": '<rect class="body" x="16" y="12" width="40" height="32"/><path class="thin" d="M16 44L56 12"/>',
    "point": '<circle class="body" cx="36" cy="28" r="7"/>',
    "socket": '<circle class="body" cx="36" cy="28" r="12"/><circle class="dot" cx="36" cy="28" r="4"/>',
    "node": '<circle class="dot" cx="36" cy="28" r="4"/>',
}
STRUCK = {Pass.LOW: (16, 28), Pass.HIGH: (28, 40), Pass.BAND: (16, 40), Pass.OTHER: ()}
"""Which of the three waves of a filter are struck through, by their height: those that do not pass."""

GENERATOR = '<circle class="body" cx="11" cy="11" r="9"/><path class="thin" d="M5 11c2 -5 4 -5 6 0s4 5 6 0"/>'
DETECTOR = '<circle class="body" cx="11" cy="11" r="9"/><path class="thin" d="M6 15L15 6M15 11V6H10"/>'


def svg(body: str, wide: float, high: float, kind: str, title: str = "") -> str:
    """A drawing. body : markup; title : markup-safe text that says what it shows, empty where text beside it does"""
    said = f'role="img" aria-label="{title}"' if title else 'aria-hidden="true" focusable="false"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{kind}" viewBox="0 0 {wide:g} {high:g}" width="{wide:g}" '
        f'height="{high:g}" {said}>{body}</svg>'
    )


def path_symbol(kind: str) -> str:
    """One symbol of the signal path. kind : a key of STROKES. raises KeyError for another"""
    return svg(STROKES[kind], WIDE, HIGH, "symbol")


def filter_symbol(passes: Pass) -> str:
    """A filter: three waves in a square, those that do not pass struck through."""
    waves = "".join(f'<path class="thin" d="M27 {y}{WAVE}"/>' for y in (16, 28, 40))
    struck = "".join(f'<path class="thin" d="M32 {y + 5}L40 {y - 5}"/>' for y in STRUCK[passes])
    return svg(f'<rect class="body" x="14" y="6" width="44" height="44"/>{waves}{struck}', WIDE, HIGH, "symbol")


def instrument(kind: str) -> str:
    """A generator ("drive") or a detector ("read"), small."""
    return svg(GENERATOR if kind == "drive" else DETECTOR, 22, 22, "instrument")


PART_LONG = 44  # of a part in a ladder, along its line
PART_STROKES = {
    Kind.CAPACITOR: '<path class="wire" d="M0 0H18M26 0H44"/><path class="plate" d="M18 -11V11M26 -11V11"/>',
    Kind.COIL: '<path class="wire" d="M0 0H4c0 -12 12 -12 12 0c0 -12 12 -12 12 0c0 -12 12 -12 12 0H44"/>',
    Kind.RESISTOR: '<path class="wire" d="M0 0H8M36 0H44"/><rect class="hollow" x="8" y="-7" width="28" height="14"/>',
}
ADJUSTABLE = '<path class="thin" d="M8 13L36 -13M36 -13l-7 2M36 -13l-3 7"/>'
EARTH = '<path class="wire" d="M0 0H6"/><path class="plate" d="M6 -11V11M11 -7V7M16 -3V3"/>'
