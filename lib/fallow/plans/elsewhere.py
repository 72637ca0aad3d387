"""What is near a wish that cannot be met: later dough, a warm place, other waking hours, flour, or less of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from fallow.maths.defaults import DEFAULTS
from fallow.plans.clock import Awake, after, next_half_hour
from fallow.plans.places import Place
from fallow.plans.plan import BringBack, nothing
from fallow.plans.sentences import clock
from fallow.plans.setting import FLOURS, Setting

WARM = Place(name="a warm place", day_c=27.0, night_c=27.0)
_HALF_HOURS = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5)
_HOURS = (4, 5, 6, 7, 8, 9, 10, 11, 12, 14, 16, 18, 20, 22, 24, 30, 36, 42, 48, 60, 72)
FINER_SCALES_G = (1.0, 0.1)
_USUAL_AWAKE = Awake(start=7.0, end=22.5)


@dataclass(frozen=True, kw_only=True)
class Ask:
    """How a changed setting is planned (with the words for the change), and whether it is worth planning."""

    plan: Callable[[Setting, str], BringBack]
    promising: Callable[[Setting], bool]


def elsewhere(setting: Setting, *, ask: Ask) -> tuple[BringBack, ...]:
    """Return the nearest later dough and the plan with a warm place, where they fit; chains of up to four feeds each.

    Where the flour in the house is too little for either: what they take.
    """
    awake = _USUAL_AWAKE if setting.awake.never else setting.awake
    found = _likelier(replace(setting, awake=awake), ask)
    if found or not np.isfinite(setting.flour_on_hand_g):
        return found
    return tuple(with_enough(plan) for plan in _likelier(replace(setting, awake=awake, flour_on_hand_g=np.inf), ask))


def _likelier(setting: Setting, ask: Ask) -> tuple[BringBack, ...]:
    found = (next(_later(setting, ask), None), _warmer(setting, ask))
    return tuple(plan for plan in found if plan is not None)


def with_flour(setting: Setting, *, ask: Ask) -> tuple[BringBack, ...]:
    """Return the plan with the usual flours, saying how much it needs."""
    plan = ask.plan(replace(setting, flours=FLOURS), "")
    return (replace(plan, change=f"With {plan.flour_g:g} g of flour, four fifths bread and one fifth rye."),)


def with_finer_scale(setting: Setting, *, ask: Ask) -> tuple[BringBack, ...]:
    """Return the plan, or those near it, with a scale that reads to 1 g or to 0.1 g, where the old jar gives such a seed."""
    for scale_g in FINER_SCALES_G:
        wish = replace(setting.wish, seed_least_g=DEFAULTS.least_seed_divisions * scale_g)
        if scale_g < setting.scale_g and wish.seed_least_g <= wish.most_seed_g:
            finer = replace(setting, scale_g=scale_g, wish=wish)
            plan = ask.plan(finer, "")
            found = elsewhere(finer, ask=ask) if plan.reason else (plan,)
            return _also(f"With a scale that reads to {scale_g:g} g.", found)
    return ()


def _also(change: str, plans: tuple[BringBack, ...]) -> tuple[BringBack, ...]:
    """Return plans with one more change said before their own."""
    return tuple(replace(plan, change=f"{change} {plan.change}".strip()) for plan in plans)


def with_enough(plan: BringBack) -> BringBack:
    """Return a plan with as much flour in the house as it takes, and nothing else against it."""
    setting = replace(plan.setting, flour_on_hand_g=plan.flour_g)
    change = f"{plan.change} With {plan.flour_g:g} g of flour in the house.".strip()
    return replace(plan, setting=setting, reason="", change=change, further=nothing)


def for_less_flour(plan: BringBack, *, ask: Ask) -> tuple[BringBack, ...]:
    """Return plans near one that lacks flour: less ripe starter, as much as the flour allows, and how much flour it takes."""
    return (*_smaller(plan, ask), with_enough(plan))


def _smaller(plan: BringBack, ask: Ask) -> tuple[BringBack, ...]:
    """Return the same wish with less ripe starter; none when the flour allows no feed."""
    setting, ripe_g = plan.setting, plan.setting.wish.ripe_g
    for share in np.arange(0.95, 0.0, -0.05):
        wish = replace(setting.wish, ripe_g=round(ripe_g * share))
        less = ask.plan(replace(setting, wish=wish), f"{wish.ripe_g:g} g of ripe starter instead of {ripe_g:g} g.")
        if less.reason == "":
            return (less,)
    return ()


def _later(setting: Setting, ask: Ask) -> Iterator[BringBack]:
    """Give plans for later dough, nearest first; a few draws rule most hours out before all are asked."""
    for hours in (0.0, *_HALF_HOURS, *_HOURS):
        mix = next_half_hour(after(setting.mix, hours))
        later = replace(setting, mix=mix)
        if not setting.awake.holds(pd.DatetimeIndex([mix]))[0] or not len(later.slots()) or not ask.promising(later):
            continue
        plan = ask.plan(later, _moved(setting, mix))
        if plan.reason == "":
            yield plan


def _warmer(setting: Setting, ask: Ask) -> BringBack | None:
    if max(place.hottest_c for place in setting.places) >= WARM.day_c or not len(setting.slots()):
        return None
    plan = ask.plan(replace(setting, places=(*setting.places, WARM)), f"With {WARM.text}.")
    return plan if plan.reason == "" else None


def _moved(setting: Setting, mix: pd.Timestamp) -> str:
    if mix == setting.mix:
        return "Feeding between 07:00 and 22:30."
    return f"Dough at {clock(mix)} instead of {clock(setting.mix)}."
