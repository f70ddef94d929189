"""How the instruments are tied to the unit for one test."""

from halfsplit.hookup.records import Hookup, Pad, Termination
from halfsplit.hookup.typed import Known, parse_hookup
from halfsplit.hookup.words import describe, from_dict, to_dict

__all__ = ["Hookup", "Known", "Pad", "Termination", "describe", "from_dict", "parse_hookup", "to_dict"]
