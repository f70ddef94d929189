"""The error tree.

::

    HalfsplitError                      anything that this package raises on purpose
    +-- InputError                      what the user gave cannot be used (exit status 2)
    |   +-- UnitError                   the unit file: carries every mistake found, not the first
    |   +-- HookupError                 the hook-up: unknown point, contradictory wish
    |   +-- ReadingError                the reading: unreadable, empty, outside the model
    +-- JobFileError                    the job file: newer version, not a job, disk full, in use
    +-- ModelError                      the network has no answer (a node with no path to anywhere)

`quantity` and `network` stand beside this room and raise their own ValueErrors
(`QuantityError`, `SingularNetwork`); the room that calls them translates.
"""

from __future__ import annotations

from dataclasses import dataclass


class HalfsplitError(Exception):
    """Base of all errors that halfsplit raises on purpose."""


@dataclass(frozen=True, slots=True)
class Mistake:
    """One thing that is wrong: where it stands, what was found, what was expected, what to do next."""

    where: str
    found: str
    expected: str
    line: int | None = None

    def __str__(self) -> str:
        place = self.where if self.line is None else f"line {self.line}: {self.where}"
        return f"{place}: {self.found}; expected {self.expected}"


class InputError(HalfsplitError):
    """What the user gave cannot be used.

    mistakes : every mistake found, in file order
    """

    def __init__(self, *mistakes: Mistake) -> None:
        super().__init__("\n".join(str(m) for m in mistakes))
        self.mistakes = mistakes


class UnitError(InputError):
    """The unit file cannot be used as it stands."""


class HookupError(InputError):
    """The hook-up names something that the unit does not have, or contradicts itself."""


class ReadingError(InputError):
    """The reading cannot be understood, or lies outside what the model covers."""


class JobFileError(HalfsplitError):
    """The job file cannot be read or written; the message says which and why."""


class ModelError(HalfsplitError):
    """The network as described has no answer at some frequency."""
