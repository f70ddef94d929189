"""What a written quantity can turn out to be."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal


class Dimension(StrEnum):
    """What a field measures. The float of a `Value` is in the unit in brackets."""

    FREQUENCY = "frequency"  # Hz
    CAPACITANCE = "capacitance"  # F
    INDUCTANCE = "inductance"  # H
    RESISTANCE = "resistance"  # ohm (impedance too)
    LENGTH = "length"  # m
    POWER = "power"  # W
    LEVEL = "level"  # dBm
    DECIBEL = "ratio in dB"  # dB
    CARRIER = "level against the carrier"  # dBc
    FRACTION = "fraction"  # 1 (5 % is 0.05)
    VOLTAGE = "voltage"  # V
    CURRENT = "current"  # A
    TIME = "time"  # s
    TEMPERATURE = "temperature"  # K
    THERMAL = "thermal resistance"  # K/W
    PLAIN = "plain number"  # 1


class QuantityError(ValueError):
    """A written quantity cannot be used.

    found : the text as it stood, with what is wrong about it; expected : what the field takes;
    example : one text that would be taken
    """

    def __init__(self, found: str, expected: str, example: str) -> None:
        super().__init__(f"{found}; expected {expected}, such as {example!r}")
        self.found = found
        self.expected = expected
        self.example = example


@dataclass(frozen=True, slots=True)
class Value:
    """A quantity that was understood.

    value : float in the unit that `Dimension` states; text : as it was written
    warnings : sentences about what had to be bent; remark : words behind the value (rating, dielectric)
    """

    value: float
    dimension: Dimension
    text: str
    warnings: tuple[str, ...] = ()
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Turns:
    """A coil given as turns on a core; the A_L value comes from elsewhere. core : "" where not named."""

    turns: float
    core: str
    text: str
    warnings: tuple[str, ...] = ()
    remark: str = ""


@dataclass(frozen=True, slots=True)
class NotFitted:
    """The drawing gives no value: selected on test, or the place is empty."""

    text: str
    reason: Literal["selected on test", "not fitted"]


@dataclass(frozen=True, slots=True)
class Ask:
    """The text has more than one sensible meaning. suggestions : texts that would each be clear."""

    text: str
    question: str
    suggestions: tuple[str, ...]
