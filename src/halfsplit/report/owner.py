"""The report for the owner, in plain words: what was wrong, what was done, and the proof."""

from __future__ import annotations

import halfsplit
from halfsplit.fault import Cause, Group
from halfsplit.quantity import percent
from halfsplit.report.document import document
from halfsplit.report.markup import bullets, element, paragraph, safe, table, verdict_word
from halfsplit.report.plot import curves_of, trace
from halfsplit.report.proof import BandProof, proofs, taken_after, work_done
from halfsplit.report.readings import matching
from halfsplit.report.records import SheetData
from halfsplit.report.sheet import when
from halfsplit.report.standing import filter_names, sits_at
from halfsplit.verdict import Word

SURE = 0.9
WORDS = {
    Word.WITHIN: "as a sound unit shows it",
    Word.DOUBTFUL: "seldom from a sound unit",
    Word.OUTSIDE: "not as a sound unit shows it",
    Word.CANNOT_TELL: "these readings cannot tell",
}
READING_IT = (
    "In the drawing the heavy line is your unit; the grey field is where nine of ten sound units of this design lie. "
    "The shaded strip is the band that you transmit on: there the line should be near the top, for a loss of 3 dB is "
    "half the power. Above it the line should be low: that is where harmonics are held back."
)
CARE = (
    "Transmit only as your licence and local rules say. Test into a dummy load that stands the power. Inside the unit "
    "high-frequency voltage burns and capacitors stay charged: leave the covers on."
)


def owner_report(data: SheetData) -> str:
    """The whole report as HTML: self-contained, no script, no request. Pure: the same records give the same bytes."""
    parts = [
        head(data),
        section("What you told", told(data)),
        section("What was wrong", wrong(data)),
        section("What was done", done(data)),
        section("Proof", proof(data)),
        section("What was not looked at", left_open(data)),
        section("Please mind", paragraph(CARE)),
        signature(),
        foot(data),
    ]
    return document(f"{data.notebook.name} \u2013 repair report", parts)


def section(title: str, body: str) -> str:
    """A part with its title; nothing where it has nothing to say."""
    return element("h2", safe(title)) + body if body else ""


def head(data: SheetData) -> str:
    """What was repaired, and how it stands, in one sentence."""
    unit, last = data.job.unit, data.notebook.acts[-1].at if data.notebook.acts else ""
    rows = [("unit", unit.name + ("" if unit.rated_watts is None else f", {unit.rated_watts:g} W"))]
    rows += [("as of", when(last))] if last else []
    facts = element("dl", "".join(element("dt", safe(k)) + element("dd", safe(v)) for k, v in rows))
    top = paragraph("repair report for the owner", "label") + element("h1", safe(data.notebook.name)) + facts
    return element("header", top + paragraph(summary(data), "belief"))


def summary(data: SheetData) -> str:
    """How it stands."""
    shown = proofs(data)
    after = [p for p in shown if p.after is not None]
    bad = [p.band.name for p in after if p.after is not Word.WITHIN]
    if not data.verdicts:
        return "Nothing was measured yet, so nothing can be said about this unit."
    if not work_done(data):
        off = [p.band.name for p in shown if p.before is Word.OUTSIDE]
        return f"Not repaired yet. Found faulty on {listed(off)}." if off else "Measured; no work was done on it."
    if not after:
        return "Worked on, but not measured since: the repair is not proved."
    unproved = [p.band.name for p in shown if p.after is None and p.before in (Word.OUTSIDE, Word.DOUBTFUL)]
    if unproved:
        return (
            f"Worked on, but {listed(unproved)}, found faulty before, {many(unproved)} not measured since: not proved."
        )
    if bad:
        return f"Worked on, but {listed(bad)} {many(bad, 'is', 'are')} still not as it should be."
    names = [p.band.name for p in after]
    silent = len(shown) - len(after)
    rest = f" {silent} other band{'s were' if silent > 1 else ' was'} not measured since." if silent else ""
    return f"Repaired. On {listed(names)} it now measures as a sound unit does.{rest}"


def many(names: list[str], one: str = "was", more: str = "were") -> str:
    """The verb for one name or for several."""
    return one if len(names) == 1 else more


