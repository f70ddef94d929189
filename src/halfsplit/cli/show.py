"""Records as text for a person, with units; loudest line first, verdicts as words."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from halfsplit.advise import Advice
from halfsplit.cli.common import ANSWERS, words_for
from halfsplit.expect import Expectation
from halfsplit.fault import Ask, Blind, Cause, Group, Ranking
from halfsplit.history import LIVE, NOT_KNOWN, QUESTIONS, History
from halfsplit.hookup import describe
from halfsplit.jobs import Added, Checked, Judged, Notebook
from halfsplit.journal import StoredAnswer
from halfsplit.quantity import Dimension, format_value, percent
from halfsplit.reading import Question
from halfsplit.unit import Unit
from halfsplit.verdict import Verdict, Word

if TYPE_CHECKING:
    from halfsplit.filters import FilterFacts

SHOWN_CAUSES = 4
SHOWN_GROUPS = 6
SHOWN_BLIND = 8


def width() -> int:
    """Columns of the terminal, between 60 and 110."""
    return max(60, min(shutil.get_terminal_size((100, 24)).columns, 110))


def wrapped(text: str, indent: str = "", hang: str | None = None) -> str:
    """Text folded to the terminal."""
    return textwrap.fill(
        text, width(), initial_indent=indent, subsequent_indent=indent if hang is None else hang,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Columns aligned: figures to the right, words to the left."""
    columns = list(zip(head, *rows, strict=True))
    right = [all(c[:1].isdigit() or c[:1] in "-+<" for c in column[1:] if c) for column in columns]
    sizes = [max(len(c) for c in column) for column in columns]
    lines = []
    for row in (head, *rows):
        cells = [c.rjust(n) if r else c.ljust(n) for c, n, r in zip(row, sizes, right, strict=True)]
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines)


def checked(found: Checked) -> str:
    """halfsplit check."""
    lines = [f"{found.source}: {'cannot be used yet' if found.mistakes else 'no mistakes'}"]
    lines += [wrapped(f"warning: {w}", "  ", "      ") for w in found.warnings]
    if found.unit is not None:
        lines += ["", unit_line(found.unit)]
        for facts in found.facts:
            lines += ["", *filter_lines(facts)]
    return "\n".join(lines)


def unit_line(u: Unit) -> str:
    """A unit in one line."""
    bands = ", ".join(
        f"{b.name} ({b.low / 1e6:g}-{b.high / 1e6:g} MHz{'' if b.filter is None else ', ' + b.filter})" for b in u.bands
    )
    return wrapped(f"{u.name}: {bands}; points {', '.join(u.path.points)}", "", "    ")


def filter_lines(facts: FilterFacts) -> list[str]:
    """A filter as the drawing has it."""
    from halfsplit.filters import facts_lines

    first, *rest = facts_lines(facts)
    return [wrapped(first, "", "    "), *(wrapped(line, "  ", "      ") for line in rest)]


def started(job: Path, u: Unit, warnings: Sequence[str], told: int = 0) -> str:
    """halfsplit start. told : number of answers that came with it"""
    lines = [f"job {job} started", unit_line(u), *(wrapped(f"warning: {w}", "  ") for w in warnings)]
    band = f" --band '{u.bands[0].name}'" if len(u.bands) > 1 else ""
    lines += [wrapped(f"{told} told of complaint and history; more questions: halfsplit tell {job}")] if told else []
    return "\n".join([*lines, f"now add what the instruments showed: halfsplit add {job}{band} FILE"])


def added(items: Sequence[Added], found: Sequence[tuple[str, str]] = ()) -> str:
    """halfsplit add."""
    lines = [wrapped(f"{key}  {text}", "", "    ") for key, text in found]
    for a in items:
        lines += [wrapped(f"{a.key}  {a.reading.understood}", "", "    "), wrapped(a.hookup_text, "    ")]
        lines += [wrapped(f"warning: {w}", "    ") for w in a.reading.warnings]
        lines += [wrapped(asked(q), "    ") for q in a.reading.asks]
        if a.same_as:
            same = f"the same figures and hook-up as {', '.join(a.same_as)}: if it is one sweep, withdraw one of them"
            lines.append(wrapped(f"warning: {same}", "    "))
    return "\n".join(lines)


def form(job: Path, u: Unit, known: History) -> str:
    """halfsplit tell without an answer: the questions, to be filled in."""
    top = f'Fill in and give back: halfsplit tell {job} --from FILE ("-" for standard input), or row by row: '
    lines = [wrapped(f'{top}halfsplit tell {job} "knock = yes". Empty rows do not count.', "# ")]
    lines += [wrapped(f"Caution: {LIVE}", "# "), ""]
    for q in QUESTIONS:
        words = f"{', '.join(b.name for b in u.bands)} ({q.lists})" if q.key in ("bad", "good") else words_for(q)
        lines.append(wrapped(f"{q.text}  {words}; or: {NOT_KNOWN}", "# "))
        has = known.known(q.key)
        order = [b.name for b in u.bands if b.name in has] if q.key in ("bad", "good") else has
        lines += [wrapped(f"told: {', '.join(order)}", "# ")] if has else []
        lines += [f"{q.key} =", ""]
    return "\n".join(lines[:-1])


