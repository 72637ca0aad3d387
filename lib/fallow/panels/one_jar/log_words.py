"""What stands above the forms: where the jar is, what to write down next, and the looks so far."""

from __future__ import annotations

import pandas as pd

from fallow.panels.controls.markup import Head, Part
from fallow.panels.one_jar.asked import said_day
from fallow.plans import cautions
from fallow.records.one_jar import Stage, Standing

LATEST_LOOKS = 8


def heading(now: Standing | None, *, today: pd.Timestamp, zone: str) -> list[Part]:
    """Return where the jar stands, what to write down next, and the caution that goes with it."""
    if now is None:
        return [
            Head("Write it down"),
            "Nothing is written down yet. Save the last feed before the fridge, and this page goes on from there; "
            "it keeps everything in the folder experiments, and finds it again next time.",
        ]
    say, caution = _WORDS[now.stage]
    return [Head("Write it down"), say(now, today, zone), caution]


def looks_table(now: Standing | None, *, today: pd.Timestamp, zone: str) -> pd.DataFrame:
    """Return the latest looks at the newest feed."""
    if now is None:
        return pd.DataFrame()
    seen = now.looks.tail(LATEST_LOOKS)
    return pd.DataFrame(
        {
            "seen at": [hour(pd.Timestamp(at), today=today, zone=zone) for at in seen["at"]],
            "height": ["" if pd.isna(height) else f"{height:g} mm" for height in seen["height"]],
            "top": ["" if pd.isna(top) else str(top) for top in seen["dome"]],
        }
    )


def hour(at: pd.Timestamp, *, today: pd.Timestamp, zone: str) -> str:
    """Return weekday, date and hour on the kitchen's clock.

    >>> hour(pd.Timestamp("2026-12-18T07:00Z"), today=pd.Timestamp("2026-12-20T09:00Z"), zone="Europe/Berlin")
    'Fri 18 Dec 08:00'
    """
    return said_day(at.tz_convert(zone), now=today)


def _hour(at: pd.Timestamp | None, today: pd.Timestamp, zone: str) -> str:
    return "" if at is None else hour(at, today=today, zone=zone)


def _since(now: Standing, today: pd.Timestamp, zone: str) -> str:
    return hour(pd.Timestamp(now.feeds["at"].iloc[-1]), today=today, zone=zone) if len(now.feeds) else ""


def _fed(now: Standing, today: pd.Timestamp, zone: str) -> str:
    return f"The jar was fed {_since(now, today, zone)}. Write down when it goes into the fridge."


def _cold(now: Standing, today: pd.Timestamp, zone: str) -> str:
    where = now.hold_place if now.hold_temp_c is None else f"{now.hold_place}, {now.hold_temp_c:g} °C"
    return (
        f"The jar is in the fridge since {_hour(now.put_away_at, today, zone)}, {where}. Write down when it comes out."
    )


def _at_home(now: Standing, today: pd.Timestamp, zone: str) -> str:
    last = f" Last ordinary feed: {_since(now, today, zone)}." if len(now.feeds) else ""
    return (
        f"No holiday is open.{last} Save the last feed before the fridge to begin one; ordinary feeds, looked at until "
        "they fall, teach the page your culture's pace."
    )


def _back(now: Standing, today: pd.Timestamp, zone: str) -> str:
    if not len(now.feeds) or now.next_feed == 1:
        return f"The jar is out of the fridge since {_hour(now.out_at, today, zone)}. Write down feed 1."
    return (
        f"Feed {now.feed} stands since {_since(now, today, zone)}. Write its height down when you look; "
        f"feed {now.next_feed} goes below when you give it."
    )


_WORDS = {
    Stage.AT_HOME: (_at_home, cautions.RAW_FLOUR),
    Stage.FED: (_fed, cautions.CLOSED_LID),
    Stage.COLD: (_cold, cautions.SPOILED),
    Stage.BACK: (_back, cautions.SPOILED),
}
