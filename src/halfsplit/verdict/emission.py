"""Lines of a spectrum against a profile of limits, against the manual, and against what the filter should leave."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from halfsplit.emission import (
    Foreseen,
    Kind,
    Named,
    NamedSpectrum,
    Profile,
    Spectrum,
    asked,
    covered,
    reference_bandwidth,
)
from halfsplit.quantity import dbm_from_watt
from halfsplit.unit import Band, Unit
from halfsplit.verdict.records import SEVERITY, BandVerdict, Word

ABSOLUTE_DB, WATTMETER_DB = 1.0, 0.5
"""dB, 1 sigma of an absolute level by the loss of pads, and by a wattmeter; common practice."""
SURE = 1.645
"""Sigma beyond which a figure is called within or outside: 95 % on that side."""
MANUAL = "manual"


@dataclass(frozen=True, slots=True)
class LineVerdict:
    """One line against one limit.

    f : Hz; name : of the line; attenuation : dB below the power of the emission; asked : dB, None: nothing is asked
    margin_db : attenuation less what is asked; sigma_db : 1 sigma of it; chance : that the limit is kept
    counts : False where the profile asks nothing of such a line
    """

    f: float
    name: str
    word: Word
    text: str
    attenuation: float | None = None
    asked: float | None = None
    margin_db: float | None = None
    sigma_db: float | None = None
    chance: float | None = None
    counts: bool = True


@dataclass(frozen=True, slots=True)
class EmissionVerdict:
    """One spectrum against one profile. basis : the power that is meant, watts : W of it, None not known

    lines : worst first; notes : sentences
    """

    key: str
    band: str
    profile: str
    title: str
    basis: str
    watts: float | None
    word: Word
    headline: str
    lines: tuple[LineVerdict, ...]
    notes: tuple[str, ...] = ()


def word_of(margin: float, sigma: float) -> Word:
    """within or outside where the figure is surer than 95 % on that side, else doubtful."""
    return Word.WITHIN if margin > SURE * sigma else Word.OUTSIDE if margin < -SURE * sigma else Word.DOUBTFUL


def chance_of(margin: float, sigma: float) -> float:
    """Chance that a limit is kept."""
    return 0.5 * math.erfc(-margin / (sigma * math.sqrt(2.0)))


def against(found: NamedSpectrum, profile: Profile, bandwidth: float | None = None) -> EmissionVerdict:
    """A named spectrum against a profile. bandwidth : Hz, the necessary or authorised one; None for the profile's"""
    s = found.spectrum
    power = s.watts[0 if profile.basis == "mean" else 1]
    watts = None if math.isnan(power) else power
    notes = list(notes_of(s, watts))
    why = covered(profile, s.carrier, watts)
    if s.raw:
        why = why or f"taken at {s.point}, before the filter: limits are for what leaves the unit"
    if why:
        return EmissionVerdict(
            s.key, s.band, profile.key, profile.title, profile.basis, watts, Word.CANNOT_TELL, why, (), tuple(notes)
        )
    lines = [one(s, n, profile, watts, bandwidth) for n in found.lines if n.name.kind is not Kind.CARRIER]
    return summed_up(s, profile.key, profile.title, profile.basis, watts, lines, notes)


def notes_of(s: Spectrum, watts: float | None) -> list[str]:
    """What has to be known about the powers."""
    out = []
    if watts is None:
        out.append("the power is not known: absolute limits cannot be judged; say --power, or give levels in dBm")
    if s.signal == "voice":
        out.append(
            "a voice signal: the carrier's line is not its PEP; judged only where the wattmeter's figure was given"
        )
    if s.signal == "two tones":
        out.append("two tones: PEP is 6.0 dB above one tone, mean power 3.0 dB")
    if not math.isnan(s.floor_dbc):
        out.append(f"what stays below {s.floor_dbc:.0f} dB relative to the carrier does not show")
    return out


