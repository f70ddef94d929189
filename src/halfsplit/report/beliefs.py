"""The part of the sheet that believes: suspects as groups, what stays open, and the next tests."""

from __future__ import annotations

from halfsplit.advise import Advice
from halfsplit.fault import Cause, Group, Ranking
from halfsplit.quantity import percent
from halfsplit.report.markup import bullets, element, paragraph, safe, table
from halfsplit.report.records import SheetData

SHOWN_GROUPS, SHOWN_CAUSES, SHOWN_BLIND = 8, 5, 16
LEAST = 0.005


def bar(p: float) -> str:
    """A probability as a bar; the figure beside it says the same."""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" class="bar" viewBox="0 0 66 8" aria-hidden="true">'
        f'<rect class="barback" x="0.5" y="0.5" width="65" height="7"/>'
        f'<rect class="barfill" x="0.5" y="0.5" width="{65 * min(max(p, 0.0), 1.0):.1f}" height="7"/></svg>'
    )


def speaking(c: Cause) -> str:
    """What speaks for and against a cause."""
    said = [*(f"for: {x}" for x in c.speaks_for), *(f"against: {x}" for x in c.speaks_against)]
    return bullets(said, "speaks")


def cause(c: Cause) -> str:
    """One cause."""
    head = element("p", f"{element('strong', safe(percent(c.probability)))} {safe(c.text)}")
    return element("div", head + speaking(c), "cause")


def group(g: Group) -> str:
    """One group of causes that these readings cannot tell apart."""
    start = "two faults" if g.at_once == 2 else "one group"
    why = paragraph(f"{start}: {g.why_together}", "note") if g.why_together else ""
    causes = "" if g.family == "sound" else "".join(cause(c) for c in g.causes[:SHOWN_CAUSES])
    left = len(g.causes) - SHOWN_CAUSES
    more = paragraph(f"and {left} more of this group", "note") if left > 0 and g.family != "sound" else ""
    figure = element("div", element("span", safe(percent(g.probability)), "probability") + bar(g.probability))
    return element("div", figure + element("div", element("h3", safe(g.name)) + why + causes + more), "group")


def outside(r: Ranking) -> str:
    """Causes outside a sound path."""
    shown = [(o.text, o.probability) for o in r.outside if o.probability >= LEAST]
    rows = [[safe(text), safe(percent(p)) + bar(p)] for text, p in shown]
    return table(("if the path is sound, the cause is outside it", "believed"), rows) if rows else ""


def question(r: Ranking) -> str:
    """The question to the owner that would help most."""
    if r.ask is None:
        return ""
    rows = [[safe(x.answer), safe(percent(x.probability)), safe(x.means)] for x in r.ask.replies]
    head = element("h3", safe(f"Ask: {r.ask.question}"))
    caution = paragraph(r.ask.caution, "caution") if r.ask.caution else ""
    return head + table(("answer", "believed", "it would mean"), rows) + caution


def suspects(r: Ranking | None) -> str:
    """The groups by probability."""
    head = element("h2", "Suspects")
    if r is None:
        return head + paragraph("No reading that counts yet, so nothing is suspected and nothing is cleared.")
    shown = [g for g in r.groups[:SHOWN_GROUPS] if g.probability >= LEAST] or list(r.groups[:1])
    left = len(r.groups) - len(shown)
    changed = [paragraph(r.what_changed)] if r.what_changed else []
    out = [head, *(paragraph(w, "caution") for w in r.warnings), *changed, *(group(g) for g in shown)]
    if left > 0:
        rest = sum(g.probability for g in r.groups if g not in shown)
        out.append(paragraph(f"{left} more, together {percent(rest)}.", "note"))
    out.append(paragraph(f"90 % of the probability: {'; '.join(r.set90)}."))
    if r.cleared:
        out.append(paragraph(f"Spoken against by these readings: {', '.join(r.cleared)}.", "note"))
    if r.told:
        out.append(paragraph(f"Told, and weighed: {'; '.join(r.told)}.", "note"))
    return "".join(out) + outside(r) + question(r) + blind(r)


def blind(r: Ranking) -> str:
    """What these readings cannot exclude."""
    if not r.cannot_exclude:
        return ""
    lines = [f"{b.text}; {b.test}" if b.test else b.text for b in r.cannot_exclude[:SHOWN_BLIND]]
    left = len(r.cannot_exclude) - len(lines)
    more = paragraph(f"and {left} more.", "note") if left > 0 else ""
    return element("h2", "What these readings cannot exclude") + bullets(lines) + more


def test(n: int, a: Advice) -> str:
    """One test worth doing."""
    worth = f", worth {a.information_bits:.2f} bit" if a.information_bits >= LEAST else ""
    facts = [("connect", a.connect), ("work", f"about {a.minutes:.0f} min{worth}"), ("risk", a.risk)]
    facts += [("tells apart", a.splits)] if a.splits else []
    out = [element("h3", safe(f"{n}. {a.title}"))]
    out.append(element("dl", "".join(element("dt", safe(k)) + element("dd", safe(v)) for k, v in facts)))
    if a.outcomes:
        rows = [[safe(o.group), safe(percent(o.probability)), safe(o.shows)] for o in a.outcomes]
        out.append(table(("if the cause is", "believed", "it would show"), rows))
    out.append(bullets(a.cautions, "caution"))
    return element("div", "".join(out), "test")


def next_tests(data: SheetData) -> str:
    """The next tests, best first."""
    if data.ranking is None:
        return ""
    head = element("h2", "Next tests")
    if not data.advice:
        return head + paragraph("No test on the list would tell the remaining causes apart.")
    return head + "".join(test(n, a) for n, a in enumerate(data.advice, 1))
