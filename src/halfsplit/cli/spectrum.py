"""The verbs spectrum and limits: commands, text and JSON objects."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from halfsplit.cli.common import guarded, put, quantity
from halfsplit.cli.door import main

if TYPE_CHECKING:
    from halfsplit.emission import Named, NamedSpectrum, Profile
    from halfsplit.jobs.spectra import AddedSpectrum, Spectra
    from halfsplit.verdict import EmissionVerdict

JSON = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON object with documented keys instead of text."
)


@main.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.option(
    "--profile", multiple=True, help="Hold the lines against these limits as well (halfsplit limits). Repeat."
)
@click.option("--bandwidth", default=None, help='Necessary or authorised bandwidth of the emission ["3 kHz"].')
@JSON
@guarded
def spectrum(job: Path, profile: tuple[str, ...], bandwidth: str | None, as_json: bool) -> int:
    """Name every line of the job's spectra, and hold them against the manual, the filter and limits of your choice."""
    from halfsplit.jobs import spectra

    width = None if bandwidth is None else quantity("--bandwidth", bandwidth, "FREQUENCY")
    found = spectra.spectrum(job, profile, width)
    put(shape(found), show(found, profile), as_json)
    return 0


@main.command()
@click.argument("profile", nargs=-1)
@JSON
@guarded
def limits(profile: tuple[str, ...], as_json: bool) -> int:
    """List the emission limits that are kept as profiles; with PROFILE, every row of it and where it comes from."""
    from halfsplit import emission

    chosen = [emission.profile(k) for k in profile] or list(emission.profiles())
    put(limits_shape(chosen), limits_text(chosen, full=bool(profile)), as_json)
    return 0


def limits_shape(chosen: Sequence[Profile]) -> dict[str, Any]:
    """halfsplit limits --json."""
    from halfsplit.cli.shape import plain_object

    return plain_object(
        profiles=[
            {
                "key": p.key, "title": p.title, "document": p.document, "dated": p.dated, "basis": p.basis,
                "carrier_low_hz": p.carrier[0], "carrier_high_hz": p.carrier[1], "bandwidth_hz": p.bandwidth,
                "scope": p.scope, "where": p.where(),
                "rules": [
                    {
                        "asks": r.words(), "offset_from": r.offset[0], "offset_to": r.offset[1],
                        "distance_hz": r.distance, "line_low_hz": r.line[0], "line_high_hz": r.line[1],
                        "power_from_w": r.power[0], "power_to_w": r.power[1], "where": r.where, "source": r.source,
                    }
                    for r in p.rules
                ],
            }
            for p in chosen
        ]
    )  # fmt: skip


def limits_text(chosen: Sequence[Profile], *, full: bool) -> str:
    """halfsplit limits."""
    from halfsplit.cli.show import wrapped
    from halfsplit.emission import DECIDES

    lines = []
    for p in chosen:
        lines.append(wrapped(f"{p.key}: {p.title}", "", "    "))
        low, high = (f / 1e6 for f in p.carrier)
        facts = f"{p.document}; {p.dated}; {p.basis} power; carriers {low:g} to {high:g} MHz; rows {p.where()}"
        lines.append(wrapped(facts, "    "))
        if full:
            lines.append(wrapped(f"{p.scope}; bandwidth {p.bandwidth / 1e3:g} kHz unless said", "    "))
            lines += [wrapped(row_text(p, i), "    - ", "      ") for i in range(len(p.rules))]
    return "\n".join([*lines, "", wrapped(DECIDES, "Caution: ", "  ")])


def row_text(p: Profile, i: int) -> str:
    """One row of a profile in words."""
    r = p.rules[i]
    parts = []
    if r.offset != (0.0, math.inf):
        low, high = (100.0 * x for x in r.offset)
        parts.append(f"beyond {low:g} %" if math.isinf(high) else f"{low:g} to {high:g} % of the bandwidth")
    if r.distance:
        parts.append(f"at least {r.distance / 1e3:g} kHz away")
    if r.line != (0.0, math.inf):
        parts.append(f"lines at {r.line[0] / 1e6:g} to {r.line[1] / 1e6:g} MHz")
    if r.power != (0.0, math.inf):
        low, high = r.power
        upper = "under" if r.up_to_excluded else "up to"
        parts.append(f"{upper} {high:g} W" if low == 0 else f"{'from' if r.from_included else 'above'} {low:g} W")
    seen = "seen" if r.where == "seen" else "from memory"
    return f"{', '.join(parts)}: {r.words()} [{seen}: {r.source}]"


