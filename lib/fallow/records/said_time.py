"""A time as a baker says it: '25 min ago', '07:40', 'yesterday 22:15', '3 Dec 18:00', '2026-12-03 18:00'."""

from __future__ import annotations

import re
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from fallow.records.said_day import MONTHS, PARTS_OF_TODAY, WEEKDAYS, WHOLE_DAY, days_ahead, refused, said_day
from fallow.records.times import EARLIEST, LATEST, local_instant

LONGEST = 60  # Our choice: no time takes more letters, and a pasted page is told apart at once.

_UNITS = {"min": 1, "minute": 1, "h": 60, "hr": 60, "hour": 60}
_AMOUNT = r"([0-9]{1,4}(?:[.,][0-9]{1,2})?|an?|half an?) ?(min|minute|hr|hour|h)s?"
_SPAN = re.compile(rf"(in )?{_AMOUNT}(?: (?:and )?{_AMOUNT})?( ago)?")
_CLOCK = re.compile(r"(?:at )?([0-9]{1,2})(?:[:.]([0-9]{2})(?::([0-9]{2}))?)? ?(am|pm)?")
_TWICE = re.compile(r"(.*?),? (?:the )?(first|second)(?: time)?")
_ISO_OFFSET = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})[t ]([0-9:.,]+) ?(z|[+-][0-9]{2}:?[0-9]{2}|[+-][0-9]{2})")


def said_time(*, text: str, now: datetime, time_zone: str) -> datetime:
    """Return the instant a text names, for a kitchen in ``time_zone`` (IANA), to the second.

    An hour without a day is today's; a date without a year is the one nearest to ``now``; minutes and hours ago are
    counted as time that passed, so a night of the clock change makes no difference; days and weeks ahead are counted on
    the calendar, to the same hour where none is named. An offset that is typed is kept.
    An hour the clock shows twice takes 'first' or 'second' after it. Our choice throughout: nothing is guessed that
    two readers could read two ways (03/04/2026, 'Friday 18:00', a day without its hour).

    Raises
    ------
    ValueError
        When the text names no instant, or one that the clock skips or shows twice.

    >>> now = datetime(2026, 3, 29, 9, 0, tzinfo=ZoneInfo("Europe/Berlin"))
    >>> said_time(text="yesterday 22:15", now=now, time_zone="Europe/Berlin").isoformat()
    '2026-03-28T22:15:00+01:00'
    >>> said_time(text="8 h ago", now=now, time_zone="Europe/Berlin").isoformat()
    '2026-03-29T00:00:00+01:00'
    """
    zone, here = _zone(time_zone), _here(now, time_zone)
    said = " ".join(text.split()).lower()
    if not said or len(said) > LONGEST:
        raise refused(text, "it must name a day and an hour" if not said else "no time is that long")
    if said in ("now", "just now"):
        return here
    passed = _span_minutes(said)
    if passed is not None:
        at = (here.astimezone(UTC) + timedelta(minutes=passed)).astimezone(zone)
    elif offset := _ISO_OFFSET.fullmatch(said):
        at = _with_offset(text, offset)
    else:
        at = _on_the_wall(text, said, here, time_zone)
    if not EARLIEST <= at < LATEST:
        raise refused(text, f"the year must be {EARLIEST.year} to {LATEST.year - 1}")
    return datetime.fromisoformat(at.isoformat(timespec="seconds"))


def in_full(*, at: datetime, time_zone: str) -> str:
    """Return an instant with its weekday, date, hour and offset, on the clock of ``time_zone``.

    >>> in_full(at=datetime(2026, 12, 3, 17, 0, tzinfo=UTC), time_zone="Europe/Berlin")
    'Thursday 3 Dec 2026, 18:00 (UTC+01:00)'
    """
    there = at.astimezone(_zone(time_zone))
    seconds = f":{there:%S}" if there.second else ""
    day = f"{WEEKDAYS[there.weekday()]} {there.day} {MONTHS[there.month - 1]} {there.year}"
    return f"{day}, {there:%H:%M}{seconds} (UTC{there.isoformat()[-6:]})"


