"""Before and after, and the sign-off, as text and as JSON objects (docs/json.md)."""

from __future__ import annotations

from dataclasses import asdict, replace

from halfsplit.cli.shape import Object, plain_object
from halfsplit.cli.show import wrapped
from halfsplit.jobs import Asked, Comparison, Difference, SignOff

MARK = {"better": "++", "worse": "!!", "changed": " *", "no change": " ="}
STAND = {"failed": "!!", "missing": " -", "doubtful": " ?", "passed": "ok"}


def difference_shape(d: Difference) -> Object:
    """One figure before and after."""
    return asdict(d)


def comparison_shape(c: Comparison) -> Object:
    """halfsplit compare."""
    return plain_object(
        first=c.first, second=c.second, rows=[difference_shape(d) for d in c.rows], only_first=list(c.only_first),
        only_second=list(c.only_second), notes=list(c.notes),
    )  # fmt: skip


def signoff_shape(s: SignOff) -> Object:
    """halfsplit signoff."""
    return plain_object(
        name=s.name, clean=s.clean, last_work=s.last_work, count=s.count, asked=[asdict(a) for a in s.asked],
        rows=[] if s.changed is None else [difference_shape(d) for d in s.changed.rows], live=s.live,
    )  # fmt: skip


def comparison(c: Comparison) -> str:
    """halfsplit compare."""
    lines = [wrapped(f"{c.first} against {c.second}"), *rows(c)]
    for side, labels in ((c.first, c.only_first), (c.second, c.only_second)):
        lines += [wrapped(f"only {side}: {'; '.join(labels)}", "", "    ")] if labels else []
    lines += [wrapped(f"note: {n}", "", "      ") for n in c.notes]
    key = "++ nearer to what a sound unit shows, !! farther from it, = no more than the readings' error (2 sigma)."
    return "\n".join([*lines, "", wrapped(key)])


def rows(c: Comparison) -> list[str]:
    """Every figure, band by band."""
    lines: list[str] = []
    for band in dict.fromkeys(d.band for d in c.rows):
        mine = [d for d in c.rows if d.band == band]
        words = " to ".join(dict.fromkeys((worst(mine, "before_verdict"), worst(mine, "after_verdict"))))
        lines += ["", wrapped(f"{band}: {words}")]
        lines += [wrapped(d.text, f"  {MARK[d.word]} ", "     ") for d in mine]
    return lines


def worst(mine: list[Difference], field: str) -> str:
    """The worst verdict of some figures."""
    order = ("outside", "doubtful", "cannot tell", "within")
    return min((str(getattr(d, field)) for d in mine), key=order.index)


def signoff(s: SignOff) -> str:
    """halfsplit signoff."""
    from halfsplit.report.cautions import DEFER, LIVE_POWER

    n = s.count
    head = "CLEAN" if s.clean else "NOT CLEAN YET" if not n["failed"] else "FAILS"
    told = f"after {s.last_work}" if s.last_work else "no work on the unit is told: everything measured counts"
    counted = ", ".join(f"{n[k]} {k}" for k in n if n[k])
    lines = [wrapped(f"{head}  {s.name}, {told}: {counted}")]
    for band in dict.fromkeys(a.band for a in s.asked):
        lines += ["", band, *(asked_line(a) for a in s.asked if a.band == band)]
    to_do = [a for a in s.asked if a.standing != "passed" and a.do]
    if to_do:
        lines += ["", "For a clean bill:"]
        lines += [wrapped(f"- {do}", "  ", "    ") for do in dict.fromkeys(a.do for a in to_do)]
    if s.changed is not None:
        moved = tuple(d for d in s.changed.rows if d.word != "no change")
        still = len(s.changed.rows) - len(moved)
        lines += ["", f"Start against now: {len(moved)} figures moved, {still} did not"]
        lines += [x for x in rows(replace(s.changed, rows=moved)) if x]
    cautions = (*LIVE_POWER, DEFER) if s.live else (DEFER,)
    return "\n".join([*lines, "", *(wrapped(c, "Caution: ", "  ") for c in cautions)])


def asked_line(a: Asked) -> str:
    """One thing that is asked."""
    margin = "" if a.margin is None else f"; margin {a.margin:+.1f} {a.unit}"
    margin += "" if a.margin is None or a.sigma is None else f" +- {2.0 * a.sigma:.1g}"
    key = f" ({a.key})" if a.key else ""
    return wrapped(f"{a.what} [{a.by}]: {a.standing}{key}: {a.text}{margin}", f"  {STAND[a.standing]} ", "     ")
