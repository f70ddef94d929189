"""Where a key stands in the text: tomllib gives values without line numbers.

The text has already been read by tomllib, so it is valid; this room only walks over it, notes the line of every key and
array element, and skips the values.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping

KeyPath = tuple[str | int, ...]

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}\r\n#]+")


def key_lines(text: str) -> Mapping[KeyPath, int]:
    """Line (from 1) of every key, table header and array element of a valid TOML text.

    text : TOML that tomllib accepts
    returns key path (names, and indices from 0 for array elements) to line number
    """
    walk = _Walk(text.replace("\r\n", "\n"))
    walk.document()
    return walk.lines


def value_spans(text: str) -> Mapping[KeyPath, tuple[int, int]]:
    """Where the value of every key and array element stands in a valid TOML text whose lines end in LF alone.

    returns key path to (start, end), places in the text; tables under a [header] have none
    """
    walk = _Walk(text)
    walk.document()
    return walk.spans


def line_of(lines: Mapping[KeyPath, int], path: KeyPath) -> int | None:
    """Line of that key path, or of the nearest key around it; None where the text has none of them."""
    for end in range(len(path), 0, -1):
        if path[:end] in lines:
            return lines[path[:end]]
    return None


class _Walk:
    """One pass over the text."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.line = 1
        self.lines: dict[KeyPath, int] = {}
        self.arrays: dict[KeyPath, int] = {}
        self.spans: dict[KeyPath, tuple[int, int]] = {}

    def document(self) -> None:
        """Walk over headers and key-value lines to the end."""
        table: KeyPath = ()
        self.blank()
        while self.at < len(self.text):
            table = self.header() if self.text[self.at] == "[" else self.pair(table)
            self.blank()

    def header(self) -> KeyPath:
        """A [table] or [[array of tables]] header; returns the path that its keys belong to."""
        is_array = self.text.startswith("[[", self.at)
        self.advance(2 if is_array else 1)
        names = self.key()
        self.advance(2 if is_array else 1)
        path = self.resolved(names[:-1])
        last = (*path, names[-1])
        if not is_array:
            last = self.resolved(names)
            self.lines.setdefault(last, self.line)
            return last
        self.lines.setdefault(last, self.line)
        index = self.arrays.get(last, -1) + 1
        self.arrays[last] = index
        self.lines[(*last, index)] = self.line
        return (*last, index)

    def resolved(self, names: KeyPath) -> KeyPath:
        """The path with the newest index put in after every array of tables."""
        path: KeyPath = ()
        for name in names:
            path = (*path, name)
            self.lines.setdefault(path, self.line)
            if path in self.arrays:
                path = (*path, self.arrays[path])
        return path

    def pair(self, table: KeyPath) -> KeyPath:
        """One key = value; returns the table, so that the caller goes on in it."""
        line = self.line
        names = self.key()
        path = table
        for name in names:
            path = (*path, name)
            self.lines.setdefault(path, line)
        self.advance(1)
        self.spaces()
        self.value(path)
        return table

    def key(self) -> KeyPath:
        """A bare, quoted or dotted key, decoded by tomllib itself; stops after the spaces that follow it."""
        self.spaces()
        start = self.at
        while True:
            self.spaces()
            if self.text[self.at] in "\"'":
                self.string()
            else:
                found = _BARE_KEY.match(self.text, self.at)
                assert found is not None, "the text was valid"
                self.advance(len(found.group()))
            end = self.at
            self.spaces()
            if self.text[self.at] != ".":
                return _decoded(self.text[start:end])
            self.advance(1)

    def value(self, path: KeyPath) -> None:
        """Skip one value and note where it stands; arrays and inline tables note their elements."""
        start, first = self.at, self.text[self.at]
        if first in "\"'":
            self.string()
        elif first == "[":
            self.array(path)
        elif first == "{":
            self.inline_table(path)
        else:
            found = _SCALAR.match(self.text, self.at)
            assert found is not None, "the text was valid"
            self.advance(len(found.group().rstrip()))
        self.spans[path] = (start, self.at)

    def array(self, path: KeyPath) -> None:
        """Skip an array, over as many lines as it has."""
        self.advance(1)
        self.blank()
        index = 0
        while self.text[self.at] != "]":
            self.lines[(*path, index)] = self.line
            self.value((*path, index))
            index += 1
            self.comma()
        self.advance(1)

    def inline_table(self, path: KeyPath) -> None:
        """Skip an inline table."""
        self.advance(1)
        self.blank()
        while self.text[self.at] != "}":
            self.pair(path)
            self.comma()
        self.advance(1)

    def comma(self) -> None:
        """Skip space, one comma if there is one, and space."""
        self.blank()
        if self.text[self.at] == ",":
            self.advance(1)
            self.blank()

    def string(self) -> None:
        """Skip a string of any of the four kinds."""
        quote = self.text[self.at]
        fence = quote * 3
        if not self.text.startswith(fence, self.at):
            self.advance(1)
            self.until(quote, escapes=quote == '"')
            return
        self.advance(3)
        self.until(fence, escapes=quote == '"')
        while self.at < len(self.text) and self.text[self.at] == quote:
            self.advance(1)

    def until(self, end: str, escapes: bool) -> None:
        """Skip to behind `end`, jumping over escaped characters where the string has them."""
        while not self.text.startswith(end, self.at):
            self.advance(2 if escapes and self.text[self.at] == "\\" else 1)
        self.advance(len(end))

    def blank(self) -> None:
        """Skip white space, line ends and comments."""
        while self.at < len(self.text) and self.text[self.at] in " \t\n#":
            if self.text[self.at] == "#":
                end = self.text.find("\n", self.at)
                self.at = len(self.text) if end < 0 else end
            else:
                self.advance(1)

    def spaces(self) -> None:
        """Skip spaces and tabs."""
        while self.at < len(self.text) and self.text[self.at] in " \t":
            self.at += 1

    def advance(self, count: int) -> None:
        """Step over that many characters and count the line ends among them."""
        self.line += self.text.count("\n", self.at, self.at + count)
        self.at += count


def _decoded(key: str) -> KeyPath:
    """The names of a key as written; the dotted and quoted forms are undone by tomllib."""
    level: object = tomllib.loads(f"{key} = 0")
    names: list[str] = []
    while isinstance(level, dict):
        ((name, level),) = level.items()
        names.append(name)
    return tuple(names)
