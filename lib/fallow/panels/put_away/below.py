"""What stands below the picture: the acts, the cold and the return, what would be better, what to mind, the pinned plans."""

from __future__ import annotations

import math
from collections.abc import Callable

import pandas as pd

from fallow.maths.cold import CREEP, STOP
from fallow.maths.defaults import DEFAULTS
from fallow.panels.controls.markup import Head, Part
from fallow.panels.put_away import words
from fallow.panels.put_away.asked import Asked
from fallow.plans.advice import RESERVE_AFTER_DAYS
from fallow.plans.put_away import PutAway
from fallow.plans.sides import LAB, YEAST

STORIES = (
    "Nobody knows whether growth goes on in your fridge. Creep: it goes on slowly, below the coldest temperature anyone "
    "measured. Stop: it stands still where the authors saw none. The answer and the solid lines are creep's."
)
NO_NUMBER = (
    "Flour and stiffness move no hour here, and days past ripe add nothing of their own to what is owed: no number is "
    "published for either."
)


def parts(asked: Asked) -> list[Part]:
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
        *asked.known.guesses({"days_held": plan.days_held, "hold_temp_c": asked.shelf_c}),
        feeds_to_come(plan),
        Head("What would be better"),
        better(plan),
        NO_NUMBER,
        Head("Mind"),
        *minded(asked),
    ]


def acts(asked: Asked) -> pd.DataFrame:
    """Return what is to be done, with its hour and its grams."""
    rows = [(words.full(act.at), act.title, act.text) for act in asked.plan.acts]
    return pd.DataFrame(rows, columns=["when", "what", "how"])


def cold_and_return(plan: PutAway) -> pd.DataFrame:
    """Return, a column a story: when each clock is ripe, the days past that, what is owed and its two parts."""
    columns = {}
    for story, owed in ((CREEP, plan.owed_doublings), (STOP, plan.owed_by_stop)):
        columns[story.word] = [
            *(
                each
                for clock in (YEAST, LAB)
                for each in (words.after_days(plan, clock, story), words.days_past(plan, clock, story))
            ),
            words.owed_text(owed),
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
        f"In form again, owing half a doubling at most: likely after {words.feeds_text(peak)} if each is left to its peak; after "
        f"{words.feeds_text(clock)} if fed {clock['schedule']}. A doubling is the culture growing to twice its number; what it "
        "owes, the feeds earn back on top of their own."
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


def side_by_side(pinned: dict[str, Asked]) -> list[str | pd.DataFrame]:
    """Return pinned plans as columns, one row a number; what is the same in all of them stands in a sentence."""
    rows: dict[str, Callable[[Asked], str]] = {
        "leave": lambda a: words.full(a.leave),
        "back": lambda a: words.full(a.back),
        "culture": lambda a: a.culture,
        "kitchen": lambda a: a.plan.asked.place.text.partition(", ")[2],
        "cold place": lambda a: f"{a.shelf_c:g} °C",
        "last feed": lambda a: f"{words.full(a.plan.feed_at)}, {words.grams(a.plan)}",
        "chill": lambda a: f"{words.full(a.plan.chill_at)}, {100 * a.plan.ripe_fraction_at_chill:.0f} % done",
        "risen in the cold, creep": lambda a: words.when(a.plan, YEAST, CREEP),
        "sour in the cold, creep": lambda a: words.when(a.plan, LAB, CREEP),
        "risen in the cold, stop": lambda a: words.when(a.plan, YEAST, STOP),
        "owes on return, creep": lambda a: words.owed_text(a.plan.owed_doublings),
        "owes on return, stop": lambda a: words.owed_text(a.plan.owed_by_stop),
        "feeds, each to its peak": lambda a: words.feeds_text(a.plan.likely_feeds.iloc[0]),
    }
    told = {name: [row(one) for one in pinned.values()] for name, row in rows.items()}
    alike = [name for name, cells in told.items() if len(pinned) > 1 and len(set(cells)) == 1]
    table = pd.DataFrame([(name, *cells) for name, cells in told.items() if name not in alike], columns=["", *pinned])
    return [table, f"The same in all: {'; '.join(f'{name} {told[name][0]}' for name in alike)}." if alike else ""]


def jar_text(asked: Asked) -> str:
    """Return how big a jar it takes."""
    need = math.ceil(asked.risen_ml / 50) * 50
    said = f"At its peak it fills about {need:g} ml"
    if asked.jar_ml is None:
        return f"{said}: take a jar that holds more."
    if asked.jar_ml < need:
        return f"{said}, more than your jar's {asked.jar_ml:g} ml: it would run over. Take a larger jar or less flour."
    return f"{said}; your jar holds {asked.jar_ml:g} ml."


def minded(asked: Asked) -> list[str]:
    """Return what can hurt somebody, and whose numbers these are."""
    hottest = asked.plan.asked.place.hottest_c
    warm = (
        f"Your kitchen is {hottest:g} °C. Above {DEFAULTS.warn_above_c:g} °C the yeast slows while the acid goes on: "
        "a cooler place is safer for the culture."
    )
    return [*([warm] if hottest > DEFAULTS.warn_above_c else []), *asked.plan.cautions, asked.known.told_of(asked.flours)]


def _why_reserve(plan: PutAway) -> str:
    if not plan.reserve:
        return ""
    weeks = RESERVE_AFTER_DAYS / 7
    return f"More than {weeks:g} weeks away: first of all comes a reserve, so that one spoiled jar does not end the culture."


def _change(value: float, unit: str, more: str, less: str, digits: int) -> str:
    if math.isnan(value):
        return ""
    if abs(value) < 0.5 * 10**-digits:
        return "no change"
    return f"{abs(value):.{digits}f} {unit} {more if value > 0 else less}"
