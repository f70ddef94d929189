"""The command line: words in, one job, a record shown. Heavy rooms are imported only when a verb runs."""

from halfsplit.cli.door import main

__all__ = ["main"]