def told(job: Path, kept: Sequence[StoredAnswer]) -> str:
    """halfsplit tell."""
    lines = [wrapped(f"{a.key}  {a.question} = {a.answer}", "", "    ") for a in kept]
    return "\n".join([*lines, f"now: halfsplit suspects {job}"])


def asking(a: Ask | None) -> list[str]:
    """The question that would help most, with what each answer would mean."""
    if a is None:
        return []
    lines = ["", wrapped(f"Ask: {a.question}", "", "     ")]
    for r in a.replies:
        lines.append(wrapped(f"{percent(r.probability):>5}  {r.answer}: {r.means}", "  ", "         "))
    rows = " or ".join(f'"{r.row}"' for r in a.replies[:2])
    lines += [wrapped(a.caution, "  Caution: ", "    ")] if a.caution else []
    return [*lines, wrapped(f"worth {a.bits:.2f} bit; tell it with: halfsplit tell JOB {rows}", "  ", "  ")]


def asked(q: Question) -> str:
    """A question of the reader, with the option that answers it."""
    option = f"; otherwise withdraw it and add it with --{q.about.replace('_', '-')}" if q.about in ANSWERS else ""
    return f"asked: {q.text} (assumed: {q.assumed}{option})"


def expectation(e: Expectation) -> str:
    """halfsplit expect."""
    through = e.what.value == "s21"
    rows = []
    for i in range(len(e.f)):
        if through:
            figures = [f"{x:.2f} dB" for x in (e.nominal[i], e.low[i], e.median[i], e.high[i])]
        else:
            figures = [
                f"{-20 * np.log10(max(x, 1e-3)):.1f} dB" for x in (e.nominal[i], e.high[i], e.median[i], e.low[i])
            ]
        rows.append([format_value(float(e.f[i]), Dimension.FREQUENCY), *figures])
    head = ["frequency", "as drawn", "from (5 %)", "middle", "to (95 %)"]
    title = describe(e.hookup) + ("" if through else "; shown as return loss")
    return f"{wrapped(title)}\n\n{table(head, rows)}"


def judged(found: Judged) -> str:
    """halfsplit judge: the bands, loudest first, then every reading."""
    from halfsplit.cli.level_show import figures, loudest
    from halfsplit.cli.spectrum import judged_lines

    order = sorted(
        found.bands,
        key=lambda b: -max((*(loudness(v) for v in found.verdicts if v.band == b.band), loudest(found.levels, b))),
    )
    lines = [wrapped(f"{b.word.value.upper():12} {b.headline}", "", " " * 13) for b in order]
    if found.unmeasured:
        lines.append(wrapped(f"{'not measured':12} {', '.join(found.unmeasured)}", "", " " * 13))
    lines += ["", *(wrapped(w, "note: ", "      ") for w in found.warnings)]
    for v in sorted(found.verdicts, key=lambda v: -loudness(v)):
        lines.append(wrapped(f"{v.word.value.upper()}  {v.key}  {v.label}", "", "    "))
        for c in v.checks:
            mark = {Word.OUTSIDE: "!!", Word.DOUBTFUL: " ?", Word.WITHIN: "ok", Word.CANNOT_TELL: " -"}[c.word]
            lines.append(wrapped(c.text, f"  {mark} ", "     "))
        lines.append("")
    lines += figures(found.levels)
    lines += judged_lines(found.spectra)
    lines.append(wrapped("!! outside, ? doubtful, ok within, - cannot tell. Ranges hold 90 % of sound units."))
    return "\n".join(lines)


def loudness(v: Verdict) -> float:
    """Order of the verdicts: severity, then the loudest check."""
    order = {Word.OUTSIDE: 3e6, Word.DOUBTFUL: 2e6, Word.CANNOT_TELL: 1e6, Word.WITHIN: 0.0}
    return order[v.word] + max((c.loudness for c in v.checks if c.word is v.word), default=0.0)


