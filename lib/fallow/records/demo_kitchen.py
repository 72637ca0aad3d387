"""The cook of the invented trial at work: feeds by the clock or at the peak, looks only while awake, a few missed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from fallow.records.demo_design import Cell, Stream
from fallow.records.demo_jar import FED_AT, RECOVERY_DAYS, jar_carried_fraction, owed_on_return
from fallow.records.demo_truth import (
    BASELINE_LOOK_EVERY_MINUTES,
    CARRY_TO_PLACE_MINUTES,
    LOOK_EVERY_MINUTES,
    ZONE,
    FedJar,
    Look,
    Truth,
    dome,
    height_mm,
    owed_next,
    peak_hours,
    rounds,
    wall,
)

BASELINE_DAYS = (date(2025, 7, 28), date(2025, 7, 29), date(2025, 7, 30), date(2025, 7, 31), date(2025, 8, 1))
# starter:flour:water and place of the five feeds in form: far apart in dilution and warmth, so that pace and c part
BASELINE_FEEDS = ((1, 21.0), (2, 21.0), (2, 27.0), (4, 27.0), (8, 27.0))
RECOVERY_RATIO = 2
# In the box a 1:2:2 of the evening would peak unseen in the small hours: from six o'clock on it is fed leaner, ripe at breakfast.
EVENING_RATIO, EVENING_FROM, EVENING_ABOVE_C = 10, time(18, 0), 24.0
BASELINE_AT = time(8, 0)
# a trial day's last feed is the third evening's; looks end on the fourth evening
LAST_FEED_DAY, LAST_FEED_AT, STOPPED_DAY, STOPPED_AT = 2, time(22, 30), 3, time(22, 30)


@dataclass(frozen=True, kw_only=True)
class FeedSeen:
    """One feed as the record will hold it, with every look at it."""

    feed: int
    kind: str
    at: datetime
    ratio: int
    rye_fraction: float
    place_temp_c: float
    looks: tuple[Look, ...]


def place_temp_c(*, truth: Truth, nominal_c: float, at: datetime, draws: Stream) -> float:
    """Return the true temperature of a place in one half of a day: what its thermostat says, a little off."""
    half_day = f"{at.astimezone(UTC):%Y-%m-%d}-{at.astimezone(UTC).hour // 12}"
    return nominal_c + truth.place_sd_c * draws.normal("place", nominal_c, half_day)


def looks_at(
    *,
    truth: Truth,
    feed: FedJar,
    until: datetime,
    late_minutes: int,
    draws: Stream,
    peak: float,
    every_minutes: int = LOOK_EVERY_MINUTES,
) -> tuple[Look, ...]:
    """Return what was seen of one feed: at the feed, then round by round until fallen twice, by day only."""
    start_mm = truth.start_height_mm + draws.normal(feed.name, "start")
    share = max(0.25, 1 - truth.rise_lost_per_owed_doubling * feed.owed_doublings)
    rise_mm = start_mm * (feed.culture.rise_ratio - 1) * share
    rise_mm *= math.exp(truth.rise_log_sd * draws.normal(feed.name, "rise"))
    in_form = math.log2(feed.dilution) + feed.culture.ripening_doublings
    not_before = 0.5 * in_form / feed.earned(hours=1.0)
    seen = [Look(at=feed.at, height_mm=round(start_mm), streak_mm=None, dome="flat")]
    fallen = 0
    for at in rounds(start=feed.at, end=until, late_minutes=late_minutes, every_minutes=every_minutes):
        hours = (at - feed.at).total_seconds() / 3600
        last = at + timedelta(minutes=every_minutes) > until
        if hours < not_before or (not last and draws.uniform(feed.name, at, "missed") < truth.missed_look_fraction):
            continue
        surface = dome(hours=hours, peak=peak)
        true_mm = height_mm(hours=hours, peak=peak, start_mm=start_mm, rise_mm=rise_mm)
        read = round(true_mm + truth.reading_sd_mm * draws.normal(feed.name, at, "read"))
        streak = round(start_mm + rise_mm + truth.reading_sd_mm * draws.normal(feed.name, at, "streak"))
        blind = draws.uniform(feed.name, at, "blind") < truth.missing_height_fraction
        seen.append(
            Look(
                at=at,
                height_mm=None if blind else read,
                streak_mm=streak if surface == "fallen" else None,
                dome=surface,
            )
        )
        fallen += surface == "fallen"
        if fallen == 2:
            break
    return tuple(seen)


def baseline(*, truth: Truth, name: str, draws: Stream) -> Iterator[FeedSeen]:
    """Give the five feeds in form of one culture, one a day, seen until they have fallen."""
    for number, (day, (ratio, nominal_c)) in enumerate(zip(BASELINE_DAYS, BASELINE_FEEDS, strict=True), start=1):
        at = wall(day, BASELINE_AT)
        temp_c = place_temp_c(truth=truth, nominal_c=nominal_c, at=at, draws=draws)
        feed = FedJar(
            name=f"{name}-home/{number}",
            at=at,
            culture=truth.cultures[name],
            place_temp_c=temp_c,
            dilution=1 + 2 * ratio,
            owed_doublings=0.0,
        )
        looks = looks_at(
            truth=truth,
            feed=feed,
            until=wall(day, STOPPED_AT),
            late_minutes=5,
            every_minutes=BASELINE_LOOK_EVERY_MINUTES,
            draws=draws,
            peak=peak_hours(truth=truth, feed=feed, draws=draws),
        )
        yield FeedSeen(
            feed=number, kind="baseline", at=at, ratio=ratio, rye_fraction=0.0, place_temp_c=temp_c, looks=looks
        )


def recovery(*, truth: Truth, cell: Cell, draws: Stream) -> Iterator[FeedSeen]:
    """Give the recovery feeds of one jar until the trial stopped, whether it had recovered or not."""
    culture, day = truth.cultures[cell.culture], RECOVERY_DAYS[cell.block - 1]
    carried = jar_carried_fraction(truth=truth, cell=cell, draws=draws)
    owed = owed_on_return(truth=truth, cell=cell, culture=culture, draws=draws)
    at, stopped = wall(day, FED_AT, minutes=cell.position), wall(day + timedelta(days=STOPPED_DAY), STOPPED_AT)
    last_feed = wall(day + timedelta(days=LAST_FEED_DAY), LAST_FEED_AT)
    number = 1
    while at <= last_feed:
        temp_c = place_temp_c(truth=truth, nominal_c=cell.place_temp_c, at=at, draws=draws)
        ratio = recovery_ratio(cell=cell, at=at)
        feed = FedJar(
            name=f"{cell.jar}/{number}",
            at=at,
            culture=culture,
            place_temp_c=temp_c,
            dilution=1 + 2 * ratio,
            owed_doublings=owed,
        )
        peak = peak_hours(truth=truth, feed=feed, draws=draws)
        fed_next = next_feed(cell=cell, feed=feed, peak=peak)
        until = min(stopped, fed_next)
        looks = looks_at(truth=truth, feed=feed, until=until, late_minutes=cell.position, draws=draws, peak=peak)
        yield FeedSeen(
            feed=number,
            kind="recovery",
            at=at,
            ratio=ratio,
            rye_fraction=cell.rye_fraction,
            place_temp_c=temp_c,
            looks=looks,
        )
        owed = owed_next(feed=feed, hours=(fed_next - at).total_seconds() / 3600, carried_fraction=carried)
        at, number = fed_next, number + 1


def recovery_ratio(*, cell: Cell, at: datetime) -> int:
    """Return the flour (and water) for one part of starter: 2, or 10 for an evening feed in the warm box."""
    evening = at.astimezone(ZONE).time() >= EVENING_FROM
    return EVENING_RATIO if evening and cell.place_temp_c > EVENING_ABOVE_C else RECOVERY_RATIO


def next_feed(*, cell: Cell, feed: FedJar, peak: float) -> datetime:
    """Return when a jar is fed next: twelve hours on by the kitchen's clock, or at the first round that finds it ripe."""
    if cell.at_peak:
        ripe = feed.at + timedelta(hours=peak)
        later = rounds(start=ripe, end=ripe + timedelta(days=1), late_minutes=cell.position)
        return next(later) + timedelta(minutes=CARRY_TO_PLACE_MINUTES)
    local = feed.at.astimezone(ZONE)
    day, clock = (local.date(), time(21, 0)) if local.hour < 15 else (local.date() + timedelta(days=1), FED_AT)
    return wall(day, clock, minutes=cell.position)
