"""The four questions, and under 'more' what the answer takes for granted."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from fallow.panels.controls import form as shared
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.field import NumberField, TextField
from fallow.panels.controls.flours import ReadField, waking_hours
from fallow.panels.controls.form import clock_text, quietly
from fallow.panels.controls.moment import MomentField
from fallow.panels.controls.temperature import temperature_field
from fallow.panels.controls.zone import ZoneField
from fallow.panels.one_jar.asked import LONGEST_DAYS
from fallow.plans.places import SHELVES_C
from fallow.plans.setting import Setting

START_DAYS, DAYS_TO_DOUGH = 14, 2
SHELVES = {f"{name}, about {temp_c:g} °C": temp_c for name, temp_c in SHELVES_C.items()}
needed = partial(shared.needed, by="the answer")


class Form:
    """The controls; ``changed`` is called whenever one of them moves."""

    def __init__(self, *, now: Callable[[], datetime], changed: Callable[[], None], time_zone: str = "") -> None:
        self.now, self._changed, self.quiet = now, changed, False
        self.zone = ZoneField(label="Time zone of your kitchen", text=time_zone)
        mix = (now() + timedelta(days=START_DAYS + DAYS_TO_DOUGH)).date()
        self.fed = self.moment("Last fed", "yesterday 20:00")
        self.days = NumberField(label="Days away", unit="in the fridge", low=0, high=LONGEST_DAYS, text=f"{START_DAYS}")
        self.shelf = Choice(label="Fridge shelf", options=list(SHELVES), value=list(SHELVES)[1])
        self.mix = self.moment("When to bake: dough mixed at", f"{mix.day} {mix:%b} {mix.year} 10:00")
        self.four: list[TextField | Choice] = [self.fed, self.days, self.shelf, self.mix]
        self.thermometer = temperature_field(label="Fridge thermometer", low=-5, high=45, empty="as the shelf")
        self.bench = NumberField(label="Out before the fridge", unit="hours", low=0, high=72, text="3")
        self.kitchen = temperature_field(label="Kitchen", low=8, high=45, text="22")
        self.warm = temperature_field(label="Warm place", low=0, high=45, empty="none")
        self.ripe = NumberField(label="Ripe starter for the dough", unit="g", low=5, high=20_000, text="150")
        self.keep = NumberField(label="Starter to keep", unit="g", low=0, high=5000, text="20")
        self.awake = ReadField(label="You are awake", text="07:00 to 22:30", read=waking_hours)
        self.more: list[TextField] = [
            self.thermometer, self.bench, self.kitchen, self.warm, self.ripe, self.keep, self.awake, self.zone,
        ]  # fmt: skip
        self.zone.observe(self._take_zone, "value")
        for control in [*self.four, *self.more]:
            # A box's text, not its value: what cannot be read must be told even where the value stays None.
            control.observe(self._moved, "text" if isinstance(control, TextField) else "value")

    def moment(self, label: str, text: str = "") -> MomentField:
        """Return a box for a time on the kitchen's clock."""
        return MomentField(label=label, time_zone=self.zone.value, now=self.now, text=text)

    @property
    def hold_temp_c(self) -> float:
        """The thermometer's degrees where one is typed, else the shelf's start value."""
        typed = needed(self.thermometer) if self.thermometer.text.strip() else None
        return SHELVES[self.shelf.value] if typed is None else float(typed)

    def written(self) -> dict[str, str]:
        """Return what stands in every control; hours in full, for 'now' means another hour tomorrow."""
        texts = {name: box.text for name, box in vars(self).items() if isinstance(box, TextField)}
        zone = ZoneInfo(self.zone.value)
        known = {name: box.value for name, box in self.moments.items() if box.value is not None}
        hours = {name: f"{at.astimezone(zone):%Y-%m-%d %H:%M}" for name, at in known.items()}
        return texts | hours | {"shelf": self.shelf.value}

    def read(self, written: dict[str, str]) -> None:
        """Put back what stood in the controls, without asking anew."""
        with quietly(self):
            for name, box in vars(self).items():
                if isinstance(box, TextField) and name in written:
                    box.text = str(written[name])
            if written.get("shelf") in SHELVES:
                self.shelf.value = written["shelf"]

    def follow(self, *, fed_at: str, hold_temp_c: float | None) -> None:
        """Show what the record knows in the boxes that ask for it."""
        with quietly(self):
            if fed_at:
                self.fed.text = fed_at
            if hold_temp_c is not None:
                self.thermometer.text = "" if hold_temp_c == SHELVES[self.shelf.value] else f"{hold_temp_c:g}"

    def take(self, setting: Setting) -> None:
        """Move the boxes to where a plan has them, without asking anew."""
        with quietly(self):
            self.mix.text = f"{setting.mix:%Y-%m-%d %H:%M}"
            self.awake.text = " to ".join(clock_text(hours) for hours in (setting.awake.start, setting.awake.end))
            if len(setting.places) > 1:
                self.warm.text = f"{setting.places[-1].day_c:g}"

    @property
    def moments(self) -> dict[str, MomentField]:
        """The boxes for a time, by name."""
        return {"fed": self.fed, "mix": self.mix}

    def _moved(self, _change: Any) -> None:
        if not self.quiet:
            self._changed()

    def _take_zone(self, _change: Any) -> None:
        with quietly(self):
            for box in self.moments.values():
                box.in_zone(self.zone.value)
