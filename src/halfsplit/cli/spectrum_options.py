"""Spectra on the command line of `add`: their options, and the way in."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Any

import click

from halfsplit.cli.common import Command, answers_of, fields_of, put, with_options
from halfsplit.errors import InputError, Mistake

SPECTRUM_OPTIONS = (
    click.option("--spectrum", is_flag=True, help="The files and typed figures are spectra, taken with the key down: "
                 '--typed "7.1 MHz -4.1 dBm; 14.2 MHz -48 dBc; floor -80 dBc".'),
    click.option("--carrier", default=None, help='With --spectrum: what the dial shows [the strongest line].'),
    click.option("--pad-rating", default=None, help='With --spectrum: what the pads of --detector-pad stand, "50 W".'),
    click.option("--coupler", default=None,
                 help='With --spectrum: coupler or sampler before the pads, "40 dB" or "1.8 MHz 42 dB; 30 MHz 40 dB".'),
    click.option("--input-attenuation", default=None, help='With --spectrum: the analyser\'s own attenuator, "20 dB".'),
    click.option("--resolution-bandwidth", default=None, help='With --spectrum: of the analyser, "10 kHz".'),
    click.option("--axis", default=None, help='With --spectrum: how true its frequency axis is, 1 sigma ["0.01 %"].'),
    click.option("--level-sigma", default=None, help='With --spectrum: 1 sigma of a level against another ["1.5 dB"].'),
    click.option("--power", default=None, help='With --spectrum: what the wattmeter showed, "38 W".'),
    click.option("--power-is", default=None, type=click.Choice(["PEP", "mean"]), help="Which power that is [PEP]."),
    click.option("--signal", default=None, type=click.Choice(["carrier", "two tones", "voice"]),
                 help="What was sent [one carrier, or two tones where two lines are equally strong]."),
)  # fmt: skip
OWN = ("carrier", "pad_rating", "coupler", "input_attenuation", "resolution_bandwidth", "axis", "level_sigma", "power",
       "power_is", "signal")  # fmt: skip
SHARED = {"band": "band", "read": "read", "detector_pad": "pad", "note": "note"}


def taking_spectra(command: Command) -> Command:
    """`add` with the options of a spectrum; with --spectrum it takes spectra and nothing else."""

    @functools.wraps(command)
    def either(*args: Any, **kwargs: Any) -> int:
        own = {k: kwargs.pop(k) for k in OWN}
        if kwargs.pop("spectrum"):
            return add_spectra(own, kwargs)
        alone = [Mistake(f"--{k.replace('_', '-')}", "given without --spectrum", "--spectrum as well")
                 for k, v in own.items() if v is not None]  # fmt: skip
        if alone:
            raise InputError(*alone)
        return int(command(*args, **kwargs))

    return with_options(SPECTRUM_OPTIONS)(either)


def add_spectra(own: Mapping[str, Any], rest: dict[str, Any]) -> int:
    """Take spectra. raises InputError for options that a spectrum has no use for"""
    from halfsplit.cli import spectrum
    from halfsplit.jobs import spectra

    job, files, typed = rest.pop("job"), rest.pop("files"), rest.pop("typed")
    baseline, as_json = rest.pop("baseline"), rest.pop("as_json")
    answers = answers_of(rest)
    given = {**own, **{SHARED[k]: v for k, v in rest.items() if k in SHARED}}
    left = {k: v for k, v in fields_of(rest).items() if k not in SHARED and v not in (False, "")}
    mistakes = [Mistake(f"--{k.replace('_', '-')}", "given with --spectrum", "nothing: a spectrum has no use for it")
                for k in left]  # fmt: skip
    if not files and not typed:
        mistakes.append(Mistake("add --spectrum", "no file and no typed line", 'a FILE, or --typed "14.2 MHz -48 dBc"'))
    if mistakes:
        raise InputError(*mistakes)
    kept = spectra.add_spectra(job, files, typed, given, answers, baseline=baseline)
    put(spectrum.added_shape(kept), spectrum.added_text(kept), as_json)
    return 0
