"""Spectra: taken in with how the analyser was tied on, named together, held against limits."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar, cast

from halfsplit import emission, verdict
from halfsplit.emission import Foreseen, Kind, NamedSpectrum, Profile, Raw, Spectrum, Tap
from halfsplit.errors import HalfsplitError, HookupError, InputError, JobFileError, Mistake
from halfsplit.jobs.incoming import readable, taken
from halfsplit.jobs.spectra_kept import how_of, spectrum_again
from halfsplit.jobs.work import unit_of
from halfsplit.journal import Clock, NewReading, open_job, utc_now
from halfsplit.quantity import Dimension, QuantityError, parse
from halfsplit.reading import (
    SpectralReading,
    What,
    answers_from,
    read_bytes,
    read_spectral_lines,
    read_typed,
    spectral_of,
)
from halfsplit.unit import Unit
from halfsplit.verdict import EmissionVerdict, HarmonicVerdict

T = TypeVar("T")
SIGNALS = ("carrier", "two tones", "voice")


@dataclass(frozen=True, slots=True)
class AddedSpectrum:
    """A spectrum as it was kept."""

    key: str
    understood: str
    hookup: str
    spectrum: Spectrum


@dataclass(frozen=True, slots=True)
class Spectra:
    """All spectra of a job, named together.

    named : those that count; limits : against profiles and the manual; harmonics : against what the filter should leave
    broken : (key, why) of those that this version cannot use; says : what they say about causes, sentences
    """

    unit: str
    named: tuple[NamedSpectrum, ...]
    limits: tuple[EmissionVerdict, ...]
    harmonics: tuple[HarmonicVerdict, ...]
    broken: tuple[tuple[str, str], ...] = ()
    says: tuple[str, ...] = ()


def tap_of(unit: Unit, given: Mapping[str, str | None]) -> Tap:
    """How the analyser was tied on, from words.

    given : band, read, pad, pad_rating, coupler, input_attenuation, resolution_bandwidth, axis, level_sigma, carrier,
    power, power_is, signal, note; None where not said
    raises HookupError with every mistake
    """
    mistakes: list[Mistake] = []

    def figure(key: str, dimension: Dimension, least: float = 0.0) -> float | None:
        text = given.get(key)
        if text is None:
            return None
        try:
            value = float(parse(text, dimension).value)
        except QuantityError as error:
            mistakes.append(Mistake(option(key), repr(text), str(error)))
            return None
        if value < least or (value == 0.0 and key != "pad" and key != "input_attenuation"):
            mistakes.append(Mistake(option(key), repr(text), "a figure above zero"))
        return value

    def known(key: str, names: Sequence[str], default: str) -> str:
        name = given.get(key) or default
        if name and name not in names:
            mistakes.append(Mistake(option(key), repr(name), f"one of: {', '.join(names)}"))
        return name

    tap = Tap(
        band=known("band", [b.name for b in unit.bands], ""),
        point=known("read", unit.path.points, unit.path.points[-1]),
        pad_db=figure("pad", Dimension.DECIBEL) or 0.0,
        pad_watts=figure("pad_rating", Dimension.POWER),
        coupler=coupler_of(given.get("coupler"), mistakes),
        attenuation_db=figure("input_attenuation", Dimension.DECIBEL),
        rbw=figure("resolution_bandwidth", Dimension.FREQUENCY),
        axis=figure("axis", Dimension.FRACTION) or emission.AXIS,
        sigma_db=figure("level_sigma", Dimension.DECIBEL) or emission.SIGMA_DB,
        dial=figure("carrier", Dimension.FREQUENCY),
        watts=figure("power", Dimension.POWER),
        watts_are=cast("Any", known("power_is", ("mean", "PEP"), "PEP")),
        signal=cast("Any", known("signal", SIGNALS, "") or None),
        note=given.get("note") or "",
    )
    if mistakes:
        raise HookupError(*mistakes)
    return tap


def option(key: str) -> str:
    """The option that a field comes from."""
    return "--detector-pad" if key == "pad" else f"--{key.replace('_', '-')}"


def coupler_of(text: str | None, mistakes: list[Mistake]) -> tuple[tuple[float, float], ...]:
    """A coupler: one figure, or figures over frequency ("1.8 MHz 42 dB; 30 MHz 40 dB")."""
    if text is None:
        return ()
    try:
        if "hz" not in text.lower():
            return ((1e6, abs(float(parse(text, Dimension.DECIBEL).value))),)
        trace = read_typed([text], What.S21).traces[0]
    except (QuantityError, InputError) as error:
        mistakes.append(Mistake("--coupler", repr(text), f'"40 dB", or "1.8 MHz 42 dB; 30 MHz 40 dB" ({error})'))
        return ()
    return tuple((f, -db) for f, db in zip(trace.f, trace.db, strict=True))


def add_spectra(
    job: Path, files: Sequence[Path], typed: Sequence[str], given: Mapping[str, str | None],
    answers: Mapping[str, str], clock: Clock = utc_now, *, baseline: bool = False,
) -> tuple[AddedSpectrum, ...]:  # fmt: skip
    """Add spectra of one hook-up: all of them, or none.

    raises HookupError, ReadingError, InputError with every mistake; JobFileError
    """
    with open_job(job, clock) as file:
        unit = unit_of(file)
        tap = tap_of(unit, given)
        errors: list[InputError] = []
        makers: list[Callable[[], SpectralReading]] = [lambda p=p: from_file(p, answers) for p in files]  # type: ignore[misc]
        if typed:
            makers.append(lambda: read_spectral_lines(typed))
        found: list[tuple[SpectralReading, Tap]] = []
        for make in makers:
            try:
                reading = make()
                spectrum = emission.spectrum_of(unit, tap, reading, "new")
                found.append((reading, replace(tap, band=spectrum.band)))
            except InputError as error:
                errors.append(error)
        if errors:
            raise type(errors[0])(*(m for e in errors for m in e.mistakes))
        rows = [
            NewReading(readable(r.name), r.original, {}, how_of(r, t, answers), f"{r.understood}", baseline)
            for r, t in found
        ]
        keys = file.add(rows)
    return tuple(
        AddedSpectrum(key, r.understood, t.words(), emission.spectrum_of(unit, t, r, key))
        for key, (r, t) in zip(keys, found, strict=True)
    )


def from_file(path: Path, answers: Mapping[str, str]) -> SpectralReading:
    """A spectrum from a file. raises ReadingError"""
    return spectral_of(read_bytes(readable(path.name), taken(path), answers_from(answers)))


def spectrum(job: Path, keys: Sequence[str] = (), bandwidth: float | None = None) -> Spectra:
    """Every spectrum of a job with its lines named, against the manual and the profiles of these keys.

    bandwidth : Hz, the necessary or authorised one; None for that of each profile
    raises JobFileError where the job has no spectrum, InputError for an unknown profile
    """
    chosen = [emission.profile(k) for k in dict.fromkeys(keys)]
    with open_job(job) as file:
        unit = unit_of(file)
        readings = file.readings()
    found, broken = [], []
    for stored in readings:
        if stored.how.get("spectrum") and stored.withdrawn is None:
            try:
                found.append(spectrum_again(unit, stored))
            except HalfsplitError as error:
                broken.append((stored.key, str(error)))
    if not found:
        why = "; ".join(f"{k}: {text}" for k, text in broken)
        more = f'halfsplit add {job} --spectrum --typed "7.1 MHz 46 dBm; 14.2 MHz -4 dBm"'
        raise JobFileError(f"{job}: no spectrum to work with yet{f' ({why})' if why else ''}; add one with: {more}")
    return replace(explained(unit, found, chosen, bandwidth), broken=tuple(broken))


def explained(
    unit: Unit, found: Sequence[Spectrum], profiles: Sequence[Profile] = (), bandwidth: float | None = None
) -> Spectra:
    """Spectra of a unit named together, against the manual, some profiles and what the filter should leave."""
    named = emission.level_tested(emission.name_lines(found, unit.plan))
    now = [n for n in named if not n.spectrum.baseline]
    manual = [v for n in now if (v := verdict.by_manual(n, unit)) is not None]
    limits = [*manual, *(verdict.against(n, p, bandwidth) for n in now for p in profiles)]
    harmonics = [v for n in now if not n.spectrum.raw for v in verdict.against_filter(n, expected(unit, n, named))]
    return Spectra(unit.name, named, tuple(limits), tuple(harmonics), (), says(named, harmonics))


def expected(unit: Unit, n: NamedSpectrum, every: Sequence[NamedSpectrum]) -> tuple[Foreseen, ...]:
    """Harmonics after the filter: as the sound unit had them, else by those before the filter, else as usual."""
    s = n.spectrum
    raw: dict[int, Raw] = {}
    for other in every:
        if other.spectrum.raw and other.spectrum.band == s.band:
            told = f"read before the filter ({other.spectrum.key})"
            raw |= {o: Raw(dbc, 0.0, told) for o, dbc in harmonics_of(other).items()}
    found = emission.foreseen(unit, s.band, s.carrier, raw)
    before: dict[int, float] = {}
    for other in every:
        if other.spectrum.baseline and other.spectrum.band == s.band and not other.spectrum.raw:
            before |= harmonics_of(other)
    return tuple(
        replace(x, dbc=before[x.order], sigma_db=emission.SAME_UNIT_DB, source="this unit when it was sound", read=True)
        if x.order in before else x
        for x in found
    )  # fmt: skip


def harmonics_of(n: NamedSpectrum) -> dict[int, float]:
    """dBc of the harmonics in a spectrum, by order."""
    return {x.name.order: x.line.dbc for x in n.lines if x.name.kind is Kind.HARMONIC and not x.line.at_most}


def says(named: Sequence[NamedSpectrum], harmonics: Sequence[HarmonicVerdict]) -> tuple[str, ...]:
    """What the spectra say about causes, loudest first."""
    out = []
    loud = [h for h in harmonics if h.far > verdict.FAR]
    spoilt = sorted({h.band for h in loud})
    sound = sorted({h.band for h in harmonics if h.read is not None} - set(spoilt))
    if spoilt and sound:
        out.append(
            f"harmonics are too strong on {', '.join(spoilt)} and as they should be on {', '.join(sound)}: that points "
            "at what those bands alone use, their filter and its contacts"
        )
    elif spoilt:
        out.append(f"harmonics are too strong on {', '.join(spoilt)}: the filter there, or a stage driven too hard")
    seen: dict[Kind, list[str]] = {}
    for n in named:
        for x in n.lines:
            if x.probability >= 0.5 and not n.spectrum.baseline:
                seen.setdefault(x.name.kind, []).append(n.spectrum.band)
    for kind in (Kind.HALF, Kind.THIRD, Kind.SIDEBAND, Kind.HUM, Kind.FIXED, Kind.HUMP):
        if kind in seen:
            bands = ", ".join(dict.fromkeys(seen[kind]))
            out.append(f"{kind.value} on {bands}: {emission.MEANS[kind]}")
    return tuple(out)


def watts_text(s: Spectrum) -> str:
    """The powers of a spectrum in words."""
    known = [f"{w:.3g} W {what}" for w, what in zip(s.watts, ("mean", "PEP"), strict=True) if not math.isnan(w)]
    return ", ".join(reversed(known)) or "power not known"
