"""What an instrument showed: files and typed figures in, traces out."""

from halfsplit.reading.records import Question, Reading, Trace, What

__all__ = ["Question", "Reading", "Trace", "What"]
