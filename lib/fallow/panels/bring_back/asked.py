"""What the controls of the page ask for, without a widget in sight."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from fallow.plans.bring_back import bring_back
from fallow.plans.draws import Culture
from fallow.plans.places import Warmth
from fallow.plans.plan import BringBack
from fallow.plans.setting import Estimate

KITCHEN, WARM_BOX = "kitchen", "warm box"


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Where the controls stand; grams, degC, days.

    ``owed`` of a put-away plan, for its return ``owed_on``, takes the place of the days until then.
    """

    home: datetime
    mix: datetime
    time_zone: str
    days_held: float
    ripe_g: float
    kitchen_day_c: float
    kitchen_night_c: float
    warm_c: float | None
    hold_temp_c: float
    keep_g: float
    awake: tuple[str, str]
    flours: dict[str, float]
    hydration_fraction: float
    jar_g: float
    scale_g: float
    chance: float
    flour_on_hand_g: float = float("inf")
    owed: Estimate | None = None
    owed_on: datetime | None = None
    culture: Culture | None = None
    jar: str = ""

    @property
    def places(self) -> dict[str, Warmth]:
        """The places with their temperatures."""
        kitchen: dict[str, Warmth] = {KITCHEN: (self.kitchen_day_c, self.kitchen_night_c)}
        return kitchen if self.warm_c is None else kitchen | {WARM_BOX: self.warm_c}

    def plan(self) -> BringBack:
        """Return the plan for this; refuse what means nothing."""
        return bring_back(
            home_at=self.home,
            mix_at=self.mix,
            time_zone=self.time_zone,
            ripe_g=self.ripe_g,
            keep_g=self.keep_g,
            places=self.places,
            awake=self.awake,
            days_held=self.days_held,
            hold_temp_c=self.hold_temp_c,
            owed=self.owed,
            owed_on=self.owed_on,
            scale_g=self.scale_g,
            chance=self.chance,
            flours=self.flours,
            hydration_fraction=self.hydration_fraction,
            jar_g=self.jar_g,
            flour_on_hand_g=self.flour_on_hand_g,
            culture=self.culture,
            jar=self.jar,
        )
