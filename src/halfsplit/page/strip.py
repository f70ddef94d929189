"""The signal path for the page: each station a link, the station that is open, and the drawings behind each reading."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import quote

from markupsafe import Markup

from halfsplit.hookup import describe
from halfsplit.page.opened import Opened, opened
from halfsplit.page.view import View
from halfsplit.report.markup import safe
from halfsplit.report.plot import curves_of, deviation, trace
from halfsplit.report.readings import matching
from halfsplit.report.strip import Station, stations, strip
from halfsplit.verdict import Check, Verdict, Word
from halfsplit.verdict.records import SEVERITY

LOUDEST = 3


@dataclass(frozen=True, slots=True)
class BandRow:
    """One band of the table. word : None where nothing is judged; checks : (check, key of its reading), the loudest

    rest : the other checks; unjudged : keys of readings that wait for their verdict
    """

    name: str
    span: str
    word: Word | None
    checks: tuple[tuple[Check, str], ...]
    rest: tuple[tuple[Check, str], ...]
    unjudged: tuple[str, ...]


def on_strip(view: View) -> tuple[Station, ...]:
    """The stations of the chosen band as the readings leave them."""
    return stations(view.unit, view.band, view.ranking, bool(view.verdicts(view.band.name)))


def path_strip(view: View, drive: str = "", read: str = "") -> Markup:
    """The strip. drive, read : points that the instruments are drawn at; empty for those of the loudest reading"""
    shown = view.verdicts(view.band.name)
    if shown and not (drive or read):
        tied = next(
            (o.hookup for o in view.loaded.observations if (o.key, o.what) == (shown[0].key, shown[0].what)), None
        )
        drive, read = ("", "") if tied is None else (tied.drive, tied.read or "")
    return Markup(strip(on_strip(view), lambda name: view.link(at=name), drive, read, view.at))


def tie_strip(view: View, band: str, drive: str, read: str) -> Markup:
    """The strip for saying where the instruments are tied: every point a button, generator and detector drawn.

    band : that the hook-up is for, "" for the one that is shown; drive, read : points, "" where not said yet
    """
    names = {b.name for b in view.unit.bands}
    chosen = view.unit.band(band) if band in names else view.band
    shown = stations(view.unit, chosen, view.ranking, bool(view.verdicts(chosen.name)))
    points = view.unit.path.points

    def press(name: str) -> str:
        to = f"{view.base()}/enter/tie?point={quote(name, safe='')}"
        return f'id="tie-{points.index(name) + 1}" hx-post="{safe(to)}" hx-swap="none"'

    return Markup(strip(shown, None, drive, read, "", press))


def open_station(view: View) -> Opened | None:
    """The station that the address asks for; None where it stands on no strip of this band."""
    one = next((s for s in on_strip(view) if s.name == view.at), None)
    return opened(view.unit, view.band, one, view.data)


def on_paper(view: View, v: Verdict) -> Markup:
    """The two drawings of a reading as they stand before the script draws, and in print."""
    band, observations = view.unit.band(v.band), view.loaded.observations
    curves = curves_of(v, band, matching(v, observations))
    both = f"<figure>{trace(curves, v, band)}</figure><figure>{deviation(curves, v, band)}</figure>"
    return Markup(f'<div class="paper">{both}</div>')


def tied_to(view: View, v: Verdict) -> str:
    """The hook-up of a reading in one line."""
    found = (o.hookup for o in view.loaded.observations if (o.key, o.what) == (v.key, v.what))
    return next((describe(h) for h in found), "")


def before_the_work(view: View) -> frozenset[str]:
    """Keys of readings that were taken before work on the unit; none where no work is written down."""
    since = [w.since for w in view.book.work if w.withdrawn is None]
    return frozenset(r.key for r in view.book.readings if since and r.act <= max(since))


def band_rows(view: View) -> tuple[BandRow, ...]:
    """Every band of the unit as it is now: readings before the work come last. One not measured has no word."""
    rows = []
    old = before_the_work(view)
    for band in view.unit.bands:
        found = view.verdicts(band.name)
        ordered = [(v.key in old, c, v.key) for v in found for c in v.checks]
        ordered.sort(key=lambda x: (x[0], -SEVERITY[x[1].word], -x[1].loudness))
        checks = [(c, f"{key}, before the work" if before else key) for before, c, key in ordered]
        rows.append(
            BandRow(
                band.name,
                f"{band.low / 1e6:g} to {band.high / 1e6:g} MHz",
                max((v.word for v in found), key=lambda w: SEVERITY[w], default=None),
                tuple(checks[:LOUDEST]),
                tuple(checks[LOUDEST:]),
                tuple(dict.fromkeys(o.key for o in view.unjudged(band.name))),
            )
        )
    return tuple(rows)
