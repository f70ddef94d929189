"""Drawings of units that nobody built: bands, filters, jumpers and relays at random, and their unit files."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

Rng = np.random.Generator

E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)

CABLES = {  # z0 ohm, velocity factor, k1, k2; typical figures of the trade, from memory
    "thin": (50.0, 0.70, 2.75, 0.0),
    "foam": (50.0, 0.80, 1.2, 0.02),
    "solid": (50.0, 0.66, 1.35, 0.03),
}


@dataclass(frozen=True, slots=True)
class Piece:
    """One part as drawn. value : farad or henry; text : as printed."""

    ref: str
    value: float
    text: str

    @property
    def is_coil(self) -> bool:
        return self.ref.startswith("L")


@dataclass(frozen=True, slots=True)
class Step:
    """One rung. place : "shunt" or "series"; across : in parallel with a series part; ground : shared earth point."""

    place: str
    piece: Piece
    across: Piece | None = None
    ground: str = ""


@dataclass(frozen=True, slots=True)
class Ladder:
    """A filter. enter, leave : relay or switch, "" where it is wired straight."""

    name: str
    steps: tuple[Step, ...]
    enter: str
    leave: str
    kind: str = "low-pass"

    def pieces(self) -> list[Piece]:
        return [p for s in self.steps for p in (s.piece, s.across) if p is not None]

    def nodes(self) -> list[str]:
        """Node names from the left to the right end, as hook-ups name them."""
        n = sum(s.place == "series" for s in self.steps)
        return [f"{self.name} in", *(f"{self.name} {i}" for i in range(1, n)), f"{self.name} out"]


@dataclass(frozen=True, slots=True)
class Served:
    """A band. low, high : Hz."""

    name: str
    low: float
    high: float
    ladder: str


@dataclass(frozen=True, slots=True)
class Jumper:
    """A coax jumper."""

    ref: str
    z0: float
    velocity: float
    k1: float
    k2: float
    length: float


@dataclass(frozen=True, slots=True)
class Drawing:
    """A whole unit. order : the path; adjusted : coils that are set on test; tolerance : printed."""

    name: str
    bands: tuple[Served, ...]
    ladders: tuple[Ladder, ...]
    order: tuple[str, ...]
    points: tuple[str, ...]
    jumpers: tuple[Jumper, ...]
    relays: tuple[str, ...]
    wafers: bool
    tolerance: str
    quality: int
    adjusted: tuple[str, ...] = field(default=())

    def ladder(self, name: str) -> Ladder:
        return next(x for x in self.ladders if x.name == name)

    def band(self, name: str) -> Served:
        return next(b for b in self.bands if b.name == name)

    def throw(self, ladder: str) -> str:
        """Wafer position of a filter."""
        return str([x.name for x in self.ladders].index(ladder) + 1)

    def contact(self, ladder: str, end: str) -> str:
        """What the technician calls the contact at one end of a filter."""
        chosen = self.ladder(ladder)
        name = chosen.enter if end == "in" else chosen.leave
        if not name:
            return f"{ladder} {end} joint"
        if self.wafers:
            return f"{name} contact {self.throw(ladder)}"
        if chosen.enter == chosen.leave:
            return f"{name} contact ({end})"
        return f"{name} contact"


def farads(value: float) -> tuple[float, str]:
    """The nearest preferred value and how it is printed."""
    pf = value * 1e12
    decade = 10.0 ** np.floor(np.log10(pf)) / 10.0
    near = min((x * d for x in E24 for d in (decade, 10 * decade)), key=lambda x: abs(np.log(x / pf)))
    return float(near) * 1e-12, f"{near:.0f} pF" if near >= 1e4 else f"{near:.4g} pF"


def henries(value: float) -> tuple[float, str]:
    """Three digits and how it is printed."""
    rounded = float(f"{value * 1e6:.3g}")
    return rounded * 1e-6, f"{rounded:g} uH"


def piece(ref: str, value: float) -> Piece:
    """A part at the printed value nearest to the computed one."""
    shown, text = henries(value) if ref.startswith("L") else farads(value)
    return Piece(ref, shown, text)


def part_text(unit: Drawing, p: Piece) -> str:
    """Value and what else is printed beside it."""
    text = f'value = "{p.text}"'
    if p.is_coil:
        text += f", q = {unit.quality}" if unit.quality else ""
        text += ", adjustable = true" if p.ref in unit.adjusted else ""
    elif unit.tolerance:
        text += f', tolerance = "{unit.tolerance}"'
    return text


def ladder_text(unit: Drawing, ladder: Ladder) -> list[str]:
    """The table of one filter."""
    lines = [f"[filter.{ladder.name}]"]
    if ladder.enter:
        lines += [f'input = "{ladder.enter}"', f'output = "{ladder.leave}"']
    lines.append("ladder = [")
    for step in ladder.steps:
        row = f'{step.place} = "{step.piece.ref}", {part_text(unit, step.piece)}'
        if step.across is not None:
            row += f', across = {{ part = "{step.across.ref}", {part_text(unit, step.across)} }}'
        if step.ground:
            row += f', ground = "{step.ground}"'
        lines.append(f"  {{ {row} }},")
    return [*lines, "]", ""]


def unit_file(unit: Drawing) -> str:
    """The unit file of a drawing, as docs/unit-file.md describes it."""
    lines = ["[unit]", f'name = "{unit.name}"', 'note = "invented for trials"', ""]
    for b in unit.bands:
        span = f'["{b.low / 1e6:.4f} MHz", "{b.high / 1e6:.4f} MHz"]'
        lines += ["[[band]]", f'name = "{b.name}"', f"range = {span}", f'filter = "{b.ladder}"']
        if unit.wafers:
            at = unit.throw(b.ladder)
            lines.append(f'positions = {{ S1A = "{at}", S1B = "{at}" }}')
        lines.append("")
    quoted = ", ".join(f'"{x}"' for x in unit.order)
    named = ", ".join(f'"{x}"' for x in unit.points if " " in x)
    lines += ["[path]", f"order = [{quoted}]", *([f"points = [{named}]"] if named else []), ""]
    for c in unit.jumpers:
        at10, at100 = (c.k1 * np.sqrt(m) + c.k2 * m for m in (10.0, 100.0))
        lines += [f"[cable.{c.ref}]", f'z0 = "{c.z0:g} ohm"', f"velocity_factor = {c.velocity:g}"]
        lines += [f'loss = ["{at10:.4f} dB/100 m @ 10 MHz", "{at100:.4f} dB/100 m @ 100 MHz"]']
        lines += [f'length = "{c.length * 1e3:.0f} mm"', ""]
    if "PA" in unit.order:
        lines += ["[stage.PA]", 'kind = "push-pull"', 'output = "40 W"', 'gain = "16 dB"', ""]
    for relay in unit.relays:
        lines += [f"[relay.{relay}]", ""]
    if unit.wafers:
        throws = ", ".join(f'"{unit.throw(x.name)}" = "{x.name}"' for x in unit.ladders)
        for wafer in ("S1A", "S1B"):
            lines += [f"[switch.{wafer}]", f"throws = {{ {throws} }}", ""]
    for ladder in unit.ladders:
        lines += ladder_text(unit, ladder)
    return "\n".join(lines)
