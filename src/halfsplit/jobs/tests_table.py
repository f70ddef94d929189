"""The user's own table of tests: minutes and risks in place of the built-in ones."""

from __future__ import annotations

from pathlib import Path

from halfsplit import advise as advice_room
from halfsplit.advise import Cost
from halfsplit.errors import InputError, Mistake


def table_of(own: Path | None) -> dict[str, Cost] | None:
    """The table of tests from a file; None where there is none. raises InputError"""
    return None if own is None else advice_room.costs(tests_text(own), str(own))


def tests_text(path: Path) -> str:
    """The text of a table of tests. raises InputError"""
    try:
        return path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(Mistake(str(path), str(error), "a table of tests, as UTF-8 text")) from error
