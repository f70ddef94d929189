"""Work on the unit and photos as JSON objects (docs/json.md)."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from halfsplit.cli.shape import Object, plain_object
from halfsplit.journal import StoredPhoto, StoredWork


def work(w: StoredWork) -> Object:
    """One piece of work."""
    return {
        "key": w.key, "at": w.at, "kind": w.kind, "word": w.word, "place": w.place, "value": w.value, "note": w.note,
        "text": w.text, "withdrawn": w.withdrawn,
    }  # fmt: skip


def photo(p: StoredPhoto) -> Object:
    """One photo, without its bytes."""
    return {
        "key": p.key, "at": p.at, "belongs_to": p.belongs, "name": p.name, "media": p.media, "caption": p.caption,
        "bytes": p.size, "withdrawn": p.withdrawn,
    }  # fmt: skip


def did(kept: Sequence[StoredWork]) -> Object:
    """halfsplit did."""
    return plain_object(work=[work(w) for w in kept])


def attached(p: StoredPhoto) -> Object:
    """halfsplit attach."""
    return plain_object(photo=photo(p))


def written(p: StoredPhoto, target: Path) -> Object:
    """halfsplit photo."""
    return plain_object(photo=photo(p), written=str(target))
