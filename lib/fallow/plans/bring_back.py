"""Bring a jar back from the cold: the chain of feeds, in grams and hours, that has it ready for the dough."""

from __future__ import annotations

from collections.abc import Mapping

from fallow.maths.arguments import not_negative, positive
from fallow.maths.defaults import DEFAULTS
from fallow.maths.feeds import checked_shares
from fallow.plans.clock import Awake, Moment, hours_between, instant
from fallow.plans.draws import Culture
from fallow.plans.hold import HOURS_A_DAY
from fallow.plans.mass import Wish
from fallow.plans.nearest import planned
from fallow.plans.places import Warmth, cold_shelf, read_places
from fallow.plans.plan import BringBack
from fallow.plans.setting import (
    COOLING_HOURS,
    FLOURS,
    Estimate,
    Setting,
    chance_asked,
    identified,
    owed_doublings,
    started,
)


def bring_back(
    *,
    home_at: Moment,
    mix_at: Moment,
    ripe_g: float = 150.0,
    keep_g: float = 20.0,
    places: Mapping[str, Warmth],
    awake: tuple[str, str] = ("07:00", "22:30"),
    days_held: float = 21.0,
    hold_temp_c: float = 4.0,
    owed: float | Estimate | None = None,
    owed_on: Moment | None = None,
    scale_g: float = 1.0,
    chance: float = 0.9,
    flours: Mapping[str, float] | None = None,
    hydration_fraction: float = 1.0,
    jar_g: float = 100.0,
    flour_on_hand_g: float = float("inf"),
    culture: Culture | None = None,
    jar: str = "",
    time_zone: str | None = None,
    seed: int = 1,
) -> BringBack:
    """Return the chain of feeds that costs least flour and discard and is ready at ``mix_at`` with at least ``chance``.

    Within given hours every dilution follows from the ledger; hours, places and the number of feeds (1 to 4) are
    searched.

    Parameters
    ----------
    home_at, mix_at
        When feeding can begin and when dough is mixed: ISO text with offset, or aware times; or name a ``time_zone``.
    ripe_g, keep_g
        Grams of ripe starter for the dough, and to go on with.
    places
        Name to degC; a pair is (day, night). Above 28 degC is warned of, above 30 refused.
    awake
        From when to when somebody can feed; no feed outside it.
    days_held, hold_temp_c, owed
        How long and how cold the hold was until ``home_at``; ``owed`` (doublings, or a put-away plan's ``owed_doublings``)
        replaces the days. A plan begins four days before the dough at most: until then the jar stays in that cold.
    owed_on
        When ``owed`` is owed: the return of a put-away plan, say; ``home_at`` where nothing is said. Days in the cold after it
        are added; for a return still to come nothing is taken off.
    scale_g, jar_g, flour_on_hand_g
        What the scale can show, what stands in the old jar, how much flour there is.
    jar
        Which jar, when several are brought back on one day; the calendar tells their events apart by it.

    Raises
    ------
    ValueError
        For input that means nothing. A wish that cannot be met is no error: ``reason`` says why, ``nearest`` what
        would.

    Examples
    --------
    >>> plan = bring_back(home_at="2026-05-15T19:00+02:00", mix_at="2026-05-17T09:00+02:00",
    ...                   places={"kitchen": 22, "warm box": 28})
    >>> len(plan.feeds), plan.reason, plan.ready_chance >= 0.9
    (2, '', True)
    """
    home, mix = instant("home_at", home_at, time_zone=time_zone), instant("mix_at", mix_at, time_zone=time_zone)
    start = started(home=home, mix=mix)
    if owed_on is not None and owed is None:
        message = f"owed_on is {owed_on}, and nothing is said of what is owed then. Give owed too, or days_held alone."
        raise ValueError(message)
    since = home if owed_on is None else instant("owed_on", owed_on, time_zone=time_zone)
    waits = max(hours_between(since, start), 0.0) / HOURS_A_DAY
    mean, sd = owed_doublings(owed=owed, days_held=days_held, hold_temp_c=hold_temp_c, waits_days=waits)
    setting = Setting(
        start=start,
        mix=mix.tz_convert(home.tzinfo),
        awake=Awake.read(awake),
        places=read_places(places),
        wish=Wish(
            ripe_g=float(positive("ripe_g", ripe_g)),
            keep_g=float(not_negative("keep_g", keep_g)),
            loss_g=DEFAULTS.transfer_loss_g,
            seed_least_g=DEFAULTS.least_seed_divisions * float(positive("scale_g", scale_g)),
            jar_g=float(positive("jar_g", jar_g)),
            flour_fraction=1 / (1 + float(positive("hydration_fraction", hydration_fraction))),
        ),
        flours=_shares(flours),
        hydration_fraction=float(hydration_fraction),
        scale_g=float(scale_g),
        chance=chance_asked(chance),
        culture=Culture() if culture is None else culture,
        owed_mean=mean,
        owed_sd=sd,
        fridge_temp_c=cold_shelf("hold_temp_c", hold_temp_c),
        cooling_hours=COOLING_HOURS,
        flour_on_hand_g=float(flour_on_hand_g),
        seed=seed,
        identity=identified(kind="bring back", jar=jar, day=home),
    )
    return planned(setting)


def _shares(flours: Mapping[str, float] | None) -> Mapping[str, float]:
    """Return checked shares; no flour at all is kept as such, for the plan to say."""
    if flours is None:
        return FLOURS
    return checked_shares(flours) if flours else {}
