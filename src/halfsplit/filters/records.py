"""What `describe` finds out about a filter."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from halfsplit.parts import Kind


class Family(StrEnum):
    """Families of filter that the tool can tell apart."""

    BUTTERWORTH = "Butterworth"
    CHEBYSHEV = "Chebyshev"
    ELLIPTIC = "elliptic"
    TRAPS = "equal ripple with traps"
    ZOLOTAREV = "Zolotarev-like"
    HALF_WAVE = "half-wave"
    CONSTANT_K = "image-parameter, constant-k"
    M_DERIVED = "image-parameter, constant-k with m-derived ends"


class Pass(StrEnum):
    """What a ladder lets through, as its topology says."""

    LOW = "low-pass"
    HIGH = "high-pass"
    BAND = "band-pass"
    OTHER = "none of the usual forms"


@dataclass(frozen=True, slots=True)
class PartFit:
    """One value of the drawing against the ideal of the family.

    refs : the part, or the parts that are in parallel or in series at this place; kind : what they are
    value, ideal : SI; value None where the drawing has none
    deviation : value / ideal - 1, None without value
    """

    refs: tuple[str, ...]
    kind: Kind
    value: float | None
    ideal: float
    deviation: float | None


@dataclass(frozen=True, slots=True)
class FamilyFit:
    """How well one family describes the drawing.

    distance : rms of ln(value / ideal) over the values used, corrected for the parameters fitted (0.03 is 3 %)
    edge : Hz, the ripple edge (Butterworth: -3 dB; half-wave: its frequency); band-pass: width between the edges
    ripple_db : dB, None where the family has none
    hump_to : Hz, below it the loss may exceed the ripple (Zolotarev-like); None for the others
    hump_db : dB, the loss at the top of that hump
    stop_db : dB, least attenuation in the stop band (elliptic)
    ohm : resistance for which it was fitted
    load_ohm : resistance at the output that the family wants, where it is not `ohm`
    left_out : parts that were left out of this fit because they alone spoil it, or have no value
    text : the family in words with its figures
    """

    family: Family
    distance: float
    edge: float
    ohm: float
    parts: tuple[PartFit, ...]
    text: str
    ripple_db: float | None = None
    hump_to: float | None = None
    hump_db: float | None = None
    stop_db: float | None = None
    load_ohm: float | None = None
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Suspicion:
    """A value that alone spoils the family or the symmetry: a misprint, a slip of the pen, or a change by its builder.

    drawn, fits : SI; deviation : drawn / fits - 1 (drawn and deviation None for a part without value)
    """

    refs: tuple[str, ...]
    drawn: float | None
    fits: float
    deviation: float | None
    text: str


@dataclass(frozen=True, slots=True)
class Harmonic:
    """Attenuation at a multiple of the edges of a served band. times : 2..5; at_low, at_high : dB."""

    times: int
    at_low: float
    at_high: float


@dataclass(frozen=True, slots=True)
class Served:
    """The filter in one served band, matched at both ends. All dB.

    loss_low, loss_high : loss at the lower and upper edge; loss_most : largest in the band
    ripple : largest less smallest loss in the band; return_loss : smallest in the band, at either end
    """

    band: str
    low: float
    high: float
    loss_low: float
    loss_high: float
    loss_most: float
    ripple: float
    return_loss: float
    harmonics: tuple[Harmonic, ...]


@dataclass(frozen=True, slots=True)
class Notch:
    """What a trap does. resonance : Hz, from its two parts; f, depth_db : where the attenuation peaks, and how deep."""

    refs: tuple[str, ...]
    resonance: float
    f: float
    depth_db: float


@dataclass(frozen=True, slots=True)
class Hump:
    """A loss below the lowest served band that is larger than any loss in it. f : Hz; loss_db, return_loss_db : dB."""

    f: float
    loss_db: float
    return_loss_db: float


@dataclass(frozen=True, slots=True)
class FilterFacts:
    """A filter in figures and words.

    order : number of reactive arms; topology : the ladder in words
    nearest : the family that it comes nearest to, None for none; others : the next best
    suspicions : likeliest first; more than one where the drawing cannot tell which
    cutoffs : (Hz, Hz or None each) lower and upper -3 dB point, against the least loss in the served band
    z0 : ohm, the impedance that all figures are for
    other_ohm : a family that fits far better at another resistance than z0, None where there is none
    assumed : what was assumed because the drawing is silent; notes : what to know when reading the figures
    served, notches, hump : empty or None where a part has no value and no family supplies one
    """

    name: str
    passes: Pass
    order: int
    topology: str
    z0: float
    nearest: FamilyFit | None
    others: tuple[FamilyFit, ...]
    suspicions: tuple[Suspicion, ...]
    served: tuple[Served, ...]
    cutoffs: tuple[float | None, float | None]
    notches: tuple[Notch, ...]
    hump: Hump | None
    other_ohm: FamilyFit | None
    assumed: tuple[str, ...]
    notes: tuple[str, ...]
    headline: str
