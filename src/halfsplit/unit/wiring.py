"""Cables, relays, switches, limits, bands and the path of the unit file."""

from __future__ import annotations

import re
from typing import Literal

from halfsplit.parts import Cable, cable_names, cable_type
from halfsplit.quantity import Dimension, QuantityError, parse
from halfsplit.unit.keys import one_of
from halfsplit.unit.records import Band, Harmonic, Limits, Path, Relay, Switch
from halfsplit.unit.table import Table, kind_of
from halfsplit.unit.values import stated_rating

_HARMONICS = (("second_harmonic", 2), ("third_harmonic", 3), ("fourth_harmonic", 4), ("fifth_harmonic", 5))
_LOSS = 'loss per length at a frequency, like "12 dB/100 m @ 30 MHz", or a list of two of them'
_LOSS_TEXT = re.compile(r"(?P<loss>.+?)\s*/\s*(?P<length>.+?)\s*(?:@|at)\s*(?P<f>.+)")
_OWN_POINT = re.compile(r"(TP|J)\d+[A-Za-z]?")


def own_point(name: str) -> bool:
    """True for test points and sockets, which are points by their designator (TP1, J2)."""
    return _OWN_POINT.fullmatch(name) is not None


def read_cable(ref: str, table: Table) -> Cable | None:
    """One coax jumper: type from the package's table, or its own figures, or both (its own figures win)."""
    table.only("cable")
    length = table.quantity("length", Dimension.LENGTH, "180 mm")
    if "length" not in table.data:
        table.missing("length", 'length = "180 mm"')
    name = table.text("type", "a type of coax")
    z0 = table.quantity("z0", Dimension.RESISTANCE, "50 ohm")
    velocity = table.number("velocity_factor", 0, 1, "a velocity factor")
    loss = _loss(table) if "loss" in table.data else None
    if name is not None and name not in cable_names():
        table.mistake(
            "type", f'"{name}"', one_of(name, cable_names(), "known types") + "; or z0, velocity_factor, loss"
        )
        return None
    if name is None:
        for key in ("z0", "velocity_factor", "loss"):
            if key not in table.data:
                table.missing(key, f"{key}, or a known type: {', '.join(cable_names())}")
        if z0 is None or velocity is None or loss is None or length is None:
            return None
        return Cable(ref, z0, velocity, *loss, length, "", table.text("note") or "", stated_rating(table))
    if length is None:
        return None
    known = cable_type(name)
    k1, k2 = loss or (known.k1, known.k2)
    note, rating = table.text("note") or "", stated_rating(table)
    return Cable(ref, z0 or known.z0, velocity or known.velocity_factor, k1, k2, length, name, note, rating)


def _loss(table: Table) -> tuple[float, float] | None:
    """k1, k2 from one figure (square root of frequency) or from two (square root and linear part)."""
    raw = table.data["loss"]
    texts = raw if isinstance(raw, list) else [raw]
    if not 1 <= len(texts) <= 2 or not all(isinstance(t, str) for t in texts):
        table.mistake("loss", kind_of(raw), _LOSS)
        return None
    points = [_loss_point(table, str(t)) for t in texts]
    found = [p for p in points if p is not None]
    if len(found) < len(points):
        return None
    (f1, a1), (f2, a2) = found[0], found[-1]
    if len(found) == 1:
        return a1 / f1**0.5, 0.0
    if f1 == f2:
        table.mistake("loss", "twice the same frequency", "two frequencies")
        return None
    det = f1**0.5 * f2 - f2**0.5 * f1
    k1, k2 = (a1 * f2 - a2 * f1) / det, (f1**0.5 * a2 - f2**0.5 * a1) / det
    if k1 < 0:
        table.mistake("loss", f"{texts[0]} and {texts[1]}: steeper than in proportion to frequency", _LOSS)
        return None
    return k1, k2


def _loss_point(table: Table, text: str) -> tuple[float, float] | None:
    """(f in MHz, dB per 100 m) of one figure."""
    parts = _LOSS_TEXT.fullmatch(text.strip())
    if parts is None:
        table.mistake("loss", f'"{text}"', _LOSS)
        return None
    length = parts["length"] if parts["length"][0].isdigit() else f"1 {parts['length']}"
    try:
        loss = parse(parts["loss"], Dimension.DECIBEL).value
        metres = parse(length, Dimension.LENGTH).value
        f = parse(parts["f"], Dimension.FREQUENCY).value
    except QuantityError as error:
        table.mistake("loss", f'"{text}": {error.found.removeprefix("found ")}', _LOSS)
        return None
    if loss < 0 or metres <= 0 or f <= 0:
        table.mistake("loss", f'"{text}"', "a loss of zero or more, length and frequency above zero")
        return None
    return f / 1e6, loss * 100 / metres


