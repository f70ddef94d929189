"""The complaint and the history: plain questions, and what was answered."""

from halfsplit.history.questions import LIVE, NOT_KNOWN, QUESTIONS, Question, question
from halfsplit.history.records import History, history_of
from halfsplit.history.typed import Named, Told, rows_of, taken_in

__all__ = [
    "LIVE",
    "NOT_KNOWN",
    "QUESTIONS",
    "History",
    "Named",
    "Question",
    "Told",
    "history_of",
    "question",
    "rows_of",
    "taken_in",
]
