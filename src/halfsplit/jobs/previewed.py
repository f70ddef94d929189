"""A reading as it would be kept, shown before it is: what was understood, what it is used as, what is wrong."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from halfsplit.errors import HalfsplitError, InputError, Mistake
from halfsplit.hookup import Hookup, describe
from halfsplit.jobs.bench import hookup_for, labels_of, twins
from halfsplit.jobs.incoming import Incoming
from halfsplit.journal import StoredReading
from halfsplit.reading import Reading
from halfsplit.unit import Unit


@dataclass(frozen=True, slots=True)
class Preview:
    """A reading that is not kept yet.

    reading, hookup : None where they are not understood; hookup_text : in one line
    labels : what it would be used as; same_as : readings that count already, with the same bytes and hook-up
    mistakes : everything that keeps it from being kept
    """

    reading: Reading | None
    hookup: Hookup | None
    hookup_text: str
    labels: tuple[str, ...]
    same_as: tuple[str, ...]
    mistakes: tuple[Mistake, ...]

    @property
    def good(self) -> bool:
        """True where it can be kept as it is."""
        return not self.mistakes and self.reading is not None


def mistakes_of(error: HalfsplitError, where: str) -> tuple[Mistake, ...]:
    """The mistakes of an error. where : for an error that has none of its own"""
    if isinstance(error, InputError):
        return error.mistakes
    return (Mistake(where, str(error), "something that this unit has"),)


def tried(unit: Unit, fields: Mapping[str, object]) -> tuple[Hookup | None, tuple[Mistake, ...]]:
    """A hook-up in words, or every mistake in it."""
    try:
        return hookup_for(unit, fields), ()
    except HalfsplitError as error:
        return None, mistakes_of(error, "hook-up")


def previewed(
    unit: Unit, before: Sequence[StoredReading], make: Callable[[], Incoming], fields: Mapping[str, object]
) -> Preview:
    """What `add` would make of one reading; nothing is kept.

    before : readings of the job; make, fields : as of `add`
    """
    hookup, mistakes = tried(unit, fields)
    told = "" if hookup is None else describe(hookup)
    try:
        incoming = make()
    except HalfsplitError as error:
        return Preview(None, hookup, told, (), (), (*mistakes_of(error, "reading"), *mistakes))
    if hookup is None:
        return Preview(incoming.reading, None, told, (), (), mistakes)
    try:
        labels = labels_of(unit, hookup, incoming.reading)
    except HalfsplitError as error:
        return Preview(incoming.reading, hookup, told, (), (), mistakes_of(error, "reading"))
    return Preview(incoming.reading, hookup, told, labels, twins(before, incoming, hookup), ())


def hookup_words(unit: Unit, fields: Mapping[str, object]) -> tuple[str, tuple[Mistake, ...]]:
    """A hook-up in one line, or every mistake in it."""
    hookup, mistakes = tried(unit, fields)
    return ("" if hookup is None else describe(hookup)), mistakes
