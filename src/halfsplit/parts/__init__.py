"""Part, loss, ways to fail, preferred values, sourced tables."""

from halfsplit.parts.records import Cable, Kind, Part

__all__ = ["Cable", "Kind", "Part"]
