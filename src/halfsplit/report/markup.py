"""Text into markup. Every name that a person or a file chose goes through `safe`."""

from __future__ import annotations

import html
import unicodedata
from collections.abc import Iterable

from halfsplit.verdict import Word

LOST = "\ufffd"
SHAPES = {Word.WITHIN: "\u2713", Word.DOUBTFUL: "?", Word.OUTSIDE: "\u2715", Word.CANNOT_TELL: "\u2013"}
CLASSES = {Word.WITHIN: "within", Word.DOUBTFUL: "doubtful", Word.OUTSIDE: "outside", Word.CANNOT_TELL: "untold"}


def safe(text: object) -> str:
    """Text as markup shows it literally; control and direction characters become a visible mark."""
    return html.escape("".join(c if allowed(c) else LOST for c in str(text)), quote=True)


def allowed(c: str) -> bool:
    """Whether a character may stand in the sheet: no controls, no half characters, none that turns the direction."""
    if c in "\n\t":
        return True
    return (
        unicodedata.category(c) not in ("Cc", "Cs")
        and c not in "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
    )


def element(tag: str, content: str, kind: str = "") -> str:
    """An element around markup that is safe already. kind : its class."""
    attribute = f' class="{kind}"' if kind else ""
    return f"<{tag}{attribute}>{content}</{tag}>"


def paragraph(text: object, kind: str = "") -> str:
    """Text as a paragraph."""
    return element("p", safe(text), kind)


def bullets(lines: Iterable[object], kind: str = "") -> str:
    """Texts as a list; nothing where there are none."""
    items = "".join(element("li", safe(line)) for line in lines)
    return element("ul", items, kind) if items else ""


def table(head: Iterable[str], rows: Iterable[Iterable[str]], kind: str = "") -> str:
    """A table of cells that are markup already; each cell carries its column's name for narrow pages."""
    names = list(head)
    top = element("thead", element("tr", "".join(f'<th scope="col">{safe(n)}</th>' for n in names)))
    body = []
    for row in rows:
        cells = "".join(f'<td data-head="{safe(n)}">{c}</td>' for n, c in zip(names, row, strict=True))
        body.append(element("tr", cells))
    return element("table", top + element("tbody", "".join(body)), kind)


def verdict_word(word: Word) -> str:
    """A verdict by word and shape."""
    return (
        f'<span class="word {CLASSES[word]}"><span aria-hidden="true">{SHAPES[word]}</span> {safe(word.value)}</span>'
    )
