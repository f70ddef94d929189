"""What was told, put together: the latest answer to each question counts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from halfsplit.history.questions import LISTS, NONE, NOT_KNOWN, QUESTIONS


@dataclass(frozen=True, slots=True)
class History:
    """The complaint and the history of one unit, as told.

    chosen : (question, answer) in the order of the questions; bad, good : names of bands
    repaired, modified : designators (for `modified` also names of bands)
    asked : questions that need not be asked again, those answered "not known" among them
    """

    chosen: tuple[tuple[str, str], ...] = ()
    bad: tuple[str, ...] = ()
    good: tuple[str, ...] = ()
    repaired: tuple[str, ...] = ()
    modified: tuple[str, ...] = ()
    asked: frozenset[str] = frozenset()

    def __bool__(self) -> bool:
        """True where an answer says something."""
        return bool(self.chosen or self.bad or self.good or self.repaired or self.modified)

    def answer(self, key: str) -> str | None:
        """The answer to a question that has a choice, None where nothing is known."""
        return dict(self.chosen).get(key)

    def known(self, key: str) -> tuple[str, ...]:
        """What is known in answer to a question: nothing, one answer, or several names."""
        lists = {"bad": self.bad, "good": self.good, "repaired": self.repaired, "modified": self.modified}
        if key in lists:
            return lists[key]
        return tuple(a for k, a in self.chosen if k == key)


def history_of(told: Iterable[tuple[str, str]]) -> History:
    """The history from single answers in the order in which they were told.

    told : (question, answer), one name in each answer of a question that takes a list
    A later answer takes the place of an earlier one to the same question, for bands of one to the same band;
    designators add up until "none" or "not known".
    """
    chosen: dict[str, str] = {}
    lists: dict[str, list[str]] = {key: [] for key in LISTS}
    asked = set()
    for key, answer in told:
        asked.add(key)
        if key not in lists:
            chosen[key] = answer
            continue
        for other in ("bad", "good") if key in ("bad", "good") else ():
            if answer in lists[other]:
                lists[other].remove(answer)
        if answer in (NONE, NOT_KNOWN):
            lists[key].clear()
        elif answer not in lists[key]:
            lists[key].append(answer)
    kept = tuple((q.key, chosen[q.key]) for q in QUESTIONS if chosen.get(q.key, NOT_KNOWN) != NOT_KNOWN)
    bad, good, repaired, modified = (tuple(sorted(lists[key])) for key in LISTS)
    return History(kept, bad, good, repaired, modified, frozenset(asked))