def one(s: Spectrum, n: Named, profile: Profile, watts: float | None, bandwidth: float | None) -> LineVerdict:
    """One line against a profile."""
    own = n.name.kind is Kind.OWN
    if own and not n.name.order:
        text = f"{n.name.text}: {n.means}"
        return LineVerdict(n.line.f, n.name.text, Word.CANNOT_TELL, text, counts=False)
    want = asked(profile, s.carrier, n.line.f, watts, bandwidth)
    if want.db is None or want.rule is None:
        text = f"{n.name.text}: {want.why_not}"
        return LineVerdict(
            n.line.f, n.name.text, Word.CANNOT_TELL, text, counts="no row for a line" not in want.why_not
        )
    attenuation, why = attenuated(s, n, profile, watts)
    if math.isnan(attenuation):
        return LineVerdict(n.line.f, n.name.text, Word.CANNOT_TELL, f"{n.name.text}: {why}", None, want.db)
    fixed = any(t.watt is not None or t.log10p for t in want.rule.terms)
    sigma = math.hypot(s.sigma_db, (WATTMETER_DB if s.metered else ABSOLUTE_DB) if fixed else 0.0)
    margin = attenuation - want.db
    word = word_of(margin, sigma)
    if (n.line.at_most or own) and word is not Word.WITHIN:
        word = Word.CANNOT_TELL
    least = "at least " if n.line.at_most or own else ""
    text = f"{n.name.text}: {least}{attenuation:.1f} dB down, {want.db:.1f} dB asked ({want.rule.words()}), "
    text += f"margin {margin:+.1f} +- {sigma:.1f} dB{why}"
    return LineVerdict(
        n.line.f, n.name.text, word, text, attenuation, want.db, margin, sigma, chance_of(margin, sigma)
    )  # fmt: skip


def attenuated(s: Spectrum, n: Named, profile: Profile, watts: float | None) -> tuple[float, str]:
    """dB of a line below the power that the profile means, and how; NaN and why where it is not known."""
    step = 0.0
    if len(s.carriers) == 2:
        step = 20.0 * math.log10(2.0) if profile.basis == "PEP" else 10.0 * math.log10(2.0)
    if s.signal == "voice":
        if watts is None or math.isnan(n.line.dbm):
            return math.nan, "of a voice signal only levels in dBm with the wattmeter's figure can be judged"
        return dbm_from_watt(watts) - n.line.dbm, ""
    down = step - n.line.dbc
    if n.line.wide is None:
        return down, ""
    if s.rbw is None:
        return math.nan, "a hump can only be judged where the resolution bandwidth is known (--resolution-bandwidth)"
    wanted = min(reference_bandwidth(n.line.f), n.line.wide) if profile.reference_bandwidth else n.line.wide
    more = 10.0 * math.log10(wanted / s.rbw)
    return down - more, f"; {more:+.1f} dB for {wanted / 1e3:g} kHz in place of {s.rbw / 1e3:g} kHz"


def by_manual(found: NamedSpectrum, unit: Unit) -> EmissionVerdict | None:
    """A named spectrum against the harmonics that the manual states; None where it states none, or it is no output."""
    s = found.spectrum
    band: Band = unit.band(s.band)
    stated = {h.order: h.dbc for h in (*unit.limits.harmonics, *band.limits.harmonics)}
    if not stated or s.raw:
        return None
    lines = []
    for order, dbc in sorted(stated.items()):
        here = [n for n in found.lines if n.name.kind in (Kind.HARMONIC, Kind.OWN) and n.name.order == order]
        lines.append(stated_line(s, order, dbc, here[0] if here else None))
    return summed_up(s, MANUAL, f"the manual of {unit.name}", "carrier", None, lines, [])


def stated_line(s: Spectrum, order: int, dbc: float, n: Named | None) -> LineVerdict:
    """One harmonic against the manual; one that does not show is as low as the floor."""
    f, name = order * s.carrier, f"harmonic {order}"
    if n is None:
        if not s.span[0] <= f <= s.span[1] or math.isnan(s.floor_dbc):
            return LineVerdict(f, name, Word.CANNOT_TELL, f"{name}: not among the lines ({dbc:g} dBc in the manual)")
        margin = dbc - s.floor_dbc
        word = Word.WITHIN if margin > SURE * s.sigma_db else Word.CANNOT_TELL
        text = f"{name}: below {s.floor_dbc:.0f} dBc, {dbc:g} dBc in the manual"
        return LineVerdict(f, name, word, text, -s.floor_dbc, -dbc, margin, s.sigma_db)
    margin = dbc - n.line.dbc
    word = word_of(margin, s.sigma_db)
    bound = n.line.at_most or n.name.kind is Kind.OWN
    if bound and word is not Word.WITHIN:
        word = Word.CANNOT_TELL
    told = f"{'at most ' if bound else ''}{n.line.dbc:.1f} dBc, {dbc:g} dBc in the manual"
    text = f"{name}: {told}, margin {margin:+.1f} +- {s.sigma_db:.1f} dB"
    return LineVerdict(
        n.line.f, name, word, text, -n.line.dbc, -dbc, margin, s.sigma_db, chance_of(margin, s.sigma_db)
    )  # fmt: skip


