"""Instants as a record keeps them: ISO 8601 with an offset, to the microsecond."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

_OFFSET = r"(Z|[+-](?:0[0-9]|1[0-4])(?::?[0-5][0-9])?)"
_FRACTION = r"(\.[0-9]{1,6})?"
_DAY = r"([0-9]{4}-[0-9]{2}-[0-9]{2})"
_HOUSE = re.compile(rf"{_DAY}T[0-9]{{2}}:[0-9]{{2}}:[0-9]{{2}}{_FRACTION}[+-](?:0[0-9]|1[0-4]):[0-5][0-9]")
_ISO = re.compile(rf"{_DAY}[Tt ]([0-9]{{2}}:[0-9]{{2}}(?::[0-9]{{2}})?){_FRACTION} ?{_OFFSET}")
_NO_OFFSET = re.compile(rf"{_DAY}(?:[T ][0-9:.,]*)?")
_SLASHED = re.compile(
    rf"([0-9]{{1,2}})[./-]([0-9]{{1,2}})[./-]([0-9]{{4}}),?[T ]+"
    rf"([0-9]{{1,2}}):([0-9]{{2}})(?::([0-9]{{2}}))?{_FRACTION} *{_OFFSET}?"
)

# Our choice: wide enough for any kitchen, narrow enough to catch a slipped digit and a spreadsheet's day zero.
EARLIEST, LATEST = pd.Timestamp("1970-01-01T00:00:00Z"), pd.Timestamp("2200-01-01T00:00:00Z")
WRITE_IT = "Write it as in 2026-03-29T07:40:00+02:00."


@dataclass(frozen=True, kw_only=True)
class Misread:
    """A cell that is no instant: its position in the column, the rule it breaks, the next step."""

    position: int
    rule: str
    next_step: str = WRITE_IT


def read_times(cells: Sequence[str], *, day_first: bool | None = None) -> tuple[pd.Series, list[str], list[Misread]]:
    """Return a column as UTC instants (datetime64[us, UTC], NaT where empty), as ISO texts, and what is neither.

    Dates such as 29/03/2026 are read when another date in the column settles which number is the day, or when
    ``day_first`` says it; a time without an offset is never guessed. An ISO text keeps the offset it was typed with.
    """
    texts = [cell.strip() for cell in cells]
    odd = [i for i, text in enumerate(texts) if text and not _HOUSE.fullmatch(text)]
    order = _day_order([texts[i] for i in odd], day_first)
    misread = {}
    for i in odd:
        texts[i], rule = _house(texts[i], order)
        if rule:
            misread[i] = Misread(position=i, rule=rule)
    readable = np.array(["" if i in misread else text for i, text in enumerate(texts)], dtype=object)
    parsed = pd.to_datetime(readable, format="ISO8601", utc=True, errors="coerce")
    instants = pd.Series(parsed).astype("datetime64[us, UTC]")
    for i in np.flatnonzero(instants.isna().to_numpy() & (readable != "")).tolist():
        misread[i] = Misread(position=i, rule="there is no such day or hour")
    outside = (instants < EARLIEST) | (instants >= LATEST)
    for i in np.flatnonzero(outside.to_numpy()).tolist():
        misread[i] = Misread(position=i, rule=f"the year must be {EARLIEST.year} to {LATEST.year - 1}")
    instants = instants.mask(outside)
    return instants, texts, [misread[i] for i in sorted(misread)]


def _day_order(odd: Sequence[str], day_first: bool | None) -> frozenset[bool]:
    """Which orders (day first: True, month first: False) the column's slashed dates leave open."""
    if day_first is not None:
        return frozenset({day_first})
    found = [match for text in odd if (match := _SLASHED.fullmatch(text))]
    open_orders = {True, False}
    if any(int(match[1]) > 12 for match in found):
        open_orders.discard(False)
    if any(int(match[2]) > 12 for match in found):
        open_orders.discard(True)
    return frozenset(open_orders)


def house_time(text: str) -> str:
    """Return one time as the house writes it, or as it is when it cannot be read.

    >>> house_time("29/03/2026 7:40 +02:00"), house_time("yesterday")
    ('2026-03-29T07:40:00+02:00', 'yesterday')
    """
    trimmed = text.strip()
    return trimmed if not trimmed or _HOUSE.fullmatch(trimmed) else _house(trimmed, _day_order([trimmed], None))[0]


def _house(text: str, order: frozenset[bool]) -> tuple[str, str]:
    """Return a time as the house writes it, or as it is with the rule it breaks."""
    iso, slashed = _ISO.fullmatch(text), _SLASHED.fullmatch(text)
    if iso:
        day, clock, fraction, offset = iso.groups()
        return f"{day}T{clock if len(clock) > 5 else clock + ':00'}{fraction or ''}{_house_offset(offset)}", ""
    if slashed is None:
        wanted = "a time must carry its offset from UTC"
        return text, wanted if _NO_OFFSET.fullmatch(text) else f"it must be a date and a time; {wanted}"
    first, second, year, hour, minute, seconds, fraction, offset = slashed.groups()
    if offset is None:
        return text, "a time must carry its offset from UTC"
    if int(first) != int(second) and len(order) != 1:
        mixed = "the column has some dates with the day first and some with the month first"
        return text, "the day and the month cannot be told apart" if order else mixed
    day, month = (first, second) if True in order else (second, first)
    clock = f"{hour.zfill(2)}:{minute}:{seconds or '00'}{fraction or ''}"
    return f"{year}-{month.zfill(2)}-{day.zfill(2)}T{clock}{_house_offset(offset)}", ""


def _house_offset(offset: str) -> str:
    digits = "+0000" if offset == "Z" else offset.replace(":", "").ljust(5, "0")
    return f"{digits[:3]}:{digits[3:]}"


def local_instant(*, wall: datetime, time_zone: str, later: bool | None = None) -> datetime:
    """Return the instant at which a clock on the wall of ``time_zone`` (IANA) shows ``wall``.

    An hour that summer time skips is refused; one that comes twice is refused until ``later`` says which.

    >>> local_instant(wall=datetime(2026, 3, 29, 7, 40), time_zone="Europe/Berlin").isoformat()
    '2026-03-29T07:40:00+02:00'
    >>> local_instant(wall=datetime(2024, 3, 31, 2, 30), time_zone="Europe/Berlin")
    Traceback (most recent call last):
    ValueError: 2024-03-31 02:30 is skipped in Europe/Berlin; the clocks go forward. Give the hour the clock showed.
    """
    zone = ZoneInfo(time_zone)
    readings = [wall.replace(tzinfo=zone, fold=fold) for fold in (0, 1)]
    shown = f"{wall:%Y-%m-%d %H:%M}"
    if all(at.astimezone(UTC).astimezone(zone).replace(tzinfo=None, fold=0) != wall for at in readings):
        message = f"{shown} is skipped in {time_zone}; the clocks go forward. Give the hour the clock showed."
        raise ValueError(message)
    offsets = [at.utcoffset() for at in readings]
    if offsets[0] != offsets[1] and later is None:
        message = (
            f"{shown} comes twice in {time_zone}; the clocks go back then. Say whether it was the first or the second."
        )
        raise ValueError(message)
    chosen = readings[bool(later)]
    return datetime.fromisoformat(chosen.isoformat())