def added_shape(kept: Sequence[AddedSpectrum]) -> dict[str, Any]:
    """halfsplit add --spectrum --json."""
    from halfsplit.cli.shape import plain_object

    return plain_object(
        spectra=[
            {
                "key": k.key, "understood": k.understood, "hookup": k.hookup, "band": k.spectrum.band,
                "carrier_hz": k.spectrum.carrier, "lines": len(k.spectrum.lines), "signal": k.spectrum.signal,
                "mean_w": k.spectrum.watts[0], "pep_w": k.spectrum.watts[1], "warnings": list(k.spectrum.warnings),
            }
            for k in kept
        ]
    )  # fmt: skip


def added_text(kept: Sequence[AddedSpectrum]) -> str:
    """halfsplit add --spectrum."""
    from halfsplit.cli.show import wrapped
    from halfsplit.jobs.spectra import watts_text
    from halfsplit.report.cautions import CAUTIONS

    lines = []
    for k in kept:
        s = k.spectrum
        told = f"{s.signal} at {s.carrier / 1e6:.6g} MHz, {len(s.lines)} lines, {watts_text(s)}"
        lines += [wrapped(f"{k.key}  {k.understood}: {told}", "", "    "), wrapped(k.hookup, "    ")]
        lines += [wrapped(f"warning: {w}", "    ") for w in s.warnings]
    return "\n".join([*lines, wrapped(CAUTIONS[1], "Caution: ", "  ")])


def shape(found: Spectra) -> dict[str, Any]:
    """halfsplit spectrum --json."""
    from halfsplit.cli.shape import plain_object

    return plain_object(
        unit=found.unit,
        spectra=[one_shape(n) for n in found.named],
        limits=[limit_shape(v) for v in found.limits],
        harmonics=[
            {
                "key": h.key, "band": h.band, "order": h.foreseen.order, "f_hz": h.foreseen.f,
                "raw_dbc": h.foreseen.raw_dbc, "filter_db": h.foreseen.filter_db, "foreseen_dbc": h.foreseen.dbc,
                "sigma_db": h.foreseen.sigma_db, "raw_source": h.foreseen.source, "read_dbc": h.read,
                "word": h.word.value, "text": h.text,
            }
            for h in found.harmonics
        ],
        says=list(found.says),
        warnings=[f"{key} does not count: {why}" for key, why in found.broken],
    )  # fmt: skip


def one_shape(n: NamedSpectrum) -> dict[str, Any]:
    """One spectrum with its lines."""
    s = n.spectrum
    return {
        "key": s.key, "band": s.band, "point": s.point, "carrier_hz": s.carrier, "signal": s.signal,
        "before_filter": s.raw, "baseline": s.baseline, "mean_w": s.watts[0], "pep_w": s.watts[1],
        "floor_dbc": s.floor_dbc, "scale": n.scale, "scale_sigma": n.scale_sigma,
        "lines": [
            {
                "f_hz": x.line.f, "dbm": x.line.dbm, "dbc": x.line.dbc, "at_most": x.line.at_most,
                "wide_hz": x.line.wide, "kind": x.name.kind.value, "name": x.name.text, "expected_hz": x.name.f,
                "probability": x.probability, "reason": x.reason, "means": x.means,
                "also": [{"name": m.text, "kind": m.kind.value, "probability": p} for m, p in x.also],
            }
            for x in n.lines
        ],
        "advice": list(n.advice), "warnings": list(s.warnings),
    }  # fmt: skip


def limit_shape(v: EmissionVerdict) -> dict[str, Any]:
    """One spectrum against one profile."""
    return {
        "key": v.key, "band": v.band, "profile": v.profile, "title": v.title, "basis": v.basis, "watts": v.watts,
        "word": v.word.value, "headline": v.headline,
        "lines": [
            {
                "f_hz": x.f, "name": x.name, "word": x.word.value, "text": x.text, "attenuation_db": x.attenuation,
                "asked_db": x.asked, "margin_db": x.margin_db, "sigma_db": x.sigma_db, "chance": x.chance,
            }
            for x in v.lines
        ],
        "notes": list(v.notes),
    }  # fmt: skip


