"""What stands below the picture: the acts, the cold and the return, what would be better, what to mind, the pinned plans."""

from __future__ import annotations

import math
from collections.abc import Callable

import pandas as pd

from fallow.maths.cold import CREEP, STOP
from fallow.panels.controls.markup import Head, Part
from fallow.panels.put_away import words
from fallow.panels.put_away.asked import Asked
from fallow.plans.advice import MOST_FEEDS, RESERVE_AFTER_DAYS
from fallow.plans.clock import day
from fallow.plans.put_away import PutAway
from fallow.plans.sides import LAB, YEAST

STORIES = (
    "Nobody knows whether growth goes on in your fridge. Creep: it goes on slowly, below the coldest temperature anyone "
    "measured. Stop: it stands still where the authors saw none. The answer and the thick lines are creep's, the thin lines stop's."
)
SO_SOON = (
    "You are back before the jar would be ripe in your kitchen, so the cold has nothing to keep back: it would only make the rise "
    "longer. When it is ripe, bake with it, feed it, or put it in the cold."
)
BORROWED = (
    "What the days in the cold take is borrowed from brewing yeast, watched for six days; for a longer stay that is carried on, "
    "which nobody has measured."
)
NO_NUMBER = (
    "Flour and stiffness move no hour here, and days past ripe add nothing of their own to what is owed: no number is "
    "published for either."
)


def parts(asked: Asked) -> list[Part]:
    """Return everything below the picture, in order."""
    plan = asked.plan
    if plan.on_bench is not None:
        return [Head("What to do"), acts(asked), jar_text(asked), SO_SOON, Head("Mind"), *minded(asked)]
    return [
        Head("What to do"),
        _why_reserve(plan),
        acts(asked),
        f"When chilled, {100 * plan.ripe_fraction_at_chill:.0f} % of its growth is done (in doublings, not in height). {jar_text(asked)}",
        Head("In the cold, and on return"),
        STORIES,
        cold_and_return(plan),
        still_rising(plan),
        BORROWED,
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
    rows = [(day(act.at), act.title, act.text) for act in asked.plan.acts]
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


def still_rising(plan: PutAway) -> str:
    """Say of a jar that is unripe on return what is owed if it is fed at once, and what if it finishes its rise."""
    if plan.finish is None:
        return ""
    return (
        f"Back before it is ripe, it wants only the rest of its rise in your kitchen, {plan.finish}; the "
        f"{plan.finish.cold_doublings:.1f} doublings that the cold took are in these hours. What it owes for being chilled young "
        "counts only if you feed from it at once."
    )


def feeds_to_come(plan: PutAway) -> str:
    """Return what the feeds above are counted by: being in form, the schedule of the clock, and a doubling."""
    never = (plan.likely_feeds[["feeds", "low", "high"]] >= MOST_FEEDS).any(axis=None)
    return (
        "In form: it owes half a doubling at most. By the clock: "
        f"{plan.likely_feeds['schedule'].iloc[1]}, from your return on"
        f"{f'; {MOST_FEEDS}+ is {MOST_FEEDS} or never' if never else ''}. A doubling is the "
        "culture growing to twice its number; what it owes, the feeds earn back on top of their own."
    )


def better(plan: PutAway) -> pd.DataFrame:
    """Return what would keep it longer, each with its change in days to ripe and in doublings owed."""
    table = plan.better
    owed = zip(table["owed_more"], table["owed_more_by_stop"], strict=True)
    return pd.DataFrame(
        {
            "change": table["change"],
            "ripe in the cold": [_change(days, "day", "later", "sooner", 0) for days in table["days_more"]],
            "owed on return": [_owed_change(creep, stop) for creep, stop in owed],
            "but": table["note"],
        }
    )


def side_by_side(pinned: dict[str, Asked]) -> list[str | pd.DataFrame]:
    """Return pinned plans as columns, one row a number; what is the same in all of them stands in a sentence."""
    rows: dict[str, Callable[[Asked], str]] = {
        "leave": lambda a: day(a.going),
        "back": lambda a: day(a.back),
        "culture": lambda a: a.culture,
        "kitchen": lambda a: a.plan.asked.place.text.partition(", ")[2],
        "cold place": lambda a: f"{a.shelf_c:g} °C",
        "last feed": lambda a: f"{day(a.plan.feed_at)}, {words.grams(a.plan)}",
        "chill": _held(lambda p: f"{day(p.chill_at)}, {100 * p.ripe_fraction_at_chill:.0f} % done"),
        "risen in the cold, creep": _held(lambda p: words.when(p, YEAST, CREEP)),
        "sour in the cold, creep": _held(lambda p: words.when(p, LAB, CREEP)),
        "risen in the cold, stop": _held(lambda p: words.when(p, YEAST, STOP)),
        "owes on return, creep": _held(lambda p: words.owed_text(p.owed_doublings)),
        "owes on return, stop": _held(lambda p: words.owed_text(p.owed_by_stop)),
        "on return": lambda a: _on_return(a.plan),
        "feeds, each to its peak": _held(lambda p: words.count_text(p.likely_feeds.iloc[0])),
        "feeds by the clock": _held(lambda p: words.count_text(p.likely_feeds.iloc[1])),
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
    return [*asked.plan.cautions, asked.known.told_of(asked.flours)]


def _why_reserve(plan: PutAway) -> str:
    if not plan.reserve:
        return ""
    weeks = RESERVE_AFTER_DAYS / 7
    return f"More than {weeks:g} weeks away: first of all comes a reserve, so that one spoiled jar does not end the culture."


def _held(cell: Callable[[PutAway], str]) -> Callable[[Asked], str]:
    """Return a cell of a stay in the cold; a jar that stays out has none."""
    return lambda asked: cell(asked.plan) if asked.plan.on_bench is None else "not in the cold"


def _on_return(plan: PutAway) -> str:
    if plan.on_bench is not None:
        return f"unripe; ripe {plan.on_bench.ripe}"
    return "ripe" if plan.finish is None else f"unripe; finishes in {plan.finish}"


def _owed_change(creep: float, stop: float) -> str:
    """Return what creep's change of the debt is, with stop's beside it where the two differ."""
    said, beside = (_change(more, "doubling", "more", "less", 1) for more in (creep, stop))
    return said if said == beside else f"{said} by {CREEP}, {beside} by {STOP}"


def _change(value: float, unit: str, more: str, less: str, digits: int) -> str:
    if math.isnan(value):
        return ""
    if abs(value) < 0.5 * 10**-digits:
        return "no change"
    said = f"{abs(value):.{digits}f}"
    return f"{said} {unit}{'' if said == '1' else 's'} {more if value > 0 else less}"
