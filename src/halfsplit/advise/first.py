"""The first readings of a job that has none: a band that is complained of, and one that is not."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.advise.costs import Cost, costs
from halfsplit.advise.records import Advice
from halfsplit.advise.wording import ALWAYS, connect_text
from halfsplit.history import History
from halfsplit.hookup import Hookup
from halfsplit.unit import Unit

HARMONIC = 3.0


def first_readings(unit: Unit, history: History, table: Mapping[str, Cost] | None = None) -> tuple[Advice, ...]:
    """A sweep of the whole path on a bad band, then on a good one: a fault on one alone clears what they share.

    table : costs of the tests, the package's where None

    source: common practice of the trade; its worth is not computed, since no reading says yet what to expect
    """
    names = [b.name for b in unit.bands]
    bad = list(history.bad) or [n for n in names if n not in history.good][:1]
    good = [n for n in names if n not in bad and n in history.good] or [n for n in names if n not in bad]
    picked = [*bad[:1], *good[:1]]
    why = ("It says whether the path is at fault at all.", "It clears, or accuses, what the bands share.")
    return tuple(
        sweep(unit, band, text, (table or costs())["through sweep"]) for band, text in zip(picked, why, strict=False)
    )


def sweep(unit: Unit, name: str, why: str, cost: Cost) -> Advice:
    """The sweep of the whole path on a band."""
    band = unit.band(name)
    hookup = Hookup(name, unit.path.points[0], unit.path.points[-1])
    span = f"{0.5 * band.low / 1e6:.3g} to {HARMONIC * band.high / 1e6:.3g} MHz"
    title = f"Sweep on {name} from {hookup.drive} to {hookup.read}"
    connect = f"band {name}; {connect_text(hookup, True)}; sweep {span}"
    cautions = tuple(c for c in (cost.caution, *ALWAYS) if c)
    return Advice(title, connect, cost.kind, hookup, cost.minutes, cost.risk, 0.0, 0.0, why, (), cautions)
