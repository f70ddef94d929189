"""What the stress of a unit is, as records. SI: V, A, W, VA, Hz."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from halfsplit.stress.forms import Sort


class Held(StrEnum):
    """What stays as it is while the load changes."""

    FORWARD = "forward"
    DRIVE = "drive"
    DELIVERED = "delivered"


class Signal(StrEnum):
    """What is sent: a carrier, or two equal tones whose peak envelope power is the power named."""

    CARRIER = "carrier"
    TWO_TONE = "two-tone"


class Margin(StrEnum):
    """Use of a part against its rating."""

    WITHIN = "within"
    DOUBTFUL = "doubtful"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True)
class Case:
    """What the unit is asked to do.

    watts : peak envelope power into a matched load; swr : 1 or more, the largest that the load may have
    source_ohm : what the last stage looks like from its load; only needed where the drive is held
    """

    watts: float
    swr: float = 1.0
    held: Held = Held.FORWARD
    signal: Signal = Signal.CARRIER
    source_ohm: float | None = None


@dataclass(frozen=True, slots=True)
class Worst:
    """The largest that a quantity can be over the band and over all loads of the case.

    value : of a unit as drawn; f : Hz; load : ohm, the load at the socket that does it
    matched : largest over the band with a matched load
    high : what 19 of 20 sound units stay below
    """

    value: float
    f: float
    load: complex
    matched: float
    high: float


@dataclass(frozen=True, slots=True)
class Use:
    """One quantity against what is printed. quantity : a field of parts.Rating; share : value / limit"""

    quantity: str
    limit: float
    value: float
    high: float
    share: float
    margin: Margin


@dataclass(frozen=True, slots=True)
class PlaceStress:
    """One place of the path on one band. None where a quantity has no meaning there.

    peak_volts : V, the highest instant; rms_volts : V; amps : A rms; watts : W, average
    va : VA, rms volts times rms amps; uses : nearest to its limit first, empty where nothing is printed
    rating : as printed
    """

    place: str
    sort: Sort
    band: str
    peak_volts: Worst | None
    rms_volts: Worst | None
    amps: Worst | None
    watts: Worst | None
    va: Worst | None
    rating: str | None = None
    uses: tuple[Use, ...] = ()

    @property
    def share(self) -> float:
        """The largest share of a limit that is used, -1 where nothing is printed."""
        return self.uses[0].share if self.uses else -1.0


@dataclass(frozen=True, slots=True)
class Balance:
    """Where the power goes into a matched load, at the frequency with the largest loss.

    f : Hz; taken, load, lost : W; error : largest |taken - load - lost| / taken over the band, at the worst angles too
    """

    f: float
    taken: float
    load: float
    lost: float
    error: float


@dataclass(frozen=True, slots=True)
class BandStress:
    """One band. places : nearest to a limit first, then by VA; balance : of a unit as drawn"""

    band: str
    low: float
    high: float
    filter: str | None
    case: Case
    places: tuple[PlaceStress, ...]
    balance: Balance

    def at(self, place: str) -> PlaceStress:
        """One place. raises KeyError"""
        for one in self.places:
            if one.place == place:
                return one
        raise KeyError(place)
