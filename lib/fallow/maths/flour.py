"""Flour on the bag: what a number is of (as is, dry, at 14 % moisture), and what the type numbers of Europe mean."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from fallow.maths.arguments import Array, FloatOrArray, Number, not_negative, plain

WHEAT_PROTEIN_PER_NITROGEN = 5.70  # wheat; the usual factor
CODEX_MOISTURE_LIMIT_PERCENT = 15.5  # Codex STAN 152-1985, wheat flour


def on_other_moisture_percent(
    *, percent: Number, moisture_percent: Number, to_moisture_percent: Number
) -> FloatOrArray:
    """Return ash or protein per cent on another moisture basis: x (100 - m2)/(100 - m1); 0 is dry.

    Source: definition. Check F2: 0.48 % at 14 % moisture is 0.558 % dry.

    >>> round(on_other_moisture_percent(percent=0.48, moisture_percent=14, to_moisture_percent=0), 3)
    0.558
    """
    dry, other = _dry("moisture_percent", moisture_percent), _dry("to_moisture_percent", to_moisture_percent)
    return plain(np.asarray(not_negative("percent", percent) * other / dry))


def same_dry_g(*, flour_g: Number, moisture_percent: Number, to_moisture_percent: Number = 14.0) -> FloatOrArray:
    """Return how much flour of another moisture holds the same dry matter: m (100 - m1)/(100 - m2).

    Source: definition. Check: 100 g at 11 % is 103.5 g at 14 %.

    >>> round(same_dry_g(flour_g=100, moisture_percent=11), 1)
    103.5
    """
    dry, other = _dry("moisture_percent", moisture_percent), _dry("to_moisture_percent", to_moisture_percent)
    return plain(np.asarray(not_negative("flour_g", flour_g) * dry / other))


def protein_percent(*, nitrogen_percent: Number, per_nitrogen: Number = WHEAT_PROTEIN_PER_NITROGEN) -> FloatOrArray:
    """Return protein from nitrogen, both on one moisture basis: N * 5.70 for wheat.

    Source: the usual conversion factor for wheat.

    >>> round(protein_percent(nitrogen_percent=2.0), 1)
    11.4
    """
    return plain(
        np.asarray(not_negative("nitrogen_percent", nitrogen_percent) * not_negative("per_nitrogen", per_nitrogen))
    )


@dataclass(frozen=True, kw_only=True)
class FlourType:
    """A type of flour in a national standard: the ash it may have, per cent of dry matter; None where nothing is set.

    ``tag`` says how the numbers are known: read, or from memory.
    """

    standard: str
    name: str
    grain: str
    ash_low_percent: float | None
    ash_high_percent: float | None
    protein_low_percent: float | None = None
    moisture_high_percent: float | None = None
    tag: str = "read"

    def holds(self, *, ash_percent: float) -> bool:
        """Return whether an ash content, per cent of dry matter, lies within this type, both ends included.

        >>> DIN_10355_WHEAT[1].name, DIN_10355_WHEAT[1].holds(ash_percent=0.55)
        ('550', True)
        """
        ash = float(not_negative("ash_percent", ash_percent))
        low = 0.0 if self.ash_low_percent is None else self.ash_low_percent
        return low <= ash and (self.ash_high_percent is None or ash <= self.ash_high_percent)


def types_of_ash(*, ash_percent: float, types: Iterable[FlourType]) -> tuple[str, ...]:
    """Return the names of the types an ash content fits, per cent of dry matter: none where it falls between two.

    A type that sets only an upper limit fits every finer flour too; the first named is meant.
    Source: the standards themselves (DIN 10355, DPR 187/2001 ...). The same ash is not the same protein.

    >>> types_of_ash(ash_percent=0.60, types=DIN_10355_WHEAT), types_of_ash(ash_percent=0.60, types=DPR_187_2001)
    (('550', '1700'), ('0', '1', '2'))
    """
    return tuple(each.name for each in types if each.holds(ash_percent=ash_percent))


def _din(name: str, grain: str, low: float | None, high: float | None, tag: str = "read") -> FlourType:
    return FlourType(standard="DIN 10355", name=name, grain=grain, ash_low_percent=low, ash_high_percent=high, tag=tag)


def _italian(name: str, low: float | None, high: float, protein: float) -> FlourType:
    return FlourType(
        standard="DPR 187/2001",
        name=name,
        grain="soft wheat",
        ash_low_percent=low,
        ash_high_percent=high,
        protein_low_percent=protein,
        moisture_high_percent=14.5,
    )


def _french(name: str, grain: str, low: float | None, high: float | None) -> FlourType:
    return FlourType(
        standard="French decree",
        name=name,
        grain=grain,
        ash_low_percent=low,
        ash_high_percent=high,
        tag="memory",
    )


DIN_10355_WHEAT = (
    _din("405", "wheat", None, 0.50),
    _din("550", "wheat", 0.51, 0.63),
    _din("812", "wheat", 0.64, 0.90),
    _din("1050", "wheat", 0.91, 1.20),
    _din("1600", "wheat", 1.21, 1.80),
    _din("1700", "wheat", None, 2.10),
)
DIN_10355_RYE = (
    _din("815", "rye", None, 0.90, "memory"),
    _din("997", "rye", 0.91, 1.10, "memory"),
    _din("1150", "rye", 1.11, 1.30, "memory"),
    _din("1370", "rye", 1.31, 1.60, "memory"),
    _din("1740", "rye", 1.61, 1.80, "memory"),
)
DPR_187_2001 = (
    _italian("00", None, 0.55, 9),
    _italian("0", None, 0.65, 11),
    _italian("1", None, 0.80, 12),
    _italian("2", None, 0.95, 12),
    _italian("integrale", 1.30, 1.70, 12),
)
FRENCH_TYPES = (
    _french("T45", "wheat", None, 0.50),
    _french("T55", "wheat", 0.50, 0.60),
    _french("T65", "wheat", 0.62, 0.75),
    _french("T80", "wheat", 0.75, 0.90),
    _french("T110", "wheat", 1.00, 1.20),
    _french("T150", "wheat", 1.40, None),
    _french("T70", "rye", 0.60, 1.00),
    _french("T85", "rye", 0.75, 1.25),
    _french("T130", "rye", 1.20, 1.50),
    _french("T170", "rye", 1.50, None),
)


def _dry(name: str, moisture_percent: Number) -> Array:
    moisture = not_negative(name, moisture_percent)
    if np.any(moisture >= 100):
        message = f"{name} is {float(moisture.max()):g}; flour is less than all water. Write 14 % as 14."
        raise ValueError(message)
    return np.asarray(100.0 - moisture)
