"""How the trial book says times, looks and names; text of the record is cut, and what cannot be seen is spelled out."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from fallow.records.inert import seen
from fallow.records.said_time import MONTHS, WEEKDAYS

DOMES = ("not noted", "domed", "flat", "fallen")
CAUTION = (
    "Leave lids loose: a feeding jar can burst. Raw flour is raw food: do not taste it. A jar with mould, pink or orange "
    "streaks or a rotten smell is spoiled: do not open it near food, throw it away whole. Local rules come first."
)


def plain(text: object, *, longest: int = 40) -> str:
    """Return a text of the record as one short line in which nothing is unseen or turns its neighbours round.

    >>> plain("J1"), len(plain("x" * 10_000)), plain("ripe \u202e07:40")
    ('J1', 41, 'ripe ⟨U+202E⟩07:40')
    """
    one_line = " ".join(str(text)[: 4 * longest].split())
    return seen(one_line if len(one_line) <= longest else one_line[:longest] + "…")


def clock(at: datetime, *, now: datetime, time_zone: str, about: str = "") -> str:
    """Return an hour as a baker says it: '07:40', 'tomorrow 07:40', 'Sat 5 Dec 18:00'; ``about`` stands before the hour.

    >>> from datetime import UTC
    >>> at = datetime(2026, 12, 4, 6, 40, tzinfo=UTC)
    >>> clock(at, now=at - timedelta(hours=12), time_zone="Europe/Berlin")
    'tomorrow 07:40'
    """
    there, today = at.astimezone(ZoneInfo(time_zone)), now.astimezone(ZoneInfo(time_zone)).date()
    days = (there.date() - today).days
    named = {0: "", 1: "tomorrow ", -1: "yesterday "}
    year = f" {there.year}" if there.year != today.year else ""
    dated = f"{WEEKDAYS[there.weekday()][:3]} {there.day} {MONTHS[there.month - 1]}{year} "
    return f"{named.get(days, dated)}{about}{there:%H:%M}"


def rounded(at: datetime, *, minutes: int = 10) -> datetime:
    """Return an instant rounded to ten minutes, for nobody can say it better."""
    step = timedelta(minutes=minutes)
    start = at.replace(minute=0, second=0, microsecond=0)
    return start + round((at - start) / step) * step


def ago(at: datetime, *, now: datetime) -> str:
    """Return how long ago an instant is: 'just now', '25 min ago', '3 h ago'."""
    return "just now" if (now - at).total_seconds() < 60 else f"{span(at, now)} ago"


def span(first: datetime, then: datetime) -> str:
    """Return the time between two instants in one word or two: '25 min', '3 h', '12 days'."""
    minutes = abs((then - first).total_seconds()) / 60
    if minutes < 90:
        return f"{minutes:.0f} min"
    return f"{minutes / 60:.0f} h" if minutes < 48 * 60 else f"{minutes / 1440:.0f} days"