def ranking(r: Ranking) -> str:
    """halfsplit suspects."""
    lines = [wrapped(r.belief), *(wrapped(f"note: {w}", "", "      ") for w in r.warnings), ""]
    lines += [wrapped(r.what_changed), ""] if r.what_changed else []
    lines += [wrapped(f"{m.says}.", "", "    ") for m in r.mended if m.says not in r.belief]
    for g in r.groups[:SHOWN_GROUPS]:
        if g.probability >= 0.005 or g is r.groups[0]:
            lines += group_lines(g)
            lines += outside_lines(r) if g.family == "sound" else []
    lines.append(wrapped(f"90 % of the probability: {'; '.join(r.set90)}", "", "    "))
    if r.cleared:
        lines.append(wrapped(f"spoken against by these readings: {', '.join(r.cleared)}", "", "    "))
    blind = [b for b in r.cannot_exclude if "value" in b.mode][:SHOWN_BLIND]
    if blind:
        lines += ["", "These readings cannot exclude:", *(wrapped(blind_line(b), "  ", "      ") for b in blind)]
        left = len(r.cannot_exclude) - len(blind)
        if left > 0:
            lines.append(f"  and {left} more (all of them with --json)")
    if r.told:
        lines += ["", wrapped(f"Told, and weighed: {'; '.join(r.told)}.", "", "    ")]
    return "\n".join([*lines, *asking(r.ask)])


def outside_lines(r: Ranking) -> list[str]:
    """Causes outside a sound path."""
    shown = [(percent(o.probability), o.text) for o in r.outside if o.probability >= 0.01 or o is r.outside[0]]
    lines = [wrapped(f"{p:>5}  elsewhere: {text}", "       ", "              ") for p, text in shown]
    return [*lines, ""] if lines else []


def blind_line(b: Blind) -> str:
    """A fault that may have gone unseen, and what would show it."""
    return f"{b.text}; {b.test}" if b.test else b.text


def group_lines(g: Group) -> list[str]:
    """One group with its causes."""
    lines = [wrapped(f"{percent(g.probability):>5}  {g.name}", "", "       ")]
    if g.why_together:
        lines.append(wrapped(f"{'two faults' if g.at_once == 2 else 'one group'}: {g.why_together}", "       "))
    for c in g.causes[:SHOWN_CAUSES]:
        lines += cause_lines(c) if g.family != "sound" else []
    if len(g.causes) > SHOWN_CAUSES:
        lines.append(f"       and {len(g.causes) - SHOWN_CAUSES} more (all of them with --json)")
    return [*lines, ""]


def cause_lines(c: Cause) -> list[str]:
    """One cause with what speaks for and against it."""
    lines = [wrapped(f"{percent(c.probability):>5}  {c.text}", "       ", "              ")]
    lines += [wrapped(f"for: {x}", "              ", "                   ") for x in c.speaks_for[:3]]
    lines += [wrapped(f"against: {x}", "              ", "                   ") for x in c.speaks_against[:3]]
    return lines


def worth(a: Advice) -> str:
    """What a test is expected to tell, where it tells anything."""
    return f"; worth {a.information_bits:.2f} bit" if a.information_bits >= 0.005 else ""


def advice(r: Ranking, items: Sequence[Advice]) -> str:
    """halfsplit next."""
    from halfsplit.report.cautions import CAUTIONS, DEFER

    lines = [wrapped(r.belief), *asking(r.ask), ""]
    if not items:
        lines += [wrapped("No test on the list would tell the remaining causes apart."), ""]
    for n, a in enumerate(items, 1):
        lines += [
            wrapped(f"{n}. {a.title}", "", "   "),
            wrapped(f"connect: {a.connect}", "   ", "      "),
            wrapped(f"about {a.minutes:.0f} min, risk: {a.risk}{worth(a)}", "   ", "      "),
        ]
        lines += [
            wrapped(f"{percent(o.probability):>5}  {o.group}: {o.shows}", "   ", "          ") for o in a.outcomes
        ]
        lines.append("")
    cautions = list(dict.fromkeys(c for a in items for c in a.cautions)) or [*CAUTIONS, DEFER]
    lines += ["Caution:", *(wrapped(c, "  ", "    ") for c in cautions)]
    return "\n".join(lines)


def reported(target: Path) -> str:
    """halfsplit report."""
    from halfsplit.report.cautions import DEFER

    return f"written: {target}\n{wrapped(DEFER, 'Caution: ', '  ')}"


def journal(book: Notebook) -> str:
    """halfsplit journal."""
    from halfsplit.cli.act_show import book_lines

    lines = [wrapped(f"{book.name}: {book.complaint or 'no complaint stated'}"), ""]
    hookups = dict(book.hookups)
    for r in book.readings:
        state = f"WITHDRAWN: {r.withdrawn}" if r.withdrawn is not None else "baseline" if r.baseline else ""
        lines.append(wrapped(f"{r.key}  {r.understood}{f'  [{state}]' if state else ''}", "", "    "))
        lines.append(wrapped(hookups.get(r.key, ""), "    "))
    if not book.readings:
        lines.append("no reading yet")
    for a in book.answers:
        state = "" if a.withdrawn is None else f"  [WITHDRAWN: {a.withdrawn}]"
        lines.append(wrapped(f"{a.key}  {a.question} = {a.answer}{state}", "", "    "))
    lines += book_lines(book)
    lines += ["", *(wrapped(f"{a.at[:16].replace('T', ' ')} UTC  {a.kind}: {a.text}", "", "    ") for a in book.acts)]
    return "\n".join(lines)
