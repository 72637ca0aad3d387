"""A pasted column of times: the kitchen's clock where no offset stands, and 03/04/2026 only when the column settles it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime, timedelta

from fallow.records.problems import Problem
from fallow.records.said_time import said_time

WHERE = "pasted text"
# Our choice: clocks of two machines differ by a minute or two, kitchens by no more.
AHEAD = timedelta(minutes=3)
STILL_TO_COME = "it is still to come; the record holds what was done. Write the day before the hour, or correct it."
_SLASHED = re.compile(r"([0-9]{1,2})[./-]([0-9]{1,2})[./-]([0-9]{4})(.*)", re.DOTALL)


def pasted_times(
    cells: Sequence[str], *, lines: Sequence[int], now: datetime, time_zone: str
) -> tuple[list[str], list[Problem]]:
    """Return times as ISO texts with offset, empty where a cell is none, and the cells that could not be read."""
    day_first = _day_first(cells)
    texts, problems = [], []
    for cell, line in zip(cells, lines, strict=True):
        try:
            said = _plain(cell, day_first)
            at = said_time(text=said, now=now, time_zone=time_zone) if cell else None
            if at is not None and at > now + AHEAD:
                raise ValueError(STILL_TO_COME)
            texts.append("" if at is None else at.isoformat())
        except ValueError as error:
            rule, _, step = str(error).split(" is no time; ")[-1].partition(". ")
            problems.append(Problem(file=WHERE, row=line, column="at", value=cell, rule=rule, next_step=step))
            texts.append("")
    return texts, problems


def _day_first(cells: Sequence[str]) -> bool | None:
    """Whether the day stands first in the column's dates; None when they leave it open or do not agree."""
    found = [match for cell in cells if (match := _SLASHED.fullmatch(cell))]
    orders = {int(match[1]) > 12 for match in found if (int(match[1]) > 12) != (int(match[2]) > 12)}
    return orders.pop() if len(orders) == 1 else None


def _plain(cell: str, day_first: bool | None) -> str:
    match = _SLASHED.fullmatch(cell)
    if match is None or day_first is None:
        return cell
    day, month = (match[1], match[2]) if day_first else (match[2], match[1])
    return f"{match[3]}-{month.zfill(2)}-{day.zfill(2)} {match[4].strip(' ,T')}"
