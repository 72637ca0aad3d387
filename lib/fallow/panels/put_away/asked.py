"""What the page is asked, without a widget in sight, and the plan that answers it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from fallow.charts.hold import hold_ledger
from fallow.charts.ledger_rows import Ledger
from fallow.maths.gas import STARTER_G_PER_ML
from fallow.panels.controls.cultures import Known
from fallow.plans.clock import after, hours_between
from fallow.plans.put_away import PutAway, put_away

BEFORE_HOURS = 24.0
_HALF_DAY_STEP = "5min"


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
        if hours_between(self.now, self.leave) <= 0:
            message = (
                f"You leave {self.leave:%a} {self.leave.day} {self.leave:%b %H:%M}, which is past; a plan needs hours before it. "
                "Type a later time."
            )
            raise ValueError(message)
        grams = self.weighed
        flour_g = sum(grams.values())
        return put_away(
            leave_at=self.leave,
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
    def begin(self) -> pd.Timestamp:
        """Return the first hour for the feed."""
        wanted = after(self.leave, -BEFORE_HOURS) if self.earliest is None else self.earliest
        soonest = self.now.tz_convert("UTC").ceil(_HALF_DAY_STEP).tz_convert(self.now.tzinfo)
        return max(wanted, soonest)

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
        return hold_ledger(self.plan)

    @property
    def risen_ml(self) -> float:
        """Return the volume at the peak: grams over density, times the culture's own rise."""
        return self.plan.feed.total_g / STARTER_G_PER_ML * self.known.culture.rise_ratio

    def _nearest(self, grams: float) -> float:
        return round(round(grams / self.scale_g) * self.scale_g, 6)
