"""How bench numbers are written: units, decimal marks, part codes, decibels. Imports nothing of ours."""

from halfsplit.quantity.decibel import (
    db10,
    db20,
    dbm_from_volt,
    dbm_from_watt,
    from_db10,
    from_db20,
    gamma_from_return_loss,
    gamma_from_swr,
    return_loss_from_gamma,
    return_loss_from_swr,
    swr_from_gamma,
    swr_from_return_loss,
    volt_from_dbm,
    watt_from_dbm,
)
from halfsplit.quantity.display import format_value, hertz, percent
from halfsplit.quantity.numerals import number
from halfsplit.quantity.parsing import parse, parse_front
from halfsplit.quantity.part_values import PartValue, parse_part_value
from halfsplit.quantity.records import Ask, Dimension, NotFitted, QuantityError, Turns, Value

__all__ = [
    "Ask",
    "Dimension",
    "NotFitted",
    "PartValue",
    "QuantityError",
    "Turns",
    "Value",
    "db10",
    "db20",
    "dbm_from_volt",
    "dbm_from_watt",
    "format_value",
    "from_db10",
    "from_db20",
    "gamma_from_return_loss",
    "gamma_from_swr",
    "hertz",
    "number",
    "parse",
    "parse_front",
    "parse_part_value",
    "percent",
    "return_loss_from_gamma",
    "return_loss_from_swr",
    "swr_from_gamma",
    "swr_from_return_loss",
    "volt_from_dbm",
    "watt_from_dbm",
]
