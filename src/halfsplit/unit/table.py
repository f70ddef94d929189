"""One table of the unit file under the reader's finger: takes keys out, notes every mistake with its line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from halfsplit.errors import Mistake
from halfsplit.quantity import Dimension, QuantityError, Value, parse
from halfsplit.unit.keys import KEYS, one_of
from halfsplit.unit.lines import KeyPath, line_of

_TOML_NAMES = {bool: "true or false", int: "a number", float: "a number", str: "text", list: "a list", dict: "a table"}


@dataclass
class Findings:
    """What the reader has found so far. lines : key path to line number of the text."""

    lines: Mapping[KeyPath, int]
    found: list[Mistake] = field(default_factory=list)
    warned: list[tuple[int | None, str]] = field(default_factory=list)

    def mistake(self, at: KeyPath, found: str, expected: str) -> None:
        """Note one mistake at a key path."""
        self.found.append(Mistake(where(at), found, expected, line_of(self.lines, at)))

    def warn(self, at: KeyPath, text: str) -> None:
        """Note something that is allowed but that the user should know."""
        self.warned.append((line_of(self.lines, at), f"{where(at)}: {text}"))

    def refused(self, at: KeyPath, error: QuantityError) -> None:
        """Note what the reader of quantities refused."""
        self.mistake(at, error.found.removeprefix("found "), f'{error.expected}, like "{error.example}"')

    def mistakes(self) -> tuple[Mistake, ...]:
        """All mistakes in the order of the text."""
        return tuple(sorted(self.found, key=lambda m: m.line or 0))

    def warnings(self) -> tuple[str, ...]:
        """All warnings in the order of the text, each with its line."""
        ordered = sorted(self.warned, key=lambda w: w[0] or 0)
        return tuple(text if line is None else f"line {line}: {text}" for line, text in ordered)


def where(at: KeyPath) -> str:
    """A key path as people write it: band[2].range, list elements counted from 1."""
    words = ""
    for step in at:
        if isinstance(step, int):
            words += f"[{step + 1}]"
        else:
            name = step if step.replace("_", "").replace("-", "").isalnum() else f'"{step}"'
            words += f".{name}" if words else name
    return words or "unit file"


def kind_of(value: object) -> str:
    """What TOML calls this value, in words, with the value where it is short."""
    name = _TOML_NAMES.get(type(value), "a date or time")
    return name if isinstance(value, (list, dict)) else f"{name}: {value!r}"


@dataclass(frozen=True)
class Table:
    """One table. data : its keys; at : its key path; findings : where mistakes go."""

    data: Mapping[str, object]
    at: KeyPath
    findings: Findings

    def mistake(self, key: str | None, found: str, expected: str) -> None:
        """Note a mistake at one key of this table, or at the table."""
        self.findings.mistake(self.at if key is None else (*self.at, key), found, expected)

    def warn(self, key: str | None, text: str) -> None:
        """Note a warning at one key of this table, or at the table."""
        self.findings.warn(self.at if key is None else (*self.at, key), text)

    def only(self, kind: str, besides: tuple[str, ...] = ()) -> None:
        """Note every key that a table of this kind does not have."""
        known = (*KEYS[kind], *besides)
        for key in self.data:
            if key not in known:
                self.mistake(key, "unknown key", one_of(key, known, f"keys of {kind}"))

    def missing(self, key: str, expected: str) -> None:
        """Note that a needed key is not there."""
        self.mistake(None, f"{key} is missing", expected)

    def text(self, key: str, expected: str = "text") -> str | None:
        """The text under a key; None where it is not there or is not text (noted)."""
        value = self.data.get(key)
        if value is None:
            return None
        if not isinstance(value, str) or not value.strip():
            self.mistake(key, "empty text" if value == "" else kind_of(value), expected)
            return None
        return value.strip()

    def texts(self, key: str) -> tuple[str, ...]:
        """The list of texts under a key; () where it is not there or is something else (noted)."""
        value = self.data.get(key, [])
        if not isinstance(value, list):
            self.mistake(key, kind_of(value), 'a list of names, like ["K1", "K2"]')
            return ()
        for index, item in enumerate(value):
            if not isinstance(item, str) or not item.strip():
                self.findings.mistake((*self.at, key, index), kind_of(item), "a name in quotes")
        return tuple(item.strip() for item in value if isinstance(item, str) and item.strip())

    def flag(self, key: str) -> bool:
        """true or false under a key; False where it is not there."""
        value = self.data.get(key, False)
        if not isinstance(value, bool):
            self.mistake(key, kind_of(value), "true or false, without quotes")
            return False
        return value

    def number(self, key: str, low: float, high: float, meaning: str) -> float | None:
        """A bare number above `low` and up to `high`; None where it is not there or out of range (noted)."""
        value = self.data.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.mistake(key, kind_of(value), f"{meaning}, without quotes")
            return None
        if not low < value <= high:
            self.mistake(key, f"{value:g}", f"{meaning}, above {low:g} and up to {high:g}")
            return None
        return float(value)

    def quantity(self, key: str, dimension: Dimension, example: str, sign: str = "positive") -> float | None:
        """The quantity under a key in SI units; None where it is not there or cannot be used (noted)."""
        value = self.data.get(key)
        return None if value is None else self.quantity_of(value, (key,), dimension, example, sign)

    def quantity_of(
        self, value: object, steps: KeyPath, dimension: Dimension, example: str, sign: str = "positive"
    ) -> float | None:
        """The quantity that a text means. steps : key path inside this table; sign : positive, not negative, any."""
        text = self.quoted(value, steps, dimension, example)
        if text is None:
            return None
        try:
            read = parse(text, dimension)
        except QuantityError as error:
            self.findings.refused((*self.at, *steps), error)
            return None
        return self.signed(read, steps, sign)

    def quoted(self, value: object, steps: KeyPath, dimension: Dimension, example: str) -> str | None:
        """The text of a quantity; None where TOML has something else there (noted)."""
        if isinstance(value, str):
            return value
        expected = f'{dimension.value} with its unit in quotes, like "{example}"'
        self.findings.mistake((*self.at, *steps), kind_of(value), expected)
        return None

    def signed(self, read: Value, steps: KeyPath, sign: str = "positive") -> float | None:
        """The float of a value whose sign is right; None where it is not (noted). Its warnings are kept."""
        for warning in read.warnings:
            self.findings.warn((*self.at, *steps), warning)
        if (sign == "positive" and read.value <= 0) or (sign == "not negative" and read.value < 0):
            expected = "more than zero" if sign == "positive" else "zero or more"
            self.findings.mistake((*self.at, *steps), f'"{read.text}"', expected)
            return None
        return read.value

    def table(self, key: str) -> Table | None:
        """The table under a key; None where it is not there or is something else (noted)."""
        value = self.data.get(key)
        if value is None:
            return None
        if not isinstance(value, dict):
            self.mistake(key, kind_of(value), "a table")
            return None
        return Table(value, (*self.at, key), self.findings)

    def tables(self, key: str, expected: str) -> tuple[Table, ...]:
        """The list of tables under a key; () where it is not there or is something else (noted)."""
        value = self.data.get(key, [])
        if not isinstance(value, list):
            self.mistake(key, kind_of(value), expected)
            return ()
        for index, item in enumerate(value):
            if not isinstance(item, dict):
                self.findings.mistake((*self.at, key, index), kind_of(item), expected)
        return tuple(
            Table(item, (*self.at, key, index), self.findings)
            for index, item in enumerate(value)
            if isinstance(item, dict)
        )

    def named(self, key: str, example: str) -> tuple[tuple[str, Table], ...]:
        """The named tables under a key: [cable.W1] gives ("W1", its table)."""
        group = self.data.get(key, {})
        if not isinstance(group, dict):
            self.mistake(key, kind_of(group), f"named tables, like [{example}]")
            return ()
        for name, value in group.items():
            if not isinstance(value, dict):
                self.findings.mistake((*self.at, key, name), kind_of(value), f"a named table, like [{example}]")
        return tuple(
            (name, Table(value, (*self.at, key, name), self.findings))
            for name, value in group.items()
            if isinstance(value, dict)
        )
