"""What the page is asked, without a widget in sight, and the plan that answers it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from fallow.charts.hold import hold_ledger
from fallow.charts.ledger_rows import Ledger
from fallow.charts.on_bench import bench_ledger
from fallow.maths.gas import STARTER_G_PER_ML
from fallow.panels.controls.cultures import Known
from fallow.plans.clock import after, hours_between
from fallow.plans.put_away import PutAway, put_away

BEFORE_HOURS = 24.0
NOW_HOURS, FEEDING_HOURS = 1 / 6, 0.25
_STEP = "5min"


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One journey, one jar, one kitchen; times in the kitchen's zone, temperatures in degC, grams.

    Parameters
    ----------
    now, leave, back
        The present, when you go, when you are back.
    earliest
        The first hour you could feed; 24 hours before leaving if None, and never before ``now``.
    kitchen_night_c
        As by day if None.
    jar_ml
        What the jar holds to the brim; None if nobody said.
    """

    now: pd.Timestamp
    leave: pd.Timestamp
    back: pd.Timestamp
    kitchen_c: float
    shelf_c: float
    known: Known
    flours: Mapping[str, float]
    earliest: pd.Timestamp | None = None
    kitchen_night_c: float | None = None
    flour_g: float = 100.0
    hydration_fraction: float = 1.0
    scale_g: float = 1.0
    awake: tuple[str, str] = ("07:00", "22:30")
    ripe_part: float = 0.4
    owed: float = 0.0
    jar: str = ""
    jar_ml: float | None = None
    culture: str = ""

    @cached_property
    def plan(self) -> PutAway:
        """Return the plan, or refuse a journey that has begun."""
        grams = self.weighed
        flour_g = sum(grams.values())
        return put_away(
            leave_at=self.going,
            return_at=self.back,
            kitchen_temp_c=self.kitchen_c if self.kitchen_night_c is None else (self.kitchen_c, self.kitchen_night_c),
            fridge_temp_c=self.shelf_c,
            flours={name: each / flour_g for name, each in grams.items()},
            flour_g=flour_g,
            hydration_fraction=self.water_g / flour_g,
            scale_g=self.scale_g,
            awake=self.awake,
            ripe_part=self.ripe_part,
            owed=self.owed,
            culture=self.known.fed(self.flours),
            from_at=self.begin,
            jar=self.jar,
        )

    @property
    def going(self) -> pd.Timestamp:
        """Return when you go: who leaves now, or within minutes, goes once a feed is made and stands in the cold.

        A leave of the last few minutes is 'now' (our choice: ten); one before that is refused.
        """
        if hours_between(self.leave, self.now) > NOW_HOURS:
            message = (
                f"You leave {self.leave:%a} {self.leave.day} {self.leave:%b %H:%M}, which is past; a plan needs hours before it. "
                "Type a later time, or now."
            )
            raise ValueError(message)
        return max(self.leave, after(self.soonest, FEEDING_HOURS))

    @property
    def soonest(self) -> pd.Timestamp:
        """Return the present to the next five minutes: no feed is made before."""
        return self.now.tz_convert("UTC").ceil(_STEP).tz_convert(self.now.tzinfo)

    @property
    def begin(self) -> pd.Timestamp:
        """Return the first hour for the feed."""
        wanted = after(self.going, -BEFORE_HOURS) if self.earliest is None else self.earliest
        return max(wanted, self.soonest)

    @property
    def held(self) -> PutAway:
        """Return the plan as one of a stay in the cold, to be saved beside a record; refuse it where no cold is needed."""
        if self.plan.on_bench is not None:
            message = (
                "The jar stays in the kitchen, for you are back before it is ripe; there is no stay in the cold to save. "
                "Save a plan of a longer absence."
            )
            raise ValueError(message)
        return self.plan

    @property
    def weighed(self) -> dict[str, float]:
        """Return grams of each flour in whole divisions of the scale; one too little to weigh is left out."""
        grams = {name: self._nearest(share * self.flour_g) for name, share in self.flours.items()}
        kept = {name: each for name, each in grams.items() if each > 0}
        if not kept:
            message = f"New flour is {self.flour_g:g} g; the scale cannot weigh so little. Feed more flour."
            raise ValueError(message)
        return kept

    @property
    def water_g(self) -> float:
        """Return the water in whole divisions of the scale."""
        return self._nearest(self.hydration_fraction * sum(self.weighed.values()))

    @property
    def ledger(self) -> Ledger:
        """Return the tables of the picture."""
        bench = self.plan.on_bench
        return hold_ledger(self.plan) if bench is None else bench_ledger(self.plan, bench)

    @property
    def risen_ml(self) -> float:
        """Return the volume at the peak: grams over density, times the culture's own rise."""
        return self.plan.feed.total_g / STARTER_G_PER_ML * self.known.culture.rise_ratio

    def _nearest(self, grams: float) -> float:
        return round(round(grams / self.scale_g) * self.scale_g, 6)
