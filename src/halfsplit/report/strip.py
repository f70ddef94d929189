"""The signal path of one band as a strip: a list of stations, each with its trade symbol and its standing in words.

The strip is a list, so that it wraps on a tablet, stands upright on a phone and is read aloud in order.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from halfsplit.fault import Ranking
from halfsplit.filters.shape import shape_of
from halfsplit.quantity import percent
from halfsplit.report.markup import safe
from halfsplit.report.standing import CLASSES, SHAPES, Stand, Standing, names_of, stand
from halfsplit.report.symbols import filter_symbol, instrument, path_symbol
from halfsplit.unit import Band, Filter, Relay, Unit

FILTER = "filter"
Link = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class Station:
    """One symbol of the strip.

    kind : "stage", "point", "cable", "contact", "switch", "filter", "block"; symbol : its drawing
    note : what it is, in two or three words; point : True where an instrument can be tied on
    """

    name: str
    kind: str
    note: str
    symbol: str
    stand: Stand

    @property
    def point(self) -> bool:
        """An instrument can be tied on here."""
        return self.kind == "point"


def stations(unit: Unit, band: Band, ranking: Ranking | None, measured: bool) -> tuple[Station, ...]:
    """The path from the final stage to the socket on one band, left to right.

    ranking : None where no reading counts; measured : whether a reading on this very band counts (what only this band
    uses is untested without one, whatever other bands say)
    """
    out: list[Station] = []
    for name in unit.path.order:
        if name == FILTER:
            out += filter_stations(unit, band, ranking, measured)
        else:
            out.append(station(unit, band, name, stand(names_of(unit, name), ranking)))
    return tuple(out)


def filter_stations(unit: Unit, band: Band, ranking: Ranking | None, measured: bool) -> list[Station]:
    """The filter of a band between the contacts that pick it; nothing on a band without a filter."""
    if band.filter is None:
        return []
    chosen = unit.filter(band.filter)
    names = [x for x in (chosen.input, chosen.name, chosen.output) if x is not None]
    out = []
    for name in names:
        found = stand(names_of(unit, name), ranking)
        known = measured or found.standing is Standing.SUSPECT
        out.append(station(unit, band, name, found if known else Stand(Standing.UNTESTED)))
    return out


def station(unit: Unit, band: Band, name: str, found: Stand) -> Station:
    """One symbol. Its kind comes from the tables of the unit file, never from its name."""
    for chosen in unit.filters:
        if chosen.name == name:
            return Station(name, "filter", filter_note(chosen), filter_symbol(shape_of(chosen).passes), found)
    for relay in unit.relays:
        if relay.name == name:
            kind = "make contact" if relay.closed_when == "operated" else "break contact"
            return Station(name, "contact", relay_note(relay, band), path_symbol(kind), found)
    for cable in unit.cables:
        if cable.ref == name:
            note = f"{cable.type or 'coax'}, {1e3 * cable.length:.0f} mm"
            return Station(name, "cable", note, path_symbol("cable"), found)
    for stage in unit.stages:
        if stage.name == name:
            return Station(name, "stage", stage.kind or "stage", path_symbol("amplifier"), found)
    if any(b.name == name for b in unit.blocks):
        return Station(name, "block", "block", path_symbol("block"), found)
    if any(s.name == name for s in unit.switches):
        position = dict(band.positions).get(name)
        return Station(name, "switch", f"position {position}" if position else "switch", path_symbol("switch"), found)
    last = name == unit.path.points[-1]
    return Station(name, "point", "socket" if last else "test point", path_symbol("socket" if last else "point"), found)


def filter_note(chosen: Filter) -> str:
    """What a filter is, by its form."""
    passes = shape_of(chosen).passes.value
    return f"{passes if '-pass' in passes else 'filter'}, {len(chosen.parts)} parts"


def relay_note(relay: Relay, band: Band) -> str:
    """Whether a relay is operated on this band."""
    return "operated" if relay.name in band.operated or relay.coil in band.operated else "released"


def standing_word(found: Stand) -> str:
    """A standing by word and shape, with its probability where it is a suspect."""
    word = found.standing.value
    if found.standing is Standing.SUSPECT:
        word = f"{word} {percent(found.probability)}"
    mark = f'<span aria-hidden="true">{SHAPES[found.standing]}</span>'
    return f'<span class="standing {CLASSES[found.standing]}">{mark} {safe(word)}</span>'


def tie(kind: str) -> str:
    """An instrument tied to a point. kind : drive, read"""
    return f'<span class="tie {kind}">{instrument(kind)} {kind}</span>'


def cell(one: Station, link: Link | None, drive: str, read: str, picked: str, press: Link | None) -> str:
    """One station as a list item. The link, or for a point the button, holds all of it."""
    ties = (tie("drive") if one.name == drive else "") + (tie("read") if one.name == read else "")
    words = f'<span class="name">{safe(one.name)}</span><span class="what">{safe(one.note)}</span>'
    body = f'{one.symbol}<span class="said">{words}{standing_word(one.stand)}{ties}</span>'
    kinds = f"station {one.kind} {CLASSES[one.stand.standing]}{' picked' if one.name == picked else ''}"
    if press is not None and one.point:
        return f'<li class="{kinds}"><button type="button" class="hold" {press(one.name)}>{body}</button></li>'
    if link is None:
        return f'<li class="{kinds}"><span class="hold">{body}</span></li>'
    here = ' aria-current="true"' if one.name == picked else ""
    return f'<li class="{kinds}"><a class="hold" href="{safe(link(one.name))}"{here}>{body}</a></li>'


def strip(
    shown: tuple[Station, ...],
    link: Link | None = None,
    drive: str = "",
    read: str = "",
    picked: str = "",
    press: Link | None = None,
) -> str:
    """The strip as markup.

    link : from the name of a station to an address, None for paper
    press : from the name of a point to the attributes of a button, as markup, where points are there to be pressed
    drive, read : points that the instruments are tied to, as drawn on the strip; picked : the station that is open
    """
    items = "".join(cell(one, link, drive, read, picked, press) for one in shown)
    return f'<ol class="strip" aria-label="signal path, from the final stage to the antenna socket">{items}</ol>'
