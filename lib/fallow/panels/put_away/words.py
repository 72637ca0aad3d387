"""What the page says: one sentence, the acts, the cold, the return, what would be better, and what to mind."""

from __future__ import annotations

import math

import pandas as pd

from fallow.maths.cold import CREEP, STOP, ColdScenario
from fallow.maths.defaults import DEFAULTS
from fallow.panels.controls.markup import Head, Part
from fallow.panels.put_away.asked import Asked
from fallow.plans.advice import RESERVE_AFTER_DAYS
from fallow.plans.clock import after
from fallow.plans.hold import HOURS_A_DAY, Owed
from fallow.plans.put_away import PutAway
from fallow.plans.sides import LAB, YEAST, Clock

_FAR_DAYS = 365.0
STORIES = (
    "Nobody knows whether growth goes on in your fridge. Creep: it goes on slowly, below the coldest temperature anyone "
    "measured. Stop: it stands still where the authors saw none. The answer and the solid lines are creep's."
)
NO_NUMBER = (
    "Flour and stiffness move no hour here, and days past ripe add nothing of their own to what is owed: no number is "
    "published for either."
)
MORE_FLOUR = "The grams are for the new flour you chose; more flour in the same ratio keeps the same hours."


def sentence(asked: Asked) -> str:
    """Return the answer: feed, chill, when ripe in the cold with both ends and both stories, and the feeds to come."""
    plan = asked.plan
    ripe = f"ripe {_when(plan, YEAST, CREEP)} by {CREEP}, {_stopped(plan)}"
    feeds = plan.likely_feeds.iloc[0]
    return f"Feed {_moment(plan.feed_at, asked)}, chill {_chill(plan, asked)}: {ripe}; {_between(feeds, to='recover')}."


def below(asked: Asked) -> list[Part]:
    """Return everything below the picture, in order."""
    plan = asked.plan
    return [
        Head("What to do"),
        _why_reserve(plan),
        acts(asked),
        f"When chilled, {100 * plan.ripe_fraction_at_chill:.0f} % of its growth is done (in doublings, not in height). {jar_text(asked)}",
        Head("In the cold, and on return"),
        STORIES,
        cold_and_return(plan),
        feeds_to_come(plan),
        Head("What would be better"),
        better(plan),
        NO_NUMBER,
        Head("Mind"),
        *minded(asked),
    ]


def acts(asked: Asked) -> pd.DataFrame:
    """Return what is to be done, with its hour and its grams."""
    rows = [(full(act.at), act.title, act.text) for act in asked.plan.acts]
    return pd.DataFrame(rows, columns=["when", "what", "how"])


def cold_and_return(plan: PutAway) -> pd.DataFrame:
    """Return, a column a story: when each clock is ripe, the days past that, what is owed and its two parts."""
    columns = {}
    for story, owed in ((CREEP, plan.owed_doublings), (STOP, plan.owed_by_stop)):
        columns[story.word] = [
            *(each for clock in (YEAST, LAB) for each in (_after(plan, clock, story), _past(plan, clock, story))),
            _owed_text(owed),
            f"{owed.chilled_young_doublings:.1f}",
            f"{owed.cold_doublings:.1f}",
        ]
    names = ["risen (yeast clock)", "days past it on return", "sour (sour clock)", "days past it on return"]
    owes = ["owes on return", "of it: chilled young", "of it: days in the cold"]
    return pd.DataFrame({"": names + owes, **columns})


def feeds_to_come(plan: PutAway) -> str:
    """Return how many feeds that likely means: each left to its peak, and by the clock."""
    peak, clock = (row for _, row in plan.likely_feeds.iterrows())
    return (
        f"Until it owes half a doubling at most: likely {_between(peak)} if each is left to its peak, {_between(clock)} if fed "
        f"{clock['schedule']}. A doubling is the culture growing to twice its number; what it owes, feeds earn back on top "
        "of their own."
    )


def better(plan: PutAway) -> pd.DataFrame:
    """Return what would keep it longer, each with its change in days to ripe and in doublings owed."""
    table = plan.better
    return pd.DataFrame(
        {
            "change": table["change"],
            "ripe in the cold": [_change(days, "days", "later", "sooner", 0) for days in table["days_more"]],
            "owed on return": [_change(more, "doublings", "more", "less", 1) for more in table["owed_more"]],
            "but": table["note"],
        }
    )


def side_by_side(pinned: dict[str, Asked]) -> pd.DataFrame:
    """Return pinned plans as columns, one row a number."""
    rows = {
        "leave": lambda a: full(a.leave),
        "back": lambda a: full(a.back),
        "culture": lambda a: a.culture,
        "kitchen": lambda a: a.plan.asked.place.text.partition(", ")[2],
        "cold place": lambda a: f"{a.shelf_c:g} °C",
        "last feed": lambda a: f"{full(a.plan.feed_at)}, {grams(a.plan)}",
        "chill": lambda a: f"{full(a.plan.chill_at)}, {100 * a.plan.ripe_fraction_at_chill:.0f} % done",
        "risen in the cold, creep": lambda a: _when(a.plan, YEAST, CREEP),
        "sour in the cold, creep": lambda a: _when(a.plan, LAB, CREEP),
        "risen in the cold, stop": lambda a: _when(a.plan, YEAST, STOP),
        "owes on return, creep": lambda a: _owed_text(a.plan.owed_doublings),
        "owes on return, stop": lambda a: _owed_text(a.plan.owed_by_stop),
        "feeds, each to its peak": lambda a: _between(a.plan.likely_feeds.iloc[0]),
    }
    table = {"": list(rows)} | {name: [row(one) for row in rows.values()] for name, one in pinned.items()}
    return pd.DataFrame(table)


