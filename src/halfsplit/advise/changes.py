"""What the latest test changed, in two sentences: what it shows and speaks for, and what to do next and why."""

from __future__ import annotations

from functools import partial

from halfsplit.advise.choose import ENOUGH
from halfsplit.advise.records import Advice
from halfsplit.advise.wording import in_a_sentence
from halfsplit.fault import Ranking
from halfsplit.quantity import percent

chance = partial(percent, spoken=True)

MOVED = 0.05
NAMED = 3


def what_changed(before: Ranking | None, after: Ranking, shown: str, advice: tuple[Advice, ...]) -> str:
    """Two sentences about the latest reading or finding.

    before : the ranking without it, None where it is the first; shown : what it shows, "R3 shows ..."
    advice : of the ranking now, best first
    """
    return f"{shown}; {speaks(before, after)}. {following(after, advice)}"


def called(part: str) -> str:
    """A row of the ranking as one says it aloud."""
    if part in ("sound", "sound as far as measured"):
        return "a sound path"
    if part.startswith("something not listed"):
        return "something that is not on the list"
    return f"a mistake in {part}" if part.startswith("hook-up") else part


def speaks(before: Ranking | None, after: Ranking) -> str:
    """What it speaks for and against."""
    now = dict(after.parts)
    if before is None:
        first = after.groups[0]
        if first.probability < 0.5:
            return f"that alone settles little, first comes {called(first.name)} ({chance(first.probability)})"
        if first.family == "sound":
            word = "says nothing" if first.probability > ENOUGH else "is no proof"
            return f"that alone {word} against the path that was measured (sound: {chance(first.probability)})"
        return f"that alone points to {called(first.name)} ({chance(first.probability)})"
    then = dict(before.parts)
    gain = {n: now.get(n, 0.0) - then.get(n, 0.0) for n in {*now, *then}}
    up = moved(gain, 1.0)
    down = moved(gain, -1.0)
    lead, p = after.parts[0]
    if not up and not down:
        return f"that changes little, {called(lead)} stays first ({chance(p)})"
    said = []
    if up:
        said.append(f"for {joined(up)} ({fromto(then, now, up)})")
    if down:
        said.append(f"against {joined(down)} ({fromto(then, now, down)})")
    return f"that speaks {' and '.join(said)}"


def moved(gain: dict[str, float], sign: float) -> list[str]:
    """The parts that moved most one way, those that moved half as far among them."""
    sized = sorted(((sign * g, n) for n, g in gain.items() if sign * g > MOVED), reverse=True)
    return [n for g, n in sized if g >= 0.5 * sized[0][0]][:NAMED]


def joined(names: list[str]) -> str:
    """Names in a row."""
    return " or ".join(called(n) for n in names)


def fromto(then: dict[str, float], now: dict[str, float], names: list[str]) -> str:
    """Probability before and now."""
    a, b = (sum(x.get(n, 0.0) for n in names) for x in (then, now))
    return f"{chance(a)} before, {chance(b)} now"


def following(after: Ranking, advice: tuple[Advice, ...]) -> str:
    """What to do next, and why."""
    if not advice:
        return "No test on the list would tell more."
    one = advice[0]
    title, work = in_a_sentence(one.title), f"about {one.minutes:.0f} min"
    lead, p = after.parts[0]
    if p >= ENOUGH and one.title.startswith("Confirm"):
        return f"Next {title} ({work}), because {called(lead)} should be proved bad before it is replaced."
    groups = [o.group for o in one.outcomes]
    shows = [o.shows for o in one.outcomes]
    other = next((g for g, s in zip(groups, shows, strict=True) if s != shows[0]), "")
    why = (
        f"it should look different for {called(groups[0])} and for {called(other)}"
        if other
        else "it narrows down what is left"
    )
    if not groups:
        why = one.splits[:1].lower() + one.splits[1:].rstrip(".")
    return f"Next {title} ({work}), because {why}."
