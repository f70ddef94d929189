"""The drawing as frozen records. SI floats; every collection a tuple; names are handles."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from halfsplit.parts import Cable, Part
from halfsplit.unit.plan import Plan


@dataclass(frozen=True, slots=True)
class Harmonic:
    """A stated limit for one harmonic: order and level in dBc (negative)."""

    order: int
    dbc: float


@dataclass(frozen=True, slots=True)
class Limits:
    """What the manual states; None where it is silent.

    loss_db : largest loss of the path in the served band
    return_loss_db : smallest return loss in the served band
    attenuation : (times, dB) smallest attenuation at that multiple of any served frequency
    harmonics : emission after the filter, dBc
    """

    loss_db: float | None = None
    return_loss_db: float | None = None
    attenuation: tuple[tuple[float, float], ...] = ()
    harmonics: tuple[Harmonic, ...] = ()


@dataclass(frozen=True, slots=True)
class Band:
    """One band: served range in Hz, the filter that it uses, the relays operated, switch positions.

    positions : (switch, position) pairs, explicit or deduced by the reader from the filter
    operated : relays that are operated on this band (explicit, and those of the filter)
    """

    name: str
    low: float
    high: float
    filter: str | None
    operated: tuple[str, ...] = ()
    positions: tuple[tuple[str, str], ...] = ()
    limits: Limits = Limits()


@dataclass(frozen=True, slots=True)
class Path:
    """The signal path from the final stage to the antenna socket.

    order : names of points and elements; the word "filter" stands for the band's filter with its contacts
    points : those names of `order` that are points where an instrument can be tied on
    """

    order: tuple[str, ...]
    points: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Thermal:
    """The way of the heat of a stage. K/W each for one device, sink_air for all together; None where not stated.

    devices : how many share the heat; most_junction : K, the largest that the data sheet allows
    """

    junction_case: float | None = None
    case_sink: float | None = None
    sink_air: float | None = None
    devices: int = 1
    most_junction: float | None = None


@dataclass(frozen=True, slots=True)
class Stage:
    """An active stage. gain : (band or "all", dB, tolerance dB).

    branches : damping and feedback parts around the device, between `in`, `out`, `ground` and its own terminals
    output_watts : W into its nominal load, at 1 dB of compression; operation : class "A", "AB", "B", "C", "" not stated
    supply_volts : where it is not the unit's; knee_volts : what the device keeps; standing_amps : A without drive
    efficiency : fraction at its output_watts; optimum_ohm : best load at its output terminal
    """

    name: str
    kind: str = ""
    output_watts: float | None = None
    gain: tuple[tuple[str, float, float | None], ...] = ()
    input_ohm: float | None = None
    output_ohm: float | None = None
    branches: tuple[Branch, ...] = ()
    operation: str = ""
    supply_volts: float | None = None
    knee_volts: float | None = None
    standing_amps: float | None = None
    efficiency: float | None = None
    optimum_ohm: float | None = None
    thermal: Thermal = Thermal()


@dataclass(frozen=True, slots=True)
class Drive:
    """What comes before the path. order : stages and test points from the exciter to the final stage.

    dbm : level at the first place of the order, key down, None where not stated; tolerance_db : its tolerance; ohm
    """

    order: tuple[str, ...] = ()
    dbm: float | None = None
    tolerance_db: float | None = None
    ohm: float = 50.0


@dataclass(frozen=True, slots=True)
class Supply:
    """The supply beyond its voltage.

    ohm : of leads and source; tolerance : fraction of the voltage; rest_amps : A of all but the final stage
    """

    ohm: float | None = None
    tolerance: float | None = None
    rest_amps: float | None = None


@dataclass(frozen=True, slots=True)
class LevelControl:
    """Holds the forward power at the end of the path. watts : W; tolerance : fraction, None where not stated"""

    watts: float
    tolerance: float | None = None


@dataclass(frozen=True, slots=True)
class Relay:
    """One relay contact. Closed when the relay is operated, or when released if `closed_when` says so.

    joins : the two nodes it joins, only where the place in path or filter does not say it
    contact_ohm, open_capacitance : None where the drawing is silent
    coil : the relay whose coil works this contact, where several contacts share one; None: its own. The reader has
           already put every contact of an operated coil into `Band.operated`
    rating : of the contact as printed ("5 A"), None where the drawing is silent
    """

    name: str
    closed_when: Literal["operated", "released"] = "operated"
    joins: tuple[str, str] | None = None
    contact_ohm: float | None = None
    open_capacitance: float | None = None
    coil: str | None = None
    rating: str | None = None


@dataclass(frozen=True, slots=True)
class Switch:
    """One wafer: a common point and its throws, (position, name of the filter or node joined)."""

    name: str
    throws: tuple[tuple[str, str], ...]
    common: str | None = None
    contact_ohm: float | None = None
    open_capacitance: float | None = None
    rating: str | None = None


@dataclass(frozen=True, slots=True)
class Rung:
    """One step of a ladder, as the schematic shows it from left to right.

    parts : one part; or two, combined "across" (parallel, in the series arm: a trap) or "with" (in series, in the
            shunt arm: a shunt trap)
    ground : name of an earth point that this shunt shares with others; None: a ground joint of its own
    """

    place: Literal["series", "shunt"]
    parts: tuple[Part, ...]
    combined: Literal["across", "with"] | None = None
    ground: str | None = None


@dataclass(frozen=True, slots=True)
class Filter:
    """A ladder. input, output : relay or switch that ties its ends to the path (None: wired straight).

    node names: "<name> in", "<name> out", and inner nodes "<name> 1", "<name> 2" ... counted after each series rung
    stray : F at each end where the drawing or an earlier baseline gives it
    """

    name: str
    rungs: tuple[Rung, ...]
    input: str | None = None
    output: str | None = None
    impedance: float | None = None
    stray: float | None = None
    note: str = ""

    @property
    def parts(self) -> tuple[Part, ...]:
        """All parts in ladder order."""
        return tuple(p for r in self.rungs for p in r.parts)


@dataclass(frozen=True, slots=True)
class Branch:
    """A part between two named nodes of a block; the node "ground" is the chassis."""

    part: Part
    a: str
    b: str


@dataclass(frozen=True, slots=True)
class Coupling:
    """Two coils of a block that share flux (a transformer); k : 0..1; the first ends are the dotted ends."""

    first: str
    second: str
    k: float


@dataclass(frozen=True, slots=True)
class Block:
    """A general block by branches, or a measured one.

    input, output : its two terminals (node names inside the block)
    measured : (f, s, z0) with f (n,) Hz, s (n, 2, 2) stored flat as complex tuples, z0 ohm; None for branches
    measured_source : file name of the Touchstone file
    """

    name: str
    input: str
    output: str
    branches: tuple[Branch, ...] = ()
    couplings: tuple[Coupling, ...] = ()
    points: tuple[str, ...] = ()
    measured: tuple[tuple[float, ...], tuple[complex, ...], float] | None = None
    measured_source: str = ""


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit as its drawing gives it.

    rated_watts : W; supply_volts : V; impedance : ohm
    text : the unit file as read; source : its name
    """

    name: str
    bands: tuple[Band, ...]
    path: Path
    impedance: float = 50.0
    rated_watts: float | None = None
    supply_volts: float | None = None
    stages: tuple[Stage, ...] = ()
    cables: tuple[Cable, ...] = ()
    relays: tuple[Relay, ...] = ()
    switches: tuple[Switch, ...] = ()
    filters: tuple[Filter, ...] = ()
    blocks: tuple[Block, ...] = ()
    limits: Limits = Limits()
    plan: Plan | None = None
    drive: Drive = Drive()
    supply: Supply = Supply()
    level_control: LevelControl | None = None
    note: str = ""
    text: str = ""
    source: str = ""

    def band(self, name: str) -> Band:
        """The band of that name. raises KeyError where there is none."""
        for band in self.bands:
            if band.name == name:
                return band
        raise KeyError(name)

    def filter(self, name: str) -> Filter:
        """The filter of that name. raises KeyError where there is none."""
        for found in self.filters:
            if found.name == name:
                return found
        raise KeyError(name)
