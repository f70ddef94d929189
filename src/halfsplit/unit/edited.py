"""A unit file changed value by value: the text stays as it was written, remarks and all, but for the one place.

Every change is held to what it means: the text is read again, and must say what it said before but for that place.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from typing import Any

from halfsplit.errors import InputError, Mistake
from halfsplit.unit.lines import KeyPath, value_spans

Change = Callable[[Any], None]


def with_value(text: str, path: KeyPath, value: str) -> str:
    """The text with the value of one key in quotes; the key is added to its table where that stands in braces.

    path : of a text, such as ("filter", "F4", "ladder", 3, "value"); value : as it stands between the quotes
    raises InputError where the place does not exist, or cannot be reached from outside the text
    """
    text = lf(text)
    data, spans = known(text), value_spans(text)
    if path in spans:
        start, end = spans[path]
        done = text[:start] + quoted(value) + text[end:]
    elif path[:-1] in spans and text[spans[path[:-1]][0]] == "{":
        end = spans[path[:-1]][1] - 1
        head = text[:end].rstrip()
        between = " " if head.endswith("{") else ", "
        done = f"{head}{between}{path[-1]} = {quoted(value)} {text[end:]}"
    else:
        raise InputError(Mistake(dotted(path), "no such place in the text", "one that the text has; write it there"))

    def change(changed: Any) -> None:
        *around, last = path
        at(changed, tuple(around))[last] = value

    return meant(done, data, change, path)


def with_rung(text: str, name: str, place: str, ref: str, value: str) -> str:
    """The text with one more step at the end of a ladder. place : "shunt" or "series"; raises InputError"""
    text = lf(text)
    data, spans = known(text), value_spans(text)
    path: KeyPath = ("filter", name, "ladder")
    if path not in spans:
        raise InputError(Mistake(dotted(path), "no ladder there", "a filter of this file with ladder = [ ... ]"))
    end = spans[path][1] - 1
    row = f"{{ {place} = {quoted(ref)}, value = {quoted(value)} }}"
    head = text[:end].rstrip(" \t\n")
    inside = head[spans[path][0] :]
    if "#" in inside.rsplit("\n", 1)[-1]:
        raise InputError(Mistake(dotted(path), "a remark behind the last step", "the new step written into the text"))
    comma = "" if inside.endswith(("[", ",")) else ","
    done = f"{head}{comma}\n  {row},\n{text[end:]}"

    def change(changed: Any) -> None:
        at(changed, path).append({place: ref, "value": value})

    return meant(done, data, change, path)


def without_rung(text: str, name: str, index: int) -> str:
    """The text without one step of a ladder. raises InputError"""
    text = lf(text)
    data, spans = known(text), value_spans(text)
    path: KeyPath = ("filter", name, "ladder", index)
    if path not in spans:
        raise InputError(Mistake(dotted(path), "no such step", "a step of the ladder"))
    start, end = spans[path]
    after = text[end:].lstrip(" \t\n")
    end = len(text) - len(after) + 1 if after.startswith(",") else end
    line_start = text.rfind("\n", 0, start) + 1
    line_end = text.find("\n", end)
    alone = not text[line_start:start].strip() and line_end >= 0 and not text[end:line_end].strip()
    done = text[:line_start] + text[line_end + 1 :] if alone else text[:start] + text[end:].lstrip(" ")

    def change(changed: Any) -> None:
        del at(changed, path[:-1])[index]

    return meant(done, data, change, path)


def with_filter(text: str, name: str, band: str, low: str, high: str) -> str:
    """The text with one more band and a filter of its own, at the end. raises InputError"""
    text = lf(text)
    data = known(text)
    if name in data.get("filter", {}):
        raise InputError(Mistake(f"filter {name}", "there is one of this name", "another name"))
    ladder = [{"shunt": "C?", "value": "100 pF"}]
    rows = f'  {{ shunt = "C?", value = {quoted("100 pF")} }},\n'
    done = (
        f"{text.rstrip()}\n\n[[band]]\nname = {quoted(band)}\nrange = [{quoted(low)}, {quoted(high)}]\n"
        f"filter = {quoted(name)}\n\n[filter.{quoted(name)}]\nladder = [\n{rows}]\n"
    )

    def change(changed: Any) -> None:
        changed.setdefault("band", []).append({"name": band, "range": [low, high], "filter": name})
        changed.setdefault("filter", {})[name] = {"ladder": ladder}

    return meant(done, data, change, ("filter", name))


def meant(done: str, before: dict[str, Any], change: Change, path: KeyPath) -> str:
    """The changed text, if it says what was meant and nothing else. raises InputError"""
    change(before)
    try:
        after = tomllib.loads(done)
    except tomllib.TOMLDecodeError:
        after = None
    if after != before:
        raise InputError(
            Mistake(dotted(path), "not changed: the text around it is unusual", "the change made in the text")
        )
    return done


def known(text: str) -> dict[str, Any]:
    """What the text says. raises InputError where it is no TOML"""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(Mistake("unit file", str(error), "a text that can be read; put that right first")) from error


def at(data: Any, path: KeyPath) -> Any:
    """What stands at a path. raises InputError where nothing does"""
    for key in path:
        try:
            data = data[key]
        except (KeyError, IndexError, TypeError) as error:
            raise InputError(Mistake(dotted(path), "no such place in the text", "one that the text has")) from error
    return data


def quoted(value: str) -> str:
    """A text as TOML writes it in one line."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def dotted(path: KeyPath) -> str:
    """A path as one would say it."""
    return ".".join(str(key) for key in path)


def lf(text: str) -> str:
    """The text with its lines ended by LF alone."""
    return text.replace("\r\n", "\n")
