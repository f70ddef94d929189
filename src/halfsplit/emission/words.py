"""Why a line has its name, what it means at the bench, and which sweep would settle what is open."""

from __future__ import annotations

from typing import TYPE_CHECKING

from halfsplit.emission.records import Kind, Line, Name, NamedSpectrum

if TYPE_CHECKING:
    from halfsplit.emission.sources import View

MEANS = {
    Kind.HARMONIC: "what the stage makes of a clean carrier; the filter of the band must take it down",
    Kind.HALF: "the stage divides its frequency (parametric oscillation under drive): drive, load of the stage and its "
    "damping parts",
    Kind.THIRD: "the stage divides its frequency by three: drive, load of the stage and its damping parts",
    Kind.SIDEBAND: "something of this frequency modulates the carrier: an oscillation in the bias or its decoupling, "
    "in the level control, or a clock that gets in",
    Kind.HUM: "the supply modulates the carrier: filtering, regulator, earth connection",
    Kind.FIXED: "it stays where it is: a parasitic oscillation that the carrier does not move, another oscillator, or "
    "a signal from outside; look without carrier, and with the antenna side terminated",
    Kind.OSCILLATOR: "an oscillator of the unit that leaks: screening, balance of the mixer, its trap",
    Kind.PRODUCT: "a product of the mixer: its balance and drive, and the filter behind it",
    Kind.INTERMODULATION: "the stage is not linear at this level: drive, bias, supply",
    Kind.HUMP: "noise that rises over a range: a stage close to oscillation, a noisy supply or oscillator",
    Kind.OWN: "made in the analyser, not in the unit",
    Kind.CARRIER: "",
}
LEVEL_TEST = (
    "put 10 dB more attenuation in front of the analyser and read again: lines of the unit keep their level, a "
    "product of order n of the analyser falls by 10 (n - 1) dB"
)
MATCH = {
    Kind.HARMONIC: "at {n} times the carrier",
    Kind.HALF: "half-way between multiples of the carrier",
    Kind.THIRD: "at thirds of the carrier",
    Kind.INTERMODULATION: "where this product of the two tones falls",
    Kind.OWN: "at zero frequency, where every analyser shows its own oscillator",
    Kind.HUMP: "broader than any line",
}


def off(line: Line, name: Name) -> str:
    """How well the frequency agrees."""
    if abs(line.f - name.f) < line.sigma_f:
        return f"within the {line.sigma_f / 1e3:.2g} kHz to which it was read"
    return f"off by {abs(line.f - name.f) / 1e3:.3g} kHz, read to {line.sigma_f / 1e3:.2g} kHz"


def reason(line: Line, name: Name, v: View, carriers: int) -> str:
    """Why a line has its name."""
    if name.kind is Kind.CARRIER:
        return "strongest line in the band"
    if name.kind is Kind.HUMP:
        return MATCH[Kind.HUMP]
    if name.kind is Kind.SIDEBAND or (name.kind is Kind.HUM and name.step):
        return sideband(line, name, v, carriers)
    if name.kind is Kind.FIXED:
        if carriers > 1 and seen_elsewhere(name):
            return f"no multiple of the carrier and no step that others share; {off(line, name)}"
        return "no multiple of the carrier, no partner on its other side, nothing of the frequency plan"
    told = MATCH.get(name.kind, "where the frequency plan puts it").format(n=name.order)
    return f"{told}; {off(line, name)}"


def seen_elsewhere(name: Name) -> bool:
    """Whether the name rests on a frequency that was found."""
    return name.step != 0.0


def sideband(line: Line, name: Name, v: View, carriers: int) -> str:
    """Why a line is a sideband."""
    mirror = 2.0 * v.sheet.spectrum.carrier - line.f
    other = min((abs(x.f - mirror) for x in v.sheet.spectrum.lines if x is not line), default=float("inf"))
    pair = "a line stands as far on the other side of the carrier" if other < 6.0 * line.sigma_f else ""
    moved = "it keeps its distance when the carrier moves" if carriers > 1 else ""
    told = "; ".join(x for x in (pair, moved) if x) or "its distance from the carrier is one that other lines share"
    return f"{told}; {off(line, name)}"


def meaning(name: Name) -> str:
    """What a name means at the bench."""
    if name.kind is Kind.HUMP and "carrier" in name.text:
        return "noise of an oscillator or of the level control, or the analyser's own skirt"
    return MEANS[name.kind]


def advice_for(found: NamedSpectrum, carriers: int) -> tuple[str, ...]:
    """What would settle the names that are open."""
    out = []
    doubtful = [n for n in found.lines if n.probability < 0.8]
    if doubtful and carriers < 2:
        where = ", ".join(f"{n.line.f / 1e6:.6g} MHz" for n in doubtful[:4])
        out.append(
            "move the carrier by some tens of kHz and read again: what stays is fixed, what follows tells its order "
            f"({where})"
        )
    strong = [n for n in found.lines if n.name.kind in (Kind.HARMONIC, Kind.INTERMODULATION)]
    if strong:
        out.append(LEVEL_TEST)
    return tuple(out)
