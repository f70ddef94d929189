"""Spectra in the job file: what is kept with their bytes, and how they are understood again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from halfsplit import emission
from halfsplit.emission import Spectrum, Tap
from halfsplit.journal import StoredReading
from halfsplit.reading import SpectralReading, answers_from, read_bytes, read_spectral_lines, spectral_of
from halfsplit.unit import Unit


def is_spectrum(stored: StoredReading) -> bool:
    """Whether a stored reading is a spectrum."""
    return bool(stored.how.get("spectrum"))


def how_of(reading: SpectralReading, tap: Tap, answers: Mapping[str, str]) -> dict[str, Any]:
    """What is kept with the bytes of a spectrum, so that it is understood the same way again."""
    return {"spectrum": tap.to_dict(), "typed": reading.trace is None, "answers": dict(answers)}


def spectrum_again(unit: Unit, stored: StoredReading) -> Spectrum:
    """A stored spectrum, understood as it was when it came in. raises ReadingError"""
    tap = Tap.from_dict(stored.how["spectrum"])
    if stored.how.get("typed"):
        reading = read_spectral_lines(stored.original.decode("utf-8").split("\n"))
    else:
        reading = spectral_of(read_bytes(stored.name, stored.original, answers_from(stored.how.get("answers", {}))))
    return replace(emission.spectrum_of(unit, tap, reading, stored.key), baseline=stored.baseline)


def tied_to(stored: StoredReading) -> str:
    """How the analyser was tied on, in one line. raises ReadingError"""
    return Tap.from_dict(stored.how["spectrum"]).words()