def listed(names: list[str]) -> str:
    """Names as a sentence has them."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else "no band"


def told(data: SheetData) -> str:
    """The complaint and the answers."""
    out = paragraph(data.notebook.complaint or "No complaint was written down.")
    said = () if data.ranking is None else data.ranking.told
    return out + (paragraph(f"Also told: {'; '.join(said)}.") if said else "")


def wrong(data: SheetData) -> str:
    """What the readings say, as sure as they are and no surer."""
    if data.ranking is None:
        return paragraph("No reading counts yet.")
    first, *rest = data.ranking.groups
    if first.family == "sound" and first.probability >= SURE:
        return paragraph(
            "As far as it was measured the signal path is sound. What is wrong, if anything, lies outside it, or was "
            "not measured."
        )
    if first.probability >= SURE and first.family != "not listed":
        return single(data, first)
    shown = [first, *(g for g in rest[:3] if g.probability >= 0.05)]
    lines = [f"{g.name}: {percent(g.probability)}" for g in shown]
    return paragraph("The readings do not settle it. What is left, by how likely it is:") + bullets(lines)


def single(data: SheetData, found: Group) -> str:
    """One group that holds nearly all."""
    cause = found.causes[0]
    sure = percent(found.probability).replace(">", "more than ")
    if len(found.causes) > 1:
        line = f"The readings point to {found.name}: one of these, they cannot tell which. Likelihood {sure}."
    else:
        line = f"The readings point to one place: {cause.text}. Likelihood {sure}."
    return paragraph(line) + paragraph(place_of(data, cause))


def place_of(data: SheetData, cause: Cause) -> str:
    """Where a cause sits, and which bands use that."""
    unit = data.job.unit
    for chosen in unit.filters:
        if any(sits_at(cause.place, n) for n in filter_names(chosen)):
            bands = [b.name for b in unit.bands if b.filter == chosen.name]
            served = f", which serves {listed(bands)}" if bands else ""
            return f"It belongs to the filter {chosen.name}{served}. The other bands do not use it."
    return "It lies where all bands pass."


def done(data: SheetData) -> str:
    """Work and notes, in order."""
    rows = [[safe(when(w.at)), safe(w.text), safe(w.note)] for w in work_done(data)]
    notes = [f"{when(a.at)}: {a.text}" for a in data.notebook.acts if a.kind == "note"]
    out = table(("when", "what", "remark"), rows) if rows else paragraph("No work on the unit is written down.")
    return out + ((element("h3", "Notes from the bench") + bullets(notes)) if notes else "")


def proof(data: SheetData) -> str:
    """Each band before and after, limits, and a drawing of each that was measured."""
    shown = proofs(data)
    repaired = bool(work_done(data))
    names = ("band", "before the work", "after the work") if repaired else ("band", "as it was measured")
    rows = []
    for p in shown:
        words = (p.before, p.after) if repaired else (p.before,)
        rows.append([safe(p.band.name), *(plain_word(w) for w in words)])
    pictures = [picture(data, p) for p in shown if p.shown is not None]
    asked = [[safe(p.band.name), verdict_word(w), safe(text)] for p in shown for w, text in p.limits]
    limits = (
        element("h3", "Limits that the manual states") + table(("band", "verdict", "measured"), asked) if asked else ""
    )
    drawn = paragraph(READING_IT, "note") + element("div", "".join(pictures), "plots") if pictures else ""
    return table(names, rows) + limits + drawn


def plain_word(word: Word | None) -> str:
    """A verdict for somebody who has never seen one."""
    return safe("not measured") if word is None else f"{verdict_word(word)} {safe(WORDS[word])}"


def picture(data: SheetData, p: BandProof) -> str:
    """The trace of a band, with what it is."""
    v = p.shown
    assert v is not None
    late = v.key in taken_after(data)
    title = f"{p.band.name}, reading {v.key}" + (", after the work" if late else "")
    drawn = trace(curves_of(v, p.band, matching(v, data.job.observations)), v, p.band)
    return element("figure", element("h3", safe(title)) + drawn)


def left_open(data: SheetData) -> str:
    """What nobody should believe was checked."""
    silent = [p.band.name for p in proofs(data) if p.before is None and p.after is None]
    out = []
    if silent:
        out.append(f"Not measured at all: {listed(silent)}.")
    if data.notebook.readings:
        out.append(
            "These readings were made with small signals. They say nothing about power, heat, modulation or "
            "what happens only now and then."
        )
    return bullets(out)


def signature() -> str:
    """Room to sign, on paper."""
    return element("div", paragraph("repaired by") + paragraph("place and date"), "sign")


def foot(data: SheetData) -> str:
    """What made this."""
    book = data.notebook
    text = f"Made by halfsplit {halfsplit.__version__} from the job {book.name}; unit file SHA-256 "
    return element("footer", element("p", safe(text) + element("code", safe(book.unit_hash))))
