"""What the open jar's record makes of the question: what is known better than a start value, and the feeds so far."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pandas as pd

from fallow.maths.feeds import Feed
from fallow.panels.one_jar.asked import USUAL_FEED, Asked
from fallow.panels.one_jar.underway import STARTING_HOURS, Seen, Underway
from fallow.plans.look import Top
from fallow.records.one_jar import Stage, Standing


def known(asked: Asked, now: Standing) -> Asked:
    """Return the question with what the open jar's record knows better than a start value."""
    last = now.feeds[now.feeds["feed"] == 0]
    zone = asked.now.tz
    if len(last):
        row = last.iloc[-1].to_dict()
        asked = replace(asked, fed_at=pd.Timestamp(row["at"]).tz_convert(zone), last_feed=feed_of(row))
    if now.put_away_at is not None:
        asked = replace(asked, put_away_at=now.put_away_at.tz_convert(zone))
    if now.hold_temp_c is not None:
        asked = replace(asked, hold_temp_c=now.hold_temp_c)
    return asked if now.out_at is None else replace(asked, out_at=now.out_at.tz_convert(zone))


def underway(asked: Asked, now: Standing, *, zone: str) -> Underway | None:
    """Return the feeds after the cold with the looks at the newest; None before the first."""
    if now.stage is not Stage.BACK or now.next_feed == 1:
        return None
    given = given_feeds(now.feeds, zone=zone)
    first, newest = given[0][0], given[-1][0]
    start = start_height(now.looks, fed_at=newest)
    looks = [
        Seen(
            at=pd.Timestamp(row["at"]).tz_convert(zone),
            height=None if pd.isna(row["height"]) else float(row["height"]),
            start=start,
            top=Top.NOT_SAID if pd.isna(row["dome"]) else Top(row["dome"]),
        )
        for row in now.looks.to_dict("records")
    ]
    mix = asked.mix_at if asked.mix_at > first else newest + pd.Timedelta(hours=24)
    temp_c = now.feeds["place_temp_c"].iloc[-1]
    kitchen_c = asked.kitchen_c if pd.isna(temp_c) else float(temp_c)
    begun = replace(asked, now=first, out_at=first, mix_at=mix, kitchen_c=kitchen_c)
    last = max([newest, *(look.at for look in looks)])
    return Underway(
        asked=begun, given=given, looks=looks, dough_ahead=asked.mix_at > last and asked.mix_at >= asked.now
    )


def fed_text(now: Standing, *, zone: str) -> str:
    """Return when the last feed before the cold was given, as the box for it takes it; empty without one."""
    last = now.feeds.loc[now.feeds["feed"] == 0, "at"]
    return f"{pd.Timestamp(last.iloc[-1]).tz_convert(zone):%Y-%m-%d %H:%M}" if len(last) else ""


def given_feeds(feeds: pd.DataFrame, *, zone: str) -> list[tuple[pd.Timestamp, Feed]]:
    """Return the recorded recovery feeds in order; one without all its grams counts as the usual feed of this page."""
    found = []
    for row in feeds[feeds["feed"] >= 1].to_dict("records"):
        found.append((pd.Timestamp(row["at"]).tz_convert(zone), feed_of(row)))
    return found


def feed_of(row: Mapping[Any, Any]) -> Feed:
    """Return what went into one recorded feed; the usual feed of this page where grams are missing."""
    numbers = [float(str(row[name])) for name in ("seed_g", "water_g", "flour_g")]
    if any(math.isnan(number) for number in numbers):
        return USUAL_FEED
    named = {name.removesuffix("_g"): float(str(row[name])) for name in row if str(name).endswith("_g")}
    flours = {name: grams for name, grams in named.items() if name not in ("seed", "water", "flour") and grams > 0}
    return Feed(seed_g=numbers[0], water_g=numbers[1], flours_g=flours)


def start_height(looks: pd.DataFrame, *, fed_at: pd.Timestamp) -> float | None:
    """Return the first height written down within a quarter of an hour of the feed, or None."""
    early = looks[(looks["at"] - fed_at).dt.total_seconds() <= 3600 * STARTING_HOURS]
    heights = early["height"].dropna()
    return float(heights.iloc[0]) if len(heights) and heights.iloc[0] > 0 else None
