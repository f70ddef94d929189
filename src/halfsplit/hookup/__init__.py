"""How the instruments are tied to the unit for one test."""

from halfsplit.hookup.records import Hookup, Pad, Termination
from halfsplit.hookup.words import Known, describe, from_dict, parse_hookup, to_dict

__all__ = ["Hookup", "Known", "Pad", "Termination", "describe", "from_dict", "parse_hookup", "to_dict"]