def _zone(time_zone: str) -> ZoneInfo:
    try:
        return ZoneInfo(time_zone)
    except (KeyError, ValueError, OSError) as error:
        message = f"{time_zone!r} is no time zone; it must be a name such as Europe/Berlin. Correct it in the record."
        raise ValueError(message) from error


def _here(now: datetime, time_zone: str) -> datetime:
    if now.tzinfo is None:
        message = f"now is {now.isoformat()}; it must carry its offset from UTC. Give an aware time."
        raise ValueError(message)
    return datetime.fromisoformat(now.astimezone(_zone(time_zone)).isoformat(timespec="seconds"))


def _span_minutes(said: str) -> float | None:
    """Minutes from now, negative for 'ago'; None when the text is no span."""
    span = _SPAN.fullmatch(said)
    if span is None:
        return None
    if bool(span[1]) == bool(span[6]):
        raise refused(said, "it must say ago or in", "Write it as in 20 min ago or in 20 min.")
    minutes = _minutes(span[2], span[3]) + (_minutes(span[4], span[5]) if span[4] else 0.0)
    return minutes if span[1] else -minutes


def _minutes(amount: str, unit: str) -> float:
    words = {"a": 1.0, "an": 1.0, "half a": 0.5, "half an": 0.5}
    return (words[amount] if amount in words else float(amount.replace(",", "."))) * _UNITS[unit]


def _with_offset(text: str, parts: re.Match[str]) -> datetime:
    day, clock, offset = parts.groups()
    try:
        return datetime.fromisoformat(f"{day}T{clock.replace(',', '.').zfill(5)}{offset.upper()}")
    except ValueError as error:
        raise refused(text, "there is no such day or hour") from error


def _on_the_wall(text: str, said: str, here: datetime, time_zone: str) -> datetime:
    """Read a day and an hour, in either order, as the kitchen's clock shows them."""
    twice = _TWICE.fullmatch(said)
    plain, later = (twice[1], twice[2] == "second") if twice else (said, None)
    words = re.sub(r"^([0-9-]{10})t", r"\1 ", plain).split()
    for cut in range(len(words), -1, -1):
        halves = (" ".join(words[:cut]), " ".join(words[cut:]))
        for before, clock_words in (halves, halves[::-1]):
            clock = _clock(text, clock_words)
            if clock is None:
                continue
            day_words = before.rstrip(",")
            day = said_day(text=text, words=day_words, today=here.date())
            if day is not None:
                _within_part(text, day_words, clock)
                return local_instant(wall=datetime.combine(day, clock), time_zone=time_zone, later=later)
    day = said_day(text=text, words=plain, today=here.date())
    if day is None:
        raise refused(text, "it must name a day and an hour")
    if days_ahead(plain) is not None:
        return local_instant(wall=datetime.combine(day, here.time()), time_zone=time_zone, later=later)
    typed, (_, _, example) = " ".join(text.split())[: len(plain)], PARTS_OF_TODAY.get(plain, WHOLE_DAY)
    raise refused(text, "it lacks the hour", f"Write the hour too: {typed} {example}.")


def _within_part(text: str, words: str, clock: time) -> None:
    """Refuse an hour that the part of the day named with it does not reach: 'tonight 8:00', 'tonight 00:30'."""
    first, last, _ = PARTS_OF_TODAY.get(words, WHOLE_DAY)
    if not first <= clock.hour < last:
        rule = f"{words} is taken from {first:02d}:00 to {last:02d}:00"
        raise refused(text, rule, "Write the hour on a clock of 24 hours, with today or tomorrow.")


def _clock(text: str, words: str) -> time | None:
    """Read an hour of the day; None when the words are not one."""
    if words in ("noon", "at noon"):
        return time(12)
    found = _CLOCK.fullmatch(words)
    if found is None or (found[2] is None and found[4] is None):
        return None
    hour, minute, second = int(found[1]), int(found[2] or 0), int(found[3] or 0)
    if found[4]:
        if not 1 <= hour <= 12:
            raise refused(text, "with am or pm the hour is 1 to 12")
        hour = hour % 12 + (12 if found[4] == "pm" else 0)
    if hour > 23 or minute > 59 or second > 59:
        raise refused(text, "the hours of a day are 00:00 to 23:59")
    return time(hour, minute, second)
