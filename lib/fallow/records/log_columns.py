"""Which column of a log holds the time, and which the readings: guessed by names and cells, always shown, never final."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from fallow.records.log_cells import is_clock, is_date, is_number, is_stamp, read_number
from fallow.records.log_file import LogFile

_LOOKED_AT = 400
_TIME_WORDS = re.compile(r"time|date|stamp|clock|zeit|datum|heure|hora|fecha|tijd|\bat\b", re.IGNORECASE)
ELAPSED = {"days": 86_400.0, "hours": 3_600.0, "minutes": 60.0, "seconds": 1.0}
_ELAPSED_WORDS = {
    "days": r"\bdays?\b|\bd\b",
    "hours": r"\bhours?\b|\bhrs?\b|\bh\b",
    "minutes": r"\bminutes?\b|\bmins?\b",
    "seconds": r"\bseconds?\b|\bsecs?\b|\bs\b",
}


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """What a log is read for: its words in a header, words that speak against it, the ends of what is kept."""

    name: str
    words: re.Pattern[str]
    against: re.Pattern[str]
    low: float
    high: float
    unit: str


_OTHERS = (
    r"hum|r\.?h\.?\b|feucht|batt|volt|\bmv\b|press|hpa|index|^#|^no\.?$|^nr\.?$|record|count|\bid\b|serial|alarm|limit|"
    r"signal|rssi|date|time"
)
TEMPERATURE = Quantity(
    name="temperature",
    words=re.compile(
        r"temp|°|º|℃|℉|celsius|fahrenheit|\bdeg|\bt\d*\b|\([cf]\)|[ _][cf]$|probe|sensor|thermo", re.IGNORECASE
    ),
    against=re.compile(rf"{_OTHERS}|dew|\bmin\b|\bmax\b|\bph\b", re.IGNORECASE),
    low=-30.0,
    high=60.0,
    unit="°C",
)
PH = Quantity(
    name="pH",
    words=re.compile(r"(?<![a-z])ph(?![a-z])", re.IGNORECASE),
    against=re.compile(rf"{_OTHERS}|temp|°|slope|buffer", re.IGNORECASE),
    low=1.0,
    high=9.0,
    unit="pH",
)


@dataclass(frozen=True, kw_only=True)
class Columns:
    """The columns chosen: time (and its clock where that stands apart), readings, and what else could be readings."""

    time: str
    clock: str
    value: str
    others: tuple[str, ...]


def choose_columns(log: LogFile, *, quantity: Quantity, time_column: str, value_column: str) -> Columns:
    """Return the columns that were named, or else those that look right; refuse a file that has none."""
    time, clock = _time_columns(log, time_column)
    spare = [name for name in log.names if name not in (time, clock)]
    numeric = [name for name in spare if _share(log, name, is_number) > 0.3]
    ranked = sorted(numeric, key=lambda name: -_fit(log, name, quantity))
    if value_column:
        log.column(value_column)
    elif not ranked:
        message = f"{log.file} has no column of numbers beside its time, so no {quantity.name}. Look whether it is the right file."
        raise ValueError(message)
    value = value_column or ranked[0]
    if not value_column and (quantity.against.search(value) and not quantity.words.search(value)):
        message = (
            f"{log.file} has no column that looks like {quantity.name}; it has {', '.join(log.names)}. Name the column."
        )
        raise ValueError(message)
    others = [name for name in ranked if name != value and _fit(log, name, quantity) >= 0.5]
    return Columns(time=time, clock=clock, value=value, others=tuple(others))


def _share(log: LogFile, name: str, is_one: Callable[[str], bool]) -> float:
    cells = [cell for cell in log.column(name) if cell][:_LOOKED_AT]
    return sum(map(is_one, cells)) / max(1, len(cells))


def _time_columns(log: LogFile, asked: str) -> tuple[str, str]:
    """Return the column of times, and that of clocks where the date stands in a column of its own."""
    if asked:
        alone = _share(log, asked, is_date) > 0.5
        return asked, _best(log, [name for name in log.names if name != asked], is_clock) if alone else ""
    stamped = _best(log, log.names, is_stamp)
    if stamped:
        return stamped, ""
    dated = _best(log, log.names, is_date)
    clock = _best(log, [name for name in log.names if name != dated], is_clock)
    if dated and clock:
        return dated, clock
    counted = [name for name in log.names if _rises(log, name)]
    worded = [name for name in counted if _TIME_WORDS.search(name) or elapsed_unit_of(name)]
    if worded or counted:
        return (worded or counted)[0], ""
    message = f"{log.file} has no column of times; it has {', '.join(log.names)}. Export it with date and time, or name the column."
    raise ValueError(message)


def _best(log: LogFile, names: Sequence[str], is_one: Callable[[str], bool]) -> str:
    """Return the column with most such cells, one whose name speaks of time before others; "" when none has half."""
    shares = {name: _share(log, name, is_one) for name in names}
    fit = [name for name in names if shares[name] >= 0.5]
    return max(fit, key=lambda name: (round(shares[name], 1), bool(_TIME_WORDS.search(name))), default="")


def _rises(log: LogFile, name: str) -> bool:
    read = [read_number(cell) for cell in log.column(name)[:_LOOKED_AT]]
    values = [one[0] for one in read if one]
    return len(values) > 0.9 * len(read) and len(values) > 1 and bool(np.all(np.diff(values) > 0))


def _fit(log: LogFile, name: str, quantity: Quantity) -> float:
    """How well a column's name and numbers fit: its words, words against it, numbers that could be such readings."""
    read = [one[0] for cell in log.column(name)[:_LOOKED_AT] if (one := read_number(cell))]
    # up to 140: degrees Fahrenheit are still to be noticed
    highest = quantity.high if quantity.unit == "pH" else 140.0
    possible = sum(quantity.low <= value <= highest for value in read) / max(1, len(read))
    words, against = bool(quantity.words.search(name)), bool(quantity.against.search(name))
    return 2.0 * words - 3.0 * against + possible - 0.5 * _rises(log, name)


def elapsed_unit_of(name: str) -> str:
    """Return the unit of a column that counts time from a start, as its name says it, or "".

    >>> elapsed_unit_of("Elapsed (min)"), elapsed_unit_of("time")
    ('minutes', '')
    """
    plain = name.replace("_", " ")
    return next((unit for unit, words in _ELAPSED_WORDS.items() if re.search(words, plain, re.IGNORECASE)), "")
