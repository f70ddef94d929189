"""What the ranking says, as records."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Cause:
    """One explanation: a place and a way of failing.

    place : designator, joint, contact, cable, point or hook-up; mode : way of failing
    size : SI units or factor, None without size; size_text : with unit and spread
    probability : of this cause; log_evidence : ln of the density of the readings against a sound unit
    """

    place: str
    mode: str
    text: str
    size: float | None
    size_text: str
    probability: float
    log_evidence: float
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]
    family: str


@dataclass(frozen=True, slots=True)
class Group:
    """Causes that these readings cannot tell apart, with one probability.

    at_once : 1; 2 where two faults together are meant, and `causes` holds those of either
    """

    name: str
    probability: float
    causes: tuple[Cause, ...]
    why_together: str
    family: str
    at_once: int = 1


@dataclass(frozen=True, slots=True)
class Blind:
    """The smallest fault of one place that these readings would have shown.

    shown : False where no size shows; key : of the hypothesis; size : SI units or factor that would just have shown
    test : what would show it
    """

    place: str
    mode: str
    text: str
    shown: bool
    key: str = ""
    size: float | None = None
    test: str = ""


@dataclass(frozen=True, slots=True)
class Outside:
    """One cause outside a sound path. probability : of this cause; all of them together have that of a sound path"""

    name: str
    text: str
    probability: float


@dataclass(frozen=True, slots=True)
class Reply:
    """One answer to a question: how likely it comes, what it would mean, and the row that tells it."""

    answer: str
    probability: float
    means: str
    row: str


@dataclass(frozen=True, slots=True)
class Ask:
    """The question that would help most.

    bits : expected drop of the uncertainty about the place; caution : where trying it out means a live unit, else empty
    """

    question: str
    bits: float
    replies: tuple[Reply, ...]
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Mended:
    """What one piece of work on the unit did, as all readings before and after it have it.

    key : of the work; work : in words; probability : that there was a fault at its place which is gone since
    says : in one sentence; causes : the faults that it may have cured, each with its probability
    before, after : labels of the readings of the unit before and since
    """

    key: str
    work: str
    probability: float
    says: str
    causes: tuple[Cause, ...]
    before: tuple[str, ...]
    after: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ranking:
    """All readings together.

    groups : by falling probability, the sound unit and the unlisted cause among them
    places : (place, probability), causes of one place added up; parts : the same by designator
    set90 : names of the groups that together hold 90 %
    cleared : places that these readings speak against strongly; cannot_exclude : what they cannot see
    outside : causes outside a sound path, where a complaint was told; told : the answers that weigh, in words
    ask : the question about complaint and history that would help most
    what_changed : what the latest test changed, in two sentences; "" where that was not looked at
    mended : what each piece of work on the unit did, in order; the rest is about the unit as it is now
    """

    groups: tuple[Group, ...]
    places: tuple[tuple[str, float], ...]
    parts: tuple[tuple[str, float], ...]
    sound: float
    not_listed: float
    set90: tuple[str, ...]
    cleared: tuple[str, ...]
    cannot_exclude: tuple[Blind, ...]
    readings: tuple[str, ...]
    warnings: tuple[str, ...]
    belief: str
    outside: tuple[Outside, ...] = ()
    told: tuple[str, ...] = ()
    ask: Ask | None = None
    what_changed: str = ""
    mended: tuple[Mended, ...] = ()
