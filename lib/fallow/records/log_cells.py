"""What one cell of a logger's file can be: a time, a date, a clock, a number with or without its unit."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

_MONTH_NAMES = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTHS = {name: at for at, name in enumerate(_MONTH_NAMES, start=1)}
_YEAR_FIRST = r"(?P<year>\d{4})[-/.](?P<month>\d{1,2})[-/.](?P<day>\d{1,2})"
_NAME = r"[A-Za-z]{3,9}"
_YEAR_LAST = rf"(?P<one>\d{{1,2}}|{_NAME})\.?[-/. ](?P<two>\d{{1,2}}|{_NAME})[-/., ]{{1,2}}(?P<last>\d{{4}}|\d{{2}})"
_DATE = rf"(?:{_YEAR_FIRST}|{_YEAR_LAST})"
_CLOCK = r"(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,](?P<fraction>\d{1,6}))?)?(?: ?(?P<half>[AaPp])\.?[Mm]\.?)?"
_OFFSET = r" ?(?P<offset>Z|UTC|GMT|(?:UTC|GMT)?[+-]\d{2}:?\d{2}|(?:UTC|GMT)[+-]\d{1,2}|[+-]\d{2})?"
_IS_DATE = re.compile(_DATE)
_IS_CLOCK = re.compile(_CLOCK)
_IS_STAMP = re.compile(rf"{_DATE}(?:T|,? +){_CLOCK}{_OFFSET}")
_NUMBER = re.compile(
    r"(?P<number>[+\-\u2212]?(?:\d+(?:[.,]\d+)?|[.,]\d+))(?: ?(?P<unit>(?:°|º|deg\.? ?)?[CF]|℃|℉|pH))?", re.IGNORECASE
)

_OFFSET_IN_NAME = re.compile(
    r"(?<![A-Za-z])(?:UTC|GMT)(?![A-Za-z])(?: ?(?P<sign>[+-])(?P<digits>\d{2}:?\d{2}|\d{1,2}))?", re.IGNORECASE
)


# larger than any reading and any count of time since 1970
_LARGEST = 1e15


@dataclass(frozen=True, kw_only=True)
class Written:
    """A time as it was written; ``one`` and ``two`` are day and month in an order that other cells must settle."""

    year: int
    one: int
    two: int
    clock: timedelta
    offset: timedelta | None
    settled: bool

    def wall(self, *, day_first: bool) -> datetime:
        """Return what the clock showed; ValueError where there is no such day."""
        day, month = (self.one, self.two) if day_first or self.settled else (self.two, self.one)
        return datetime(self.year, month, day) + self.clock

    def aware(self, *, day_first: bool) -> datetime | None:
        """Return the instant where the cell carries its offset."""
        if self.offset is None:
            return None
        return self.wall(day_first=day_first).replace(tzinfo=timezone(self.offset))


def is_stamp(cell: str) -> bool:
    """Whether a cell is a date with a clock."""
    return _IS_STAMP.fullmatch(cell.strip()) is not None


def is_date(cell: str) -> bool:
    """Whether a cell is a date alone."""
    return _IS_DATE.fullmatch(cell.strip()) is not None


def is_clock(cell: str) -> bool:
    """Whether a cell is a clock alone."""
    return _IS_CLOCK.fullmatch(cell.strip()) is not None


def is_number(cell: str) -> bool:
    """Whether a cell is a number, its unit perhaps behind it.

    >>> [is_number(cell) for cell in ("3,4", "38.5 °F", "-0.5", "ERR", "12:30", "")]
    [True, True, True, False, False, False]
    """
    return _NUMBER.fullmatch(cell.strip()) is not None


def read_written(cell: str) -> Written | None:
    """Return a time as it was written, or None where the cell is none.

    >>> read_written("29/03/2026 7:40 pm").wall(day_first=True).isoformat()
    '2026-03-29T19:40:00'
    """
    found = _IS_STAMP.fullmatch(cell.strip())
    if found is None:
        return None
    clock = _clock(found)
    if clock is None:
        return None
    offset = _offset(found["offset"])
    if found["year"]:
        year, month, day = int(found["year"]), int(found["month"]), int(found["day"])
        return Written(year=year, one=day, two=month, clock=clock, offset=offset, settled=True)
    year = int(found["last"]) + (2000 if len(found["last"]) == 2 else 0)
    parts = [
        _MONTHS.get(part[:3].lower(), 0) if part[0].isalpha() else int(part) for part in (found["one"], found["two"])
    ]
    named = [part[0].isalpha() for part in (found["one"], found["two"])]
    if all(named) or 0 in parts:
        return None
    if named[0]:
        parts = parts[::-1]
    return Written(year=year, one=parts[0], two=parts[1], clock=clock, offset=offset, settled=any(named))


def _clock(found: re.Match[str]) -> timedelta | None:
    hour, minute, second = (int(found[name] or 0) for name in ("hour", "minute", "second"))
    half = (found["half"] or "").lower()
    if hour > (12 if half else 23) or minute > 59 or second > 59 or (half and hour == 0):
        return None
    if half:
        hour = hour % 12 + (12 if half == "p" else 0)
    micro = int((found["fraction"] or "").ljust(6, "0"))
    return timedelta(hours=hour, minutes=minute, seconds=second, microseconds=micro)


def _offset(text: str | None) -> timedelta | None:
    if text is None:
        return None
    digits = re.sub(r"UTC|GMT|Z|:", "", text)
    if not digits:
        return timedelta(0)
    sign, numbers = (-1 if digits[0] == "-" else 1), digits[1:]
    hours, minutes = (numbers[:-2], numbers[-2:]) if len(numbers) > 2 else (numbers, "0")
    return sign * timedelta(hours=int(hours), minutes=int(minutes))


def offset_in(name: str) -> str:
    """Return the offset from UTC that a column's name carries, as it would stand behind a time, or "".

    >>> offset_in("Date Time, GMT-05:00"), offset_in("timestamp_utc"), offset_in("Time")
    ('UTC-05:00', 'UTC', '')
    """
    found = _OFFSET_IN_NAME.search(name)
    if found is None:
        return ""
    digits = (found["digits"] or "").replace(":", "")
    hours, minutes = (digits[:-2], digits[-2:]) if len(digits) > 2 else (digits, "00")
    return f"UTC{found['sign']}{hours.zfill(2)}:{minutes}" if digits else "UTC"


def read_number(cell: str) -> tuple[float, str] | None:
    """Return a number and its unit in the cell ("C", "F" or nothing), or None (also for one too large to keep); a comma is a decimal mark.

    A comma cannot be a thousands mark here: no kitchen has a thousand degrees.

    >>> read_number("38,5 °F"), read_number("−0.5"), read_number("1.234,5")
    ((38.5, 'F'), (-0.5, ''), None)
    """
    found = _NUMBER.fullmatch(cell.strip())
    if found is None:
        return None
    value = float(found["number"].replace(",", ".").replace("\u2212", "-"))
    if abs(value) > _LARGEST:
        return None
    unit = (found["unit"] or "").upper().replace("℃", "C").replace("℉", "F")[-1:]
    return value, unit if unit in ("C", "F") else ""