def summed_up(
    s: Spectrum,
    key: str,
    title: str,
    basis: str,
    watts: float | None,
    lines: Sequence[LineVerdict],
    notes: Sequence[str],
) -> EmissionVerdict:
    """The worst line is the verdict."""
    order = sorted(lines, key=lambda v: (-SEVERITY[v.word], 0.0 if v.margin_db is None else v.margin_db))
    judged = [v for v in order if v.margin_db is not None]
    worst = next((v for v in order if v.counts), order[0] if order else None)
    word = Word.CANNOT_TELL if worst is None or not judged else worst.word
    headline = "no line besides the carrier" if worst is None else worst.text
    return EmissionVerdict(s.key, s.band, key, title, basis, watts, word, headline, tuple(order), tuple(notes))


@dataclass(frozen=True, slots=True)
class HarmonicVerdict:
    """A harmonic against what the filter should leave of it.

    read : dBc, None where it does not show; far : sigma above what was foreseen
    """

    key: str
    band: str
    foreseen: Foreseen
    read: float | None
    word: Word
    text: str
    far: float = 0.0


FAR = 2.326
"""Sigma: one sound reading in a hundred lies further up."""


def against_filter(found: NamedSpectrum, expected: Sequence[Foreseen]) -> tuple[HarmonicVerdict, ...]:
    """Harmonics after the filter against raw harmonic + filter. Only too strong is wrong.

    Where the raw harmonic was not read on this unit the verdict is never more than doubtful.
    """
    s = found.spectrum
    out = []
    for x in expected:
        here = [
            n for n in found.lines if n.name.kind is Kind.HARMONIC and n.name.order == x.order and not n.line.at_most
        ]
        sigma = math.hypot(x.sigma_db, s.sigma_db)
        told = f"harmonic {x.order}: {x.dbc:.0f} +- {x.sigma_db:.0f} dBc foreseen"
        told += f" ({x.raw_dbc:.0f} before, filter {x.filter_db:.0f})"
        if not here:
            out.append(HarmonicVerdict(s.key, s.band, x, None, Word.CANNOT_TELL, f"{told}, does not show"))
            continue
        read = here[0].line.dbc
        z = (read - x.dbc) / sigma
        word = Word.OUTSIDE if z > FAR and x.read else Word.DOUBTFUL if z > SURE else Word.WITHIN
        tail = "" if word is Word.WITHIN else ": the filter of this band leaves too much, or the stage makes too much"
        out.append(HarmonicVerdict(s.key, s.band, x, read, word, f"{told}, {read:.1f} dBc read{tail}", z))
    return tuple(out)


def with_spectra(
    bands: Sequence[BandVerdict], limits: Sequence[EmissionVerdict], harmonics: Sequence[HarmonicVerdict]
) -> tuple[BandVerdict, ...]:
    """Verdicts by band with the spectra counted in: the worst word and the line that says why."""
    out = {b.band: b for b in bands}
    rows = [(v.band, v.word, f"{v.band}, spectrum {v.key}: {v.headline}", v.key) for v in limits]
    rows += [(h.band, h.word, f"{h.band}, spectrum {h.key}: {h.text}", h.key) for h in harmonics]
    for band, word, text, key in rows:
        old = out.get(band)
        label = f"{band}: spectrum {key}"
        if old is None:
            out[band] = BandVerdict(band, word, text, (label,))
            continue
        labels = old.readings if label in old.readings else (*old.readings, label)
        mine = old.readings == (label,) and old.word is Word.CANNOT_TELL and word is Word.WITHIN
        louder = SEVERITY[word] > SEVERITY[old.word] and word is not Word.CANNOT_TELL
        out[band] = BandVerdict(band, word, text, labels) if louder or mine else replace(old, readings=labels)
    return tuple(out.values())
