"""What a sweep says about a piece of coax, in sentences."""

from __future__ import annotations

from halfsplit.cables.records import CableFacts, Echo, End

FAR = 0.05
"""A length this far from the one told is worth a sentence: velocity factors of one type differ by some 3 %."""
LOSSY = 0.20
OHM_OFF = 3.0
SEEN = 0.03


def verdicts_of(facts: CableFacts, told: float | None, factor_told: bool) -> tuple[str, ...]:
    """Sentences, loudest first. told : m, the length given; factor_told : whether a velocity factor was given"""
    out: list[str] = []
    out += _length_words(facts, told, factor_told)
    out += [_echo_words(e) for e in facts.echoes if not e.end and abs(e.reflection) > SEEN]
    out += _loss_words(facts)
    out += _ohm_words(facts)
    if facts.fit is not None and facts.fit.end is not End.UNKNOWN and facts.window:
        out.append(_end_words(facts))
    return tuple(out)


def _length_words(facts: CableFacts, told: float | None, factor_told: bool) -> list[str]:
    """The length told against the length found, where a velocity factor is known apart from it."""
    table = facts.table
    if told is None or facts.electrical_metres is None or not (factor_told or table is not None):
        return []
    factor = table.velocity_factor if table is not None and not factor_told else None
    found = facts.metres.value if factor is None and facts.metres is not None else None
    if factor is not None:
        found = facts.electrical_metres.value * factor
    if found is None:
        return []
    off = found / told - 1.0
    if abs(off) < FAR:
        return [f"length: {found:.2f} m found, {told:.2f} m told: they agree within {100 * abs(off):.1f} %"]
    if off < 0:
        return [
            f"!! the far end seen lies at {found:.2f} m, not at {told:.2f} m: damaged there, or not the type it is "
            "taken for"
        ]
    return [f"!! {found:.2f} m found, {told:.2f} m told: another length, or another type of cable"]


def _echo_words(e: Echo) -> str:
    where = f"{e.metres:.2f} m" if e.metres is not None else f"{e.round_trip * 1e9:.1f} ns there and back"
    side = "higher" if e.reflection > 0 else "lower"
    ohm = "" if e.ohm is None else f", as a step to {e.ohm:.0f} ohm would"
    size = f"{100 * abs(e.reflection):.0f} %"
    return f"? at {where} {size} is reflected towards a {side} impedance{ohm}: a joint, a crush or damage"


def _loss_words(facts: CableFacts) -> list[str]:
    """Loss against the table: at the frequency where the two differ most for sure."""
    if facts.table is None or not facts.table.rows:
        return []
    rows = [r for r in facts.table.rows if r[3] > 0]
    worst = max(rows, key=lambda r: r[1] / r[3])
    hz, measured, sigma, wanted = worst
    off = measured / wanted - 1.0
    figures = f"{measured:.2f} dB per 100 m at {hz / 1e6:g} MHz, {wanted:.2f} dB in the table for {facts.table.type}"
    if off > LOSSY and measured - wanted > 3.0 * sigma:
        return [f"!! lossier than its type: {figures} ({100 * off:+.0f} %): water, a corroded shield, or another type"]
    if off < -LOSSY and wanted - measured > 3.0 * sigma:
        return [f"? less loss than its type has: {figures} ({100 * off:+.0f} %): another type, or another length"]
    return [f"loss as its type: {figures} ({100 * off:+.0f} %)"]


def _ohm_words(facts: CableFacts) -> list[str]:
    if facts.fit is None or facts.table is None or not facts.window:
        return []
    z0, wanted = facts.fit.z0, facts.table.ohm
    if abs(z0.value - wanted) > max(OHM_OFF, 3.0 * z0.sigma):
        return [f"!! {z0.value:.1f} ohm, not the {wanted:.0f} ohm of {facts.table.type}: another type of cable"]
    return []


def _end_words(facts: CableFacts) -> str:
    assert facts.fit is not None
    ohm = "" if facts.fit.end_ohm is None else f" of about {facts.fit.end_ohm:.0f} ohm"
    name = {End.OPEN: "open", End.SHORT: "shorted"}.get(facts.fit.end, "closed by a resistor")
    return f"the far end is {name}{ohm}"
