"""The line locator: every key path that tomllib gives has the line where it stands."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.unit.lines import KeyPath, key_lines, line_of

TRICKY = '''# a remark with [brackets] and "quotes
title = """
[not.a.table]
key = "\\""" # still text"""
literal = \'\'\'
a = 1\'\'\'
[a]
dotted.deep . key = 1 # after
"quoted key" = "x # no remark"
'lit.eral' = 'c:\\path'
list = [
  1,
  [ 2,
    { in = "line", deep.er = [ "]", "}", ] } ],  # comment ]
  "last",
]
[[a.rows]]
name = "first"
[a.rows.sub]
x = 1
[[a.rows]]
name = "second"
  [a.rows.sub]
  x = { y = 2, "z z" = { q = 3 } }
[b.c."d e"]
t = 1979-05-27 07:32:00
inf = -inf
'''


def paths(value: object, at: KeyPath = ()) -> Iterator[KeyPath]:
    """Every key path of what tomllib read."""
    pairs: list[tuple[str | int, object]] = []
    if isinstance(value, dict):
        pairs = list(value.items())
    elif isinstance(value, list):
        pairs = list(enumerate(value))
    for step, inner in pairs:
        yield (*at, step)
        yield from paths(inner, (*at, step))


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 2),
        (("literal",), 5),
        (("a",), 7),
        (("a", "dotted", "deep", "key"), 8),
        (("a", "quoted key"), 9),
        (("a", "lit.eral"), 10),
        (("a", "list", 0), 12),
        (("a", "list", 1, 0), 13),
        (("a", "list", 1, 1, "deep", "er", 1), 14),
        (("a", "list", 2), 15),
        (("a", "rows", 0, "name"), 18),
        (("a", "rows", 0, "sub", "x"), 20),
        (("a", "rows", 1), 21),
        (("a", "rows", 1, "sub", "x", "z z", "q"), 24),
        (("b", "c", "d e", "t"), 26),
    ],
)
def test_lines_of_a_tricky_text(path: KeyPath, line: int) -> None:
    assert key_lines(TRICKY)[path] == line


def test_every_path_of_the_tricky_text_is_found_and_no_other() -> None:
    assert set(paths(tomllib.loads(TRICKY))) == set(key_lines(TRICKY))


def test_windows_line_ends_count_once() -> None:
    assert key_lines(TRICKY.replace("\n", "\r\n")) == key_lines(TRICKY)


def test_an_unknown_path_has_the_line_of_what_is_around_it() -> None:
    lines = key_lines("[a]\nb = [\n 1,\n 2]\n")
    assert line_of(lines, ("a", "b", 1, "x")) == 4
    assert line_of(lines, ("a", "nothing")) == 1
    assert line_of(lines, ("z",)) is None


KEY = st.one_of(
    st.text("abcAB_-019", min_size=1, max_size=4),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=4).map(
        lambda t: '"' + t.replace("\\", "\\\\").replace('"', '\\"') + '"'
    ),
)
SCALAR = st.sampled_from(
    ['"x"', "'#'", "1", "-2.5e3", "true", "[]", "{}", '"""\n]\n"""', "'''}'''", "07:32:00", '"\\""']
)
VALUE = st.recursive(
    SCALAR,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda v: "[ # [\n" + " ,\n".join(v) + " ]"),
        st.dictionaries(KEY, inner, max_size=3).map(
            lambda d: "{ " + ", ".join(f"{k} = {v}" for k, v in d.items()) + " }"
        ),
    ),
    max_leaves=8,
)
HEADER = st.tuples(st.lists(KEY, min_size=1, max_size=3), st.booleans()).map(
    lambda h: ("[[" + " . ".join(h[0]) + "]]") if h[1] else ("[" + ".".join(h[0]) + "]")
)
LINE = st.one_of(HEADER, st.tuples(KEY, VALUE).map(lambda p: f"  {p[0]} = {p[1]} # x"), st.just("# [x]"), st.just(""))


@given(st.lists(LINE, max_size=8).map("\n".join))
def test_whatever_tomllib_reads_has_lines_that_exist(text: str) -> None:
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    lines = key_lines(text)
    assert set(paths(data)) == set(lines)
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.values())
    texts = text.split("\n")
    for path, line in lines.items():
        last = path[-1]
        if isinstance(last, str) and last.isalnum() and last.isascii():
            assert last in texts[line - 1]
