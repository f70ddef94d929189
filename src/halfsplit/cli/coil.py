"""The command coil, its text and its JSON object."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from halfsplit.cli.common import guarded, put, quantity
from halfsplit.cli.door import JSON, main
from halfsplit.errors import InputError, Mistake

if TYPE_CHECKING:
    from halfsplit.jobs.coil import AirFound, CoilFound, RingFound
    from halfsplit.parts.air_coils import AirCoil

SHOWN_CORES = 6


@main.command()
@click.option("--value", default=None, help='Inductance wanted: "1.17 uH".')
@click.option("--form", default=None, help='Air coil: what it is wound on, "8 mm" (inside of the turns).')
@click.option("--diameter", default=None, help="Air coil: diameter between wire centres, in place of --form.")
@click.option("--wire", default=None, help='Diameter of the copper: "1 mm", or "AWG 18".')
@click.option("--turns", default=None, type=float, help="Turns that it has.")
@click.option("--length", default=None, help="Air coil: length from the wire's centre at one end to that at the other.")
@click.option("--pitch", default=None, help="Air coil: from turn to turn, in place of --length; touching if left out.")
@click.option("--measured", default=None, help="Inductance of the coil as it is now: says which way to bend it.")
@click.option("--core", default=None, help='Ring core by its name, "T50-6", or "any" for all that are known.')
@click.option("--cores", default=None, type=click.Path(path_type=Path), help="Own table of cores, TOML or CSV.")
@click.option("--volts", default=None, help="Ring core: rms volts across the coil, for the flux density (see stress).")
@click.option("--at", default=None, help='Frequency of use: "9.65 MHz"; for Q, resonance and flux.')
@click.option("--of", "source", default=None, type=click.Path(path_type=Path),
              help="Job or unit file: value and frequency of the coil that --part names.")  # fmt: skip
@click.option("--part", default=None, help="With --of: designator of the coil.")
@JSON
@guarded
def coil(as_json: bool, **given: Any) -> int:
    """A coil: what a winding has, how many turns it needs, which way and how far to squeeze or stretch it.

    Air coils by --form, --wire and turns or length; coils on ring cores by --core.
    """
    from halfsplit.jobs.coil import CoilWish
    from halfsplit.jobs.coil import coil as job

    sizes = {key: size(f"--{key}", given[key]) for key in ("form", "diameter", "wire", "length", "pitch")}
    henry, measured = (figure(f"--{key}", given[key], "INDUCTANCE") for key in ("value", "measured"))
    found = job(
        CoilWish(
            henry, turns=given["turns"], measured=measured, f=figure("--at", given["at"], "FREQUENCY"),
            core=given["core"], cores=given["cores"], volts=figure("--volts", given["volts"], "VOLTAGE"),
            source=given["source"], part=given["part"], **sizes,
        )
    )  # fmt: skip
    put(shape(found), text(found), as_json)
    return 0


def figure(option: str, text: str | None, dimension: str) -> float | None:
    """The value of an option, which must be above zero. raises InputError"""
    if text is None:
        return None
    value = quantity(option, text, dimension)
    if not value > 0:
        raise InputError(Mistake(option, repr(text), "more than zero"))
    return value


def size(option: str, text: str | None) -> float | None:
    """A length; of wire also by its American gauge (d = 0.127 mm x 92^((36 - n)/39), ASTM B258, from memory)."""
    gauge = None if text is None else re.fullmatch(r"\s*AWG\s*(\d{1,2})\s*", text, re.I)
    if gauge is not None and option == "--wire":
        return float(0.127e-3 * 92.0 ** ((36 - int(gauge[1])) / 39))
    return figure(option, text, "LENGTH")


def uh(henry: float) -> str:
    """Inductance with its unit."""
    from halfsplit.quantity import Dimension, format_value

    return format_value(henry, Dimension.INDUCTANCE, 4)


def mm(metres: float) -> str:
    """Millimetres with one place."""
    return f"{1e3 * metres:.1f} mm"


def text(found: CoilFound) -> str:
    """halfsplit coil."""
    from halfsplit.cli.show import wrapped

    wanted = "" if found.henry is None else f", {uh(found.henry)} wanted"
    at = "" if found.f is None else f" at {found.f / 1e6:.4g} MHz"
    lines = [f"{found.what[0].upper()}{found.what[1:]}{wanted}{at}"]
    if found.air is not None:
        lines += [wrapped(x, "  ", "    ") for x in air_lines(found.air, found.f)]
    elif found.rings:
        lines += ring_lines(found)
    return "\n".join([*lines, *(wrapped(n, "", "  ") for n in found.notes)])


def air_lines(found: AirFound, f: float | None) -> list[str]:
    """An air coil in sentences."""
    c = found.coil
    lines = []
    if found.needed == "turns" and found.whole is not None:
        w = found.whole
        lines.append(
            f"Wind {w.turns:g} turns of {1e3 * w.wire:.3g} mm wire, {mm(w.diameter)} between wire centres, and space "
            f"them over {mm(w.length)} (touching: {mm(found.closest)}). {c.turns:.1f} turns at a pitch of "
            f"{1e3 * c.pitch:.2f} mm would do."
        )
        c = w
    elif found.needed == "length":
        lines.append(f"Space the {c.turns:g} turns over {mm(c.length)} (touching: {mm(found.closest)}).")
    elif found.adjustment is not None:
        lines.append(move_line(found))
    lines.append(
        f"{c.turns:g} turns on {mm(c.length)}, {mm(c.diameter)} between wire centres: {uh(c.henry)} "
        f"+-{100 * c.spread:.0f} % ({uh(c.henry * (1 - c.spread))} to {uh(c.henry * (1 + c.spread))}); "
        f"Wheeler's rule: {uh(found.wheeler)}"
    )
    lines.append(
        f"its own resonance: about {c.resonance / 1e6:.0f} MHz; wire {100 * c.wire_length:.0f} cm and its leads"
    )
    if f is not None:
        q = c.q(f)
        lines.append(
            f"Q at {f / 1e6:.4g} MHz: about {q:.0f} ({0.7 * q:.0f} to {1.3 * q:.0f}); skin alone would allow "
            f"{c.q_of_skin(f):.0f}"
        )
    return lines


def move_line(found: AirFound) -> str:
    """Which way and how far."""
    a = found.adjustment
    assert a is not None
    now, then = mm(found.coil.length), mm(a.length)
    reach = f"By length alone it reaches {uh(a.reach[0])} to {uh(a.reach[1])}."
    if a.move.value == "leave":
        return f"Leave it: within 0.5 % of what is wanted. {reach}"
    if a.turns == 0:
        return f"{a.move.value.capitalize()} it from {now} to {then} ({1e3 * a.by:+.1f} mm). {reach}"
    word = "Add" if a.turns > 0 else "Take off"
    count = abs(a.turns)
    return (
        f"{word} {count:g} turn{'' if count == 1 else 's'} ({a.coil.turns:g} in all) and space them over {then} "
        f"(now {now}). {reach}"
    )


def ring_lines(found: CoilFound) -> list[str]:
    """Ring cores as a table, best first; of one core a sentence as well."""
    from halfsplit.cli.show import table, wrapped

    rows = [ring_row(r) for r in found.rings[:SHOWN_CORES]]
    head = ("core", "turns", "by A_L", "gives", "off", "range", "most turns", "wire", "flux / guideline")
    lines = [table(head, rows)]
    if len(found.rings) > SHOWN_CORES:
        lines.append(f"and {len(found.rings) - SHOWN_CORES} more cores (--json)")
    if len(found.rings) == 1:
        lines.append(wrapped(ring_line(found.rings[0]), "  ", "    "))
    return lines


def ring_row(r: RingFound) -> tuple[str, ...]:
    """One ring core as cells."""
    w = r.wound
    fits = "" if w.most_turns is None else f"{w.most_turns}{'' if w.fits else ' !!'}"
    guide = "" if r.guideline is None else f" / {1e3 * r.guideline:.1f} mT{' !!' if r.hot else ''}"
    return (
        w.core.name, str(w.turns), f"{w.exact:.2f}", uh(w.henry), f"{100 * w.off:+.1f} %",
        f"{uh(w.low)} to {uh(w.high)}", fits, "" if w.wire_length is None else f"{100 * w.wire_length:.0f} cm",
        "" if r.tesla is None else f"{1e3 * r.tesla:.1f} mT{guide}",
    )  # fmt: skip


def ring_line(r: RingFound) -> str:
    """What to do with the one core."""
    w = r.wound
    now = w.henry if r.present is None else r.present
    wanted = w.core.al * w.exact**2
    off = wanted / now - 1.0
    said = "" if r.present is None else f"Measured {uh(now)}. "
    if r.turns_to_add:
        word = "Add" if r.turns_to_add > 0 else "Take off"
        count = abs(r.turns_to_add)
        said += f"{word} {count} turn{'' if count == 1 else 's'}; then "
        left = wanted / (now * ((w.turns + r.turns_to_add) / w.turns) ** 2) - 1.0
    else:
        left = off
    if abs(left) < 0.01:
        return said + ("leave it: within 1 %." if not said else "leave it.")
    way = "bunch the turns together" if left > 0 else "spread the turns evenly around the ring"
    enough = "" if abs(left) <= 0.10 else ", more than spreading or bunching gives: another core"
    return f"{said}{way} ({100 * left:+.1f} % needed{enough})."


def shape(found: CoilFound) -> dict[str, Any]:
    """halfsplit coil --json."""
    from halfsplit.cli.shape import plain_object

    return plain_object(
        what=found.what, wanted_h=found.henry, at_hz=found.f,
        air=None if found.air is None else air_shape(found.air, found.f),
        cores=[ring_shape(r) for r in found.rings], notes=list(found.notes),
    )  # fmt: skip


def coil_shape(c: AirCoil, f: float | None) -> dict[str, Any]:
    """One air coil."""
    return {
        "turns": c.turns, "diameter_m": c.diameter, "length_m": c.length, "pitch_m": c.pitch, "wire_m": c.wire,
        "henry": c.henry, "spread": c.spread, "resonance_hz": c.resonance, "self_capacitance_f": c.farad,
        "wire_length_m": c.wire_length, "q": None if f is None else c.q(f),
        "q_of_skin": None if f is None else c.q_of_skin(f),
    }  # fmt: skip


def air_shape(found: AirFound, f: float | None) -> dict[str, Any]:
    """The answer about an air coil."""
    a = found.adjustment
    return {
        "needed": found.needed, "coil": coil_shape(found.coil, f), "wheeler_h": found.wheeler,
        "closest_m": found.closest, "whole": None if found.whole is None else coil_shape(found.whole, f),
        "adjustment": None if a is None else {
            "move": a.move.value, "by_m": a.by, "turns": a.turns, "length_m": a.length, "coil": coil_shape(a.coil, f),
            "lowest_h": a.reach[0], "highest_h": a.reach[1],
        },
    }  # fmt: skip


def ring_shape(r: RingFound) -> dict[str, Any]:
    """One ring core."""
    w = r.wound
    return {
        "core": w.core.name, "al_h": w.core.al, "source": w.core.source, "turns": w.turns, "exact_turns": w.exact,
        "henry": w.henry, "off": w.off, "low_h": w.low, "high_h": w.high, "fits": w.fits, "most_turns": w.most_turns,
        "wire_length_m": w.wire_length, "by_spreading": w.by_spreading, "tesla": r.tesla,
        "guideline_tesla": r.guideline, "turns_to_add": r.turns_to_add,
    }  # fmt: skip
