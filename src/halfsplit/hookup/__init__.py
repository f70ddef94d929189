"""How the instruments are tied to the unit for one test."""

from halfsplit.hookup.records import Hookup, Pad, Termination

__all__ = ["Hookup", "Pad", "Termination"]