def grams(plan: PutAway) -> str:
    """Return a feed's grams in a few words."""
    flours = ", ".join(f"{each:g} g {name}" for name, each in plan.feed.flours_g.items())
    return f"{plan.feed.seed_g:g} g seed, {plan.feed.water_g:g} g water, {flours}"


def jar_text(asked: Asked) -> str:
    """Return how big a jar it takes."""
    need = math.ceil(asked.risen_ml / 50) * 50
    said = f"At its peak it fills about {need:g} ml"
    if asked.jar_ml is None:
        return f"{said}: take a jar that holds more. {MORE_FLOUR}"
    if asked.jar_ml < need:
        return f"{said}, more than your jar's {asked.jar_ml:g} ml: it would run over. Take a larger jar or less flour."
    return f"{said}; your jar holds {asked.jar_ml:g} ml. {MORE_FLOUR}"


def minded(asked: Asked) -> list[str]:
    """Return what can hurt somebody, and whose numbers these are."""
    hottest = asked.plan.asked.place.hottest_c
    warm = (
        f"Your kitchen is {hottest:g} °C. Above {DEFAULTS.warn_above_c:g} °C the yeast slows while the acid goes on: "
        "a cooler place is safer for the culture."
    )
    return [*([warm] if hottest > DEFAULTS.warn_above_c else []), *asked.plan.cautions, asked.known.told]


def _why_reserve(plan: PutAway) -> str:
    if not plan.reserve:
        return ""
    weeks = RESERVE_AFTER_DAYS / 7
    return f"More than {weeks:g} weeks away: make the reserve first, so that one spoiled jar is not the end of the culture."


def _owed_text(owed: Owed) -> str:
    return f"{owed.estimate:.1f} doublings ({owed.low:.1f} to {owed.high:.1f})"


def _between(row: pd.Series, *, to: str = "") -> str:
    """Return '2 feeds to recover (1 to 2)', without the ends where they are one."""
    ends = "" if row["low"] == row["high"] else f" ({row['low']} to {row['high']})"
    return f"{row['feeds']} feed{'' if row['feeds'] == 1 else 's'}{f' to {to}' if to else ''}{ends}"


def _after(plan: PutAway, clock: Clock, story: ColdScenario) -> str:
    low, _, high = plan.hold.days_to_ripe_between[clock.word, story.word]
    middle = plan.days_to_ripe_in_cold[clock.word, story.word]
    if middle > _FAR_DAYS:
        return "not within a year" + (f" (at the earliest {_days(low)} days)" if low <= _FAR_DAYS else "")
    return f"after {_days(middle)} days ({_days(low)} to {_days(high)})"


def _past(plan: PutAway, clock: Clock, story: ColdScenario) -> str:
    days = plan.days_past_ripe[clock.word, story.word]
    return f"{days:.0f}" if days >= 0.5 else "none"


def _when(plan: PutAway, clock: Clock, story: ColdScenario) -> str:
    """Return 'about 16 Dec (11 to 24 Dec)'."""
    low, middle, high = plan.hold.days_to_ripe_between[clock.word, story.word]
    if middle > _FAR_DAYS:
        return "not within a year" + (f" ({_date(plan, low)} at the earliest)" if low <= _FAR_DAYS else "")
    about = f"about {_date(plan, middle)}"
    start, end = _date(plan, low), _date(plan, high) if high <= _FAR_DAYS else "over a year"
    if start[-3:] == end[-3:]:
        start = start.split(" ")[0]
    return f"{about} ({start} to {end})"


def _stopped(plan: PutAway) -> str:
    days = plan.days_to_ripe_in_cold[YEAST.word, STOP.word]
    return f"{_date(plan, days)} by {STOP}" if days <= _FAR_DAYS else f"never by {STOP}"


def _date(plan: PutAway, days: float) -> str:
    day = after(plan.chill_at, days * HOURS_A_DAY)
    return f"{day.day} {day:%b}"


def _moment(at: pd.Timestamp, asked: Asked) -> str:
    """Return the weekday and hour, or the date where the weekday could be another week's."""
    near = (at - asked.now) < pd.Timedelta(days=6)
    return f"{at:%a %H:%M}" if near else f"{at.day} {at:%b %H:%M}"


def _chill(plan: PutAway, asked: Asked) -> str:
    same = plan.chill_at.date() == plan.feed_at.date()
    return f"{plan.chill_at:%H:%M}" if same else _moment(plan.chill_at, asked)


def full(at: pd.Timestamp) -> str:
    """Return 'Thu 3 Dec 12:30'."""
    return f"{at:%a} {at.day} {at:%b %H:%M}"


def _days(days: float) -> str:
    return f"{days:.0f}" if days <= _FAR_DAYS else "over 365"


def _change(value: float, unit: str, more: str, less: str, digits: int) -> str:
    if math.isnan(value):
        return ""
    if abs(value) < 0.5 * 10**-digits:
        return "no change"
    return f"{abs(value):.{digits}f} {unit} {more if value > 0 else less}"
