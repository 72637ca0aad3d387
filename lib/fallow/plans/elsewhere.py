"""What is near a wish that cannot be met: later dough, a warm place, other waking hours, flour, or less of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from fallow.maths.defaults import DEFAULTS
from fallow.plans.clock import Awake, after, next_half_hour
from fallow.plans.hold import HOURS_A_DAY
from fallow.plans.places import Place
from fallow.plans.plan import BringBack, nothing
from fallow.plans.sentences import clock
from fallow.plans.setting import FLOURS, Setting

WARM = Place(name="warmer place", day_c=27.0, night_c=27.0)
# Our choice: the least that the pages take.
LEAST_RIPE_G = 5.0
FINER_SCALES_G = (1.0, 0.1)
# Hours later, nearest first, in spans whose chains are begun together: the farther a span, the longer that takes.
_LATER_HOURS = (
    (0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5),
    (4, 5, 6, 7, 8, 9, 10, 11, 12),
    (14, 16, 18, 20, 22, 24),
    (30, 36, 42, 48),
    (60, 72),
)
_USUAL_AWAKE, _FEW_HOURS_AWAKE = Awake(start=7.0, end=22.5), 12.0


@dataclass(frozen=True, kw_only=True)
class Ask:
    """How a changed setting is planned: its plan, None where it does not fit; and which of ever later doughs are worth planning."""

    fits: Callable[[Setting], BringBack | None]
    worth: Callable[[Sequence[Setting]], Iterator[Setting]]


def elsewhere(setting: Setting, *, ask: Ask) -> tuple[BringBack, ...]:
    """Return the nearest later dough and the plan with a warm place, where they fit.

    Where the flour in the house is too little for either: what they take. Where nothing fits in the few hours somebody is
    awake: the same in the usual ones.
    """
    found = () if setting.awake.never else _by_hour_and_place(setting, ask)
    if found or setting.awake.hours_a_day > _FEW_HOURS_AWAKE:
        return found
    by_day = _by_hour_and_place(replace(setting, awake=_USUAL_AWAKE), ask)
    return tuple(_also("Feeding between 07:00 and 22:30.", plan) for plan in by_day)


def _by_hour_and_place(setting: Setting, ask: Ask) -> tuple[BringBack, ...]:
    found = _likelier(setting, ask)
    if found or not np.isfinite(setting.flour_on_hand_g):
        return found
    return tuple(with_enough(plan) for plan in _likelier(replace(setting, flour_on_hand_g=np.inf), ask))


def _likelier(setting: Setting, ask: Ask) -> tuple[BringBack, ...]:
    later = _later(setting, ask)
    if later is not None and later.setting.mix == setting.mix:
        return (later,)
    return tuple(plan for plan in (later, _warmer(setting, ask)) if plan is not None)


def with_flour(setting: Setting, *, ask: Ask) -> tuple[BringBack, ...]:
    """Return the plan with the usual flours, or those near it, saying how much flour it needs."""
    usual = replace(setting, flours=FLOURS)
    plan = ask.fits(usual)
    found = elsewhere(usual, ask=ask) if plan is None else (plan,)
    return tuple(
        _also(f"With {some.flour_g:g} g of flour, four fifths bread and one fifth rye.", some) for some in found
    )


def with_finer_scale(setting: Setting, *, ask: Ask) -> tuple[BringBack, ...]:
    """Return the plan, or those near it, with a scale that reads to 1 g or to 0.1 g, where the old jar gives such a seed."""
    for scale_g in FINER_SCALES_G:
        wish = replace(setting.wish, seed_least_g=DEFAULTS.least_seed_divisions * scale_g)
        if scale_g < setting.scale_g and wish.seed_least_g <= wish.most_seed_g:
            finer = replace(setting, scale_g=scale_g, wish=wish)
            plan = ask.fits(finer)
            found = elsewhere(finer, ask=ask) if plan is None else (plan,)
            return tuple(_also(f"With a scale that reads to {scale_g:g} g.", some) for some in found)
    return ()


def _also(change: str, plan: BringBack) -> BringBack:
    """Return a plan with one more change said before its own."""
    return replace(plan, change=f"{change} {plan.change}".strip())


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
        if wish.ripe_g < LEAST_RIPE_G:
            break
        less = ask.fits(replace(setting, wish=wish))
        if less is not None:
            return (replace(less, change=f"{wish.ripe_g:g} g of ripe starter instead of {ripe_g:g} g."),)
    return ()


def _later(setting: Setting, ask: Ask) -> BringBack | None:
    """Return the plan for the nearest later dough; a few draws rule most hours out before all are asked.

    Dough is mixed by somebody awake, or at the very hour that was asked for, days later.
    """
    for span in _LATER_HOURS:
        mixes = pd.DatetimeIndex([next_half_hour(after(setting.mix, hours)) for hours in span])
        can = setting.awake.holds(mixes) | (np.mod(span, HOURS_A_DAY) == 0)
        later = [replace(setting, mix=mix) for mix in mixes[can]]
        fed = [some for some in later if len(some.slots())]
        for some in ask.worth(fed) if fed else ():
            plan = ask.fits(some)
            if plan is not None:
                return replace(plan, change=_moved(setting, some.mix))
    return None


def _warmer(setting: Setting, ask: Ask) -> BringBack | None:
    if max(place.hottest_c for place in setting.places) >= WARM.day_c or not len(setting.slots()):
        return None
    plan = ask.fits(replace(setting, places=(*setting.places, WARM)))
    return None if plan is None else replace(plan, change=f"With a {WARM.text}.")


def _moved(setting: Setting, mix: pd.Timestamp) -> str:
    return "" if mix == setting.mix else f"Dough at {clock(mix)} instead of {clock(setting.mix)}."
