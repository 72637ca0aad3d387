"""A day as a baker says it: 'yesterday', 'tonight', 'last Friday', 'in 8 weeks', '2 days ago', '3 Dec', '2026-12-03'."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, timedelta

WRITE_IT = "Write it as in 07:40, yesterday 22:15, 25 min ago, 3 Dec 18:00 or 2026-12-03 18:00."
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

_LONG_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip
# Our choice: from which hour to which a part of today reaches, for what lies outside it could mean two days; and an example.
WHOLE_DAY = (0, 24, "18:00")
PARTS_OF_TODAY = {
    "this morning": (0, 12, "08:00"),
    "this afternoon": (12, 18, "15:00"),
    "this evening": (17, 24, "20:00"),
    "tonight": (17, 24, "20:00"),
}
_COUNT = r"(a|[0-9]{1,3}) (day|week)s?"
_AHEAD, _AGO = re.compile(rf"in {_COUNT}"), re.compile(rf"{_COUNT} ago")
_ISO_DAY = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})")
_DAY_MONTH = re.compile(r"([0-9]{1,2})(?:st|nd|rd|th|\.)? ([a-z]{3,9})\.?,?(?: ([0-9]{4}))?")
_MONTH_DAY = re.compile(r"([a-z]{3,9})\.? ([0-9]{1,2})(?:st|nd|rd|th)?,?(?: ([0-9]{4}))?")
_SLASHED = re.compile(r"([0-9]{1,2})[./-]([0-9]{1,2})[./-]([0-9]{4})")
_WEEKDAY = re.compile(r"(last |next )?([a-z]{3,9})")


def refused(text: str, rule: str, next_step: str = WRITE_IT) -> ValueError:
    """Return the error for a text that is no time: what was seen, the rule, the next step."""
    shown = " ".join(text.split())
    return ValueError(f"{shown if len(shown) <= 60 else shown[:40] + '...'!r} is no time; {rule}. {next_step}")


def said_day(*, text: str, words: str, today: date) -> date | None:
    """Return the day that lower-case ``words`` name, or None when they name none; ``text`` is quoted in a refusal.

    >>> said_day(text="last Friday", words="last friday", today=date(2026, 12, 3))
    datetime.date(2026, 11, 27)
    """
    if words in ("", "today", *PARTS_OF_TODAY):
        return today
    if words in ("yesterday", "tomorrow"):
        return today + timedelta(days=1 if words == "tomorrow" else -1)
    if (ahead := days_ahead(words)) is not None:
        return today + timedelta(days=ahead)
    if ago := _AGO.fullmatch(words):
        return today - timedelta(days=_days(ago))
    if iso := _ISO_DAY.fullmatch(words):
        return _calendar_day(text, int(iso[1]), int(iso[2]), int(iso[3]))
    if slashed := _SLASHED.fullmatch(words):
        return _slashed_day(text, int(slashed[1]), int(slashed[2]), int(slashed[3]))
    return _weekday(text, words, today) or _named_day(text, words, today)


def days_ahead(words: str) -> int | None:
    """Return how many days ``words`` count from today on, or None when they do not.

    >>> days_ahead("in 8 weeks"), days_ahead("tomorrow")
    (56, None)
    """
    ahead = _AHEAD.fullmatch(words)
    return _days(ahead) if ahead else None


def _days(count: re.Match[str]) -> int:
    return (1 if count[1] == "a" else int(count[1])) * (7 if count[2] == "week" else 1)


def _weekday(text: str, words: str, today: date) -> date | None:
    found = _WEEKDAY.fullmatch(words)
    place = _position(found[2], [name.lower() for name in WEEKDAYS]) if found else None
    if found is None or place is None:
        return None
    name = WEEKDAYS[place]
    if not found[1]:
        raise refused(text, f"it can be the {name} before or after today", f"Write last {name} or next {name}.")
    if found[1] == "last ":
        return today - timedelta(days=(today.weekday() - place - 1) % 7 + 1)
    return today + timedelta(days=(place - today.weekday() - 1) % 7 + 1)


def _named_day(text: str, words: str, today: date) -> date | None:
    """Read '3 Dec', 'December 3', with or without a year; without, the year that brings it nearest to today."""
    first, second = _DAY_MONTH.fullmatch(words), _MONTH_DAY.fullmatch(words)
    if first:
        day, name, year = first.groups()
    elif second:
        name, day, year = second.groups()
    else:
        return None
    place = _position(name, _LONG_MONTHS)
    if place is None:
        return None
    if year:
        return _calendar_day(text, int(year), place + 1, int(day))
    near = [_real_day(today.year + step, place + 1, int(day)) for step in (-1, 0, 1)]
    real = [found for found in near if found is not None]
    if not real:
        raise refused(text, f"{today.year - 1} to {today.year + 1} have no such day", "Write the year too.")
    return min(real, key=lambda found: abs(found - today))


def _position(word: str, names: Sequence[str]) -> int | None:
    """Where a name shortened to three letters or more stands."""
    return next((i for i, name in enumerate(names) if len(word) >= 3 and name.startswith(word)), None)


def _real_day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _calendar_day(text: str, year: int, month: int, day: int) -> date:
    found = _real_day(year, month, day)
    if found is None:
        raise refused(text, "there is no such day")
    return found


def _slashed_day(text: str, first: int, second: int, year: int) -> date:
    """Read 25/10/2026 and 10/25/2026; refuse 03/04/2026, which is two days to two readers."""
    orders = {_real_day(year, second, first), _real_day(year, first, second)} - {None}
    if len(orders) == 2:
        raise refused(text, "the day and the month cannot be told apart", "Write the month as a word, as in 3 Apr.")
    found = orders.pop() if orders else None
    if found is None:
        raise refused(text, "there is no such day")
    return found