def show(found: Spectra, profiles: Sequence[str]) -> str:
    """halfsplit spectrum."""
    from halfsplit.cli.show import wrapped
    from halfsplit.emission import DECIDES
    from halfsplit.report.cautions import CAUTIONS

    lines: list[str] = []
    for n in found.named:
        lines += [*named_lines(n), ""]
    lines += [wrapped(f"note: {key} does not count: {why}", "", "      ") for key, why in found.broken]
    if found.says:
        lines += ["What it says:", *(wrapped(x, "  ", "    ") for x in found.says), ""]
    if found.harmonics:
        lines += ["Harmonics against what the filter should leave:"]
        lines += [wrapped(f"{h.key}  {mark(h.word.value)} {h.text}", "  ", "        ") for h in found.harmonics] + [""]
    for v in found.limits:
        lines += [*limit_lines(v), ""]
    if not profiles:
        lines += [wrapped("Limits of the law: choose with --profile; halfsplit limits lists them."), ""]
    lines += [wrapped(f"{CAUTIONS[1]} {DECIDES}", "Caution: ", "  ")]
    return "\n".join(lines)


def named_lines(n: NamedSpectrum) -> list[str]:
    """One spectrum as a table with the reasons below."""
    from halfsplit.cli.show import table, wrapped
    from halfsplit.jobs.spectra import watts_text
    from halfsplit.quantity import percent

    s = n.spectrum
    state = ", when it was sound" if s.baseline else ", before the filter" if s.raw else ""
    out = [wrapped(f"{s.key}  {s.band} at {s.point}{state}: {s.signal}, {watts_text(s)}", "", "    ")]
    out += [wrapped(f"warning: {w}", "    ") for w in s.warnings]
    rows = [[mhz(x.line.f), level(x), x.name.text, chance(x)] for x in n.lines]
    out += [table(("MHz", "dBc", "name", "sure"), rows)]
    for x in n.lines:
        if x.name.kind.value != "carrier":
            also = "; ".join(f"{m.text} ({percent(p)})" for m, p in x.also if p >= LEAST)
            told = f"{mhz(x.line.f)}: {x.reason}" + (f". Also possible: {also}" if also else "")
            out.append(wrapped(told, "  ", "    "))
    if abs(n.scale) > 2.0 * n.scale_sigma:
        out.append(wrapped(f"the frequency axis reads {1e2 * n.scale:+.3g} % by these lines", "  ", "    "))
    return [*out, *(wrapped(f"to settle it: {a}", "  ", "    ") for a in n.advice)]


LEAST = 0.005
"""Other names of less than this are not printed."""


def mhz(f: float) -> str:
    """A frequency of a table."""
    return f"{f / 1e6:.7g}"


def level(x: Named) -> str:
    """A level of a table."""
    return f"{'<' if x.line.at_most else ''}{x.line.dbc:.1f}"


def chance(x: Named) -> str:
    """How sure a name is."""
    from halfsplit.quantity import percent

    return "" if x.name.kind.value == "carrier" else percent(x.probability)


def mark(word: str) -> str:
    """A verdict as a mark."""
    return {"outside": "!!", "doubtful": " ?", "within": "ok", "cannot tell": " -"}[word]


def limit_lines(v: EmissionVerdict) -> list[str]:
    """One spectrum against one profile, worst line first."""
    from halfsplit.cli.show import wrapped

    power = "" if v.watts is None else f", {v.watts:.3g} W {v.basis}"
    out = [wrapped(f"{v.word.value.upper()}  {v.key}  {v.profile}: {v.title}{power}", "", "    ")]
    out += [wrapped(x.text, f"  {mark(x.word.value)} ", "     ") for x in v.lines]
    if not v.lines:
        out.append(wrapped(v.headline, "  -  ", "     "))
    return [*out, *(wrapped(f"note: {x}", "     ") for x in v.notes)]


def judged_lines(found: Spectra | None) -> list[str]:
    """Spectra in halfsplit judge: against the manual and against the filter, and what is odd in them."""
    from halfsplit.cli.show import wrapped

    if found is None:
        return []
    out: list[str] = []
    for v in found.limits:
        out += [*limit_lines(v), ""]
    for h in found.harmonics:
        if h.read is not None:
            out.append(wrapped(f"{h.key}  {mark(h.word.value)} {h.band}: {h.text}", "", "        "))
    out += [wrapped(x, "  ", "    ") for x in found.says]
    return [*out, wrapped("Every line of the spectra by name, and the limits of the law: halfsplit spectrum."), ""]
