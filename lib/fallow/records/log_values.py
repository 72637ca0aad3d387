"""A log's column of readings as numbers in the record's unit: Fahrenheit noticed, said, and converted once."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from fallow.records.log_cells import read_number
from fallow.records.log_columns import Quantity

WHICH_UNIT = "Nothing says whether its temperatures are °C or °F, and both could be. Say which."
# Our choice: no culture and no kitchen stays above 45 °C; from 30 to 45 a fridge in °F and a hot box in °C look alike.
SURELY_FAHRENHEIT, MAYBE_FAHRENHEIT = 45.0, 30.0
_F = re.compile(r"°\s*F|º\s*F|℉|fahrenheit|\bdeg\.?[ _]?f\b|\(F\)|[ _]F$|\[F\]", re.IGNORECASE)
_C = re.compile(r"°\s*C|º\s*C|℃|celsius|\bdeg\.?[ _]?c\b|\(C\)|[ _]C$|\[C\]", re.IGNORECASE)


@dataclass(kw_only=True)
class Values:
    """Readings (nan where there is none), the reasons, what was noticed, and what is still to be asked."""

    values: npt.NDArray[np.float64]
    bad: dict[int, str] = field(default_factory=dict)
    questions: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    fahrenheit: bool | None = None


def read_temperatures(
    cells: Sequence[str], *, quantity: Quantity, header: str, before: str, fahrenheit: bool | None
) -> Values:
    """Return a column of temperatures in °C.

    T[°C] = (T[°F] - 32) / 1.8, kept to the thousandth. What settles the unit, in this order: what the reader says, the
    cells, the column's name, the lines above the header, the numbers themselves.
    """
    read = _read(cells, quantity)
    median = float(np.nanmedian(read.values)) if np.isfinite(read.values).any() else np.nan
    cell_units = {one[1] for cell in cells if (one := read_number(cell)) and one[1]}
    read.fahrenheit, why = _unit(cell_units, header, before, median, fahrenheit)
    if read.fahrenheit is None:
        read.questions.append(
            WHICH_UNIT if len(cell_units) < 2 else "Its cells carry °C and °F. Say which holds for all."
        )
    elif read.fahrenheit:
        read.values = np.round((read.values - 32.0) / 1.8, 3)
        read.said.append(f"Its temperatures are °F ({why}); they are kept in °C, converted once.")
    else:
        read.said.append(f"Its temperatures are °C ({why}).")
    return _within(read, quantity)


def read_plain(cells: Sequence[str], *, quantity: Quantity) -> Values:
    """Return a column of numbers that have one unit only, as pH has."""
    return _within(_read(cells, quantity), quantity)


def _read(cells: Sequence[str], quantity: Quantity) -> Values:
    values, bad = np.full(len(cells), np.nan), {}
    for at, cell in enumerate(cells):
        one = read_number(cell)
        if one is not None:
            values[at] = one[0]
        else:
            bad[at] = f"it is no {quantity.name}" if cell.strip() else f"there is no {quantity.name} in the row"
    return Values(values=values, bad=bad)


def _unit(cell_units: set[str], header: str, before: str, median: float, asked: bool | None) -> tuple[bool | None, str]:
    """Return whether the temperatures are Fahrenheit (None: to be asked) and what says so."""
    if asked is not None:
        return asked, "as you say"
    if cell_units:
        return (None, "") if len(cell_units) > 1 else (cell_units == {"F"}, "each cell says so")
    for text, why in ((header, "the column's name says so"), (before, "the lines above the table say so")):
        found = (bool(_F.search(text)), bool(_C.search(text)))
        if found == (True, False):
            return True, why
        if found == (False, True):
            return (None, "") if median > SURELY_FAHRENHEIT else (False, why)
    if median > SURELY_FAHRENHEIT:
        return True, f"half of them are above {median:g}"
    return (None, "") if median > MAYBE_FAHRENHEIT else (False, f"half of them are below {median:g}")


def _within(read: Values, quantity: Quantity) -> Values:
    with np.errstate(invalid="ignore"):
        outside = (read.values < quantity.low) | (read.values > quantity.high)
    if read.fahrenheit is None and quantity.unit != "pH":
        return read
    for at in np.flatnonzero(outside).tolist():
        ends = f"{quantity.low:g} to {quantity.high:g}"
        read.bad[at] = f"it must be pH {ends}" if quantity.unit == "pH" else f"it must be {ends} {quantity.unit}"
        read.values[at] = np.nan
    return read
