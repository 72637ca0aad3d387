"""The acts of a plan: what is to be done when, in words with grams, for the calendar and the kitchen sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd
from pandas.api.typing import NaTType

from fallow.maths.feeds import Feed
from fallow.plans.clock import after
from fallow.plans.sentences import clock, flour_named, parts, ripe_between

LID = "Lid loose."
COLD_STARTER = " It comes cold from the fridge: give the dough a little longer."
TAKE_FROM_THE_MIDDLE = "Pour off or stir in liquid on top; take the seed from the middle of the jar."
KEEP_OLD_JAR = "Put the old jar back in the cold: keep it until {} has risen."


@dataclass(frozen=True, kw_only=True)
class Act:
    """One thing to do: a key that stays the same when a plan is made again, the hour, a title and the words below it.

    ``remind_minutes`` before the hour an alarm goes off; ``weighed`` names the grams that are written down when done, ``height``
    says that the jar's height is; ``feed`` is which feed on the way back it is of, 0 for none.
    """

    key: str
    at: pd.Timestamp
    title: str
    text: str
    minutes: int = 15
    remind_minutes: int = 15
    weighed: tuple[tuple[str, float], ...] = ()
    height: bool = False
    feed: int = 0


def feed_acts(
    *,
    table: pd.DataFrame,
    feeds: tuple[Feed, ...],
    mix: pd.Timestamp,
    ripe_g: float,
    standing: int,
    standing_cold_at: pd.Timestamp | NaTType,
    old_jar_stays: bool,
    in_the_cold: str,
) -> tuple[Act, ...]:
    """Return the acts of a bring-back plan in order: each feed, each look, each trip to the cold, and the dough.

    ``standing`` is the number of the feed before the first of the table, ``standing_cold_at`` when it goes to the cold (NaT
    if it does not); ``old_jar_stays`` tells whether the first seed leaves any of the old jar; ``in_the_cold`` says what a trip
    rests on.
    """
    acts: list[Act] = []
    kept = KEEP_OLD_JAR.format("this feed" if len(feeds) == 1 else "feed 2") if old_jar_stays else ""
    chilled = not pd.isna(standing_cold_at)
    if chilled:
        until = table["at"].iloc[0] if len(table) else mix
        acts.append(_to_the_cold(standing, _stamp(standing_cold_at), until, in_the_cold))
    for row, feed, until in zip(table.to_dict("records"), feeds, [*table["at"], mix][1:], strict=True):
        acts += _of_one_feed(row, feed, seed_is_cold=chilled, kept=kept)
        chilled = not pd.isna(row["cold_at"])
        if chilled:
            rests_on = in_the_cold if not any(act.key.startswith("cold") for act in acts) else ""
            acts.append(_to_the_cold(row["feed"], _stamp(row["cold_at"]), until, rests_on))
    text = f"Keep the rest to go on with.{COLD_STARTER if chilled else ''}"
    acts.append(Act(key="dough", at=mix, title=f"Mix dough: {ripe_g:g} g ripe starter", text=text, height=True))
    return tuple(sorted(acts, key=lambda act: act.at.tz_convert("UTC")))


def put_away_acts(
    *,
    feed: Feed,
    feed_at: pd.Timestamp,
    chill_at: pd.Timestamp,
    return_at: pd.Timestamp,
    water_c: float,
    flakes: str,
    second_jar: str,
) -> tuple[Act, ...]:
    """Return the acts of a put-away plan: flakes and a second jar where a reserve is wanted, the feed, chilling, the return."""
    acts = [Act(key="flakes", at=feed_at, title="First a reserve: flakes", text=flakes)] if flakes else []
    acts.append(
        Act(
            key="last feed",
            at=feed_at,
            title=f"Last feed before the cold, {parts(feed)}",
            text=f"{weighed_text(feed)} Water at {water_c:g} °C. {LID}",
            weighed=grams_of(feed),
        )
    )
    if second_jar:
        mixed = min(after(feed_at, 0.25), chill_at)
        acts.append(Act(key="second jar", at=mixed, title="The reserve's second jar", text=second_jar))
    chilled = f"Put {'both jars' if second_jar else 'the jar'} in the cold"
    apart = " The second on another shelf." if second_jar else ""
    acts += [
        Act(key="chill", at=chill_at, title=chilled, text=f"Still rising, as planned.{apart} {LID}", height=True),
        Act(
            key="back",
            at=return_at,
            title="Back: plan the feeds",
            text="Look, smell, then plan how to bring it back.",
            height=True,
        ),
    ]
    return tuple(acts)


def grams_of(feed: Feed) -> tuple[tuple[str, float], ...]:
    """Return what is weighed for a feed, in the order it is weighed."""
    return (("seed", feed.seed_g), ("water", feed.water_g), *((name, grams) for name, grams in feed.flours_g.items()))


def weighed_text(feed: Feed) -> str:
    """Return a feed's grams in words.

    >>> weighed_text(Feed(seed_g=20, water_g=100, flours_g={"bread": 80, "rye": 20}))
    '20 g seed, 100 g water, 80 g bread flour, 20 g rye flour.'
    """
    parts = [f"{feed.seed_g:g} g seed", f"{feed.water_g:g} g water"]
    parts += [f"{grams:g} g {flour_named(name)}" for name, grams in feed.flours_g.items()]
    return ", ".join(parts) + "."


def _of_one_feed(row: dict[Any, Any], feed: Feed, *, seed_is_cold: bool, kept: str) -> list[Act]:
    number, place = row["feed"], row["place"]
    first = f" {TAKE_FROM_THE_MIDDLE} {kept}".rstrip() if number == 1 else ""
    first = f" Its seed comes from feed {number - 1}, cold from the fridge." if seed_is_cold else first
    return [
        Act(
            key=f"feed {number}",
            at=_stamp(row["at"]),
            title=f"Feed {number}: {weighed_text(feed).removesuffix('.')}",
            text=f"Water at {row['water_temp_c']:.0f} °C. Then in the {place}. {LID}{first}",
            weighed=grams_of(feed),
            feed=number,
        ),
        Act(
            key=f"look {number}",
            at=_stamp(row["look_at"]),
            title=f"Look at feed {number}",
            text=f"Ripe {ripe_between(row)}. Write the height down.",
            minutes=5,
            remind_minutes=0,
            height=True,
            feed=number,
        ),
    ]


def _to_the_cold(number: int, at: pd.Timestamp, until: pd.Timestamp, in_the_cold: str) -> Act:
    """Return the act of carrying a feed to the fridge, where it waits for the next one."""
    return Act(
        key=f"cold {number}",
        at=at,
        title=f"Feed {number} to the cold until {clock(until)}",
        text=f"It would be long past ripe by then. {LID} {in_the_cold}".rstrip(),
        minutes=5,
        height=True,
        feed=number,
    )


def _stamp(value: Any) -> pd.Timestamp:
    return pd.Timestamp(value)
