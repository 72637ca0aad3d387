"""Make a plan again after a look: what was seen updates what is believed, and the search runs from now."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from fallow.maths.arguments import positive
from fallow.plans import cautions
from fallow.plans.clock import Moment, after, day, hours_between, instant
from fallow.plans.from_now import planned_now
from fallow.plans.look import Look, Stands, Top, stands_at
from fallow.plans.plan import BringBack
from fallow.plans.setting import Setting
from fallow.plans.standing import Standing


def replan(
    plan: BringBack,
    *,
    look_at: Moment,
    height: float | None = None,
    start_height: float | None = None,
    peak_height: float | None = None,
    top: Top = Top.NOT_SAID,
    time_zone: str | None = None,
) -> BringBack:
    """Return the plan made again from ``look_at`` on, after a look at the feed that stands then.

    Parameters
    ----------
    height, start_height, peak_height
        The jar's height now, right after its feed, and at a usual peak (the culture's own rise where nothing is said), all
        in one unit. Not needed of a jar that is flat or fallen: its peak lies before the look, whatever its height.
    top
        How its top looks; where nothing is said, the height is that of a jar still rising.

    Raises
    ------
    ValueError
        When the look comes before the first feed or after the dough, or its heights do not go together.
    """
    setting = plan.setting
    at = instant("look_at", look_at, time_zone=time_zone).tz_convert(setting.start.tzinfo)
    stands = _standing(plan, at)
    seen = stands.seen(_look(top, height, start_height, peak_height, setting))
    again = replace(
        setting,
        start=at,
        revision=setting.revision + 1,
        feeds_done=stands.number,
        first_seed_c=stands.seed_c,
        wish=replace(setting.wish, jar_g=stands.jar_g),
    )
    made = planned_now(again, seen)
    source = None if made.course is None else made.course.source
    late = isinstance(source, Standing) and source.late(again.slots())
    minded = [cautions.LOOKS_DISAGREE] * seen.unlikely + [cautions.PAST_ITS_BEST] * late
    return replace(made, cautions=(*minded, *made.cautions))


def past_chance(plan: BringBack, *, look_at: Moment) -> float:
    """Return the chance, before anything is seen, that the feed that stands at a look is past its peak."""
    return _standing(plan, instant("look_at", look_at)).past_chance


def _standing(plan: BringBack, at: pd.Timestamp) -> Stands:
    """Return the feed that stands at an instant, or refuse one at which there is none to look at."""
    setting = plan.setting
    now = hours_between(setting.start, at)
    if now >= setting.hours:
        message = f"You looked {day(at)}, and the dough is mixed {day(setting.mix)}. Give the hour of a look before it."
        raise ValueError(message)
    stands = stands_at(plan, now=now)
    if stands is None:
        raise ValueError(_nothing_stands(plan, at))
    return stands


def _nothing_stands(plan: BringBack, at: pd.Timestamp) -> str:
    if not plan.steps:
        return f"You looked {day(at)}; this plan has no feed to look at then. Give the hour of a later look."
    first = after(plan.setting.start, plan.steps[0].at)
    return (
        f"You looked {day(at)}, and the first feed is planned for {day(first)}: no feed stands yet. Give the hour of a look "
        "after it, or say when it was really made."
    )


def _look(top: Top, height: float | None, start: float | None, peak: float | None, setting: Setting) -> Look:
    now, base, most = (None if tall is None else _tall(tall) for tall in (height, start, peak))
    if base is not None and now is not None and now < base and top is not Top.FALLEN:
        message = (
            f"The jar stands at {now:g}, lower than the {base:g} right after its feed; only a fallen one does. "
            "Say that it has fallen, or check the two heights."
        )
        raise ValueError(message)
    if top.past:
        return Look(top=top)
    if now is None or base is None:
        message = (
            "A jar that is neither flat nor fallen tells by its height how far it is. Give its height, and that right "
            "after its feed."
        )
        raise ValueError(message)
    most = base * setting.culture.rise_ratio if most is None else most
    if most <= base:
        message = f"The usual peak, {most:g}, must be higher than right after the feed, {base:g}. Check which is which."
        raise ValueError(message)
    return Look(top=top, height=now, start_height=base, peak_height=most)


def _tall(height: float) -> float:
    return float(positive("height", height))
