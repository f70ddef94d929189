"""What an instrument showed: files and typed figures in, traces out."""

from halfsplit.reading.answers import Answers, answers_from
from halfsplit.reading.door import read_bytes, read_file
from halfsplit.reading.from_touchstone import complex_two_port
from halfsplit.reading.level_rows import LevelReading, LevelRow, Shows
from halfsplit.reading.level_text import Usual, is_level_table, table_levels, typed_levels
from halfsplit.reading.records import Question, Reading, Trace, What
from halfsplit.reading.source import LIMIT_BYTES
from halfsplit.reading.spectral import SpectralLine, SpectralReading, read_spectral_lines, spectral_of
from halfsplit.reading.typed import read_typed

__all__ = [
    "LIMIT_BYTES",
    "Answers",
    "LevelReading",
    "LevelRow",
    "Question",
    "Reading",
    "Shows",
    "SpectralLine",
    "SpectralReading",
    "Trace",
    "Usual",
    "What",
    "answers_from",
    "complex_two_port",
    "is_level_table",
    "read_bytes",
    "read_file",
    "read_spectral_lines",
    "read_typed",
    "spectral_of",
    "table_levels",
    "typed_levels",
]