def read_relay(name: str, table: Table, typical: tuple[float | None, float | None]) -> Relay:
    """One relay contact. typical : ohm and F from [contacts], for what the relay does not say itself."""
    table.only("relay")
    word = table.text("closed_when", '"operated" or "released"')
    closed: Literal["operated", "released"] = "released" if word == "released" else "operated"
    if word not in (None, "operated", "released"):
        table.mistake("closed_when", f'"{word}"', '"operated" or "released"')
    joins = table.texts("joins")
    if "joins" in table.data and (len(joins) != 2 or joins[0] == joins[1]):
        table.mistake("joins", f"{len(set(joins))} different names", 'two nodes, like ["BUS IN", "F2 in"]')
        joins = ()
    ohm, farad = read_contact(table)
    return Relay(
        name=name,
        closed_when=closed,
        coil=table.text("coil", "the relay whose coil works this contact"),
        joins=(joins[0], joins[1]) if joins else None,
        contact_ohm=typical[0] if ohm is None else ohm,
        open_capacitance=typical[1] if farad is None else farad,
        rating=stated_rating(table),
    )


def read_contact(table: Table) -> tuple[float | None, float | None]:
    """contact_resistance in ohm and open_capacitance in F, where the table has them."""
    return (
        table.quantity("contact_resistance", Dimension.RESISTANCE, "30 mohm", sign="not negative"),
        table.quantity("open_capacitance", Dimension.CAPACITANCE, "1.5 pF", sign="not negative"),
    )


def read_switch(name: str, table: Table, typical: tuple[float | None, float | None]) -> Switch:
    """One wafer."""
    table.only("switch")
    throws = table.table("throws")
    if throws is None or not throws.data:
        table.missing("throws", 'throws = { "1" = "F1", "2" = "F2" }')
    pairs = () if throws is None else tuple((p, n) for p in throws.data if (n := throws.text(p, "a filter or a node")))
    ohm, farad = read_contact(table)
    return Switch(
        name=name,
        throws=pairs,
        common=table.text("common", "a node of the path"),
        contact_ohm=typical[0] if ohm is None else ohm,
        open_capacitance=typical[1] if farad is None else farad,
        rating=stated_rating(table),
    )


def read_limits(table: Table | None) -> Limits:
    """What the manual states."""
    if table is None:
        return Limits()
    table.only("limits")
    harmonics = []
    for key, order in _HARMONICS:
        dbc = table.quantity(key, Dimension.CARRIER, "-46 dBc", sign="any")
        if dbc is not None and dbc >= 0:
            table.mistake(key, f'"{table.data[key]}"', f'a level below the carrier: "{-abs(dbc):g} dBc"')
        elif dbc is not None:
            harmonics.append(Harmonic(order, dbc))
    return Limits(
        loss_db=table.quantity("loss", Dimension.DECIBEL, "0.6 dB"),
        return_loss_db=table.quantity("return_loss", Dimension.DECIBEL, "20 dB"),
        attenuation=_attenuation(table.table("attenuation")),
        harmonics=tuple(harmonics),
    )


def _attenuation(table: Table | None) -> tuple[tuple[float, float], ...]:
    """(times, dB) pairs: attenuation = { "2" = "40 dB" } is 40 dB at twice any served frequency."""
    found = []
    for times in () if table is None else tuple(table.data):
        assert table is not None
        db = table.quantity(times, Dimension.DECIBEL, "40 dB")
        try:
            factor = float(times)
        except ValueError:
            factor = 0.0
        if not 0 < factor < 1000:
            table.mistake(times, f'"{times}"', 'a multiple of the served frequency, like "2"')
        elif db is not None:
            found.append((factor, db))
    return tuple(sorted(found))


def read_band(table: Table) -> Band | None:
    """One band as written; relays and positions of its filter are added later."""
    table.only("band")
    name = table.text("name", 'the name of the band, like "31 m"')
    if name is None:
        table.missing("name", 'name = "31 m"')
    ends = table.data.get("range")
    if not isinstance(ends, list) or len(ends) != 2:
        found = "range is missing" if ends is None else kind_of(ends)
        table.mistake("range", found, 'the ends of the served range, like ["9.4 MHz", "9.9 MHz"]')
        return None
    low, high = (table.quantity_of(e, ("range", i), Dimension.FREQUENCY, "9.4 MHz") for i, e in enumerate(ends))
    if low is None or high is None or name is None:
        return None
    if low >= high:
        table.mistake("range", f'"{ends[0]}" is not below "{ends[1]}"', "the lower end first")
        return None
    positions = table.table("positions")
    pairs = () if positions is None else tuple((s, p) for s in positions.data if (p := positions.text(s, "a position")))
    return Band(
        name=name,
        low=low,
        high=high,
        filter=table.text("filter", "the name of a filter"),
        operated=table.texts("relays"),
        positions=pairs,
        limits=read_limits(table.table("limits")),
    )


def read_path(table: Table | None) -> Path:
    """The order of the path; points are test points and sockets, and what `points` lists."""
    if table is None:
        return Path((), ())
    table.only("path")
    order, listed = table.texts("order"), table.texts("points")
    if not order and "order" not in table.data:
        table.missing("order", 'order = ["FINAL", "TP1", "filter", "TP2", "J2"]')
    points = tuple(dict.fromkeys(n for n in order if own_point(n) or n in listed))
    for index, name in enumerate(listed):
        if name not in order and not own_point(name):
            at = (*table.at, "points", index)
            table.findings.mistake(at, f'"{name}" does not stand in order', one_of(name, order, "names in order"))
    return Path(order, points)
