"""The page's questions: seven in sight, the rest under more, and those that fill in others."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pandas as pd

from fallow.panels.controls.choice import Choice
from fallow.panels.controls.cultures import DEFAULT, Cultures
from fallow.panels.controls.field import NumberField, TextField
from fallow.panels.controls.flours import ReadField, flour_shares, flours_text, waking_hours
from fallow.panels.controls.form import SCALES_G, needed, quietly
from fallow.panels.controls.moment import MomentField
from fallow.panels.controls.slide import Slide
from fallow.panels.controls.temperature import temperature_field
from fallow.panels.controls.zone import ZoneField
from fallow.panels.put_away.asked import Asked
from fallow.plans.places import SHELVES_C

MEASURED = "as set by hand"
_AWAY_DAYS = 22
USUAL_FLOURS, USUAL_WATER = "bread 80, rye 20", "100"


class Form:
    """The controls; ``asked`` reads them, ``changed`` is called whenever one of them moves."""

    def __init__(self, *, cultures: Cultures, now: Callable[[], datetime], changed: Callable[[], None]) -> None:
        self.cultures, self.now, self._changed = cultures, now, changed
        self.known, self.shelves_c, self.quiet = DEFAULT, dict(SHELVES_C), False
        self.zone = ZoneField(label="Time zone of your kitchen")
        self._make_seven()
        self._make_more()
        self.culture.observe(self._take_culture, "value")
        self.shelf.observe(self._take_shelf, "value")
        self.shelf_c.observe(self._leave_shelf, "value")
        self.zone.observe(self._take_zone, "value")
        for control in [*self.seven, *self.more]:
            # A box that cannot be read has no value before and after, but its text has changed.
            control.observe(self._moved, "text" if isinstance(control, TextField) else "value")

    def _make_seven(self) -> None:
        back = (self.now() + timedelta(days=_AWAY_DAYS)).date()
        self.leave = self._moment("You leave", "tomorrow 18:00")
        self.back = self._moment("You are back", f"{back.day} {back:%b} {back.year} 18:00")
        self.culture = Choice(label="Culture", options=self.cultures.options)
        self.kitchen = Slide(label="Kitchen", unit="°C", low=14, high=32, step=0.5, value=22)
        self.shelf = Choice(label="Where it will stand", options=[*SHELVES_C, MEASURED], value="middle shelf")
        self.shelf_c = Slide(label="Temperature there", unit="°C", low=-1, high=12, step=0.1, value=3.3)
        self.flour = Slide(label="New flour in the last feed", unit="g", low=20, high=300, step=10, value=100)
        self.seven = [self.leave, self.back, self.kitchen, self.culture, self.shelf, self.shelf_c, self.flour]

    def _make_more(self) -> None:
        self.night = temperature_field(label="Kitchen at night", low=0, high=35)
        self.awake = ReadField(label="You are awake", text="07:00 to 22:30", read=waking_hours)
        self.earliest = self._moment("Earliest you can feed", "")
        self.flours = ReadField(label="Flours at hand, in parts", text=USUAL_FLOURS, read=flour_shares)
        self.hydration = NumberField(label="Water", unit="% of the flour", low=40, high=200, text=USUAL_WATER)
        self.scale = Choice(label="Scale reads to", options=list(SCALES_G))
        self.jar_ml = NumberField(label="Jar", unit="ml to the brim", low=50, high=10000)
        self.jar = TextField(label="Name of the jar")
        self._filled = {box.label: box.text for box in (self.flours, self.hydration)}
        self.part = NumberField(label="Growth done at chilling", unit="%", low=5, high=100, text="40")
        self.owed = NumberField(label="Owed already", unit="doublings", low=0, high=20, text="0")
        for box, hint in (
            (self.night, "empty: as by day"),
            (self.jar_ml, "empty: not said"),
            (self.jar, "if you put away several"),
            (self.part, "of its doublings; less keeps longer"),
            (self.owed, "0: in form"),
        ):
            box.shown = hint
        self.more = [
            self.night, self.awake, self.earliest, self.flours, self.hydration, self.scale, self.jar_ml, self.jar,
            self.part, self.owed, self.zone,
        ]  # fmt: skip

    def _moment(self, label: str, text: str) -> MomentField:
        return MomentField(label=label, time_zone=self.zone.value, now=self.now, text=text)

    def asked(self) -> Asked:
        """Return what the controls ask, or refuse with the first that is empty or cannot be read."""
        zone = self.zone.value
        for moment in (self.leave, self.back, self.earliest):
            moment.renew()
        return Asked(
            now=pd.Timestamp(self.now()).tz_convert(zone),
            leave=pd.Timestamp(needed(self.leave)).tz_convert(zone),
            back=pd.Timestamp(needed(self.back)).tz_convert(zone),
            earliest=pd.Timestamp(needed(self.earliest)).tz_convert(zone) if self.earliest.text.strip() else None,
            kitchen_c=self.kitchen.value,
            kitchen_night_c=needed(self.night) if self.night.text.strip() else None,
            shelf_c=self.shelf_c.value,
            known=self.known,
            culture=self.culture.value,
            flours=needed(self.flours),
            flour_g=self.flour.value,
            hydration_fraction=needed(self.hydration) / 100,
            scale_g=SCALES_G[self.scale.value],
            awake=needed(self.awake),
            ripe_part=needed(self.part) / 100,
            owed=needed(self.owed),
            jar=self.jar.text.strip(),
            jar_ml=needed(self.jar_ml) if self.jar_ml.text.strip() else None,
        )

    def _moved(self, _change: Any) -> None:
        if not self.quiet:
            self._changed()

    def _take_culture(self, _change: Any) -> None:
        """Fill in what the record knows of the culture: flours, hydration, shelves with a log."""
        self.known = self.cultures.known(self.culture.value)
        water = self.known.hydration_fraction
        with quietly(self):
            self._fill(self.flours, flours_text(self.known.flours) or USUAL_FLOURS)
            self._fill(self.hydration, USUAL_WATER if water is None else f"{100 * water:g}")
            self.shelves_c = SHELVES_C | self.known.shelves_c
            stands = self.shelf.value if self.shelf.value in self.shelves_c else MEASURED
            self.shelf.options = [*self.shelves_c, MEASURED]
            self.shelf.value = stands

    def _fill(self, box: TextField, text: str) -> None:
        """Put what is usual into a box, unless the baker has typed over what stood there."""
        if box.text == self._filled[box.label]:
            box.text = self._filled[box.label] = text

    def _take_shelf(self, _change: Any) -> None:
        if self.shelf.value in self.shelves_c:
            with quietly(self):
                self.shelf_c.value = self.shelves_c[self.shelf.value]

    def _leave_shelf(self, _change: Any) -> None:
        if self.shelves_c.get(self.shelf.value) != self.shelf_c.value:
            with quietly(self):
                self.shelf.value = MEASURED

    def _take_zone(self, _change: Any) -> None:
        with quietly(self):
            for moment in (self.leave, self.back, self.earliest):
                moment.in_zone(self.zone.value)
