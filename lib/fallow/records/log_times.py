"""A log's column of times as instants: the order of day and month settled or asked, clock changes seen, nothing guessed in silence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from fallow.records.log_cells import Written, read_written
from fallow.records.times import EARLIEST, LATEST

DAY_ORDER = "Its dates can be read with the day first or with the month first. Say which."
WHICH_ZONE = "Its times carry no offset from UTC. Say in which time zone its clock ran, as in Europe/Berlin."


@dataclass(kw_only=True)
class Instants:
    """Times of a log: UTC instants (NaT where not read), ISO texts, the reasons, and what is still to be asked."""

    at: pd.Series
    texts: list[str]
    bad: dict[int, str] = field(default_factory=dict)
    questions: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


def read_log_times(cells: Sequence[str], *, time_zone: str, day_first: bool | None, offset: str = "") -> Instants:
    """Return a column of dates with clocks as instants.

    The cells' own offsets go first, then ``offset`` (what the column's name says, as in 'UTC+01:00'), then ``time_zone``.
    """
    written = [_with(read_written(cell), f"{cell} {offset}") if offset else read_written(cell) for cell in cells]
    bad = {at: "it is no date with a time" for at, one in enumerate(written) if one is None}
    order, said, questions = _order([one for one in written if one], day_first)
    walls: list[datetime | None] = []
    offsets: list[timedelta | None] = []
    for at, one in enumerate(written):
        wall = _wall(one, order)
        if one and wall is None:
            bad[at] = "there is no such day"
        walls.append(wall)
        offsets.append(one.offset if one and wall else None)
    if offset:
        said.append(f"Its times are {offset}, as the name of their column says.")
    local = [wall if own is None else None for wall, own in zip(walls, offsets, strict=True)]
    questions += [WHICH_ZONE] if any(local) and not time_zone else []
    made = _placed(local, time_zone or "UTC", bad, said)
    for at, (wall, own) in enumerate(zip(walls, offsets, strict=True)):
        if wall is not None and own is not None:
            made[at] = pd.Timestamp(wall - own, tz="UTC")
    instants = pd.Series(pd.to_datetime(made, utc=True)).astype("datetime64[us, UTC]")
    instants = _inside(instants, bad)
    return Instants(at=instants, texts=_texts(instants, offsets, time_zone), bad=bad, questions=questions, said=said)


def _with(one: Written | None, longer: str) -> Written | None:
    """Return a time with the offset behind it, where it has none of its own."""
    return read_written(longer) if one is not None and one.offset is None else one


def _wall(one: Written | None, day_first: bool) -> datetime | None:
    try:
        return None if one is None else one.wall(day_first=day_first)
    except ValueError:
        return None


def _inside(instants: pd.Series, bad: dict[int, str]) -> pd.Series:
    outside = (instants < EARLIEST) | (instants >= LATEST)
    for at in np.flatnonzero(outside.to_numpy()).tolist():
        bad[at] = f"the year must be {EARLIEST.year} to {LATEST.year - 1}"
    return instants.mask(outside)


def _texts(instants: pd.Series, offsets: Sequence[timedelta | None], time_zone: str) -> list[str]:
    """Return ISO texts: with the offset a cell carried, else with the one the zone had then."""
    local, utc = instants.dt.tz_convert(time_zone or "UTC"), instants.dt.tz_convert(None)
    texts = []
    for at, plain, offset in zip(local, utc, offsets, strict=True):
        if pd.isna(at):
            texts.append("")
        elif offset is None:
            texts.append(at.isoformat())
        else:
            texts.append(f"{(plain + offset).isoformat()}{_offset_text(offset)}")
    return texts


def _offset_text(offset: timedelta) -> str:
    minutes = round(offset.total_seconds() / 60)
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def _order(written: Sequence[Written], day_first: bool | None) -> tuple[bool, list[str], list[str]]:
    """Return whether the day stands first, what is said of it, and what must be asked."""
    loose = [one for one in written if not one.settled]
    if day_first is not None or not loose:
        return bool(day_first) or not loose, [], []
    words = {True: "with the day first", False: "with the month first"}
    fits = {True: all(one.two <= 12 for one in loose), False: all(one.one <= 12 for one in loose)}
    if sum(fits.values()) == 1:
        order = fits[True]
        return order, [f"Dates are read {words[order]}: another order gives no day."], []
    if all(one.one == one.two for one in loose):
        return True, [], []
    steps = {order: _longest_step(loose, order) for order in words}
    if fits[True] and max(steps.values()) > 20 and min(steps.values()) < 4:
        order = steps[True] < steps[False]
        return order, [f"Dates are read {words[order]}: read the other way they jump by weeks."], []
    return True, [], [DAY_ORDER]


def _longest_step(loose: Sequence[Written], order: bool) -> float:
    """Return the longest step between neighbours, in days; a file of one day has none."""
    walls = [wall for one in loose if (wall := _wall(one, order))]
    days = np.diff(np.array(walls, dtype="datetime64[us]")).astype(np.int64) / 86_400e6
    return float(np.abs(days).max(initial=0.0))


def _placed(walls: Sequence[datetime | None], time_zone: str, bad: dict[int, str], said: list[str]) -> list[Any]:
    """Return what a zone's clock showed as UTC instants; hours skipped or not to be told apart are named."""
    column = pd.Series(list(walls), dtype="datetime64[us]")
    doubled = np.array([wall is not None and _comes_twice(wall, time_zone) for wall in walls], dtype=bool)
    second = _second_time_round(column, doubled, time_zone, bad)
    placed = column.dt.tz_localize(time_zone, ambiguous=~second, nonexistent="NaT").dt.tz_convert("UTC")
    for at in np.flatnonzero((placed.isna() & column.notna()).to_numpy()).tolist():
        bad[at] = (
            f"the clocks of {time_zone} skip this hour, so this clock keeps no summer time; give it as a zone of one "
            "offset, as in Etc/GMT-1 for an hour ahead of UTC"
        )
    if second.any():
        said.append("The hour that comes twice when the clocks go back was told apart by the order of the rows.")
    return [pd.NaT if at in bad else one for at, one in enumerate(placed)]


