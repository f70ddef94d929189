"""Traces as the plot takes them: JSON of arrays, in the units of the bench sheet's own drawings.

Keys: `key`, `label`, `band`, `word`, `headline`; `quantity` ("level, dB" or "return loss, dB"); `served` [Hz, Hz];
arrays of one length: `f` Hz, `read`, `expected`, `low`, `high` dB (90 % of sound units), `off`, `off_low`, `off_high`
dB (minus the expected middle), `sigma` (deviation in units of tolerance), `at_least` (only known to be there or lower).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from halfsplit.expect import Observation
from halfsplit.reading import What
from halfsplit.report.plot import curves_of
from halfsplit.report.readings import matching
from halfsplit.unit import Unit
from halfsplit.verdict import Verdict
from halfsplit.verdict.text import return_loss


def trace(v: Verdict, unit: Unit, observations: Sequence[Observation]) -> dict[str, Any]:
    """One verdict with its curves, ready to be sent."""
    band = unit.band(v.band)
    c = curves_of(v, band, matching(v, observations))
    names = ("f", "read", "expected", "low", "high", "off", "off_low", "off_high")
    return {
        "key": v.key,
        "label": v.label,
        "band": v.band,
        "word": v.word.value,
        "headline": v.headline,
        "quantity": "level, dB" if v.what is What.S21 else "return loss, dB",
        "served": [band.low, band.high],
        **{name: getattr(c, name).tolist() for name in names},
        "sigma": c.z.tolist(),
        "at_least": c.at_least.tolist(),
    }


def bare_trace(o: Observation, unit: Unit) -> dict[str, Any]:
    """A reading that is not judged yet: `expected` and all that is taken from it are null."""
    band = unit.band(o.hookup.band)
    through = o.what is What.S21
    read = o.value if through else [return_loss(float(x)) for x in o.value]
    return {
        "key": o.key,
        "label": o.label,
        "band": band.name,
        "word": "",
        "headline": "not judged yet",
        "quantity": "level, dB" if through else "return loss, dB",
        "served": [band.low, band.high],
        "f": o.f.tolist(),
        "read": [float(x) for x in read],
        **dict.fromkeys(("expected", "low", "high", "off", "off_low", "off_high", "sigma")),
        "at_least": o.at_least.tolist(),
    }
