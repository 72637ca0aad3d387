"""The page's questions: seven in sight, the rest under more."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from fallow.panels.bring_back.asked import Asked
from fallow.panels.bring_back.promised import FROM_DAYS, Promised
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.cultures import DEFAULT, Cultures
from fallow.panels.controls.field import NumberField, TextField
from fallow.panels.controls.flours import ReadField, flour_shares, flours_text, waking_hours
from fallow.panels.controls.form import SCALES_G, clock_text, needed, quietly
from fallow.panels.controls.moment import MomentField
from fallow.panels.controls.slide import Slide
from fallow.panels.controls.temperature import temperature_field
from fallow.panels.controls.zone import ZoneField
from fallow.plans.plan import BringBack

_DAYS_TO_DOUGH = 2


class Form:
    """The controls; ``asked`` reads them, ``changed`` is called whenever one of them moves."""

    def __init__(
        self,
        *,
        cultures: Cultures,
        promised: Promised,
        now: Callable[[], datetime],
        changed: Callable[[], None],
        time_zone: str = "",
    ) -> None:
        self.cultures, self.known, self.promised = cultures, DEFAULT, promised
        self.now, self._changed, self.quiet = now, changed, False
        self.zone = ZoneField(label="Time zone of your kitchen", text=time_zone)
        self._make_seven()
        self._make_more()
        self.zone.observe(self._take_zone, "value")
        self.culture.observe(self._take_culture, "value")
        for control in [*self.seven, *self.more]:
            # A box's text, not its value: what cannot be read must be told even where the value stays None.
            control.observe(self._moved, "text" if isinstance(control, TextField) else "value")

    def _make_seven(self) -> None:
        day = (self.now() + timedelta(days=_DAYS_TO_DOUGH)).date()
        self.home = self.moment("You can feed from", "now")
        self.mix = self.moment("You mix dough at", f"{day.day} {day:%b} {day.year} 09:00")
        self.days = Slide(label="Days in the cold", unit="days", low=1, high=120, step=1, value=21)
        self.ripe = NumberField(label="Ripe starter for the dough", unit="g", low=5, high=20_000, text="150")
        self.kitchen = Slide(label="Kitchen by day", unit="°C", low=12, high=32, step=0.5, value=22)
        self.night = Slide(label="Kitchen at night", unit="°C", low=10, high=32, step=0.5, value=19)
        self.warm = temperature_field(label="Warm box", low=0, high=45, text="27", empty="none")
        self.seven = [self.home, self.mix, self.days, self.ripe, self.kitchen, self.night, self.warm]

    def _make_more(self) -> None:
        self.shelf = temperature_field(label="Fridge shelf", low=-5, high=45, text="4")
        self.culture = Choice(label="Culture", options=self.cultures.options)
        self.took = Choice(label="What the cold took", options=self.promised.options)
        self.keep = NumberField(label="Starter to keep", unit="g", low=0, high=5000, text="20")
        self.awake = ReadField(label="You are awake", text="07:00 to 22:30", read=waking_hours)
        self.flours = ReadField(label="Flours, in parts", text="bread 80, rye 20", read=flour_shares)
        self.hydration = NumberField(label="Water", unit="% of the flour", low=40, high=200, text="100")
        self.flour = NumberField(label="Flour in the house", unit="g", low=0, high=100_000, hint="empty: enough")
        self.old_jar = NumberField(label="Starter in the old jar", unit="g", low=1, high=20_000, text="100")
        self.scale = Choice(label="Scale reads to", options=list(SCALES_G))
        self.chance = NumberField(label="Chance wanted", unit="of 100", low=50, high=99, text="90")
        self.jar = TextField(label="Name of the jar, if there are several")
        self.more = [
            self.culture, self.shelf, self.took, self.keep, self.awake, self.flours, self.hydration, self.flour, self.old_jar, self.scale,
            self.chance, self.jar, self.zone,
        ]  # fmt: skip

    def moment(self, label: str, text: str) -> MomentField:
        """Return a box for a time on the kitchen's clock."""
        return MomentField(label=label, time_zone=self.zone.value, now=self.now, text=text)

    def asked(self) -> Asked:
        """Return what the controls ask, or refuse with the first that is empty or cannot be read."""
        for moment in (self.home, self.mix):
            moment.renew()
        flours = needed(self.flours) if self.flours.text.strip() else {}
        return Asked(
            home=needed(self.home),
            mix=needed(self.mix),
            time_zone=self.zone.value,
            days_held=self.days.value,
            ripe_g=needed(self.ripe),
            kitchen_day_c=self.kitchen.value,
            kitchen_night_c=self.night.value,
            warm_c=needed(self.warm) if self.warm.text.strip() else None,
            hold_temp_c=needed(self.shelf),
            keep_g=needed(self.keep),
            awake=needed(self.awake),
            flours=flours,
            hydration_fraction=needed(self.hydration) / 100,
            jar_g=needed(self.old_jar),
            scale_g=SCALES_G[self.scale.value],
            chance=needed(self.chance) / 100,
            flour_on_hand_g=needed(self.flour) if self.flour.text.strip() else float("inf"),
            culture=self.known.fed(flours),
            owed=self.promised.owed(self.took.value),
            owed_on=self.promised.returns(self.took.value),
            jar=self.jar.text.strip(),
        )

    def guesses(self) -> list[str]:
        """Return why a plan for the hold asked for is a guess by the culture's record; a put-away plan's debt has no hold here."""
        hold = {"days_held": self.days.value, "hold_temp_c": self.shelf.value}
        named = self.took.value == FROM_DAYS
        return self.known.guesses({name: value for name, value in hold.items() if named and value is not None})

    def written(self) -> dict[str, str]:
        """Return where every control stands, as text; hours in full, for 'now' means another hour tomorrow."""
        texts = {name: control.text for name, control in self._of(TextField).items()}
        numbers = {name: f"{control.value:g}" for name, control in self._of(Slide).items()}
        hours = {name: needed(getattr(self, name)).isoformat() for name in ("home", "mix")}
        return texts | numbers | hours | {name: control.value for name, control in self._of(Choice).items()}

    def read(self, written: dict[str, str]) -> None:
        """Move every control to where it stood, without asking anew."""
        with quietly(self):
            # The culture first, for it fills in its flours.
            for name, control in self._of(Choice).items():
                control.value = written[name]
            for name, control in self._of(TextField).items():
                control.text = written[name]
            for name, control in self._of(Slide).items():
                control.value = float(written[name])

    def _of(self, kind: type[Any]) -> dict[str, Any]:
        return {name: control for name, control in vars(self).items() if isinstance(control, kind)}

    def follow(self, plan: BringBack) -> None:
        """Move the controls to where a plan has them, without asking anew."""
        setting = plan.setting
        with quietly(self):
            self.mix.text = f"{setting.mix:%Y-%m-%d %H:%M}"
            self.ripe.text = f"{setting.wish.ripe_g:g}"
            self.scale.value = next(label for label, each_g in SCALES_G.items() if each_g == setting.scale_g)
            self.keep.text = f"{setting.wish.keep_g:g}"
            self.awake.text = f"{clock_text(setting.awake.start)} to {clock_text(setting.awake.end)}"
            self.flours.text = flours_text(setting.flours)
            if math.isfinite(setting.flour_on_hand_g):
                self.flour.text = f"{setting.flour_on_hand_g:g}"
            if len(setting.places) > 1:
                self.warm.text = f"{setting.places[-1].day_c:g}"

    def _moved(self, _change: Any) -> None:
        if not self.quiet:
            self._changed()

    def _take_culture(self, _change: Any) -> None:
        """Take the culture's own numbers, and fill in its usual flours and hydration."""
        with quietly(self):
            self.known = self.cultures.known(self.culture.value)
            if self.known.flours:
                self.flours.text = flours_text(self.known.flours)
            if self.known.hydration_fraction is not None:
                self.hydration.text = f"{100 * self.known.hydration_fraction:g}"

    def _take_zone(self, _change: Any) -> None:
        with quietly(self):
            for control in (self.home, self.mix):
                control.in_zone(self.zone.value)