def _comes_twice(wall: datetime, time_zone: str) -> bool:
    zone = ZoneInfo(time_zone)
    early, late = (wall.replace(tzinfo=zone, fold=fold).utcoffset() for fold in (0, 1))
    # in a gap the offsets differ the other way round
    return early is not None and late is not None and early > late


def _second_time_round(column: pd.Series, doubled: np.ndarray, time_zone: str, bad: dict[int, str]) -> np.ndarray:
    """Tell for each time of a doubled hour whether it is its second coming, by the rows around it."""
    second = np.zeros(len(column), dtype=bool)
    known = np.flatnonzero(column.notna().to_numpy())
    walls = column.to_numpy(dtype="datetime64[us]").astype(np.int64) / 60e6
    if not doubled.any():
        return second
    steps = np.diff(walls[known])
    downward = bool(np.median(steps) < 0) if len(steps) else False
    usual = float(np.median(np.abs(steps))) if len(steps) else 0.0
    ordered = known[::-1] if downward else known
    for run in _runs(ordered, doubled):
        back = [at for at in range(1, len(run)) if walls[run[at]] < walls[run[at - 1]]]
        if len(back) == 1:
            second[run[back[0] :]] = True
            continue
        before, after = _neighbour(ordered, run[0], -1), _neighbour(ordered, run[-1], 1)
        joins_before = before is not None and walls[run[0]] - walls[before] <= 1.5 * usual
        joins_after = after is not None and walls[after] - walls[run[-1]] <= 1.5 * usual
        if joins_before != joins_after and not back:
            second[run] = joins_after
        else:
            rule = (
                f"this hour comes twice in {time_zone} and the rows do not tell which it is; a clock without summer "
                "time is a zone of one offset, as in Etc/GMT-1"
            )
            bad.update(dict.fromkeys(map(int, run), rule))
    return second


def _runs(ordered: np.ndarray, doubled: np.ndarray) -> list[np.ndarray]:
    """Return the stretches of neighbouring rows that stand in a doubled hour."""
    marks = doubled[ordered].astype(int)
    ends = np.flatnonzero(np.diff(np.concatenate([[0], marks, [0]])))
    return [ordered[start:stop] for start, stop in ends.reshape(-1, 2)]


def _neighbour(ordered: np.ndarray, row: int, way: int) -> int | None:
    at = int(np.flatnonzero(ordered == row)[0]) + way
    return int(ordered[at]) if 0 <= at < len(ordered) else None
