"""The questions: what to ask the owner, and the answers that the tables know."""

from __future__ import annotations

from dataclasses import dataclass

NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    key : its name in rows and options; text : as one would say it aloud
    answers : the words that are understood, none where the answer is a list of names; lists : what those names are
    live : trying it out, where nobody can say, needs a unit that transmits
    """

    key: str
    text: str
    answers: tuple[str, ...] = ()
    lists: str = ""
    live: bool = False


QUESTIONS = (
    Question(
        "symptom", "What does it do wrong?",
        ("low power", "no power", "high SWR", "harmonics", "unstable", "other"),
    ),
    Question("bad", "On which bands is it wrong?", lists="bands, or: all"),
    Question("good", "On which bands is it as it should be?", lists="bands, or: the others"),
    Question("intermittent", "Does it come and go?", ("yes", "no")),
    Question(
        "onset", "How did it begin?",
        ("sudden", "gradual", "always", "after lightning", "after overload", "after transport", "after storage",
         "after work"),
    ),
    Question("knock", "Does a knock, or pressing on boards and plugs, change it?", ("yes", "no"), live=True),
    Question("warmth", "Is it worse when warm, or worse when cold?", ("worse warm", "worse cold", "no"),
             live=True),
    Question("keying", "Does keying, or working its relays or switches a few times, clear it for a while?",
             ("yes", "no"), live=True),
    Question("load", "Does it do the same into a dummy load at its own socket?", ("yes", "no"), live=True),
    Question("supply", "Supply voltage, read at the unit while it transmits: as stated, or off?", ("as stated", "off"),
             live=True),
    Question("receive", "Is receive weak or dead on the same bands?", ("yes", "no")),
    Question("repaired", "What was repaired or touched before?", lists="designators, or: none"),
    Question("modified", "What was modified?", lists="designators or bands, or: none"),
)  # fmt: skip

LIVE = (
    "Ask the owner first. Trying it out means a unit that transmits: into a rated dummy load, covers on, an insulated "
    "stick for the knock, fused leads at the supply. Transmit only as licensed; local codes and qualified practice "
    "decide."
)
NONE = "none"
LISTS = tuple(q.key for q in QUESTIONS if q.lists)
BANDS = ("bad", "good")


def question(key: str) -> Question:
    """The question of that name. raises KeyError where there is none."""
    for found in QUESTIONS:
        if found.key == key:
            return found
    raise KeyError(key)
