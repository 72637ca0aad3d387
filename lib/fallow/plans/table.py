"""A chain as the table a baker reads: when, where, what to weigh, how warm the water, when to look, when ripe."""

from __future__ import annotations

import numpy as np
import pandas as pd
from pandas.api.typing import NaTType

from fallow.maths.feeds import Feed
from fallow.plans.clock import after, moments
from fallow.plans.outcome import Outcome, Step
from fallow.plans.seed_window import Made
from fallow.plans.setting import Setting
from fallow.plans.water import Water, place_temp_c

_LOOK_HOURS = 0.25


def feeds_table(*, made: Made, result: Outcome, latest: tuple[float, ...], setting: Setting) -> pd.DataFrame:
    """Return one row a feed; times are instants in the kitchen's zone, ripe_at the median with its 90 % interval."""
    stops = [step.at for step in made.steps[1:]] + [setting.hours]
    rows = [
        {
            "feed": number + 1 + setting.feeds_done,
            **_made(step=step, feed=feed, water=water, setting=setting),
            **_foreseen(step=step, stop=stop, between=result.ripe_between(number), setting=setting),
            "latest": moment(setting, late),
            "cold_at": moment(setting, step.cold_at),
            "advice": water.advice,
        }
        for number, (step, feed, water, late, stop) in enumerate(
            zip(made.steps, made.feeds, made.waters, latest, stops, strict=True)
        )
    ]
    return pd.DataFrame(rows)


def look_hour(*, low: float, step: Step, stop: float, setting: Setting) -> float:
    """Return when to look: the early end of ripe, moved into waking hours, before the next act where there is one."""
    hours = np.arange(step.at + 1.0, stop, _LOOK_HOURS)
    hours = hours[setting.awake.holds(moments(setting.start, hours))]
    if not len(hours):
        return stop
    later = hours[hours >= min(low, stop)]
    return float(later[0] if len(later) else hours[-1])


def moment(setting: Setting, hours: float) -> pd.Timestamp | NaTType:
    """Return an hour of the plan as an instant, NaT where it never comes."""
    return after(setting.start, hours) if np.isfinite(hours) else pd.NaT


def _made(*, step: Step, feed: Feed, water: Water, setting: Setting) -> dict[str, object]:
    return {
        "at": after(setting.start, step.at),
        "place": setting.places[step.place].name,
        "place_temp_c": place_temp_c(step=step, setting=setting),
        "seed_g": feed.seed_g,
        "water_g": feed.water_g,
        "flour_g": feed.flour_g,
        **{f"{name}_g": grams for name, grams in feed.flours_g.items()},
        "water_temp_c": water.temp_c,
        "mix_temp_c": round(water.mix_c, 1),
        "dilution": feed.dilution,
    }


def _foreseen(*, step: Step, stop: float, between: tuple[float, ...], setting: Setting) -> dict[str, object]:
    low, middle, high = between
    return {
        "look_at": after(setting.start, look_hour(low=low, step=step, stop=min(stop, step.cold_at), setting=setting)),
        "ripe_at": moment(setting, middle),
        "ripe_low": moment(setting, low),
        "ripe_high": moment(setting, high),
    }
